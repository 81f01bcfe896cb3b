"""Comparing as typed: what decides is the decimal text."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from tension.quantity.units import exceeds

hundredths = st.integers(1, 10_000)
parts = st.integers(1, 1000)


@given(nominal=hundredths, part=parts, first=hundredths, second=hundredths)
def test_decides_as_decimals_do(
    nominal: int, part: int, first: int, second: int
) -> None:
    """A mean of two readings against a part of a nominal, all typed as decimals."""
    limit = Decimal(nominal) / 100 * Decimal(part) / 1000
    mean = (Decimal(first) / 100 + Decimal(second) / 100) / 2
    value = (float(f"{first / 100:.2f}") + float(f"{second / 100:.2f}")) / 2
    bound = float(f"{nominal / 100:.2f}") * float(f"{part / 1000:.3f}")
    assert exceeds(value, bound) == (mean > limit)
    assert exceeds(bound, value) == (mean < limit)


@given(nominal=hundredths, part=parts)
def test_on_the_limit_is_neither_over_nor_under(nominal: int, part: int) -> None:
    """In millimetres typed and metres inside."""
    limit = nominal / 100 * 1e-3 * (part / 1000)
    typed = float(Decimal(nominal) * Decimal(part) / 100_000) * 1e-3
    assert not exceeds(typed, limit)
    assert not exceeds(limit, typed)
