"""What the inspector found on ropes, and the table that he has open to judge it by."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from tension.quantity.units import Quantity


class Seen(StrEnum):
    """Whether a thing was seen."""

    YES = "yes"
    NO = "no"
    COULD_NOT_SEE = "could-not-see"


class FindingKind(StrEnum):
    """What was looked for."""

    ROUGE = "rouge"
    CORROSION = "corrosion"
    CROWN_WEAR = "crown-wear"
    DIAMETER = "diameter"
    BROKEN_WIRES = "broken-wires"
    LAY_LENGTH = "lay-length"
    KINK = "kink"
    BIRDCAGE = "birdcage"
    STRAND_OUT = "strand-out"
    FLATTENED = "flattened"
    GROOVE = "groove"
    CROSSED = "crossed"
    UNEQUAL_TENSION = "unequal-tension"
    OTHER = "other"


class Distribution(StrEnum):
    """How the broken wires of one lay lie."""

    SPREAD = "spread"
    ONE_OR_TWO_STRANDS = "one-or-two-strands"
    SIDE_BY_SIDE = "side-by-side"
    VALLEY = "valley"


class GaugeEntry(StrEnum):
    """How far a rope enters a go and no-go gauge."""

    STAYS_OUT = "stays-out"
    FIRST_STEP = "first-step"
    WHOLE_GROOVE = "whole-groove"


UNFAVOURABLE = frozenset(
    {
        FindingKind.ROUGE,
        FindingKind.CORROSION,
        FindingKind.CROWN_WEAR,
        FindingKind.GROOVE,
        FindingKind.UNEQUAL_TENSION,
    }
)
"""Kinds that an inspector may count as an unfavourable condition."""

DEFORMATIONS = frozenset(
    {
        FindingKind.KINK,
        FindingKind.BIRDCAGE,
        FindingKind.STRAND_OUT,
        FindingKind.FLATTENED,
    }
)
"""Kinds that are judged by sight, not by a count."""

KEYS_OF: Mapping[FindingKind, tuple[str, ...]] = {
    **dict.fromkeys(FindingKind, ()),
    FindingKind.DIAMETER: ("diameters", "gauge", "gauge_size"),
    FindingKind.BROKEN_WIRES: (
        "broken",
        "distribution",
        "in_one_strand",
        "adjacent",
        "lay",
    ),
    FindingKind.LAY_LENGTH: ("lay", "lays", "baseline"),
    FindingKind.GROOVE: ("groove", "seating"),
    FindingKind.CROSSED: ("other_rope",),
    FindingKind.UNEQUAL_TENSION: ("series",),
}
"""Keys that belong to one kind, beside those of every kind."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One finding on one rope, or on the set, at one place told in free text.

    Broken wires are those of one measured lay of this rope, the worst; of them the most
    in any one strand, and those that lie side by side in one. A lay is the length of so
    many lays; the baseline is that of one when the rope was new. Two diameters at right
    angles, straight, at the worst place; how far the rope entered a gauge in two such
    directions; how much lower than the others it lies in its groove. The series shows
    unequal tension; the first if none is named.
    """

    rope: int | None
    kind: FindingKind
    at: str
    seen: Seen
    counts: bool = False
    photos: tuple[str, ...] = ()
    note: str = ""
    by: str = ""
    broken: int | None = None
    distribution: Distribution | None = None
    in_one_strand: int | None = None
    adjacent: int | None = None
    lay: Quantity | None = None
    lays: int | None = None
    baseline: Quantity | None = None
    diameters: tuple[Quantity, ...] = ()
    gauge: tuple[GaugeEntry, ...] = ()
    gauge_size: str = ""
    groove: int | None = None
    seating: Quantity | None = None
    other_rope: int | None = None
    series: str = ""


CONFIRMING_KEYS = ("table", "edition", "page", "confirmed_by", "date")
"""All of them, and the figure itself, confirm a figure; else nothing is compared."""


class FigureOf(StrEnum):
    """What a figure is of."""

    SPREAD = "spread"
    ONE_OR_TWO_STRANDS = "one-or-two-strands"
    SIDE_BY_SIDE = "side-by-side"
    VALLEY = "valley"
    DIAMETER = "diameter"


@dataclass(frozen=True, kw_only=True, slots=True)
class TypedFigure:
    """One row of the table, as the inspector reads it in his book.

    Broken wires allowed in one lay, and of them in one strand, there also where wires
    are badly rusted or worn; as numbers, or as parts of all wires and of those of one
    strand. The least diameter, also where rouge shows, as such, as a part of the
    nominal one, or as the largest loss.
    """

    what: FigureOf
    breaks: int | None = None
    fraction_of_wires: Quantity | None = None
    in_strand: int | None = None
    in_strand_worn: int | None = None
    fraction_of_strand: Quantity | None = None
    least: Quantity | None = None
    least_with_rouge: Quantity | None = None
    least_fraction: Quantity | None = None
    most_loss: Quantity | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Allowance:
    """Which allowance table is used, and whether somebody confirms it.

    The table is of the catalogue, or of the user's own file beside the record; edition
    and page are what the inspector has open. The class is typed, such as "8x19", where
    the construction does not tell it. One figure for each thing that is compared.
    """

    table: str = ""
    file: str = ""
    edition: str = ""
    page: str = ""
    confirmed_by: str = ""
    date: dt.date | None = None
    rope_class: str = ""
    is_inspected_monthly: bool = False
    figures: tuple[TypedFigure, ...] = ()
    # whether the date is still to come on the day on which it is used
    is_of_the_future: bool = False

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys that are still needed, a mere "?" or "-" counting as none."""
        typed = {key: str(getattr(self, key) or "") for key in CONFIRMING_KEYS}
        return tuple(k for k, text in typed.items() if not any(map(str.isalnum, text)))

    @property
    def is_confirmed(self) -> bool:
        """Whether somebody says that the table is open before him."""
        return not self.missing and not self.is_of_the_future

    def figure(self, what: str) -> TypedFigure | None:
        """Find the figure that was typed; None if it was not."""
        return next((one for one in self.figures if one.what == what), None)
