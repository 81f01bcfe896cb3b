"""What a person typed, exactly: limits are compared as they are written.

11.7 mm is not below 90 % of 13 mm, whatever binary floating point makes of it.
"""

from fractions import Fraction
from math import isclose

from tension.errors import InvalidValueError
from tension.quantity.tokens import Token, TokenKind, find_tokens
from tension.quantity.unit_table import find_factor
from tension.quantity.units import Quantity

Exact = Fraction | float
"""A number that is compared as it stands; a fraction where it was typed."""


def as_decimal(value: float) -> Fraction:
    """Give the number that a figure of the program is written as.

    Parameters
    ----------
    value : float
        Such as 0.05, in any unit.

    Returns
    -------
    Fraction
        One twentieth, not the nearest binary number.

    Examples
    --------
    >>> as_decimal(0.05)
    Fraction(1, 20)
    """
    return Fraction(repr(float(value)))


def as_typed(quantity: Quantity) -> Fraction:
    """Give a quantity in SI exactly as it was typed.

    Parameters
    ----------
    quantity : Quantity
        What a person typed.

    Returns
    -------
    Fraction
        In the SI unit of its dimension; the value itself, as a decimal, where it was
        not read from the text.

    Examples
    --------
    >>> from tension.quantity.units import Dimension, parse_quantity
    >>> as_typed(parse_quantity("11.7 mm", Dimension.LENGTH))
    Fraction(117, 10000)
    """
    try:
        exact = _read(list(find_tokens(quantity.text)), quantity)
    except InvalidValueError:
        return as_decimal(quantity.value)
    if isclose(float(exact), quantity.value, rel_tol=1e-12, abs_tol=1e-15):
        return exact
    return as_decimal(quantity.value)


def _read(tokens: list[Token], quantity: Quantity) -> Fraction:
    """The sum of a text's numbers, each with the unit that follows it."""
    total, number = Fraction(0), Fraction(0)
    sign = -1 if tokens[0].kind is TokenKind.SIGN and tokens[0].text == "-" else 1
    for token in tokens:
        if token.kind is TokenKind.UNIT:
            total += number * as_decimal(
                find_factor(token.text, quantity.dimension) or 0
            )
            number = Fraction(0)
        elif token.kind is TokenKind.FRACTION:
            number += Fraction(token.text)
        elif token.kind is TokenKind.NUMBER:
            number += as_decimal(token.value)
    return sign * (total + number)
