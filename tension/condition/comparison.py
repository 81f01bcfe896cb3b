"""A count of broken wires held against the figure that the inspector confirms."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from tension.catalogue.allowances import (
    AllowanceTable,
    BreakRow,
    RowDistribution,
    When,
)
from tension.catalogue.rules import Rule
from tension.condition.break_limits import (
    BreakCount,
    BreakLimits,
    count_of,
    held_limits,
    typed_limits,
)
from tension.condition.confirmation import Allowance
from tension.condition.findings import Distribution, Finding, FindingKind, Seen
from tension.condition.lays import lay_fault
from tension.condition.rope_class import contradicts, rope_class_of, strands_of
from tension.condition.unfavourable import (
    ConditionState,
    Unfavourable,
    foreign_rules,
)
from tension.installation import RopeSet

SMALLEST_ORDINARY = 0.00795
"""Under 8 mm, the least diameter of lift ropes in EN 81-20, ropes are special. [m]"""
WORN = frozenset({FindingKind.CORROSION, FindingKind.CROWN_WEAR, FindingKind.ROUGE})
"""What makes wires badly rusted or worn, where the inspector counts it."""
_MAKERS_WORDS = ("coated", "aramid", "jacket", "plastic", "belt")


class Outcome(StrEnum):
    """What comes of holding a finding against a table."""

    EXCEEDS = "exceeds the allowance"
    EXAMINE = "over the count above which it is examined within a stated time"
    WITHIN = "within the allowance"
    NOT_CONFIRMED = "allowance not confirmed"
    NOT_TYPED = "its figure was not typed by who confirms the table"
    FIGURES_DIFFER = (
        "the figure typed and this program's copy of the table answer differently; "
        "look it up again"
    )
    NONE_BROKEN = "none broken"
    NO_WIRES = "the number of its wires, filler wires left out, is not known"
    NO_ROW = "the table has no row for it"
    ROW_NOT_FOR_IT = "the row is for another number of wires side by side"
    NO_CLASS = "the class of the rope is not known"
    CLASS_CONTRADICTS = "the class named contradicts the construction"
    STRAND_NOT_COUNTED = "the most broken wires in any one strand are not written down"
    NO_LAY = "the length counted is no lay of this rope"
    NO_SIZE = "the nominal diameter is not known"
    ROUGE_NOT_HELD = "with rouge the table has other figures, which are not held here"
    MAKERS_CRITERIA = "the rope maker's criteria decide, no table"
    COULD_NOT_SEE = "could not be seen"


COMPARED = frozenset({Outcome.EXCEEDS, Outcome.EXAMINE, Outcome.WITHIN})
"""Outcomes that rest on a table and a count."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakComparison:
    """Broken wires of one rope in its worst measured lay, against the table.

    Attributes
    ----------
    finding : Finding
        The count.
    outcome : Outcome
        What comes of it.
    rope_class : str
        Class by which the table was read; empty if it is not known.
    count : BreakCount or None
        What of the count is compared.
    typed, held : BreakLimits or None
        As typed, and as in this program's copy; None until confirmed, or without a row.
    allowed : BreakLimits or None
        As applied: as typed, reduced where a condition counts.
    when : When
        From where on it is exceeded.
    reduced_by : tuple of Unfavourable
        The conditions that count for this rope and that the table names.
    unreduced : Outcome or None
        What would come of it without them; None if nothing was reduced.
    foreign_rules : tuple of Rule
        Rules that are not of the table's code and showed unequal tension.
    is_worn : bool
        Whether the figures for badly rusted or worn wires were taken.
    row : BreakRow or None
        The row of this program's copy.
    """

    finding: Finding
    outcome: Outcome
    rope_class: str = ""
    count: BreakCount | None = None
    typed: BreakLimits | None = None
    held: BreakLimits | None = None
    allowed: BreakLimits | None = None
    when: When = When.OVER
    reduced_by: tuple[Unfavourable, ...] = ()
    unreduced: Outcome | None = None
    foreign_rules: tuple[Rule, ...] = ()
    is_worn: bool = False
    row: BreakRow | None = None

    @property
    def is_reduced(self) -> bool:
        """Whether the allowance was reduced, once."""
        return bool(self.reduced_by)


def needs_makers_criteria(rope_set: RopeSet) -> bool:
    """Tell whether no table of steel ropes applies.

    Returns
    -------
    bool
        True for coated and aramid ropes and for small high-tensile ones under 8 mm.
    """
    construction = rope_set.construction.lower()
    if any(word in construction for word in _MAKERS_WORDS):
        return True
    diameter = rope_set.diameter
    return diameter is not None and diameter.value < SMALLEST_ORDINARY


