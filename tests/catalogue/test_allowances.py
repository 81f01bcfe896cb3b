"""Allowance tables as data, the program's and the user's own."""

import pytest

from tension.catalogue.acceptance import find_acceptance_item
from tension.catalogue.allowances import (
    RowDistribution,
    allowance_tables,
    find_allowance_table,
    read_allowance_tables,
)
from tension.catalogue.standing import Standing
from tension.errors import FileFormatError, InvalidValueError
from tests.reference.tables import read_table

OWN = """format = 1
[[table]]
name = "house"
source = "house rule"
edition = "3"
standing = "seen"
[[table.breaks]]
rope_class = "8x*"
distribution = "spread"
breaks = 30
"""


@pytest.mark.parametrize("row", read_table("lift_rope_allowances_second_hand.csv"))
def test_a_second_hand_row_is_held_as_printed_and_as_such(row: dict[str, str]) -> None:
    held = find_allowance_table("a17-style").break_row(
        row["rope_class"], RowDistribution(row["distribution"])
    )
    assert held is not None
    assert str(held.breaks) == row["breaks"]
    assert (str(held.breaks_if_monthly) if held.breaks_if_monthly else "") == row[
        "breaks_if_monthly"
    ]
    assert held.standing is Standing.SECOND_HAND


@pytest.mark.parametrize("row", read_table("rope_tag_items.csv"))
def test_the_form_asks_for_every_item_of_the_tag(row: dict[str, str]) -> None:
    rule = find_acceptance_item("right-rope").find_rule("tag-eight")
    assert rule is not None
    assert row["item"] in rule.text


def test_every_table_tells_source_edition_and_standing() -> None:
    for table in allowance_tables():
        assert table.source
        assert table.edition
        assert table.standing in {
            Standing.SEEN,
            Standing.SECOND_HAND,
            Standing.MEMORY,
        }


def test_only_the_table_that_is_remembered_to_have_a_reduction_has_one() -> None:
    assert [t.name for t in allowance_tables() if t.reduction] == ["a17-style"]


def test_an_own_table_is_the_users_whatever_it_claims() -> None:
    (table,) = read_allowance_tables(OWN, "own.toml", standing=Standing.USER)
    assert table.standing is Standing.USER
    row = table.break_row("8x25", RowDistribution.SPREAD)
    assert row is not None
    assert row.standing is Standing.USER
    assert table.break_row("6x19", RowDistribution.SPREAD) is None
    assert table.break_row("8x19", RowDistribution.VALLEY) is None


def test_every_mistake_in_an_own_table_is_told_at_once() -> None:
    text = OWN.replace('source = "house rule"\n', "").replace(
        "breaks = 30", 'breaks = 30\nfraction_of_wires = "10 %"\nbraeks = 1'
    )
    text += '[[table.diameter]]\nleast = "12"\n'
    with pytest.raises(FileFormatError) as raised:
        read_allowance_tables(text, "own.toml")
    told = "\n".join(raised.value.lines)
    for needed in (
        "own.toml: table 1: source: is missing",
        "breaks 1: breaks: write either breaks or fraction_of_wires",
        'breaks 1: braeks: unknown name; did you mean "breaks"?',
        "diameter 1: size: is missing",
        "diameter 1: least:",
    ):
        assert needed in told, needed


@pytest.mark.parametrize("text", ["format = 1", "[[table", "tables = 3"])
def test_what_is_no_table_is_refused(text: str) -> None:
    with pytest.raises(FileFormatError, match=r"own\.toml"):
        read_allowance_tables(text, "own.toml")


def test_an_unknown_table_names_those_there_are() -> None:
    with pytest.raises(InvalidValueError, match=r"tsg-t7001-5\.1"):
        find_allowance_table("nothing")
