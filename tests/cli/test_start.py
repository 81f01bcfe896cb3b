"""``tension start``: a record from the fewest questions, never over another."""

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

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


def answer(words: list[str], lines: list[str]) -> Ran:
    """Answer the questions line by line."""
    result = CliRunner().invoke(
        command, words, input="\n".join(lines) + "\n", catch_exceptions=False
    )
    return Ran(code=result.exit_code, out=result.stdout, err=result.stderr)


SKIPPED = [""] * 30


def test_answers_make_a_record_that_assesses_to_the_true_result(memos: Path) -> None:
    answers = [*("",) * 12, LENGTHS[0], "n", *LENGTHS[1:], "two on the car top"]
    ran = answer(["start", str(memos)], [*answers, *SKIPPED])
    assert ran.code == 0, ran.err
    answered = run("assess", memos, "--json").document
    assert answered["verdict"] == "unequal"
    assert answered["condition"]["people"] == "two on the car top"
    assert answered["inputs"][0]["path"].endswith("visit.toml")
    assert answered["inputs"][1]["path"] == "New Recording 9.m4a"


@pytest.mark.parametrize(
    ("place", "said"), [("gone", "make it first"), (".", "beside or below it")]
)
def test_a_place_that_cannot_be_is_told_before_anything_is_asked(
    memos: Path, tmp_path: Path, place: str, said: str
) -> None:
    (tmp_path / "other").mkdir()
    to = tmp_path / "other" / place
    ran = answer(["start", str(memos), "--to", str(to)], ["a name that is lost"])
    assert ran.code == 3
    assert said in ran.err
    assert "Name of the lift" not in ran.err


def test_what_was_typed_before_the_input_ends_is_written_and_the_rest_told(
    memos: Path,
) -> None:
    ran = answer(
        ["start", str(memos)],
        ["Granary Wharf", *("",) * 11, "3.40 m", "n", "3.55 m"],
    )
    assert ran.code == 0
    text = (memos / "visit.toml").read_text(encoding="utf-8")
    assert 'name = "Granary Wharf"' in text
    assert "3.40 m" in text
    assert "3.55 m" in text
    assert "Missing: nuts at (no plan of turns)" in ran.out


