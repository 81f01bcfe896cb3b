"""Numbers added to a record, and the lines of a paper sheet in which they are typed."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tension.errors import FileFormatError, InvalidValueError
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit
from tension.installation import Hitch
from tension.measurement.readings import Hold
from tension.quantity.units import Dimension, Quantity, parse_quantity, read_typed_list
from tension.workflow.adding import (
    Tables,
    Where,
    chosen_hitch,
    chosen_series,
    maker,
    require_ropes,
    table,
)

MOST_APART = 2.0
"""Repeats of one rope further apart than this factor are a slip of the pen. [1]"""

ByRope = Mapping[int, tuple[Quantity, ...]]
"""What was read on some ropes, by their numbers."""

Typed = Sequence[Quantity] | ByRope
"""One per rope from rope 1 up, or by rope."""

_LINE = re.compile(
    r"\s*(?:(?:rope\s*)?(?P<number>[0-9]+)\s*[:=)]|rope\s+(?P<named>[0-9]+)\s)\s*(?P<rest>.*)",
    re.IGNORECASE,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """What stands in lines that name their rope, or in one from rope 1 up."""

    by_rope: ByRope
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


@dataclass(frozen=True, kw_only=True, slots=True)
class SidePulls:
    """A sheet of side pulls.

    Attributes
    ----------
    read : mapping of int to tuple of Quantity
        What was read on each rope: forces if the deflection was held, else
        deflections. [N or m]
    held : Quantity
        What was held the same on all ropes. [m or N]
    hold : Hold
        Which of the two it is.
    at : str
        Where it was pulled, from the lower node; mid-span if empty.
    scale_zero : str
        Scale without load; nought if empty.
    """

    read: ByRope
    held: Quantity
    hold: Hold
    at: str = ""
    scale_zero: str = ""


@maker
def springs(visit: Visit, typed: Typed, where: Where) -> Tables:
    """Add lengths of the springs under load."""
    series, hitch = chosen_series(visit, where.series), chosen_hitch(visit, where)
    lengths = _by_rope(visit, typed, "spring lengths")
    for rope, values in lengths.items():
        for value in values:
            _require_possible(rope, value, hitch)
    return [
        _reading(
            series.name,
            "spring",
            rope,
            hitch=hitch.at.value,
            length=_one_or_more(values),
        )
        for rope, values in lengths.items()
    ]


@maker
def side_pulls(visit: Visit, sheet: SidePulls, series: str = "") -> Tables:
    """Add a sheet of side pulls, a reading for each rope."""
    named = chosen_series(visit, series).name
    require_ropes(visit, list(sheet.read))
    is_force = sheet.hold is Hold.DEFLECTION
    tables = []
    for rope, values in sheet.read.items():
        _require_alike(rope, values)
        read, held = _one_or_more(values), sheet.held.text
        tables.append(
            _reading(
                named,
                "pull",
                rope,
                force=read if is_force else held,
                deflection=held if is_force else read,
                hold=sheet.hold.value,
                at=sheet.at,
                scale_zero=sheet.scale_zero,
            )
        )
    return tables


@maker
def returns(
    visit: Visit, rope: int, count: int, elapsed: Sequence[Quantity], series: str
) -> Tables:
    """Add timed wave returns of one rope: round trips of the wave, and their times."""
    require_ropes(visit, [rope])
    _require_alike(rope, elapsed)
    named = chosen_series(visit, series).name
    times = _one_or_more(elapsed)
    return [_reading(named, "returns", rope, count=count, elapsed=times)]


@maker
def free_lengths(visit: Visit, typed: Typed, span: str = "") -> Tables:
    """Add free lengths that the record lacks, of the last span if none is named."""
    name = span or chosen_series(visit, "").span
    return [
        length_table(rope, name, values[0].text)
        for rope, values in _by_rope(visit, typed, "free lengths").items()
    ]


@maker
def thread_left(visit: Visit, typed: Mapping[int, tuple[Quantity, Quantity]]) -> Tables:
    """Add the thread left on the rods: towards the plate and away from it."""
    require_ropes(visit, list(typed))
    return [
        table("rope", number=rope, take_up_left=towards.text, ease_left=away.text)
        for rope, (towards, away) in typed.items()
    ]


def length_table(rope: int, span: str, length: str) -> NewTable:
    """Write the free length of one rope on one span."""
    return table("rope", number=rope, free_lengths={span: length})


def _by_rope(visit: Visit, typed: Typed, what: str) -> ByRope:
    """Values by rope, however they were typed."""
    if isinstance(typed, Mapping):
        require_ropes(visit, list(typed))
        return typed
    n_ropes = visit.rope_set.n_ropes
    if len(typed) != n_ropes:
        raise FileFormatError(
            f"{len(typed)} {what} for {n_ropes} ropes; give one for each in the order "
            f'of the ropes, or say which: "2: ..."'
        )
    return {rope: (one,) for rope, one in enumerate(typed, start=1)}


def _reading(series: str, kind: str, rope: int, **keys: Value | None) -> NewTable:
    """Write one reading of one rope."""
    return table("reading", series=series, kind=kind, rope=rope, **keys)


def _one_or_more(values: Sequence[Quantity]) -> Value:
    """One text, or a list of them."""
    texts = tuple(value.text for value in values)
    return texts[0] if len(texts) == 1 else texts


def _require_alike(rope: int, values: Sequence[Quantity]) -> None:
    """Refuse repeats that can only be a slip of the pen."""
    sizes = [abs(value.value) for value in values]
    if max(sizes) > MOST_APART * min(sizes):
        texts = ", ".join(value.text for value in values)
        raise FileFormatError(
            f"rope {rope}: {texts} are too far apart for repeats of one reading; check "
            "the numbers"
        )


def _require_possible(rope: int, length: Quantity, hitch: Hitch) -> None:
    """Refuse a spring longer than without load, or shorter than solid."""
    free, solid = hitch.spring_free_length, hitch.spring_solid_length
    if free and length.value > free.value:
        raise FileFormatError(
            f"rope {rope}: {length.text} is longer than the spring without load "
            f"({free.text}); check both"
        )
    if solid and length.value < solid.value:
        raise FileFormatError(
            f"rope {rope}: {length.text} is shorter than the spring with its coils "
            f"touching ({solid.text}); check both"
        )
