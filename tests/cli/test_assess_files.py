"""``tension assess`` on sound files without a record."""

import csv
import io
from pathlib import Path

import pytest

from tests.cli.running import DEMO, MEMOS, Ran, run, without_command

LENGTHS = ("3.400 m", "3.550 m", "3.400 m", "3.555 m", "3.402 m", "3.550 m")
GIVEN = [word for length in LENGTHS for word in ("--free-length", length)]

# The true shares that recordings_demo/README.md tells, in percent.
TRUE_SHARES = (100.9, 86.3, 101.6, 99.6, 112.1, 99.5)


@pytest.fixture(scope="module")
def answered() -> Ran:
    return run("assess", MEMOS, *GIVEN, "--json")


def test_the_demo_set_is_unequal_and_says_so_by_its_exit_code(answered: Ran) -> None:
    assert answered.code == 10
    assert answered.document["verdict"] == "unequal"
    assert answered.document["complete"] is True


def test_shares_are_the_true_ones_within_their_uncertainty(answered: Ran) -> None:
    for rope, true_share in zip(answered.document["ropes"], TRUE_SHARES, strict=True):
        width = 4 * rope["share_standard_uncertainty_percent"]
        assert abs(rope["share_percent"] - true_share) < width < 3.0


def test_without_linear_density_there_are_no_newtons(answered: Ran) -> None:
    assert all(rope["tension_n"] is None for rope in answered.document["ropes"])


def test_with_a_rope_type_newtons_are_near_the_true_mean() -> None:
    answer = run("assess", MEMOS, *GIVEN, "--rope", "13 mm 8x19 FC", "--json").document
    tensions = [rope["tension_n"] for rope in answer["ropes"]]
    assert sum(tensions) / 6 == pytest.approx(3007.4, rel=0.05)  # as the README tells


def test_the_document_names_every_file_with_its_checksum(answered: Ran) -> None:
    inputs = answered.document["inputs"]
    assert [Path(one["path"]).name for one in inputs] == [
        f"rope-{number}.m4a" for number in range(1, 7)
    ]
    assert all(len(one["sha256"]) == 64 for one in inputs)


def test_the_order_of_the_files_is_told(answered: Ran) -> None:
    for number in range(1, 7):
        assert f"rope {number}: " in answered.err


@pytest.mark.slow  # `tests/sound/test_hear.py` holds the numbers, `test_said` the bytes
@pytest.mark.usefixtures("hear_anew")
def test_the_same_input_gives_the_same_bytes(answered: Ran) -> None:
    assert run("assess", MEMOS, *GIVEN, "--json").out == answered.out


def test_text_puts_the_result_first_and_names_rule_and_condition() -> None:
    text = run("assess", MEMOS, *GIVEN).out
    lines = without_command(text)
    assert lines[0] == "UNEQUAL"
    assert "rope 2" in lines[1]
    assert "rope 5" in " ".join(lines[1:3])
    assert "not recorded" in text
    assert "the program's own figure" in " ".join(text.split())
    assert max(map(len, lines)) <= 80


def test_a_narrow_screen_keeps_every_number() -> None:
    text = run("assess", MEMOS, *GIVEN, env={"COLUMNS": "50"}).out
    assert max(map(len, without_command(text))) <= 50
    for number in range(1, 7):
        assert f"\n   {number}  " in text


@pytest.mark.parametrize("columns", [80, 50, 40])
def test_no_line_is_wider_than_the_screen_nor_parts_a_number_from_its_unit(
    columns: int,
) -> None:
    text = run("assess", DEMO / "side-pulls", env={"COLUMNS": str(columns)}).out
    lines = without_command(text)
    assert max(map(len, lines)) <= columns
    assert not any(line.startswith(("%", "N ")) for line in lines)
    for number in range(1, 7):
        assert f"Rope {number}\n" in text or f"\n   {number}  " in text
    assert "\n  : " not in text


def test_csv_has_one_row_per_rope() -> None:
    rows = list(csv.DictReader(io.StringIO(run("assess", MEMOS, *GIVEN, "--csv").out)))
    assert [row["rope"] for row in rows] == [str(n) for n in range(1, 7)]
    assert float(rows[1]["share_percent"]) < 90


def test_no_colour_is_needed_to_read_the_result() -> None:
    text = run("assess", MEMOS, *GIVEN).out
    assert "\x1b" not in text


def test_one_length_without_a_word_on_the_sockets_gives_no_verdict() -> None:
    answer = run("assess", MEMOS, "--free-length", "3.4 m", "--json")
    assert answer.document["verdict"] in {"cannot-tell", "unequal"}
    if answer.document["verdict"] == "unequal":
        codes = {note["code"] for note in answer.document["notes"]}
        assert any("stagger" in code or "length" in code for code in codes)


def test_another_limit_is_printed_beside_the_rule_it_changes() -> None:
    answer = run(
        "assess",
        MEMOS,
        *GIVEN,
        "--rule",
        "gb50310-2002-4.9.5",
        "--limit",
        "4 %",
        "--json",
    ).document
    assert answer["rule"]["limit_percent"] == 4.0
    assert answer["rule"]["changed_from_percent"] == 5.0


