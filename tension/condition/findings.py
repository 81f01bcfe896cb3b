"""What the inspector found on ropes, and the table that he has open to judge it by.

Conditions that may lower an allowance: what shows them, and whether they count. The
inspector decides by writing ``counts = true``. Unequal tension counts only through an
assessment that says unequal; cannot tell reduces nothing and says what would decide.
"""

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from tension.assessment.decide import Assessment, Verdict
from tension.catalogue import Standing
from tension.catalogue.allowances import AllowanceTable
from tension.catalogue.rules import Rule
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


class ConditionState(StrEnum):
    """Whether a condition counts, and why not."""

    COUNTED = "counted"
    NOT_COUNTED = "not-counted"
    NOT_SEEN = "not-seen"
    COULD_NOT_SEE = "could-not-see"
    OFFERED = "offered"
    CANNOT_TELL = "cannot-tell"
    NOT_SHOWN = "not-shown"


@dataclass(frozen=True, kw_only=True, slots=True)
class Unfavourable:
    """One condition of one rope, or of the set.

    What the inspector wrote, None for what is offered from an assessment; for unequal
    tension the assessment that shows it as found, and a later one of the same span that
    is equal: the state as found stays.
    """

    kind: FindingKind
    state: ConditionState
    rope: int | None = None
    finding: Finding | None = None
    assessment: Assessment | None = None
    equalised_since: Assessment | None = None


def find_unfavourable(
    findings: Sequence[Finding], assessments: Sequence[Assessment]
) -> tuple[Unfavourable, ...]:
    """Find every condition that may lower an allowance.

    Those written, then unequal tension offered from the first series if it is not
    written.
    """
    unequal = FindingKind.UNEQUAL_TENSION
    found = [
        _condition(finding.kind, finding, assessments)
        for finding in findings
        if finding.kind in UNFAVOURABLE
    ]
    if all(one.kind is not unequal for one in found):
        offered = _condition(unequal, None, assessments)
        found += [offered] if offered.state is not ConditionState.NOT_SHOWN else []
    return tuple(found)


def foreign_rules(
    conditions: Sequence[Unfavourable], table: AllowanceTable
) -> tuple[Rule, ...]:
    """Find the rules that showed unequal tension and are not of a table's code.

    Rules of other codes, the user's own, and published ones that were changed.
    """
    shown = (c.assessment.rule for c in conditions if c.assessment is not None)
    return tuple(
        rule
        for rule in dict.fromkeys(shown)
        if rule.changed_from is not None
        or rule.standing in {Standing.USER, Standing.PROGRAM}
        or _code(rule.source) != _code(table.source)
    )


def _code(source: str) -> str:
    """The code that a source begins with, such as "ASME A17" or "GB 50310"."""
    found = re.match(r"[A-Za-z/ ]*\d+", source)
    return found.group(0) if found else source


def find_assessment(
    series: str, assessments: Iterable[Assessment]
) -> Assessment | None:
    """Find the assessment of a series; the first one if none is named."""
    names = ((one.measurement.series.name, one) for one in assessments)
    return next((one for name, one in names if series in {"", name}), None)


def _condition(
    kind: FindingKind, finding: Finding | None, assessments: Sequence[Assessment]
) -> Unfavourable:
    """One condition, written or not; unequal tension only as an assessment shows it."""
    shown, state = None, ConditionState.OFFERED
    if finding is not None:
        counts = finding.counts
        state = ConditionState.COUNTED if counts else ConditionState.NOT_COUNTED
    if kind is FindingKind.UNEQUAL_TENSION:
        shown = find_assessment(finding.series if finding else "", assessments)
        verdict = shown.verdict if shown else None
        if verdict is Verdict.CANNOT_TELL:
            state = ConditionState.CANNOT_TELL
        elif verdict is not Verdict.UNEQUAL:
            state = ConditionState.NOT_SHOWN
    if finding is not None and finding.seen is not Seen.YES:
        is_hidden = finding.seen is Seen.COULD_NOT_SEE
        state = ConditionState.COULD_NOT_SEE if is_hidden else ConditionState.NOT_SEEN
    return Unfavourable(
        kind=kind,
        state=state,
        rope=finding.rope if finding else None,
        finding=finding,
        assessment=shown,
        equalised_since=_equalised_since(shown, assessments),
    )


def _equalised_since(
    shown: Assessment | None, assessments: Sequence[Assessment]
) -> Assessment | None:
    """The last later series of the same span that is equal."""
    if shown is None:
        return None
    place = next(i for i, one in enumerate(assessments) if one is shown)
    span = shown.measurement.series.span
    equal = [
        one
        for one in assessments[place + 1 :]
        if one.verdict is Verdict.EQUAL and one.measurement.series.span == span
    ]
    return equal[-1] if equal else None
