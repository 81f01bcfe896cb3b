"""Findings on one rope at one place: what was looked for, and whether it was seen."""

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
    """One finding.

    Attributes
    ----------
    rope : int or None
        Rope number; None if of the set.
    at : str
        Place, free text.
    counts : bool
        Whether the inspector counts it as an unfavourable condition.
    photos : tuple of str
        Paths beside or below the record.
    note, by : str
        Free text; who found it.
    broken : int or None
        Broken wires counted in one measured lay of this rope, the worst. [1]
    in_one_strand : int or None
        The most of them in any one strand. [1]
    adjacent : int or None
        So many of them lie side by side in one strand. [1]
    lay : Quantity or None
        Length of the lay that was counted, or of all lays measured. [m]
    lays : int or None
        Number of lays measured; 1 if None. [1]
    baseline : Quantity or None
        Length of one lay when the rope was new. [m]
    diameters : tuple of Quantity
        Two at right angles, straight, at the worst place. [m]
    gauge : tuple of GaugeEntry
        How far the rope entered the gauge, in two directions at right angles.
    gauge_size : str
        What stands on the gauge.
    seating : Quantity or None
        How much lower than the others the rope lies in its groove. [m]
    series : str
        Series whose assessment shows unequal tension; empty for the first.
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
