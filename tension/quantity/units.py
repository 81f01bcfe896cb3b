"""Text with a unit to SI, alone or several in one line; nothing is guessed.

A character that does not belong into a quantity, or a comma that can be read in two
ways, is refused with a sentence. Readings and limits are compared as they were typed,
not as binary fractions: 11.7 mm is not below 90 % of 13 mm, whatever binary floating
point makes of it.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise
from math import isclose
from typing import NamedTuple
from unicodedata import normalize

from tension.errors import InvalidValueError
from tension.quantity.showing import (
    CHAINS,
    WEIGHT_OR_MASS,
    Dimension,
    UnitSystem,
    find_factor,
    show_quantity,
)

__all__ = [
    "Dimension",
    "Quantity",
    "UnitSystem",
    "as_decimal",
    "as_typed",
    "exceeds",
    "is_same",
    "parse_quantity",
    "read_typed_list",
    "require_positive",
    "show_quantity",
]

_LONGEST_TEXT = 60
"""Longest text that is read at all. [characters]"""

_SIGNED = frozenset({Dimension.LENGTH, Dimension.FORCE, Dimension.TURNS})
"""What may be negative somewhere: a stagger, the zero of a scale, a turn."""

_AS_TYPED = 1e-9
"""Far under the last digit that anybody types, far over what arithmetic adds. [1]"""

_VULGAR = "[¼-¾⅓-⅞]"
"""Fractions of one character."""

_PLAIN = {
    **dict.fromkeys(map(ord, "\u2212\u2010\u2011\u2013"), "-"),  # minus, hyphens, dash
    **dict.fromkeys(map(ord, "\u2032\u2019\u2018\u00b4"), "'"),  # prime, quotes, accent
    **dict.fromkeys(map(ord, "\u2033\u201d\u201c\u201e"), '"'),  # double prime, quotes
    **dict.fromkeys(map(ord, "\u00a0\u2002\u2003\u2007\u2009\u200a\u202f\t"), " "),
    ord("\u2044"): "/",  # fraction slash
}
_PART = re.compile(
    r"(?P<sign>[+-])? ?"
    r"(?P<number>[1-9][0-9]{0,2}(?: [0-9]{3})+(?![0-9]| ?/ ?[0-9])(?:[.,][0-9]+)?"
    r"|[0-9]*[.][0-9]+(?:[eE][+-]?[0-9]{1,3})?"
    r"|(?P<left>[0-9]+),(?P<comma>[0-9]+)"
    r"|[0-9]+(?:[eE][+-]?[0-9]{1,3}(?![0-9a-zA-Z]))?(?![0-9]| ?/ ?[0-9]))? ?"
    r"(?P<fraction>(?P<over>[0-9]+) ?/ ?(?P<under>[0-9]+)(?![0-9.,]))? ?"
    r"(?P<unit>[\"'%]|[A-Za-z]+\.?(?: ?/ ?(?:100 ?)?[A-Za-z]+\.?)?)? ?"
)
"""A number, a fraction or both, with the unit that follows."""
_HYPHENED = re.compile(r"(?<=[0-9])-(?=[0-9]+ ?/ ?[0-9])|(?<=['\"t])-(?=[0-9])")


@dataclass(frozen=True, kw_only=True, slots=True)
class Quantity:
    """A number as a person gave it, and in SI."""

    # in the SI unit of its dimension (m, N, kg, kg/m, N/m, Hz, s, 1, turns)
    value: float
    dimension: Dimension  # what it measures
    text: str  # exactly as given


class _Part(NamedTuple):
    """A number with its unit."""

    value: Fraction
    is_whole: bool
    unit: str
    factor: Fraction  # size of the unit in SI


def parse_quantity(text: str, dimension: Dimension | str) -> Quantity:
    """Read a text with a unit.

    Feet and inches with fractions, decimal commas and typographic marks are read; what
    can be meant in two ways is asked back. Lengths, forces and turns may have a sign.

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
    words = {one.value: one for one in Dimension}
    if not isinstance(dimension, Dimension) and dimension not in words:
        known = ", ".join(f'"{word}"' for word in words)
        raise InvalidValueError(
            f'"{dimension}" is nothing that is measured here; it is one of {known}'
        )
    if not isinstance(dimension, Dimension):
        dimension = words[dimension]
    is_below, parts = _read(text, dimension)
    _require_chain(parts, text, dimension)
    exact = _exact(is_below, parts)
    if is_below and dimension not in _SIGNED:
        raise InvalidValueError(
            f'"{text}": a {dimension.value} cannot be below zero; take out the sign'
        )
    if abs(exact) > dimension.largest:
        raise InvalidValueError(
            f'"{text}" is too large for a {dimension.value} on a lift; check the unit '
            "and the decimal mark"
        )
    return Quantity(value=float(exact), dimension=dimension, text=text)