def test_a_figure_is_written_and_never_over_another(tmp_path: Path) -> None:
    target = tmp_path / "shares.svg"
    assert run("assess", MEMOS, *GIVEN, "--plot", target).code == 10
    first = target.read_bytes()
    assert b"<svg" in first
    again = run("assess", MEMOS, *GIVEN, "--plot", target)
    assert again.code == 3
    assert "--overwrite" in again.err
    assert target.read_bytes() == first
    assert run("assess", MEMOS, *GIVEN, "--plot", target, "--overwrite").code == 10
    assert target.read_bytes() == first


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--free-length", "3.4"], 2, "unit"),
        (["--free-length", "3.4 kg"], 2, "length"),
        (["--free-length", "-3 m"], 2, "3 m"),
        (["--limit", "10"], 2, "unit"),
        (["--limit", "0 %"], 2, "limit"),
        (["--limit", "200 %"], 2, "limit"),
        (["--rule", "gb50310"], 2, "did you mean"),
        (["--rope", "13 8x19"], 2, "13 mm 8x19 FC"),
        (["--metric", "best"], 2, "below-highest"),
        (["--series", "as left"], 2, "record"),
        (["--order", "1 two 3"], 2, "rope numbers"),
        (["--json", "--csv"], 2, "not both"),
        (["--free-length", "3 m", "--free-length", "4 m"], 3, "once per rope"),
        (["--plot", "shares.jpg"], 3, ".svg"),
    ],
)
def test_wrong_options_are_told_with_what_to_write(
    words: list[str], code: int, says: str
) -> None:
    ran = run("assess", MEMOS, *words)
    assert ran.code == code
    assert says in ran.err
    assert ran.out == ""


def test_a_missing_file_leaves_the_other_ropes_their_numbers() -> None:
    files = [*sorted(MEMOS.glob("*.m4a"))[:5], MEMOS / "rope-9.m4a"]
    ran = run("assess", *files, *GIVEN, "--json")
    ropes = ran.document["ropes"]
    assert ropes[5]["refused"]
    assert ropes[5]["share_percent"] is None
    assert ran.document["complete"] is False
    assert all(rope["share_percent"] for rope in ropes[:5])


def test_one_sound_given_for_two_ropes_is_a_number_of_neither(tmp_path: Path) -> None:
    # beside each other, so that the order does not hang on where the tree lies
    memos = sorted(MEMOS.glob("*.m4a"))[:5]
    files = [tmp_path / f"memo {k}.m4a" for k in range(1, 6)]
    for memo, file in zip(memos, files, strict=True):
        file.write_bytes(memo.read_bytes())
    again = tmp_path / "memo 6 copied.m4a"
    again.write_bytes(files[1].read_bytes())
    ran = run("assess", *files, again, *GIVEN, "--json")
    ropes = ran.document["ropes"]
    assert [rope["refused"] for rope in ropes] == [
        None,
        "same-sound",
        None,
        None,
        None,
        "same-sound",
    ]
    assert "memo 6 copied.m4a" in ropes[1]["refusal"]["text"]
    assert ran.document["verdict"] != "equal"


def test_a_share_has_no_uncertainty_while_the_lengths_are_not_known() -> None:
    words = ("assess", MEMOS, "--rope", "13 mm 8x19 FC")
    ropes = run(*words, "--json").document["ropes"]
    assert any(rope["share_percent"] for rope in ropes)
    for rope in ropes:
        assert rope["share_standard_uncertainty_percent"] is None
        assert rope["tension_standard_uncertainty_n"] is None
    text = run(*words).out
    assert "No ± while the free lengths are not known." in " ".join(text.split())


def test_what_holds_for_every_rope_of_a_memo_is_said_once() -> None:
    memo = DEMO / "one-memo" / "all-ropes.m4a"
    ran = run("assess", memo, "--order", "1 2 3", "--plucks-each", "3")
    assert ran.code == 3
    said = [line for line in ran.err.splitlines() if "36 plucks" in line]
    assert len(said) == 1


def test_a_missing_file_is_not_taken_as_one_rope(tmp_path: Path) -> None:
    ran = run("assess", tmp_path / "r1.m4a", "--json")
    assert ran.document["verdict"] == "no-result"
    assert "taken as one rope" not in ran.err


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (("r1", "r2", "r3", "r4", "r6"), "numbered 1 to 6, but 5 is not there"),
        (("New Recording 9", "New Recording 10", "New Recording 12"), "11 is not"),
        (("r1", "r2", "r3"), ""),
        (("1001", "1010", "1030"), ""),
        (("top 1", "cwt 2", "top 4"), ""),
    ],
)
def test_a_number_that_sound_files_leave_out_is_told(
    tmp_path: Path, names: tuple[str, ...], told: str
) -> None:
    for name in names:
        (tmp_path / f"{name}.wav").write_bytes(b"")
    notes = run("assess", tmp_path, "--json").document["notes"]
    found = [one["text"] for one in notes if one["code"] == "number-left-out"]
    assert len(found) == bool(told)
    assert all(told in text for text in found)
