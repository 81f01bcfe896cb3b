"""Pages of docs/ that are written from the program, so that they stay true.

``python -m tests.architecture.pages`` writes them, or those named after it; a test
holds them to the program.
"""

import ast
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click

from tests.architecture.numbers import numbers_of

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"


def help_of(command: click.Command, name: str) -> str:
    """The help text of a command at 80 columns, without colour."""
    os.environ["COLUMNS"] = "80"
    context = click.Context(
        command, info_name=name, max_content_width=80, terminal_width=80
    )
    context.help_option_names = ["-h", "--help"]
    return command.get_help(context).rstrip() + "\n"


def cli_page() -> str:
    """Every command with its help, as printed."""
    from tension.cli.main import command as main

    context = click.Context(main, info_name="tension")
    parts = [
        "# Commands\n",
        "Written from the program by `python -m tests.architecture.pages`; a test "
        "holds the page to `--help`.\n",
        "Results go to stdout, everything else to stderr. Quantities are text with a "
        'unit: `"3.40 m"`, `"11 ft 2 in"`, `"0.39 lb/ft"`.\n',
        f"## tension\n\n```text\n{help_of(main, 'tension')}```\n",
    ]
    for name in main.list_commands(context):
        command = main.get_command(context, name)
        assert command is not None
        text = help_of(command, f"tension {name}")
        parts.append(f"## tension {name}\n\n```text\n{text}```\n")
        parts += _words_of(command, f"tension {name}")
    parts.append(_shared_options(main, context))
    return "\n".join(parts)


def commands_with(main: click.Group, context: click.Context, flag: str) -> list[str]:
    """The commands that take an option, in the order of the list."""
    return [
        name
        for name in main.list_commands(context)
        if flag in _flags(main.get_command(context, name))
    ]


def _flags(command: click.Command | None) -> list[str]:
    """The long flags of a command."""
    assert command is not None
    return [
        param.opts[-1] for param in command.params if isinstance(param, click.Option)
    ]


def _shared_options(main: click.Group, context: click.Context) -> str:
    """Options that more than one command takes, with these commands."""
    every = [main.get_command(context, name) for name in main.list_commands(context)]
    flags = list(dict.fromkeys(flag for one in every for flag in _flags(one)))
    rows = [
        f"| `{flag}` | {', '.join(f'`{name}`' for name in names)} |"
        for flag in flags
        if len(names := commands_with(main, context, flag)) > 1
    ]
    return (
        "## Options that commands share\n\n"
        "| option | commands |\n|---|---|\n" + "\n".join(rows) + "\n"
    )


def _words_of(command: click.Command, name: str) -> Iterator[str]:
    """The help of each word of a command that has some."""
    if not isinstance(command, click.Group):
        return
    context = click.Context(command, info_name=name)
    for word in command.list_commands(context):
        inner = command.get_command(context, word)
        assert inner is not None
        text = help_of(inner, f"{name} {word}")
        yield f"### {name} {word}\n\n```text\n{text}```\n"


def notes_page() -> str:
    """Every kind of note with its number, code, sentence and next act."""
    from tension.notes import NoteKind, sentences
    from tension.wording import Terms, say

    rows = [
        f"| {kind.number} | `{kind.code}` | "
        + " | ".join(_cell(say(one, Terms.EUROPE)) for one in sentences()[kind.code])
        + " |"
        for kind in sorted(NoteKind, key=lambda kind: kind.number)
    ]
    return (
        "# Notes and refusals\n\n"
        "Written from the program by `python -m tests.architecture.pages`. Each has a "
        "number to quote and a code for programs; `{places}` are filled with what was "
        "found.\n\n"
        "| number | code | what was found | what to do |\n|---|---|---|---|\n"
        + "\n".join(rows)
        + "\n"
    )


