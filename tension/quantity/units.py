"""Text with a unit to SI."""

from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

from tension.errors import InvalidValueError
from tension.quantity.showing import UnitSystem, show_quantity
from tension.quantity.tokens import Token, TokenKind, find_tokens
from tension.quantity.unit_table import (
    CHAINS,
    LARGEST,
    SHOWN_UNITS,
    WEIGHT_OR_MASS,
    Dimension,
    find_factor,
)

__all__ = [
    "Dimension",
    "Quantity",
    "UnitSystem",
    "parse_quantity",
    "require_not_negative",
    "require_positive",
    "show_quantity",
]

SIGNED = frozenset({Dimension.LENGTH, Dimension.FORCE, Dimension.TURNS})
"""What may be negative somewhere: a stagger, the zero of a scale, a turn."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Quantity:
    """A number as a person gave it, and in SI.

    Attributes
    ----------
    value : float
        In the SI unit of its dimension (m, N, kg, kg/m, N/m, Hz, s, 1, turns).
    dimension : Dimension
        What it measures.
    text : str
        The text exactly as given.
    """

    value: float
    dimension: Dimension
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class _Part:
    """A number with its unit; no unit if it had none."""

    value: float
    is_whole: bool
    unit: str


def parse_quantity(text: str, dimension: Dimension | str) -> Quantity:
    """Read a text with a unit.

    Feet and inches with fractions, decimal commas and typographic marks are read; what
    can be meant in two ways is asked back. Lengths, forces and turns may have a sign;
    `require_positive` refuses it where it makes no sense.

    Parameters
    ----------
    text : str
        What a person typed, such as ``10' 4 1/2"`` or ``0,58 kg/m``.
    dimension : Dimension or str
        What it must measure, by its word: "length", "force", "mass".

    Returns
    -------
    Quantity
        The value in SI beside the text.

    Raises
    ------
    InvalidValueError
        If the text is no such quantity; the message says what to write instead.

    Examples
    --------
    >>> round(parse_quantity("10 ft 6 in", Dimension.LENGTH).value, 4)
    3.2004
    """
    try:
        dimension = Dimension(dimension)
    except ValueError:
        known = ", ".join(f'"{one.value}"' for one in Dimension)
        raise InvalidValueError(
            f'"{dimension}" is nothing that is measured here; it is one of {known}'
        ) from None
    tokens = list(find_tokens(text))
    sign = 1.0
    if tokens[0].kind is TokenKind.SIGN:
        sign = -1.0 if tokens.pop(0).text == "-" else 1.0
    parts = _find_parts(tokens, text, dimension)
    factors = [_factor(part, text, dimension) for part in parts]
    _require_chain(parts, factors, text, dimension)
    value = sign * sum(
        part.value * factor for part, factor in zip(parts, factors, strict=True)
    )
    if sign < 0 and dimension not in SIGNED:
        raise InvalidValueError(
            f'"{text}": a {dimension.value} cannot be below zero; take out the sign'
        )
    if not isfinite(value) or abs(value) > LARGEST[dimension]:
        raise InvalidValueError(
            f'"{text}" is too large for a {dimension.value} on a lift; check the unit '
            "and the decimal mark"
        )
    return Quantity(value=value + 0.0, dimension=dimension, text=text)


def require_positive(quantity: Quantity, name: str) -> Quantity:
    """Refuse nought and what is below it.

    Parameters
    ----------
    quantity : Quantity
        The quantity.
    name : str
        What it is, for the message.

    Returns
    -------
    Quantity
        The same quantity.

    Raises
    ------
    InvalidValueError
        If it is not above zero.
    """
    if quantity.value > 0:
        return quantity
    raise InvalidValueError(f"{name} must be above zero, got {quantity.text}")


def require_not_negative(quantity: Quantity, name: str) -> Quantity:
    """Refuse what is below zero.

    Parameters
    ----------
    quantity : Quantity
        The quantity.
    name : str
        What it is, for the message.

    Returns
    -------
    Quantity
        The same quantity.

    Raises
    ------
    InvalidValueError
        If it is below zero.
    """
    if quantity.value >= 0:
        return quantity
    raise InvalidValueError(f"{name} must not be below zero, got {quantity.text}")


def _find_parts(
    tokens: list[Token], text: str, dimension: Dimension
) -> tuple[_Part, ...]:
    """Pair every number with the unit that follows it."""
    parts: list[_Part] = []
    while tokens:
        value, is_whole = _take_number(tokens, text, dimension)
        if tokens and tokens[0].kind is TokenKind.UNIT:
            unit = tokens.pop(0).text
        elif dimension is Dimension.TURNS and not tokens:
            unit = "turns"
        else:
            raise InvalidValueError(_no_unit(text, dimension, has_more=bool(tokens)))
        parts.append(_Part(value=value, is_whole=is_whole, unit=unit))
    if not parts:
        raise InvalidValueError(f'there is no number in "{text}"; {_like(dimension)}')
    return tuple(parts)


def _no_unit(text: str, dimension: Dimension, *, has_more: bool) -> str:
    """Say that a number lacks its unit, or that two numbers follow each other."""
    what = "two numbers in a row" if has_more else "a number without a unit"
    return f'"{text}" has {what}; {_like(dimension)}'


def _like(dimension: Dimension) -> str:
    """What to write for a dimension."""
    return f"write a {dimension.value} in {SHOWN_UNITS[dimension]}"


def _take_number(
    tokens: list[Token], text: str, dimension: Dimension
) -> tuple[float, bool]:
    """Take a number, a fraction or both from the front; and whether it is whole."""
    first = tokens.pop(0)
    if first.kind is TokenKind.FRACTION:
        return first.value, False
    if first.kind is not TokenKind.NUMBER:
        raise InvalidValueError(
            f'"{text}" needs a number before "{first.text}"; {_like(dimension)}'
        )
    is_whole = first.text.replace(" ", "").isdigit()
    if not tokens or tokens[0].kind is not TokenKind.FRACTION:
        return first.value, is_whole
    fraction = tokens.pop(0)
    if not is_whole or fraction.value >= 1:
        raise InvalidValueError(
            f'"{text}": {first.text} {fraction.text} is no mixed number; write it like '
            "4 1/2"
        )
    return first.value + fraction.value, False


def _factor(part: _Part, text: str, dimension: Dimension) -> float:
    """The unit of a part in SI."""
    factor = find_factor(part.unit, dimension)
    if factor is not None:
        return factor
    unit = part.unit
    advice = WEIGHT_OR_MASS.get((dimension, unit.lower()))
    advice = advice or WEIGHT_OR_MASS.get((dimension, unit))
    known = next(
        (other for other in Dimension if find_factor(unit, other) is not None), None
    )
    if advice:
        what = f"a {known.value}" if known else "a mass per length"
        raise InvalidValueError(
            f'"{text}": {unit} measures {what}, and a {dimension.value} is wanted; '
            f"{advice}"
        )
    if known is not None:
        raise InvalidValueError(
            f'"{text}": {unit} measures a {known.value}, and a {dimension.value} is '
            f"wanted; write it in {SHOWN_UNITS[dimension]}"
        )
    raise InvalidValueError(
        f'"{text}": the unit "{unit}" is not known; {_like(dimension)}'
    )


def _require_chain(
    parts: tuple[_Part, ...], factors: list[float], text: str, dimension: Dimension
) -> None:
    """Several parts must be like feet and inches: larger first, each under one."""
    if len(parts) == 1:
        return
    is_chain = any(
        dimension is kind and set(factors) <= set(sizes) for kind, sizes in CHAINS
    )
    is_falling = all(a > b for a, b in pairwise(factors))
    if not (is_chain and is_falling):
        raise InvalidValueError(
            f'"{text}" has its parts in an order that is not read; write the larger '
            "unit first, like 10 ft 6 in, or use one unit"
        )
    for i, part in enumerate(parts[1:], start=1):
        if not parts[i - 1].is_whole:
            raise InvalidValueError(
                f'"{text}": only the last number may have a fraction; write it with '
                "whole numbers before, or in one unit"
            )
        if part.value * factors[i] >= factors[i - 1] * (1 - 1e-12):
            raise InvalidValueError(
                f'"{text}": {part.value:g} {part.unit} is a whole '
                f"{parts[i - 1].unit} or more; check the number"
            )
