"""Numbers added to a record, and the lines of a paper sheet in which they are typed."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tension.errors import FileFormatError, InvalidValueError
from tension.files.toml_text import Value
from tension.files.visit import Visit
from tension.installation import Hitch
from tension.measurement.readings import Hold
from tension.quantity.units import Dimension, Quantity, parse_quantity, read_typed_list
from tension.workflow import adding
from tension.workflow.adding import Tables, Where, maker, reading, require_ropes

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
_PAIR = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*/\s*([0-9]+(?:[.,][0-9]+)?)")


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """What stands in lines that name their rope, or in one from rope 1 up."""

    by_rope: ByRope
    in_order: tuple[Quantity, ...] = ()


class UnitMissingError(InvalidValueError):
    """Numbers without any unit: which one is meant is to be asked."""


def read_sheet(lines: Sequence[str], dimension: Dimension, unit: str = "") -> Sheet:
    """Read lines such as "2: 38, 37.5 lbf", or one line for all ropes in order.

    Empty lines and those that begin with "#" count for nothing; the unit is that of
    numbers that have none.

    Raises
    ------
    InvalidValueError
        If a line cannot be read, or one names its rope and another does not.
    UnitMissingError
        If no number has a unit and none is given.
    """
    parts = [part.strip() for line in lines for part in re.split(r"[;\n]", line)]
    parts = [part for part in parts if part[:1] not in {"", "#"}]
    if not parts:
        raise InvalidValueError("nothing was typed; write a line such as 2: 38 lbf")
    found = [_LINE.fullmatch(part) for part in parts]
    texts = [
        one["rest"] if one else part for part, one in zip(parts, found, strict=True)
    ]
    own_unit = unit or _last_unit(texts, dimension)
    if not any(found):
        values = [v for text in texts for v in _values(text, dimension, own_unit)]
        return Sheet(by_rope={}, in_order=tuple(values))
    by_rope: dict[int, tuple[Quantity, ...]] = {}
    for text, one in zip(texts, found, strict=True):
        if one is None:
            raise InvalidValueError(
                f'"{text[:40]}" names no rope; begin each line with it, like 2: 38'
            )
        rope = int(one["number"] or one["named"])
        if rope in by_rope:
            raise InvalidValueError(
                f"rope {rope} has two lines; write its repeats into one"
            )
        by_rope[rope] = _values(text, dimension, own_unit)
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


def _last_unit(texts: Sequence[str], dimension: Dimension) -> str:
    """A unit that stands in one line only serves the others too."""
    for text in reversed(texts):
        typed = read_typed_list(text, dimension)
        if not typed.lacks_unit and typed.texts:
            unit = re.search(r"([A-Za-z/\"'′″%]+)$", typed.texts[-1])
            return unit[1] if unit else ""
    return ""


def read_pairs(text: str, unit: str = "") -> tuple[tuple[Quantity, Quantity], ...]:
    """Read pairs of lengths in rope order, such as "22/14 26/11 mm".

    One unit serves for all; the one given is that of numbers that have none.

    Raises
    ------
    InvalidValueError
        If a pair cannot be read.
    UnitMissingError
        If no number has a unit and none is given.
    """
    pairs = _PAIR.findall(text)
    units = [word for word in re.split(r"[\s,;]+", _PAIR.sub(" ", text)) if word]
    if not pairs or len(set(units)) > 1:
        raise InvalidValueError(
            f'"{text[:40]}" is no list of pairs; write towards the plate / away for '
            "each rope, like 22/14 26/11 mm"
        )
    if not units and not unit:
        raise UnitMissingError(f'"{text[:40]}" has no unit')
    told = units[0] if units else unit

    def length(number: str) -> Quantity:
        return parse_quantity(f"{number} {told}", Dimension.LENGTH)

    return tuple((length(towards), length(away)) for towards, away in pairs)


# numbers


@dataclass(frozen=True, kw_only=True, slots=True)
class SidePulls:
    """A sheet of side pulls: what was read on each rope, and held the same on all.

    Forces are read if the deflection was held, else deflections. It was pulled at a
    distance from the lower node, mid-span if empty; the scale reads nought without load
    if that is empty.
    """

    read: ByRope
    held: Quantity
    hold: Hold
    at: str = ""
    scale_zero: str = ""


@maker
def springs(visit: Visit, typed: Typed, where: Where) -> Tables:
    """Add lengths of the springs under load."""
    series = adding.chosen_series(visit, where.series)
    hitch = adding.chosen_hitch(visit, where)
    lengths = _by_rope(visit, typed, "spring lengths")
    for rope, values in lengths.items():
        _require_possible(rope, values, hitch)
    return [
        reading(series.name, "spring", rope, hitch=hitch.at.value, length=_texts(own))
        for rope, own in lengths.items()
    ]


@maker
def side_pulls(visit: Visit, sheet: SidePulls, series: str = "") -> Tables:
    """Add a sheet of side pulls, a reading for each rope."""
    named = adding.chosen_series(visit, series).name
    require_ropes(visit, list(sheet.read))
    names = ("force", "deflection")
    read, held = names if sheet.hold is Hold.DEFLECTION else names[::-1]
    tables = []
    for rope, values in sheet.read.items():
        _require_alike(rope, values)
        both = {read: _texts(values), held: sheet.held.text}
        keys: dict[str, Value] = {name: both[name] for name in names}
        keys |= {"hold": sheet.hold.value, "at": sheet.at}
        tables.append(reading(named, "pull", rope, **keys, scale_zero=sheet.scale_zero))
    return tables


@maker
def returns(
    visit: Visit, rope: int, count: int, elapsed: Sequence[Quantity], series: str
) -> Tables:
    """Add timed wave returns of one rope: round trips of the wave, and their times."""
    require_ropes(visit, [rope])
    _require_alike(rope, elapsed)
    named = adding.chosen_series(visit, series).name
    return [reading(named, "returns", rope, count=count, elapsed=_texts(elapsed))]


@maker
def free_lengths(visit: Visit, typed: Typed, span: str = "") -> Tables:
    """Add free lengths that the record lacks, of the last span if none is named."""
    name = span or adding.chosen_series(visit, "").span
    return [
        adding.free_length(rope, name, values[0].text)
        for rope, values in _by_rope(visit, typed, "free lengths").items()
    ]


@maker
def thread_left(visit: Visit, typed: Mapping[int, tuple[Quantity, Quantity]]) -> Tables:
    """Add the thread left on the rods: towards the plate and away from it."""
    require_ropes(visit, list(typed))
    return [
        adding.table("rope", number=rope, take_up_left=into.text, ease_left=out.text)
        for rope, (into, out) in typed.items()
    ]


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


def _texts(values: Sequence[Quantity]) -> Value:
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


def _require_possible(rope: int, lengths: Sequence[Quantity], hitch: Hitch) -> None:
    """Refuse a spring longer than without load, or shorter than solid."""
    free, solid = hitch.spring_free_length, hitch.spring_solid_length
    for length in lengths:
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
