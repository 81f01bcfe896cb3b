"""Readings and limits compared as they were typed, not as binary fractions.

11.7 mm is not below 90 % of 13 mm, whatever binary floating point makes of it.
"""

from fractions import Fraction
from math import isclose

from tension.errors import InvalidValueError
from tension.quantity.units import Quantity, exact_value

_AS_TYPED = 1e-9
"""Far under the last digit that anybody types, far over what arithmetic adds. [1]"""


def is_same(one: float, other: float) -> bool:
    """Tell whether two values of one unit, as typed, differ by rounding alone.

    Examples
    --------
    >>> is_same(7 * 0.01, 7 / 100), is_same(0.0704, 0.07)
    (True, False)
    """
    return isclose(one, other, rel_tol=_AS_TYPED)


def exceeds(value: float, limit: float) -> bool:
    """Tell whether a value lies over a limit of the same unit, as typed.

    The mean of 11.7 and 11.7 is nine tenths of 13, though neither is a binary fraction.

    Examples
    --------
    >>> exceeds(0.9 * 13.0, (11.7 + 11.7) / 2), exceeds(11.71, 0.9 * 13.0)
    (False, True)
    """
    return value > limit and not is_same(value, limit)


def as_decimal(value: float) -> Fraction:
    """Give the number that a figure of any unit is written as, not the binary one.

    Examples
    --------
    >>> as_decimal(0.05)
    Fraction(1, 20)
    """
    return Fraction(repr(float(value)))


def as_typed(quantity: Quantity) -> Fraction:
    """Give a quantity in SI exactly as typed; by its value if not read from the text.

    Examples
    --------
    >>> from tension.quantity.units import Dimension, parse_quantity
    >>> as_typed(parse_quantity("11.7 mm", Dimension.LENGTH))
    Fraction(117, 10000)
    """
    try:
        exact = exact_value(quantity.text, quantity.dimension)
    except InvalidValueError:
        return as_decimal(quantity.value)
    is_read = is_same(float(exact), quantity.value)
    return exact if is_read else as_decimal(quantity.value)
