"""Findings on one rope at one place: what was looked for, and whether it was seen.

The record reader hands each ``[[finding]]`` table, as TOML gives it, to
`finding_from_table` and gets the finding, or every mistake in it with its key. Which
keys belong to which kind stands in `KEYS_OF`; keys of every kind in `COMMON_KEYS`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from tension.quantity.keys import KeyReader, Mistake
from tension.quantity.units import Dimension, Quantity


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

COMMON_KEYS = ("rope", "kind", "at", "seen", "counts", "photo", "note", "by")
"""Keys of every kind."""

KEYS_OF: Mapping[FindingKind, tuple[str, ...]] = {
    FindingKind.ROUGE: (),
    FindingKind.CORROSION: (),
    FindingKind.CROWN_WEAR: (),
    FindingKind.DIAMETER: ("diameters", "gauge", "gauge_size"),
    FindingKind.BROKEN_WIRES: ("broken", "distribution", "lay"),
    FindingKind.LAY_LENGTH: ("lay", "lays", "baseline"),
    FindingKind.KINK: (),
    FindingKind.BIRDCAGE: (),
    FindingKind.STRAND_OUT: (),
    FindingKind.FLATTENED: (),
    FindingKind.GROOVE: ("groove", "seating"),
    FindingKind.CROSSED: ("other_rope",),
    FindingKind.UNEQUAL_TENSION: ("series",),
    FindingKind.OTHER: (),
}
"""Keys that belong to one kind, beside those of every kind."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One finding.

    Attributes
    ----------
    rope : int or None
        Rope number; None if of the set.
    kind : FindingKind
        What was looked for.
    at : str
        Place, free text.
    seen : Seen
        Whether it was seen.
    counts : bool
        Whether the inspector counts it as an unfavourable condition.
    photos : tuple of str
        Paths beside or below the record.
    note, by : str
        Free text; who found it.
    broken : int or None
        Broken wires counted in one measured lay of this rope, the worst. [1]
    distribution : Distribution or None
        How they lie.
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
    groove : int or None
        Groove of the sheave.
    seating : Quantity or None
        How much lower than the others the rope lies in its groove. [m]
    other_rope : int or None
        The rope it crosses.
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


def finding_from_table(
    table: Mapping[str, object], n_ropes: int
) -> tuple[Finding | None, tuple[Mistake, ...]]:
    """Read one ``[[finding]]`` table.

    Parameters
    ----------
    table : mapping of str to object
        As the TOML parser gives it.
    n_ropes : int
        Number of ropes of the set. [1]

    Returns
    -------
    tuple of (Finding or None, tuple of Mistake)
        The finding, or None with every mistake found.
    """
    reader = KeyReader(table)
    kind = reader.choice("kind", FindingKind)
    if kind is None:
        if not reader.has("kind"):
            reader.refuse("kind", f"is missing; write one of {', '.join(FindingKind)}")
        return None, tuple(reader.mistakes)
    own = KEYS_OF[kind]
    reader.only((*COMMON_KEYS, *own), _elsewhere())
    finding = _read_finding(reader, kind)
    _check_finding(reader, finding, n_ropes)
    if reader.mistakes:
        return None, tuple(reader.mistakes)
    return finding, ()


def _read_finding(reader: KeyReader, kind: FindingKind) -> Finding:
    """Read every key; wrong ones are left empty and told."""
    return Finding(
        rope=reader.whole("rope"),
        kind=kind,
        at=reader.text("at"),
        seen=_read_seen(reader, kind),
        counts=reader.flag("counts"),
        photos=reader.paths("photo"),
        note=reader.text("note"),
        by=reader.text("by"),
        broken=reader.whole("broken", lowest=0),
        distribution=reader.choice("distribution", Distribution),
        lay=reader.quantity("lay", Dimension.LENGTH),
        lays=reader.whole("lays"),
        baseline=reader.quantity("baseline", Dimension.LENGTH),
        diameters=reader.quantities("diameters", Dimension.LENGTH),
        gauge=reader.choices("gauge", GaugeEntry),
        gauge_size=reader.text("gauge_size"),
        groove=reader.whole("groove"),
        seating=reader.quantity("seating", Dimension.LENGTH),
        other_rope=reader.whole("other_rope"),
        series=reader.text("series"),
    )


def _read_seen(reader: KeyReader, kind: FindingKind) -> Seen:
    """Whether it was seen; a measured finding was, if nothing else is said."""
    seen = reader.choice("seen", Seen)
    if seen is not None:
        return seen
    if reader.has("seen"):
        return Seen.COULD_NOT_SEE
    if reader.has("broken"):
        return Seen.NO if reader.whole("broken", lowest=0) == 0 else Seen.YES
    if not any(reader.has(key) for key in KEYS_OF[kind]):
        reader.refuse("seen", "is missing; write yes, no or could-not-see")
    return Seen.YES


def _check_finding(reader: KeyReader, finding: Finding, n_ropes: int) -> None:
    """Refuse what contradicts itself or cannot be compared later."""
    if finding.rope is not None and finding.rope > n_ropes:
        reader.refuse("rope", f"must be 1 to {n_ropes}, not {finding.rope}")
    if finding.counts and finding.kind not in UNFAVOURABLE:
        kinds = ", ".join(sorted(UNFAVOURABLE))
        reader.refuse("counts", f"goes with {kinds}, not {finding.kind}")
    if finding.counts and finding.seen is not Seen.YES:
        reader.refuse(
            "counts", f'needs seen = "yes"; what is "{finding.seen}" counts for nothing'
        )
    if finding.kind is FindingKind.BROKEN_WIRES:
        _check_broken_wires(reader, finding)
    if finding.kind is FindingKind.DIAMETER and finding.seen is Seen.YES:
        _check_diameter(reader, finding)


def _check_broken_wires(reader: KeyReader, finding: Finding) -> None:
    """A count belongs to one rope, one lay and one distribution."""
    if finding.rope is None:
        reader.refuse("rope", "is missing; broken wires are counted per rope")
    if finding.seen is Seen.COULD_NOT_SEE:
        return
    if finding.broken is None and not reader.has("broken"):
        reader.refuse("broken", "is missing; write the number in the worst lay")
    if finding.broken and finding.distribution is None:
        reader.refuse(
            "distribution", f"is missing; write one of {', '.join(Distribution)}"
        )
    if finding.broken and finding.seen is Seen.NO:
        reader.refuse("seen", f"is no, but {finding.broken} broken wires are counted")


def _check_diameter(reader: KeyReader, finding: Finding) -> None:
    """A diameter is two readings at right angles, or a gauge tried both ways."""
    if finding.rope is None:
        reader.refuse("rope", "is missing; a diameter is read on one rope")
    if reader.has("diameters") and len(finding.diameters) not in {0, 2}:
        reader.refuse("diameters", "must be two readings at right angles")
    if reader.has("gauge") and len(finding.gauge) not in {0, 2}:
        reader.refuse("gauge", "must be tried in two directions at right angles")
    if not reader.has("diameters") and not reader.has("gauge"):
        reader.refuse(
            "diameters",
            'is missing; write two readings at right angles, like ["12.6 mm", '
            '"12.7 mm"], or what the gauge did',
        )


def _elsewhere() -> dict[str, str]:
    """For each key of some kinds, those kinds in words."""
    kinds: dict[str, list[str]] = {}
    for kind, keys in KEYS_OF.items():
        for key in keys:
            kinds.setdefault(key, []).append(f'kind = "{kind}"')
    return {key: " or ".join(words) for key, words in kinds.items()}