@pytest.mark.parametrize(
    ("typed", "asked", "written"),
    [
        (["3.42", "m", "y"], "3.42 of what", 'free_length = "3.42 m"'),
        (["3,42 M", "Y"], "", 'free_length = "3,42 M"'),
        (["3.4 3.5 3.4 3.5 3.4", "M", "3.55", ""], "rope 6", '"3.55 M"'),
        (["3.40 m +150 0 +2 0 +2 mm"], "", 'stagger = "+150 mm"'),
    ],
)
def test_lengths_are_read_as_people_type_them(
    memos: Path, typed: list[str], asked: str, written: str
) -> None:
    ran = answer(["start", str(memos)], [*("",) * 12, *typed])
    assert ran.code == 0
    assert ran.err.count("of what") <= 1
    assert asked in ran.err
    assert written in (memos / "visit.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("number", ["3.42 m", "342 mm", "½ m"])
def test_a_number_where_its_unit_is_asked_is_told_as_it_was_typed(
    memos: Path, number: str
) -> None:
    typed = ["3.42", number, "m", "y"]
    ran = answer(["start", str(memos)], [*("",) * 12, *typed])
    assert ran.code == 0
    said = " ".join(ran.err.split())
    told = f'"{number}" is no unit here; write m, mm, ft or in, without a number'
    assert told in said
    assert 'free_length = "3.42 m"' in (memos / "visit.toml").read_text("utf-8")


def test_a_word_in_any_case_is_read_and_another_asked_again(memos: Path) -> None:
    ran = answer(["start", str(memos)], ["", "", "", "traktion", "TRACTION", "2:1"])
    assert ran.code == 0
    assert '"traktion" is none of' in ran.err
    text = (memos / "visit.toml").read_text(encoding="utf-8")
    assert '\ndrive = "traction"' in text
    assert '\nroping = "2:1"' in text


def test_back_asks_the_last_answer_once_more(memos: Path) -> None:
    ran = answer(["start", str(memos)], ["back", "Wharf", "back", "Granary Wharf"])
    assert ran.code == 0
    assert "first question" in ran.err
    text = (memos / "visit.toml").read_text(encoding="utf-8")
    assert '\nname = "Granary Wharf"' in text


def test_back_where_a_unit_is_asked_asks_for_the_number_once_more(memos: Path) -> None:
    ran = answer(["start", str(memos)], [*("",) * 5, "1840", "back", "1850 kg"])
    assert ran.code == 0
    text = (memos / "visit.toml").read_text(encoding="utf-8")
    assert '\ncar_mass = "1850 kg"' in text


def test_the_summary_is_corrected_by_its_numbers(memos: Path) -> None:
    ran = answer(["start", str(memos)], ["Wharf", "done", "1", "Granary Wharf", ""])
    assert ran.code == 0
    text = (memos / "visit.toml").read_text(encoding="utf-8")
    assert '\nname = "Granary Wharf"' in text


def test_a_hitch_named_in_the_summary_brings_its_questions(memos: Path) -> None:
    ran = answer(
        ["start", str(memos)],
        [*("",) * 12, "", "", "", "", "1", "X", *("",) * 3],
    )
    assert ran.code == 0
    number = next(
        line.split()[0] for line in ran.err.splitlines() if "nuts at: -" in line
    )
    (memos / "visit.toml").unlink()
    ran = answer(
        ["start", str(memos)],
        [*("",) * 12, *("",) * 5, number, "car", "1 3 5/2 4 6", "M16", *("",) * 8],
    )
    assert ran.code == 0
    assert 'thread = "M16"' in (memos / "visit.toml").read_text(encoding="utf-8")


def test_a_memo_left_out_of_those_counted_is_told(memos: Path) -> None:
    (memos / "New Recording 11.m4a").unlink()
    ran = answer(["start", str(memos)], [""] * 40)
    assert "numbered 9 to 14, but 11 is not there" in " ".join(ran.err.split())
    told = answer(["start", str(memos), "--ropes", "6"], [""] * 40)
    assert "is not there" not in told.err


def test_enter_skips_every_question(memos: Path) -> None:
    assert answer(["start", str(memos)], SKIPPED).code == 0
    assert run("assess", memos).code in {3, 10, 11}


def test_a_record_without_any_answer_is_not_written_in_silence(
    tmp_path: Path,
) -> None:
    ran = run("start", tmp_path)
    assert ran.code == 2
    assert "How many ropes" in ran.err
    assert not (tmp_path / "visit.toml").exists()
    ran = run("start", tmp_path, "--ropes", "4")
    assert ran.code == 0
    assert "no reading yet" in ran.out
    assert "Missing: free lengths (no lengths, no result)" in ran.out


def test_an_old_record_is_told_before_anything_is_asked(memos: Path) -> None:
    assert answer(["start", str(memos)], SKIPPED).code == 0
    before = (memos / "visit.toml").read_bytes()
    again = answer(["start", str(memos)], ["traction"])
    assert again.code == 3
    assert "never replaced" in again.err
    assert "--overwrite" not in again.err
    assert "Name" not in again.err
    assert (memos / "visit.toml").read_bytes() == before


def test_the_order_of_one_memo_is_asked(tmp_path: Path) -> None:
    shutil.copy(MEMOS / "rope-1.m4a", tmp_path / "all.m4a")
    ran = answer(["start", str(tmp_path)], ["3", "1 2 4", "1 2 3 3 2 1", *SKIPPED])
    assert ran.code == 0
    text = (tmp_path / "visit.toml").read_text(encoding="utf-8")
    assert "\nropes = [1, 2, 3, 3, 2, 1]" in text


def test_two_rounds_in_one_folder_are_recognised(memos: Path) -> None:
    for number in range(1, 7):
        name = f"New Recording {number + 14}.m4a"
        shutil.copy(
            MEMOS.parents[1] / "before-and-after" / "as-left" / (f"rope-{number}.m4a"),
            memos / name,
        )
    ran = answer(["start", str(memos)], ["6", "", *SKIPPED])
    assert ran.code == 0
    text = (memos / "visit.toml").read_text(encoding="utf-8")
    assert text.count("\nrope = 2\n") == 2


def test_files_that_do_not_fit_the_ropes_are_told_at_once(memos: Path) -> None:
    ran = run("start", memos, "--ropes", "4")
    assert "which rope each is of" in " ".join(ran.err.split())
    ran = run("start", memos / "New Recording 9.m4a", "--ropes", "4")
    assert ran.code == 2
    assert '--order "1 2 3 4"' in ran.err
    assert not (memos / "visit.toml").exists()


def test_the_next_command_can_be_pasted_though_the_folder_has_a_space(
    memos: Path,
) -> None:
    ran = run("start", memos, "--same-height", "--free-length", "3.4 m")
    assert ran.code == 0
    assert f"tension assess '{memos}'" in ran.out


def test_the_travel_is_asked_where_round_trips_are_worked_out(memos: Path) -> None:
    to_the_rope = [*("",) * 12, *("",) * 5, "car", *("",) * 5]
    ran = answer(["start", str(memos)], [*to_the_rope, "38 m", "24", "m", "", ""])
    assert ran.code == 0
    assert "perhaps more round trips than it needs" in " ".join(ran.err.split())
    assert '\ntravel = "24 m"' in (memos / "visit.toml").read_text(encoding="utf-8")
    (memos / "visit.toml").unlink()
    ran = answer(["start", str(memos)], [*to_the_rope, "", "", ""])
    assert "Travel" not in ran.err


@pytest.mark.parametrize(
    ("place", "typed", "said"),
    [
        (5, "1840 g", "must be from 10 kg to 200000 kg"),
        (8, "57 kg/m", "must be from 0.01 kg/m to 20 kg/m"),
        (9, "4.6 N", "must be from 10000 N to 1000 MN"),
    ],
)
def test_a_number_that_a_record_would_refuse_is_asked_again(
    memos: Path, place: int, typed: str, said: str
) -> None:
    ran = answer(["start", str(memos)], [*("",) * place, typed, ""])
    assert ran.code == 0, ran.err
    told = " ".join(ran.err.split())
    assert f"{said}, not {typed}; check number and unit" in told
    assert typed not in (memos / "visit.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--free-length", "2000 m"], "must be from 50 mm to 1000 m, not 2000 m"),
        (["--free-length", "3 m", "--free-length", "4 m"], "given 2 times for 6"),
        (["--metric", "off-mean"], "rule, limit: is missing"),
        (["--order", "1 2 3 4 5 13"], "must be 1 to 12, not 13"),
    ],
)
def test_options_that_a_record_would_refuse_are_told_before_anything_is_asked(
    memos: Path, words: list[str], said: str
) -> None:
    ran = answer(["start", str(memos), *words], ["a name that is lost"])
    assert ran.code in {2, 3}
    assert said in " ".join(ran.err.split())
    assert "Name of the lift" not in ran.err
    assert not (memos / "visit.toml").exists()
