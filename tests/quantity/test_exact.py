"""What was typed is compared as it was typed."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.quantity.units import (
    Dimension,
    Quantity,
    as_decimal,
    as_typed,
    parse_quantity,
)

TENTHS = st.integers(1, 9999).map(lambda n: Decimal(n) / 10)


@given(nominal=st.integers(3, 60), percent=st.integers(1, 99))
def test_a_part_of_a_nominal_size_is_met_by_the_reading_that_equals_it(
    nominal: int, percent: int
) -> None:
    share = as_typed(parse_quantity(f"{percent} %", Dimension.FRACTION))
    size = as_typed(parse_quantity(f"{nominal} mm", Dimension.LENGTH))
    edge = Decimal(nominal) * percent / 100
    reading = as_typed(parse_quantity(f"{edge} mm", Dimension.LENGTH))
    below = as_typed(parse_quantity(f"{edge - Decimal('0.001')} mm", Dimension.LENGTH))
    assert reading == size * share
    assert below < size * share


@given(one=TENTHS, unit=st.sampled_from(["mm", "cm", "m", "in"]))
def test_a_typed_length_is_the_decimal_times_its_unit(one: Decimal, unit: str) -> None:
    size = {"mm": "0.001", "cm": "0.01", "m": "1", "in": "0.0254"}[unit]
    typed = as_typed(parse_quantity(f"{one} {unit}", Dimension.LENGTH))
    assert typed == Fraction(one) * Fraction(size)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("15/32 in", Fraction(15, 32)),
        ("10 ft 6 1/8 in", Fraction(961, 8) + 6),
        ("-4 in", Fraction(-4)),
        ("3,5 in", Fraction(7, 2)),
    ],
)
def test_fractions_feet_signs_and_commas_are_exact(text: str, inches: Fraction) -> None:
    typed = as_typed(parse_quantity(text, Dimension.LENGTH))
    assert typed == inches * Fraction("0.0254")


def test_a_quantity_that_was_not_typed_is_its_value() -> None:
    for text in ("", "1 m"):
        made = Quantity(value=0.0117, dimension=Dimension.LENGTH, text=text)
        assert as_typed(made) == as_decimal(0.0117) == Fraction(117, 10000)