def compare_breaks(
    finding: Finding,
    *,
    table: AllowanceTable | None,
    allowance: Allowance,
    rope_set: RopeSet,
    conditions: Sequence[Unfavourable],
) -> BreakComparison:
    """Hold a count of broken wires against the confirmed figure.

    Parameters
    ----------
    finding : Finding
        The count, in one lay of one rope.
    table : AllowanceTable or None
        The table named; None if there is none.
    allowance : Allowance
        Whether it is confirmed, the figures typed, and the class if it is written.
    rope_set : RopeSet
        The ropes.
    conditions : sequence of Unfavourable
        Every condition found.
    """
    rope_class = allowance.rope_class or rope_class_of(rope_set.construction)
    comparison = BreakComparison(
        finding=finding, outcome=Outcome.NOT_CONFIRMED, rope_class=rope_class
    )
    early = early_outcome(finding, table, allowance, rope_set) or _unfit(
        finding, allowance, rope_set, rope_class
    )
    if early is not None or table is None:
        return replace(comparison, outcome=early or Outcome.NOT_CONFIRMED)
    kind = finding.distribution or Distribution.SPREAD
    row = table.break_row(rope_class, RowDistribution(kind.value))
    own = tuple(c for c in conditions if finding.rope and c.concerns(finding.rope))
    counted = [c for c in own if c.state is ConditionState.COUNTED]
    is_worn = any(c.kind in WORN for c in counted)
    strands = strands_of(rope_set.construction) or strands_of(rope_class)
    typed = typed_limits(allowance.figure(kind.value), row, strands, is_worn=is_worn)
    held = held_limits(
        row, strands, is_monthly=allowance.is_inspected_monthly, is_worn=is_worn
    )
    comparison = replace(
        comparison,
        count=count_of(finding, row, strands),
        typed=typed,
        held=held,
        when=row.when if row else When.OVER,
        is_worn=is_worn,
        row=row,
    )
    if typed is None or (held and held.strand is not None and typed.strand is None):
        has_figure = allowance.figure(kind.value) is not None
        return replace(
            comparison,
            outcome=_why_not_typed(typed, row, has_figure=has_figure),
            typed=None,
            held=None,
        )
    return _decide(comparison, table, counted)


def _why_not_typed(
    typed: BreakLimits | None, row: BreakRow | None, *, has_figure: bool
) -> Outcome:
    """Why there is no figure to hold a count against."""
    if typed is None and has_figure:
        return Outcome.NO_WIRES
    return Outcome.NO_ROW if row is None else Outcome.NOT_TYPED


def _unfit(
    finding: Finding, allowance: Allowance, rope_set: RopeSet, rope_class: str
) -> Outcome | None:
    """Why a count cannot be read by any table."""
    if not rope_class:
        return Outcome.NO_CLASS
    if contradicts(allowance.rope_class, rope_set.construction):
        return Outcome.CLASS_CONTRADICTS
    if lay_fault(finding.lay, rope_set.diameter):
        return Outcome.NO_LAY
    return None


def early_outcome(
    finding: Finding,
    table: AllowanceTable | None,
    allowance: Allowance,
    rope_set: RopeSet,
) -> Outcome | None:
    """Say why nothing is compared at all.

    Parameters
    ----------
    finding : Finding
        A count or a diameter.
    table : AllowanceTable or None
        The table named; None if there is none.
    allowance : Allowance
        Whether it is confirmed.
    rope_set : RopeSet
        The ropes.

    Returns
    -------
    Outcome or None
        The reason; None if it can be compared.
    """
    if finding.seen is Seen.COULD_NOT_SEE:
        return Outcome.COULD_NOT_SEE
    if finding.broken == 0:
        return Outcome.NONE_BROKEN
    if needs_makers_criteria(rope_set):
        return Outcome.MAKERS_CRITERIA
    if table is None or not allowance.is_confirmed:
        return Outcome.NOT_CONFIRMED
    return None


def _decide(
    comparison: BreakComparison, table: AllowanceTable, counted: Sequence[Unfavourable]
) -> BreakComparison:
    """The outcome by the figure typed and by the copy held, reduced where it counts."""
    reducing = tuple(c for c in counted if c.kind.value in table.reduced_for)
    if table.reduction is None or (
        comparison.finding.distribution is Distribution.VALLEY
    ):
        reducing = ()
    factor = (
        Fraction(str(table.reduction.value))
        if reducing and table.reduction
        else Fraction(1)
    )
    typed, held = comparison.typed, comparison.held
    outcome = _both(comparison, typed, held, factor)
    unreduced = _both(comparison, typed, held, Fraction(1)) if reducing else None
    if table.is_for_examination:
        outcome = Outcome.EXAMINE if outcome is Outcome.EXCEEDS else outcome
    return replace(
        comparison,
        outcome=outcome,
        allowed=typed.times(factor) if typed else None,
        reduced_by=reducing,
        unreduced=unreduced,
        foreign_rules=foreign_rules(reducing, table),
    )


def _both(
    comparison: BreakComparison,
    typed: BreakLimits | None,
    held: BreakLimits | None,
    factor: Fraction,
) -> Outcome:
    """One answer where both figures give it; where they do not, neither."""
    answers = {
        _answer(comparison, limits.times(factor)) for limits in (typed, held) if limits
    }
    return answers.pop() if len(answers) == 1 else Outcome.FIGURES_DIFFER


def _answer(comparison: BreakComparison, limits: BreakLimits) -> Outcome:
    """What comes of a count by one set of figures; never milder than is known."""
    count, row, when = comparison.count, comparison.row, comparison.when
    if count is None:
        return Outcome.NO_ROW
    is_over = limits.lay is not None and _exceeds(count.lay, limits.lay, when)
    if row is not None and row.adjacent_from is not None and row.adjacent_to:
        adjacent = count.adjacent
        if adjacent is None or adjacent < row.adjacent_from:
            return Outcome.ROW_NOT_FOR_IT
        if adjacent > row.adjacent_to and not is_over:
            return Outcome.ROW_NOT_FOR_IT
    if limits.strand is not None:
        if _exceeds(count.strand_least, limits.strand, when):
            return Outcome.EXCEEDS
        if not is_over and _exceeds(count.strand_most, limits.strand, when):
            return Outcome.STRAND_NOT_COUNTED
    return Outcome.EXCEEDS if is_over else Outcome.WITHIN


def _exceeds(broken: int, allowance: Fraction, when: When) -> bool:
    """Whether a whole count exceeds an allowance."""
    return broken >= allowance if when is When.REACHES else broken > allowance
