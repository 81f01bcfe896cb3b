"""Turns a reason into a tolerance, and refuses those under which no test can fail."""

from decimal import Decimal

import pytest

LARGEST_COMPUTED = 0.01


def half_last_digit(printed: str) -> float:
    """Half a unit of the last digit of a number as printed ("1.5664" -> 0.00005)."""
    _, digits, exponent = Decimal(printed.strip()).as_tuple()
    if not isinstance(exponent, int):
        raise TypeError(f"a printed number is needed, got {printed!r}")
    half = 0.5 * 10.0**exponent
    value = abs(int("".join(map(str, digits)))) * 10.0**exponent
    if value and half / value > LARGEST_COMPUTED:
        raise ValueError(f"{printed!r} has too few digits to test anything to 1 %")
    return half


def as_printed(printed: str) -> object:
    """What a number must be to be printed so (a hair more, for binary rounding)."""
    half = half_last_digit(printed)
    return pytest.approx(float(printed), rel=0, abs=half * (1 + 1e-9))


def computed(relative: float, reason: str) -> float:
    """Relative tolerance against a computed oracle, with the reason for its size."""
    if not reason.strip():
        raise ValueError("a tolerance needs a reason")
    if not 0 < relative <= LARGEST_COMPUTED:
        raise ValueError(f"a tolerance of {relative:g} would let a 1 % error through")
    return relative


def measured(scatter: float, source: str) -> float:
    """Relative scatter of a measured row, with the source that states or shows it."""
    if not source.strip():
        raise ValueError("a scatter needs a source")
    if not 0 < scatter < 1:
        raise ValueError(f"a scatter of {scatter:g} tests nothing")
    return scatter
