"""``tension start``: a record from the fewest questions, never over another."""

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from tension.cli import starting
from tension.cli.main import command
from tests.cli.running import MEMOS, Ran, run

LENGTHS = ("3.400 m", "3.550 m", "3.400 m", "3.555 m", "3.402 m", "11 ft 7 3/4 in")


@pytest.fixture
def memos(tmp_path: Path) -> Path:
    """Six memos named by a phone, in a folder of their own."""
    folder = tmp_path / "my memos"
    folder.mkdir()
    for number in range(1, 7):
        name = f"New Recording {number + 8}.m4a"
        shutil.copy(MEMOS / f"rope-{number}.m4a", folder / name)
    return folder


@pytest.fixture
def _on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(starting, "is_somebody_there", lambda: True)


def answer(words: list[str], lines: list[str]) -> Ran:
    """Answer the questions line by line."""
    result = CliRunner().invoke(
        command, words, input="\n".join(lines) + "\n", catch_exceptions=False
    )
    return Ran(code=result.exit_code, out=result.stdout, err=result.stderr)


@pytest.mark.usefixtures("_on_a_terminal")
def test_answers_make_a_record_that_assesses_to_the_true_result(memos: Path) -> None:
    ran = answer(
        ["start", str(memos)],
        ["traction", "1:1", "car", "car", "n", *LENGTHS, "two on the car top"],
    )
    assert ran.code == 0
    answered = run("assess", memos, "--json").document
    assert answered["verdict"] == "unequal"
    assert answered["condition"]["people"] == "two on the car top"
    assert answered["inputs"][0]["path"].endswith("visit.toml")
    assert answered["inputs"][1]["path"] == "New Recording 9.m4a"


@pytest.mark.usefixtures("_on_a_terminal")
def test_an_answer_that_cannot_be_read_is_asked_again(memos: Path) -> None:
    ran = answer(
        ["start", str(memos)],
        ["traktion", "traction", "", "", "", "y", "3.40", "3,40 m", ""],
    )
    assert ran.code == 0
    assert "without a unit" in ran.out + ran.err
    text = (memos / "visit.toml").read_text(encoding="utf-8")
    assert '\nfree_length = "3,40 m"' in text
    assert '\nsockets = "one height"' in text


@pytest.mark.usefixtures("_on_a_terminal")
def test_enter_skips_every_question(memos: Path) -> None:
    assert answer(["start", str(memos)], [""] * 7).code == 0
    assert run("assess", memos).code in {3, 10, 11}


@pytest.mark.usefixtures("_on_a_terminal")
def test_an_old_record_is_told_before_anything_is_asked(memos: Path) -> None:
    assert answer(["start", str(memos)], [""] * 7).code == 0
    before = (memos / "visit.toml").read_bytes()
    again = answer(["start", str(memos)], ["traction"])
    assert again.code == 3
    assert "never replaced" in again.err
    assert "--overwrite" not in again.err
    assert "Drive" not in again.out
    assert (memos / "visit.toml").read_bytes() == before


@pytest.mark.usefixtures("_on_a_terminal")
def test_the_order_of_one_memo_is_asked(tmp_path: Path) -> None:
    shutil.copy(MEMOS / "rope-1.m4a", tmp_path / "all.m4a")
    ran = answer(["start", str(tmp_path)], ["3", "1 2 4", "1 2 3 3 2 1", *[""] * 7])
    assert ran.code == 0
    text = (tmp_path / "visit.toml").read_text(encoding="utf-8")
    assert "\nropes = [1, 2, 3, 3, 2, 1]" in text


def test_files_that_do_not_fit_the_ropes_are_told_at_once(memos: Path) -> None:
    ran = run("start", memos, "--ropes", "4")
    assert "which rope each file is of" in " ".join(ran.err.split())
    ran = run("start", memos / "New Recording 9.m4a", "--ropes", "4")
    assert ran.code == 2
    assert '--order "1 2 3 4"' in ran.err
    assert not (memos / "visit.toml").exists()


def test_the_next_command_can_be_pasted_though_the_folder_has_a_space(
    memos: Path,
) -> None:
    ran = run("start", memos, "--same-height", "--free-length", "3.4 m")
    assert ran.code == 0
    assert f"tension assess '{memos / 'visit.toml'}'" in ran.out
