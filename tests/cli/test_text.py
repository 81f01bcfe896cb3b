"""Plain text: width, wrapping, tables, large words."""

import pytest

from tension.cli.output import display_width, large, table, wrapped


def test_wide_characters_take_two_columns_and_combining_ones_none() -> None:
    assert display_width("東京") == 4
    assert display_width("e\u0301") == 1


def test_a_table_that_fits_has_one_line_per_row() -> None:
    text = table(("Rope", "Share"), [("1", "99.0 %"), ("12", "101.0 %")])
    assert text.splitlines() == [
        "Rope    Share",
        "   1   99.0 %",
        "  12  101.0 %",
    ]


def test_a_table_that_does_not_fit_becomes_blocks_without_losing_a_cell(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "20")
    rows = [("1", "99.0 %", "highest"), ("2", "101.0 %", "lowest")]
    text = table(("Rope", "Share", "Word"), rows)
    assert max(len(line) for line in text.splitlines()) <= 30
    for cell in ("99.0 %", "101.0 %", "highest", "lowest"):
        assert cell in text


def test_wrapped_lines_keep_to_the_width_and_the_words(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "34")
    sentence = "The highest rope is eleven percent above the lowest rope of this set."
    text = wrapped(sentence, "  ")
    assert max(map(len, text.splitlines())) <= 34
    assert " ".join(text.split()) == sentence


def test_large_words_are_plain_where_nobody_looks() -> None:
    assert large("CANNOT TELL") == "CANNOT TELL"
