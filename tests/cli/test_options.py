"""Options are declared once, and what the README says of them is true."""

from dataclasses import dataclass

import click
import pytest
from click.testing import CliRunner

from tension.cli.main import command as main
from tension.cli.options import command, opt
from tension.files.record_tables import TABLES
from tension.files.table_model import keys_of
from tests.architecture.pages import ROOT, commands_with
from tests.cli.running import run

CONTEXT = click.Context(main, info_name="tension")


def _without(flag: str) -> list[str]:
    """Commands that do not take an option."""
    taken = commands_with(main, CONTEXT, flag)
    return [name for name in main.list_commands(CONTEXT) if name not in taken]


def test_the_readme_says_which_commands_print_json() -> None:
    *others, last = (f"`{name}`" for name in _without("--json"))
    said = f"Every command but {', '.join(others)} and {last} takes `--json`"
    assert said in (ROOT / "README.md").read_text(encoding="utf-8")


def test_commands_that_show_measures_take_units_and_words() -> None:
    """The others show none: they name files, devices, days or what was typed."""
    assert "all that show measures take `--units us` and `--terms" in (
        ROOT / "README.md"
    ).read_text(encoding="utf-8")
    without = {"devices", "start", "add", "seal", "verify", "trim", "fleet"}
    assert set(_without("--units")) == without
    assert set(_without("--terms")) == without - {"start", "fleet"}


def _flags_of(command: click.Command) -> dict[str, click.Option]:
    """The options of a command by their long flag."""
    return {p.opts[-1]: p for p in command.params if isinstance(p, click.Option)}


@pytest.mark.parametrize("flag", ["--json", "--terms", "--rule", "--limit", "--metric"])
def test_a_shared_option_says_the_same_everywhere(flag: str) -> None:
    commands = [
        main.get_command(CONTEXT, n) for n in commands_with(main, CONTEXT, flag)
    ]
    assert len(commands) > 2
    shared = [_flags_of(one)[flag] for one in commands if one is not None]
    assert len({(one.help, str(one.type), str(one.default)) for one in shared}) == 1


@dataclass(frozen=True, kw_only=True)
class First:
    """Has a field that the second group has too."""

    second: str = opt(None, "--a", default="one")


@dataclass(frozen=True, kw_only=True)
class Second:
    """Has the name of a field of the first."""

    second: str = opt(None, "--b", default="two")


def test_groups_may_name_fields_alike() -> None:
    @command("both")
    def both(first: First, second: Second) -> None:
        click.echo(f"{first.second} {second.second}")

    assert CliRunner().invoke(both, ["--b", "three"]).output == "one three\n"


def test_of_a_group_may_be_said_what_its_first_option_is_for() -> None:
    @command("one")
    def one(first: First = opt("Other.")) -> None:
        click.echo(first.second)

    assert (
        "--a TEXT  Other.  [default: one]" in CliRunner().invoke(one, "--help").output
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["report"], "Missing option '-o'"),
        (["assess", "--lim", "3 %"], "Did you mean '--limit'"),
        (["acceptance"], "Give either a record, or --blank FILE."),
        (["add", "turns"], "Missing argument 'TURNS'"),
        (["acceptanc"], "Did you mean 'acceptance'"),
    ],
)
def test_wrong_usage_is_one_line_with_the_next_step(
    words: list[str], said: str
) -> None:
    ran = run(*words)
    assert (ran.code, ran.out) == (2, "")
    (line,) = ran.err.splitlines()
    assert line.startswith("tension: ")
    assert said in line
    assert "--help'." in line


def test_sound_files_of_which_none_is_there_are_a_line_each() -> None:
    ran = run("assess", "none.m4a", "no.m4a")
    assert (ran.code, ran.out) == (3, "")
    assert [line.split(" ")[1] for line in ran.err.splitlines()] == [
        "none.m4a",
        "no.m4a",
    ]


def test_a_word_of_add_takes_every_key_of_its_table() -> None:
    """Explained as on the page of the record, with what the key measures."""
    told = run("add", "lift", "--help").out
    for key in keys_of(TABLES["lift"]):
        assert f"--{key.replace('_', '-')} " in told
    assert "--car-mass MASS  " in told
    assert "Traction, drum or hydraulic." in told
