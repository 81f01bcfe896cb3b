"""Allowance tables of the catalogue as data."""

import pytest

from tension.catalogue import Standing
from tension.catalogue.allowances import (
    RowDistribution,
    allowance_tables,
    find_allowance_table,
)
from tension.condition.checks import find_acceptance_item
from tension.errors import InvalidValueError
from tests.reference.tables import read_table


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


def test_an_unknown_table_names_those_there_are() -> None:
    with pytest.raises(InvalidValueError, match=r"tsg-t7001-5\.1"):
        find_allowance_table("nothing")
