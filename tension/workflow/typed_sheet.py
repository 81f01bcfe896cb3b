"""Lines of a paper sheet, a rope to a line, as a person types them."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tension.errors import InvalidValueError
from tension.quantity.typed_lists import read_typed_list
from tension.quantity.units import Dimension, Quantity, parse_quantity

_LINE = re.compile(
    r"\s*(?:(?:rope\s*)?(?P<number>[0-9]+)\s*[:=)]|rope\s+(?P<named>[0-9]+)\s)\s*(?P<rest>.*)",
    re.IGNORECASE,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """What stands on a sheet.

    Attributes
    ----------
    by_rope : mapping of int to tuple of Quantity
        Of lines that name their rope.
    in_order : tuple of Quantity
        Of a line that names none, from rope 1 up.
    """

    by_rope: Mapping[int, tuple[Quantity, ...]]
    in_order: tuple[Quantity, ...] = ()


class UnitMissingError(InvalidValueError):
    """Numbers without any unit: which one is meant is to be asked."""


def read_sheet(lines: Sequence[str], dimension: Dimension, unit: str = "") -> Sheet:
    """Read lines such as "2: 38, 37.5 lbf", or one line for all ropes in order.

    Parameters
    ----------
    lines : sequence of str
        As typed; empty ones and those that begin with "#" count for nothing.
    dimension : Dimension
        What was read.
    unit : str, optional
        The unit of numbers that have none.

    Raises
    ------
    InvalidValueError
        If a line cannot be read, or one names its rope and another does not.
    UnitMissingError
        If no number has a unit and none is given.
    """
    parts = [part for line in lines for part in re.split(r"[;\n]", line)]
    parts = [part.strip() for part in parts if part.strip()[:1] not in {"", "#"}]
    if not parts:
        raise InvalidValueError("nothing was typed; write a line such as 2: 38 lbf")
    matches = [_LINE.fullmatch(part) for part in parts]
    own_unit = unit or _last_unit(parts, matches, dimension)
    if not any(matches):
        values = [v for part in parts for v in _values(part, dimension, own_unit)]
        return Sheet(by_rope={}, in_order=tuple(values))
    by_rope: dict[int, tuple[Quantity, ...]] = {}
    for part, found in zip(parts, matches, strict=True):
        if found is None:
            raise InvalidValueError(
                f'"{part[:40]}" names no rope; begin each line with it, like 2: 38'
            )
        rope = int(found["number"] or found["named"])
        if rope in by_rope:
            raise InvalidValueError(
                f"rope {rope} has two lines; write its repeats into one"
            )
        by_rope[rope] = _values(found["rest"], dimension, own_unit)
    return Sheet(by_rope=by_rope)


def _values(text: str, dimension: Dimension, unit: str) -> tuple[Quantity, ...]:
    """The quantities of one line."""
    typed = read_typed_list(text, dimension, unit)
    if typed.lacks_unit and not unit:
        raise UnitMissingError(f'"{text[:40]}" has no unit')
    values = tuple(parse_quantity(one, dimension) for one in typed.texts)
    for value in values:
        if value.value <= 0:
            raise InvalidValueError(f"{value.text} must be above zero; check the sign")
    if not values:
        raise InvalidValueError("a line has no number; write it like 2: 38 lbf")
    return values


def _last_unit(
    parts: Sequence[str],
    matches: Sequence[re.Match[str] | None],
    dimension: Dimension,
) -> str:
    """A unit that stands in one line only serves the others too."""
    for part, found in zip(reversed(parts), reversed(matches), strict=True):
        text = found["rest"] if found else part
        typed = read_typed_list(text, dimension)
        if not typed.lacks_unit and typed.texts:
            unit = re.search(r"([A-Za-z/\"'′″%]+)$", typed.texts[-1])
            return unit[1] if unit else ""
    return ""


def read_pairs(text: str, unit: str = "") -> tuple[tuple[Quantity, Quantity], ...]:
    """Read pairs of lengths in rope order, such as "22/14 26/11 mm".

    Parameters
    ----------
    text : str
        As typed; one unit serves for all.
    unit : str, optional
        The unit of numbers that have none.

    Returns
    -------
    tuple of (Quantity, Quantity)
        One pair for each rope. [m]

    Raises
    ------
    InvalidValueError
        If a pair cannot be read.
    UnitMissingError
        If no number has a unit and none is given.
    """
    pairs = re.findall(r"([0-9]+(?:[.,][0-9]+)?)\s*/\s*([0-9]+(?:[.,][0-9]+)?)", text)
    rest = re.sub(r"[0-9]+(?:[.,][0-9]+)?\s*/\s*[0-9]+(?:[.,][0-9]+)?", " ", text)
    units = [word for word in re.split(r"[\s,;]+", rest) if word]
    if not pairs or len(set(units)) > 1:
        raise InvalidValueError(
            f'"{text[:40]}" is no list of pairs; write towards the plate / away for '
            "each rope, like 22/14 26/11 mm"
        )
    if not units and not unit:
        raise UnitMissingError(f'"{text[:40]}" has no unit')
    told = units[0] if units else unit
    return tuple(
        (
            parse_quantity(f"{towards} {told}", Dimension.LENGTH),
            parse_quantity(f"{away} {told}", Dimension.LENGTH),
        )
        for towards, away in pairs
    )