def rules_page() -> str:
    """Every rule of equal tension in the catalogue."""
    from tension.catalogue.rules import find_rule, rule_names

    rows = []
    for name in rule_names():
        rule = find_rule(name)
        rows.append(
            f"| `{rule.name}` | {rule.metric.value} | {100 * rule.limit:g} % | "
            f"{_cell(rule.source)} | {_cell(rule.edition)} | {rule.standing.value} |"
        )
    return (
        "# Rules of equal tension\n\n"
        "Written from the program by `python -m tests.architecture.pages`. *Seen*: "
        "the figure was read in a public page; *second-hand* and *from memory* "
        "mean: look it up in the edition in force before you cite it. European lift "
        "standards give no percentage (EN 81-20, 5.5.5, from memory).\n\n"
        "Metrics, T being the tensions of the set: below-highest (max - min)/max, "
        "above-lowest (max - min)/min, off-mean max|T - mean|/mean, range-of-mean "
        "(max - min)/mean.\n\n"
        "| name | metric | limit | source | edition | standing |\n"
        "|---|---|---|---|---|---|\n" + "\n".join(rows) + "\n"
    )


def _cell(text: str) -> str:
    """Text fit for a table cell."""
    return text.replace("|", "\\|").replace("\n", " ")


class Entry:
    """One public parameter or field: unit and meaning, from its docstring."""

    def __init__(self, name: str, unit: str, meaning: str, place: str) -> None:
        self.name, self.unit, self.meaning, self.place = name, unit, meaning, place


_HEAD = re.compile(r"^(\*{0,2}[a-z_][a-z0-9_]*(?:, \*{0,2}[a-z_][a-z0-9_]*)*) : (.+)$")
_UNIT = re.compile(r"\[([^\]]+)\]")
_COMMENT = re.compile(r"^ {4}# ")
_SHAPE = re.compile(r",?( of)? shape \([^)]*\)$")


def public_entries() -> Iterator[Entry]:
    """Every documented public parameter and field of the package, cli left out."""
    for path in sorted((ROOT / "tension").rglob("*.py")):
        place = path.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".")
        if place.startswith("tension.cli") or "__" in path.stem:
            continue
        source = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(source)):
            if (
                isinstance(node, ast.FunctionDef | ast.ClassDef)
                and not node.name.startswith("_")
                and (text := ast.get_docstring(node))
            ):
                yield from _entries_of(text, place)
                if isinstance(node, ast.ClassDef):
                    yield from _fields_of(node, source.splitlines(), place)


def _fields_of(node: ast.ClassDef, lines: list[str], place: str) -> Iterator[Entry]:
    """Fields that are told where they stand: behind them, or above one or several."""
    above, last = "", 0
    for field in node.body:
        if not (
            isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)
        ):
            continue
        start, end = field.lineno - 1, (field.end_lineno or field.lineno) - 1
        first = start
        while _COMMENT.match(lines[first - 1]):
            first -= 1
        if first < start:
            told = lines[first:start]
            above = " ".join(line.strip(" #") for line in told)
        elif start > last + 1:
            above = ""
        behind = lines[end][field.end_col_offset or 0 :].strip(" #")
        meaning = behind or above
        above = "" if behind else above
        last = end
        if meaning:
            units = _UNIT.findall(meaning)
            plain = _SHAPE.sub("", _UNIT.sub("", meaning)).replace(" ,", ",").strip()
            yield Entry(
                field.target.id,
                units[-1] if units else "",
                plain[0].upper() + plain[1:],
                place,
            )


def _entries_of(text: str, place: str) -> Iterator[Entry]:
    """Parameters and attributes of one docstring."""
    lines = text.splitlines()
    is_inside = False
    for i, line in enumerate(lines):
        if i + 1 < len(lines) and re.fullmatch(r"-{4,}", lines[i + 1].strip()):
            is_inside = line.strip() in {"Parameters", "Attributes"}
        head = _HEAD.match(line)
        if not (is_inside and head):
            continue
        meaning = []
        for following in lines[i + 1 :]:
            if following.strip() and not following.startswith("    "):
                break
            meaning.append(following.strip())
        sentence = " ".join(part for part in meaning if part)
        units = _UNIT.findall(sentence)
        for name in head.group(1).split(", "):
            yield Entry(
                name.lstrip("*"),
                units[-1] if units else "",
                _UNIT.sub("", sentence).strip(),
                place,
            )


