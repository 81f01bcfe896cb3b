"""Rows of allowance tables as remembered, not seen; they prove nothing.

They hold the catalogue to what it says it remembers, so that a slip of the keyboard is
found. Sought without success in public pages: the tables of ASME A17.1 8.11.2.1.3 and
A17.6 1.10, and the annex of ISO 4344.
"""

import pytest

from tension.catalogue import Standing
from tension.catalogue.allowances import RowDistribution, find_allowance_table
from tests.synthesis.made_results import length

ROWS = [
    ("a17-style", "8x19", "spread", 32, 40),
    ("a17-style", "8x19", "one-or-two-strands", 10, 16),
    ("a17-style", "8x19", "side-by-side", 16, 24),
    ("a17-style", "8x19", "valley", 1, None),
    ("iso-4344-examine", "6x19", "spread", 12, None),
    ("iso-4344-examine", "8x19", "spread", 15, None),
    ("iso-4344-examine", "9x19", "spread", 17, None),
    ("iso-4344-examine", "6x19", "one-or-two-strands", 6, None),
    ("iso-4344-examine", "8x19", "one-or-two-strands", 8, None),
    ("iso-4344-examine", "9x19", "one-or-two-strands", 9, None),
    ("iso-4344-examine", "8x19", "side-by-side", 4, None),
    ("iso-4344-examine", "8x19", "valley", 1, None),
]

DIAMETERS = [
    ("3/8 in", "11/32 in"),
    ("7/16 in", "13/32 in"),
    ("1/2 in", "15/32 in"),
    ("9/16 in", "17/32 in"),
    ("5/8 in", "37/64 in"),
    ("11/16 in", "41/64 in"),
    ("3/4 in", "45/64 in"),
    ("7/8 in", "53/64 in"),
    ("1 in", "61/64 in"),
]


@pytest.mark.parametrize(("table", "rope_class", "kind", "breaks", "monthly"), ROWS)
def test_a_remembered_count_is_held_as_such(
    table: str, rope_class: str, kind: str, breaks: int, monthly: int | None
) -> None:
    row = find_allowance_table(table).break_row(rope_class, RowDistribution(kind))
    assert row is not None
    assert (row.breaks, row.breaks_if_monthly) == (breaks, monthly)
    assert row.standing is Standing.MEMORY


@pytest.mark.parametrize(("size", "least"), DIAMETERS)
def test_a_remembered_diameter_is_held_as_such(size: str, least: str) -> None:
    row = find_allowance_table("a17-style").diameter_row(length(size).value)
    assert row is not None
    assert row.least is not None
    assert row.least.value == pytest.approx(length(least).value)
    # 4.7 to 8.3 % off nominal, by division
    assert 0.9165 <= row.least.value / row.size.value <= 0.954
    assert row.standing is Standing.MEMORY
