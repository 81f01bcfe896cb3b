"""Lines in which numbers are typed off a paper sheet."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from tension.errors import InvalidValueError
from tension.files.visit import Visit
from tension.quantity.units import Dimension, Quantity, parse_quantity, read_typed_list
from tension.workflow.inputs import require

ByRope = Mapping[int, tuple[Quantity, ...]]
"""What was read on some ropes, by their numbers."""

_LINE = re.compile(
    r"\s*(?:(?:rope\s*)?(?P<number>[0-9]+)\s*[:=)]|rope\s+(?P<named>[0-9]+)\s)\s*(?P<rest>.*)",
    re.IGNORECASE,
)
_PAIR = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*/\s*([0-9]+(?:[.,][0-9]+)?)")


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """What stands in lines that name their rope, or in one from rope 1 up."""

    by_rope: ByRope = field(default_factory=dict)
    in_order: tuple[Quantity, ...] = ()

    def of(self, visit: Visit) -> ByRope:
        """Values by rope, however they were typed."""
        if self.by_rope:
            return self.by_rope
        n_ropes = visit.rope_set.n_ropes
        require(
            len(self.in_order) == n_ropes,
            f"{len(self.in_order)} numbers for {n_ropes} ropes; give one for each in "
            'the order of the ropes, or say which: "2: ..."',
        )
        return {rope: (one,) for rope, one in enumerate(self.in_order, start=1)}


class UnitMissingError(InvalidValueError):
    """Numbers without any unit: which one is meant is to be asked.

    Attributes
    ----------
    first : str
        The first of the numbers.
    """

    def __init__(self, text: str, first: str, dimension: Dimension) -> None:
        units = dimension.offered
        super().__init__(
            f'"{text[:40]}" has no unit; write it once, at the end of the line: {units}'
        )
        self.first = first


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
    nothing = "nothing was typed; write a line such as 2: 38 lbf"
    require(parts, nothing, InvalidValueError)
    found = [_LINE.fullmatch(part) for part in parts]
    texts = [
        one["rest"] if one else part for part, one in zip(parts, found, strict=True)
    ]
    own_unit = unit or _last_unit(texts, dimension)
    if not any(found):
        values = [v for text in texts for v in read_values(text, dimension, own_unit)]
        return Sheet(in_order=tuple(values))
    by_rope: dict[int, tuple[Quantity, ...]] = {}
    for text, one in zip(texts, found, strict=True):
        if one is None:
            raise InvalidValueError(
                f'"{text[:40]}" names no rope; begin each line with it, like 2: 38'
            )
        rope = int(one["number"] or one["named"])
        twice = f"rope {rope} has two lines; write its repeats into one"
        require(rope not in by_rope, twice, InvalidValueError)
        by_rope[rope] = read_values(text, dimension, own_unit)
    return Sheet(by_rope=by_rope)


def read_values(
    text: str, dimension: Dimension, unit: str = ""
) -> tuple[Quantity, ...]:
    """Read the quantities of one line; the unit is that of numbers that have none.

    Raises
    ------
    InvalidValueError
        If it holds something else, or no number.
    UnitMissingError
        If no number but nought has a unit and none is given.
    """
    texts, lacks_unit = read_typed_list(text, dimension, unit)
    none = "a line has no number; write it like 2: 38 lbf"
    require(texts, none, InvalidValueError)
    is_nought = not any(one.strip(" +-0.,") for one in texts)
    if lacks_unit and not unit and not is_nought:
        raise UnitMissingError(text, texts[0], dimension)
    return tuple(parse_quantity(one, dimension) for one in texts)


def _last_unit(texts: Sequence[str], dimension: Dimension) -> str:
    """A unit that stands in one line only serves the others too."""
    for text in reversed(texts):
        typed, lacks_unit = read_typed_list(text, dimension)
        if typed and not lacks_unit:
            unit = re.search(r"([A-Za-z/\"'′″%]+)$", typed[-1])
            return unit[1] if unit else ""
    return ""


def read_pairs(text: str, unit: str = "") -> tuple[tuple[Quantity, Quantity], ...]:
    """Read pairs of lengths in rope order, such as "22/14 26/11 mm".

    One unit serves for all; the one given is that of numbers that have none.

    Raises
    ------
    InvalidValueError
        If they are no pairs.
    UnitMissingError
        If no number has a unit and none is given.
    """
    pairs = _PAIR.findall(text)
    units = [word for word in re.split(r"[\s,;]+", _PAIR.sub(" ", text)) if word]
    require(
        pairs and len(set(units)) <= 1,
        f'"{text[:40]}" is no list of pairs; write towards the plate / away for each '
        "rope, like 22/14 26/11 mm",
        InvalidValueError,
    )
    told = units[0] if units else unit
    if not told:
        raise UnitMissingError(text, pairs[0][0], Dimension.LENGTH)

    def length(number: str) -> Quantity:
        return parse_quantity(f"{number} {told}", Dimension.LENGTH)

    return tuple((length(towards), length(away)) for towards, away in pairs)
