"""``tension assess`` on records: conditions, other ropes and drives, causes told."""

import json
from pathlib import Path

import pytest

from tests.cli.running import Ran, run

FORCES = {1: "38 lbf", 2: "38 lbf", 3: "38 lbf", 4: "41.5 lbf"}


def record(
    folder: Path,
    *,
    lift: str = "",
    rope_set: str = 'sockets = "one height"',
    forces: dict[int, str] | None = None,
    n_ropes: int = 4,
) -> Path:
    """Write a record of side pulls."""
    readings = "".join(
        f'[[reading]]\nseries = "as found"\nkind = "pull"\nrope = {rope}\n'
        f'force = ["{force}", "{force}", "{force}"]\ndeflection = "1 in"\n'
        'hold = "deflection"\n'
        for rope, force in (forces or FORCES).items()
    )
    path = folder / "visit.toml"
    path.write_text(
        f'format = 1\n[lift]\nname = "one lift"\n{lift}\n'
        f"[set]\nropes = {n_ropes}\n{rope_set}\n"
        '[[span]]\nname = "top"\nposition = "top landing"\n'
        'free_length = "118 in"\n[[series]]\nname = "as found"\nspan = "top"\n'
        + readings,
        encoding="utf-8",
    )
    return path


def codes(ran: Ran) -> set[str]:
    """Codes of all notes."""
    return {note["code"] for note in ran.document["notes"]}


def test_belts_get_no_share_and_no_newtons(tmp_path: Path) -> None:
    path = record(tmp_path, rope_set='construction = "flat belt"')
    ran = run("assess", path, "--json")
    assert ran.code == 3
    assert "belt maker" in ran.err
    assert len(ran.err.splitlines()) == 1
    for rope in ran.document["ropes"]:
        assert rope["share_percent"] is None
        assert rope["tension_n"] is None
    assert " N\n" not in run("assess", path).out


def test_one_rope_has_a_tension_but_no_share(tmp_path: Path) -> None:
    path = record(tmp_path, forces={1: "38 lbf"}, n_ropes=1)
    ran = run("assess", path, "--json")
    assert ran.code == 3
    assert "one-rope" in codes(ran)
    assert ran.document["ropes"][0]["share_percent"] is None
    assert ran.document["ropes"][0]["tension_n"] > 1000
    assert ran.document["measure_again"] == []


@pytest.mark.parametrize(
    ("lift", "rope_set", "code"),
    [
        ('drive = "drum"', 'sockets = "one height"', "drum-drive"),
        ("", 'sockets = "one height"\nconstruction = "aramid"', "ropes-without-table"),
    ],
)
def test_an_assumption_that_fails_is_told(
    tmp_path: Path, lift: str, rope_set: str, code: str
) -> None:
    assert code not in codes(run("assess", record(tmp_path), "--json"))
    path = record(tmp_path, lift=lift, rope_set=rope_set)
    assert code in codes(run("assess", path, "--json"))


def test_every_cause_of_no_result_is_a_line_with_its_next_step(tmp_path: Path) -> None:
    ran = run("assess", tmp_path / "a.m4a", tmp_path / "b.m4a", "--json")
    assert ran.code == 3
    told = [line for line in ran.err.splitlines() if line.startswith("tension: ")]
    assert len(told) == 3
    assert "is not there" in told[1]
    assert "Check the name" in told[2]
    assert json.loads(ran.out)["verdict"] == "no-result"


def test_equal_ropes_are_not_called_highest_and_lowest(tmp_path: Path) -> None:
    path = record(tmp_path, forces=dict.fromkeys(range(1, 5), "38 lbf"))
    text = run("assess", path).out
    assert "rope 1) is 0.0 % below highest (rope 1)" not in " ".join(text.split())
    table = [line for line in text.splitlines() if line.startswith("   ")]
    assert not any("lowest" in line or "highest" in line for line in table)


def test_what_was_not_recorded_is_said_to_be_so(tmp_path: Path) -> None:
    text = " ".join(run("assess", record(tmp_path)).out.split())
    place = "car side, top landing, arrival not recorded, load not recorded, "
    assert f"{place}people not recorded, neighbours not recorded." in text
    (tmp_path / "a.m4a").write_bytes(b"no sound")
    text = " ".join(run("assess", tmp_path / "a.m4a").out.split())
    assert "side and position not recorded" in text


def test_notes_that_differ_by_the_rope_only_are_told_once(tmp_path: Path) -> None:
    path = record(tmp_path, forces={1: "38 lbf", 3: "38 lbf"})
    text = " ".join(run("assess", path).out.split())
    assert text.count("was not measured in this series") == 1
    assert "(rope 2, likewise 4)" in text


def test_us_units_and_north_american_words_go_through(tmp_path: Path) -> None:
    words = ("--units", "us", "--terms", "north-america")
    text = run("assess", record(tmp_path), *words).out
    assert " lbf\n" in text
    assert " N\n" not in text
    assert "at the hitch." in text


def test_a_record_with_mistakes_gives_a_document_too(tmp_path: Path) -> None:
    path = record(tmp_path, forces={1: "38 kg", 2: "40 kg"})
    ran = run("assess", path, "--json")
    assert ran.code == 3
    assert ran.document["verdict"] == "no-result"
    assert len(ran.document["errors"]) == 6  # three repeats of each
    for error, line in zip(ran.document["errors"], ran.err.splitlines(), strict=True):
        assert line == f"tension: {error}"
        assert "kgf" in error
    assert run("assess", path).out == ""


def test_one_file_without_an_order_is_said_to_be_one_rope(tmp_path: Path) -> None:
    (tmp_path / "all.m4a").write_bytes(b"no sound")
    assert "--order" in run("assess", tmp_path / "all.m4a").err


def test_a_limit_of_the_user_is_named_once_and_other_rules_are_told(
    tmp_path: Path,
) -> None:
    text = " ".join(run("assess", record(tmp_path), "--limit", "26 %").out.split())
    assert text.startswith("EQUAL")
    assert text.count("given by the user") == 1
    assert "Another common rule would answer differently" in text


def test_json_and_csv_together_are_refused_by_every_command() -> None:
    assert run("demo", "--json", "--csv").code == 2


def test_the_demo_is_copied_whole_or_not_at_all(tmp_path: Path) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("in the way", encoding="utf-8")
    ran = run("demo", "--to", blocked / "demo")
    assert ran.code == 3
    assert "another folder" in ran.err
    assert run("demo", "--to", tmp_path / "demo").code == 0
    assert run("assess", tmp_path / "demo" / "side-pulls").code == 10
    assert run("demo", "--to", tmp_path / "demo").code == 3


def test_start_writes_no_record_with_a_rule_that_does_not_exist(tmp_path: Path) -> None:
    for words in (("--rule", "gb50310"), ("--limit", "200 %")):
        assert run("start", "--ropes", "4", "--to", tmp_path, *words).code == 2
    assert not list(tmp_path.iterdir())