def require_positive(quantity: Quantity, name: str) -> Quantity:
    """Give back a quantity; refuse nought and what is below it.

    Raises
    ------
    InvalidValueError
        If it is not above zero.
    """
    if quantity.value > 0:
        return quantity
    raise InvalidValueError(f"{name} must be above zero, got {quantity.text}")


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
        exact = _exact(*_read(quantity.text, quantity.dimension))
    except InvalidValueError:
        return as_decimal(quantity.value)
    is_read = is_same(float(exact), quantity.value)
    return exact if is_read else as_decimal(quantity.value)


def _exact(is_below: bool, parts: Sequence[_Part]) -> Fraction:  # noqa: FBT001
    """The number that is written, in SI."""
    size = sum((part.value * part.factor for part in parts), Fraction(0))
    return -size if is_below else size


def _read(text: str, dimension: Dimension) -> tuple[bool, list[_Part]]:
    """Whether a text has a minus, and every number with the unit that follows it."""
    pieces = list(_pieces(text))
    parts = []
    for place, piece in enumerate(pieces):
        unit = (piece["unit"] or "").replace(" ", "").replace(".", "")
        value = _value(piece, text)
        if value is None and unit:
            raise InvalidValueError(
                f'"{text}" needs a number before "{unit}"; {_like(dimension)}'
            )
        if value is None:
            raise InvalidValueError(
                f'there is no number in "{text}"; {_like(dimension)}'
            )
        is_last = piece is pieces[-1]
        if dimension is Dimension.TURNS and is_last:
            unit = unit or "turns"
        if (place and piece["sign"]) or not unit:
            what = "a number without a unit" if is_last else "two numbers in a row"
            raise InvalidValueError(f'"{text}" has {what}; {_like(dimension)}')
        number = piece["number"] or ""
        is_whole = number.replace(" ", "").isdigit() and not piece["fraction"]
        parts.append(_Part(value, is_whole, unit, _factor(unit, text, dimension)))
    return pieces[0]["sign"] == "-", parts


def _pieces(text: str) -> Iterator[re.Match[str]]:
    """Cut the text of a quantity into numbers with their units, at least one."""
    if len(text) > _LONGEST_TEXT:
        raise InvalidValueError(
            f'"{text[:20]}..." is too long for a number with its unit '
            f"({len(text)} characters); write it like 3.40 m"
        )
    plain = re.sub(_VULGAR, lambda found: f" {normalize('NFKC', found[0])} ", text)
    plain = plain.translate(_PLAIN).replace("''", '"')
    plain = _HYPHENED.sub(" ", " ".join(part for part in plain.split(" ") if part))
    if not plain:
        raise InvalidValueError("an empty text is no quantity; write it like 3.40 m")
    place = 0
    while place < len(plain):
        found = _PART.match(plain, place)
        if found is None or found.end() == place:
            raise InvalidValueError(
                f'"{text}": the character "{plain[place]}" does not belong into a '
                "number with its unit; write it like 3.40 m"
            )
        if found["number"] and plain[found.end("number") :][:1] in {".", ","}:
            raise InvalidValueError(
                f'"{text}" has a point or comma that is not read; write one decimal '
                "mark at most and none between thousands, like 1200.5 N"
            )
        place = found.end()
        yield found


def _value(piece: re.Match[str], text: str) -> Fraction | None:
    """The number, fraction or mixed number of a piece, if it has one."""
    number, left, comma = piece.group("number", "left", "comma")
    if comma and len(comma) == 3 and len(left) <= 3 and not left.startswith("0"):
        raise InvalidValueError(
            f'"{text}" can be read in two ways; write {left}{comma} if the comma parts '
            f'thousands in "{left},{comma}", {left}.{comma} if it is a decimal comma'
        )
    value = Fraction(number.replace(" ", "").replace(",", ".")) if number else None
    if not piece["fraction"]:
        return value
    over, under = int(piece["over"]), int(piece["under"])
    if under == 0:
        raise InvalidValueError(f'"{text}" divides by nought; check the fraction')
    if value is None:
        return Fraction(over, under)
    if over >= under or not number.replace(" ", "").isdigit():
        raise InvalidValueError(
            f'"{text}": {number} {over}/{under} is no mixed number; write it like 4 1/2'
        )
    return value + Fraction(over, under)


def _like(dimension: Dimension) -> str:
    """What to write for a dimension."""
    return f"write a {dimension.value} in {dimension.offered}"


