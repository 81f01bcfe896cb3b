"""One reading among repeats: named, left out by its name, and in no order at all."""

import shutil
from itertools import permutations
from pathlib import Path

import pytest

import tension
from tension.errors import FileFormatError
from tests.cli.running import DEMO
from tests.measurement.test_order import HEAD

FORCES = {1: "147 N", 2: "124 N", 3: "156 N", 4: "147 N"}


def pull(rope: int, force: str) -> str:
    return (
        f'[[reading]]\nseries = "as found"\nkind = "pull"\nrope = {rope}\n'
        f'force = {force}\ndeflection = "25 mm"\n'
    )


def left_out(rope: int, reading: str, reason: str = "the scale slipped") -> str:
    return (
        f'[[exclusion]]\nseries = "as found"\nrope = {rope}\n'
        f'reading = "{reading}"\nreason = "{reason}"\n'
    )


BASE = HEAD + "".join(pull(rope, f'"{force}"') for rope, force in FORCES.items())


def assessed(text: str, folder: Path) -> tension.Assessed:
    path = folder / "visit.toml"
    path.write_text(text, encoding="utf-8")
    return tension.assess_record(path)


@pytest.mark.parametrize(
    ("repeat", "name"),
    [
        (pull(2, '"150 N"'), "pull 150 N at 25 mm"),
        (pull(2, '["124.5 N", "150 N"]'), "pull 150 N at 25 mm"),
    ],
)
def test_one_of_two_that_contradict_is_left_out_alone(
    repeat: str, name: str, tmp_path: Path
) -> None:
    alone = assessed(BASE + repeat.replace(', "150 N"', ""), tmp_path)
    both = assessed(BASE + repeat, tmp_path)
    assert both.assessment.shares[1].share is None or name in str(both.notes)
    one = assessed(BASE + repeat + left_out(2, name), tmp_path)
    expected = assessed(BASE, tmp_path) if "[" not in repeat[40:] else alone
    assert one.assessment.shares[1].share is not None
    assert one.assessment.verdict is expected.assessment.verdict
    (note,) = [note for note in one.notes if note.code == "reading-left-out"]
    assert name in note.text
    assert "the scale slipped" in note.text
    assert "readings-apart" not in str(one.notes)


def test_a_name_that_no_reading_has_is_told_with_those_there_are(
    tmp_path: Path,
) -> None:
    with pytest.raises(FileFormatError) as told:
        assessed(BASE + left_out(2, "pull 124 N at 26 mm"), tmp_path)
    (line,) = told.value.lines
    assert "line" in line
    assert 'it has "pull 124 N at 25 mm"' in line


def test_the_order_of_repeats_in_a_reading_changes_no_digit(tmp_path: Path) -> None:
    forces = ("123.1 N", "124.3 N", "124.9 N", "123.7 N")
    found = set()
    for order in list(permutations(forces))[::5]:
        repeats = ", ".join(f'"{force}"' for force in order)
        one = assessed(BASE + pull(2, f"[{repeats}]"), tmp_path).assessment
        found.add((one.spread, tuple(share.share for share in one.shares)))
    assert len(found) == 1


@pytest.mark.slow
def test_a_rope_left_out_of_a_memo_of_several_has_no_number_by_sound(
    tmp_path: Path,
) -> None:
    shutil.copytree(DEMO / "one-memo", tmp_path / "visit")
    path = tmp_path / "visit" / "visit.toml"
    text = path.read_text(encoding="utf-8")
    exclusion = (
        '[[exclusion]]\nrope = 2\nrecording = "all-ropes.m4a"\nreason = "held"\n'
    )
    path.write_text(f"{text}\n{exclusion}", encoding="utf-8")
    one = tension.assess_record(path).assessment
    refusal = one.measurement.ropes[1].refusal
    assert refusal is not None
    assert refusal.code == "left-out"
    assert [share.share is None for share in one.shares].count(True) == 1