def nomenclature_page(terms: str) -> str:
    """The hand-written terms, then every public name with unit and meaning."""
    by_name: dict[str, list[Entry]] = {}
    for entry in public_entries():
        by_name.setdefault(entry.name, []).append(entry)
    rows = []
    for name in sorted(by_name):
        entries = by_name[name]
        units = sorted({e.unit for e in entries if e.unit})
        meaning = entries[0].meaning.split(". ")[0].rstrip(".")
        rooms = sorted({e.place.split(".")[1] for e in entries})
        rows.append(
            f"| `{name}` | {_cell(', '.join(units)) or '-'} | {_cell(meaning)} "
            f"| {', '.join(rooms)} |"
        )
    return (
        terms
        + "## Every public parameter and field\n\n"
        + "Written from the docstrings by `python -m tests.architecture.pages`.\n\n"
        + "| name | unit | meaning (where first documented) | rooms |\n"
        + "|---|---|---|---|\n"
        + "\n".join(rows)
        + "\n"
    )


NOMENCLATURE = DOCS / "nomenclature.md"


def hand_written_terms() -> str:
    """The part of the nomenclature page that people write."""
    return NOMENCLATURE.read_text(encoding="utf-8").split(
        "## Every public parameter and field"
    )[0]


def way_page() -> str:
    """The way of a recording, watched in a fresh process: nothing is kept there yet."""
    ran = subprocess.run(
        [sys.executable, "-m", "tests.architecture.way"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return (
        "# The way of a recording\n\n"
        "Drawn by `python -m tests.architecture.pages` while `tension assess "
        "recordings_demo/six-memos` ran; a test holds the page to the program. Each "
        "file stands once, under the file that first called into it, with the function "
        "that was called and what it gives. Read from top to bottom it is the way of "
        "six sound files and their record to the verdict; a file that only holds types "
        "does not appear.\n\n"
        f"```text\n{ran.stdout}```\n"
    )


def numbers_page() -> str:
    """The numbers of the program with unit and meaning, by room."""
    by_room: dict[str, list[str]] = {}
    for one in numbers_of(ROOT):
        room, _, module = one.place.rpartition("/")
        rows = by_room.setdefault(room or "the package itself", [])
        rows.append(
            f"| `{module}` | `{one.name}` | `{_cell(one.value)}` | {one.unit} "
            f"| {_cell(one.meaning)} |"
        )
    parts = [
        "# Numbers\n\n"
        "Written from the program by `python -m tests.architecture.pages`: every "
        "constant of a module and every field that is a number where it is not told, "
        "as it is written, with the sentence that stands beside it. No number changes "
        "without this page. Those of the room of sound are left out: what decides "
        "there is set by a fit (DEVELOPERS.md), not by hand.\n"
    ]
    head = "| module | name | value | unit | meaning |\n|---|---|---|---|---|\n"
    parts += [
        f"## {room}\n\n{head}" + "\n".join(r) + "\n" for room, r in by_room.items()
    ]
    return "\n".join(parts)


PAGES: dict[str, Callable[[], str]] = {
    "cli.md": cli_page,
    "notes.md": notes_page,
    "rules.md": rules_page,
    "nomenclature.md": lambda: nomenclature_page(hand_written_terms()),
    "numbers.md": numbers_page,
    "way.md": way_page,
}
"""Each written page of docs/ with what writes it."""


if __name__ == "__main__":
    for page in sys.argv[1:] or PAGES:
        (DOCS / page).write_text(PAGES[page](), encoding="utf-8")
        print(f"docs/{page}")