def _factor(unit: str, text: str, dimension: Dimension) -> Fraction:
    """The size of a unit in SI, as it is written."""
    factor = find_factor(unit, dimension)
    if factor is not None:
        return Fraction(repr(factor))
    advice = WEIGHT_OR_MASS.get((dimension, unit.lower()))
    advice = advice or WEIGHT_OR_MASS.get((dimension, unit))
    known = next(
        (other for other in Dimension if find_factor(unit, other) is not None), None
    )
    if advice or known:
        what = f"a {known.value}" if known else "a mass per length"
        raise InvalidValueError(
            f'"{text}": {unit} measures {what}, and a {dimension.value} is wanted; '
            f"{advice or f'write it in {dimension.offered}'}"
        )
    raise InvalidValueError(
        f'"{text}": the unit "{unit}" is not known; {_like(dimension)}'
    )


def _require_chain(parts: list[_Part], text: str, dimension: Dimension) -> None:
    """Several parts must be like feet and inches: larger first, each under one."""
    if len(parts) == 1:
        return
    factors = [part.factor for part in parts]
    is_chain = any(
        dimension is kind and set(sizes).issuperset(map(float, factors))
        for kind, sizes in CHAINS
    )
    is_falling = all(a > b for a, b in pairwise(factors))
    if not (is_chain and is_falling):
        raise InvalidValueError(
            f'"{text}" has its parts in an order that is not read; write the larger '
            "unit first, like 10 ft 6 in, or use one unit"
        )
    for larger, part in pairwise(parts):
        if not larger.is_whole:
            raise InvalidValueError(
                f'"{text}": only the last number may have a fraction; write it with '
                "whole numbers before, or in one unit"
            )
        if part.value * part.factor >= larger.factor:
            raise InvalidValueError(
                f'"{text}": {float(part.value):g} {part.unit} is a whole '
                f"{larger.unit} or more; check the number"
            )


_TYPED_FRACTION = rf"(?:[0-9]+/[0-9]+|{_VULGAR})"
_ITEM = re.compile(
    rf"(?P<number>[+\u2212-]?[0-9]+(?:\s*|-){_TYPED_FRACTION}|{_TYPED_FRACTION}"
    r"|[+\u2212-]?[0-9]+(?:[.,][0-9]+)?(?![0-9/])|[+\u2212-]?[.][0-9]+)"
    r"(?:\s*(?P<unit>[A-Za-z]+\.?(?:/[A-Za-z]+)?|[\"'′″’”%]))?"
    r"(?:\s+|[,;:]\s*)?"
)
_MIXED = re.compile(rf"([0-9])[\s-]*({_TYPED_FRACTION})$")


def read_typed_list(
    text: str, dimension: Dimension, unit: str = ""
) -> tuple[list[str], bool]:
    """Part a line into texts that `parse_quantity` reads; and whether none has a unit.

    They are in the order typed. A number takes the next unit to its right, else the
    last to its left, else `unit`. A comma between two digits is a decimal comma; one
    before a space parts numbers.

    Raises
    ------
    InvalidValueError
        If it holds something else.

    Examples
    --------
    >>> read_typed_list("139 142 139,5 mm", Dimension.LENGTH)
    (['139 mm', '142 mm', '139,5 mm'], False)
    """
    texts: list[str] = []
    units: list[str] = []
    last = ""
    place = len(text) - len(text.lstrip())
    while place < len(text):
        found = _ITEM.match(text, place)
        if found is None:
            raise InvalidValueError(
                f'"{text[place : place + 20]}" is no number with a unit; write them '
                f"like 139 142 in {dimension.offered}"
            )
        place = found.end()
        own = found["unit"] or ""
        number = _MIXED.sub(r"\1 \2", found["number"])
        written = f"{number}{' ' * own[:1].isalpha()}{own}"
        if last.isdigit() and _is_smaller(own, units[-1], dimension):
            # as inches of feet
            texts[-1], units[-1] = f"{texts[-1]} {written}", own
        else:
            texts.append(written)
            units.append(own)
        last = found["number"].lstrip("+-\u2212")
    for i, own in enumerate(units):
        near = [*units[i + 1 :], *reversed(units[:i]), unit]
        shared = next((one for one in near if one), "")
        if shared and not own:
            texts[i] += f" {shared}"
    return texts, not any(units)


def _is_smaller(unit: str, than: str, dimension: Dimension) -> bool:
    """Whether a unit may follow another in one quantity, as inches of feet."""
    small, large = (
        find_factor(one.translate(_PLAIN).rstrip("."), dimension)
        for one in (unit, than)
    )
    return any(
        kind is dimension and (large, small) in [*combinations(sizes, 2)]
        for kind, sizes in CHAINS
    )
