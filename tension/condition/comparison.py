"""A count of broken wires held against the figure that the inspector confirms.

What one row allows and what of a count it is held against is in exact numbers.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from tension.catalogue.allowances import AllowanceTable, BreakRow, RowDistribution, When
from tension.catalogue.rules import Rule
from tension.condition.findings import (
    Allowance,
    Distribution,
    Finding,
    FindingKind,
    Seen,
    TypedFigure,
)
from tension.condition.rope_class import (
    Strands,
    contradicts,
    lay_fault,
    rope_class_of,
    strands_of,
)
from tension.condition.unfavourable import ConditionState, Unfavourable, foreign_rules
from tension.installation import RopeSet
from tension.quantity.comparison import as_typed
from tension.quantity.units import Quantity

SMALLEST_ORDINARY = 0.00795
"""Under 8 mm, the least diameter of lift ropes in EN 81-20, ropes are special. [m]"""
WORN = frozenset({FindingKind.CORROSION, FindingKind.CROWN_WEAR, FindingKind.ROUGE})
"""What makes wires badly rusted or worn, where the inspector counts it."""
_MAKERS_WORDS = ("coated", "aramid", "jacket", "plastic", "belt")


class Outcome(StrEnum):
    """What comes of holding a finding against a table, in the order of what is asked.

    It is compared only where the inspector confirms the table and typed its figure, and
    where that and this program's copy answer alike.
    """

    EXCEEDS = "exceeds"
    EXAMINE = "examine"
    WITHIN = "within"
    NOT_CONFIRMED = "not-confirmed"
    NOT_TYPED = "not-typed"
    FIGURES_DIFFER = "figures-differ"
    NONE_BROKEN = "none-broken"
    NO_WIRES = "no-wires"
    NO_ROW = "no-row"
    ROW_NOT_FOR_IT = "row-not-for-it"
    NO_CLASS = "no-class"
    CLASS_CONTRADICTS = "class-contradicts"
    STRAND_NOT_COUNTED = "strand-not-counted"
    NO_LAY = "no-lay"
    NO_SIZE = "no-size"
    ROUGE_NOT_HELD = "rouge-not-held"
    MAKERS_CRITERIA = "makers-criteria"
    COULD_NOT_SEE = "could-not-see"


COMPARED = frozenset({Outcome.EXCEEDS, Outcome.EXAMINE, Outcome.WITHIN})
"""Outcomes that rest on a table and a count."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Basis:
    """What findings are held against: the table, whether confirmed, and the ropes."""

    table: AllowanceTable | None
    allowance: Allowance
    rope_set: RopeSet
    conditions: Sequence[Unfavourable] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakLimits:
    """Broken wires allowed in one lay of the rope, and of them in one strand. [1]."""

    lay: Fraction | None
    strand: Fraction | None = None

    def times(self, factor: Fraction) -> "BreakLimits":
        """Multiply both. [1]."""
        return BreakLimits(
            lay=None if self.lay is None else self.lay * factor,
            strand=None if self.strand is None else self.strand * factor,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakCount:
    """What of a finding is held against a row. [1].

    Broken in the lay, or side by side where the row is of those; between what the most
    broken wires in any one strand lie; side by side in one strand, if written down.
    """

    lay: int
    strand_least: int
    strand_most: int
    adjacent: int | None


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakComparison:
    """Broken wires of one rope in its worst measured lay, against the table.

    What is allowed: as typed, as in this program's copy, and as applied, reduced where
    the table names a condition that counts for this rope; without that it would come to
    `unreduced`. Foreign rules are not of the table's code and showed unequal tension.
    Where the wires are badly rusted or worn, the figures for that were taken.
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


def needs_makers_criteria(rope_set: RopeSet) -> bool:
    """Tell whether no table of steel ropes applies.

    So it is for coated and aramid ropes and for small high-tensile ones under 8 mm.
    """
    construction = rope_set.construction.lower()
    if any(word in construction for word in _MAKERS_WORDS):
        return True
    diameter = rope_set.diameter
    return diameter is not None and diameter.value < SMALLEST_ORDINARY


def early_outcome(finding: Finding, basis: Basis) -> Outcome | None:
    """Say why nothing is compared at all; None if it can be."""
    if finding.seen is Seen.COULD_NOT_SEE:
        return Outcome.COULD_NOT_SEE
    if finding.broken == 0:
        return Outcome.NONE_BROKEN
    if needs_makers_criteria(basis.rope_set):
        return Outcome.MAKERS_CRITERIA
    if basis.table is None or not basis.allowance.is_confirmed:
        return Outcome.NOT_CONFIRMED
    return None


def compare_breaks(finding: Finding, basis: Basis) -> BreakComparison:
    """Hold a count, in one lay of one rope, against the confirmed figure."""
    table, allowance, rope_set = basis.table, basis.allowance, basis.rope_set
    rope_class = allowance.rope_class or rope_class_of(rope_set.construction)
    early = early_outcome(finding, basis) or _unfit(finding, basis, rope_class)
    comparison = BreakComparison(
        finding=finding, outcome=early or Outcome.NOT_CONFIRMED, rope_class=rope_class
    )
    if early is not None or table is None:
        return comparison
    kind = finding.distribution or Distribution.SPREAD
    figure = allowance.figure(kind.value)
    row = table.break_row(rope_class, RowDistribution(kind.value))
    counted = [
        c
        for c in basis.conditions
        if finding.rope
        and c.concerns(finding.rope)
        and c.state is ConditionState.COUNTED
    ]
    is_worn = any(c.kind in WORN for c in counted)
    strands = strands_of(rope_set.construction) or strands_of(rope_class)
    typed = _typed_limits(figure, row, strands, is_worn=is_worn)
    is_monthly = allowance.is_inspected_monthly
    held = _held_limits(row, strands, is_monthly=is_monthly, is_worn=is_worn)
    comparison = replace(
        comparison,
        count=_count_of(finding, row, strands),
        when=row.when if row else When.OVER,
        is_worn=is_worn,
        row=row,
    )
    if typed is None:
        outcome = Outcome.NO_ROW if row is None else Outcome.NOT_TYPED
        if figure is not None:
            outcome = Outcome.NO_WIRES
        return replace(comparison, outcome=outcome)
    decided = _decide(replace(comparison, typed=typed, held=held), table, counted)
    lacks_strand = held and held.strand is not None and typed.strand is None
    if lacks_strand and decided.outcome not in {Outcome.EXCEEDS, Outcome.EXAMINE}:
        return replace(comparison, outcome=Outcome.NOT_TYPED)
    return decided


def _unfit(finding: Finding, basis: Basis, rope_class: str) -> Outcome | None:
    """Why a count cannot be read by any table."""
    if not rope_class:
        return Outcome.NO_CLASS
    if contradicts(basis.allowance.rope_class, basis.rope_set.construction):
        return Outcome.CLASS_CONTRADICTS
    if lay_fault(finding.lay, basis.rope_set.diameter):
        return Outcome.NO_LAY
    return None


def _count_of(
    finding: Finding, row: BreakRow | None, strands: Strands | None
) -> BreakCount:
    """What is held against a row; what was not written down lies between bounds."""
    broken, adjacent = finding.broken or 0, finding.adjacent
    is_of_adjacent = row is not None and row.is_of_adjacent
    if finding.distribution is Distribution.SIDE_BY_SIDE:
        least = adjacent or (broken if is_of_adjacent else 1)
    else:
        among = strands.n_strands if strands else 12
        if finding.distribution is Distribution.ONE_OR_TWO_STRANDS:
            among = 2
        least = -(-broken // among)
    strand = finding.in_one_strand
    return BreakCount(
        lay=broken if adjacent is None or not is_of_adjacent else adjacent,
        strand_least=least if strand is None else strand,
        strand_most=broken if strand is None else strand,
        adjacent=adjacent,
    )


def _held_limits(
    row: BreakRow | None, strands: Strands | None, *, is_monthly: bool, is_worn: bool
) -> BreakLimits | None:
    """What a row of this program's copy allows; None where the wires are not known."""
    if row is None:
        return None
    breaks = row.breaks
    if is_monthly and row.breaks_if_monthly is not None:
        breaks = row.breaks_if_monthly
    in_strand = row.in_strand
    if is_worn and row.in_strand_worn is not None:
        in_strand = row.in_strand_worn
    lay, strand = (breaks, row.fraction_of_wires), (in_strand, row.fraction_of_strand)
    return _limits(lay, strand, strands, row)


def _typed_limits(
    figure: TypedFigure | None,
    row: BreakRow | None,
    strands: Strands | None,
    *,
    is_worn: bool,
) -> BreakLimits | None:
    """What the figure typed allows; None without one, or without the wires."""
    if figure is None:
        return None
    in_strand = figure.in_strand
    has_worn = row is not None and row.in_strand_worn is not None
    if is_worn and (has_worn or figure.in_strand_worn is not None):
        in_strand = figure.in_strand_worn
    lay = (figure.breaks, figure.fraction_of_wires)
    return _limits(lay, (in_strand, figure.fraction_of_strand), strands, row)


def _limits(
    lay: tuple[int | None, Quantity | None],
    strand: tuple[int | None, Quantity | None],
    strands: Strands | None,
    row: BreakRow | None,
) -> BreakLimits | None:
    """Numbers as they are, parts of the wires worked out."""
    n_wires = n_strands = None
    if strands is not None and strands.n_filler is not None:
        n_strands = strands.n_strands
        is_counted = row is not None and row.has_filler_counted
        n_wires = strands.n_wires - (0 if is_counted else strands.n_filler)
    of_lay = _number(lay, n_wires and n_strands and n_wires * n_strands)
    if of_lay is None:
        return None
    return BreakLimits(lay=of_lay, strand=_number(strand, n_wires))


def _number(
    written: tuple[int | None, Quantity | None], of_how_many: int | None
) -> Fraction | None:
    """A number as it is, else a part of so many."""
    number, part = written
    if number is not None:
        return Fraction(number)
    if part is None or of_how_many is None:
        return None
    return as_typed(part) * of_how_many


def _decide(
    comparison: BreakComparison, table: AllowanceTable, counted: Sequence[Unfavourable]
) -> BreakComparison:
    """The outcome by the figure typed and by the copy held, reduced where it counts."""
    reducing: tuple[Unfavourable, ...] = ()
    factor, one = Fraction(1), Fraction(1)
    is_in_valley = comparison.finding.distribution is Distribution.VALLEY
    if table.reduction is not None and not is_in_valley:
        reducing = tuple(c for c in counted if c.kind.value in table.reduced_for)
        factor = Fraction(str(table.reduction.value)) if reducing else one
    outcome = _both(comparison, factor)
    if table.is_for_examination:
        outcome = Outcome.EXAMINE if outcome is Outcome.EXCEEDS else outcome
    return replace(
        comparison,
        outcome=outcome,
        allowed=comparison.typed.times(factor) if comparison.typed else None,
        reduced_by=reducing,
        unreduced=_both(comparison, one) if reducing else None,
        foreign_rules=foreign_rules(reducing, table),
    )


def _both(comparison: BreakComparison, factor: Fraction) -> Outcome:
    """One answer where both figures give it; where they do not, neither."""
    figures = (comparison.typed, comparison.held)
    answers = {_answer(comparison, one.times(factor)) for one in figures if one}
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
