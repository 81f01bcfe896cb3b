"""A count of broken wires held against the figure that the inspector confirms.

What one row allows and what of a count it is held against is in exact numbers.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from math import ceil, prod

from tension.catalogue import ropes
from tension.catalogue.allowances import (
    AllowanceTable,
    BreakRow,
    RowDistribution,
    When,
)
from tension.catalogue.rules import Rule
from tension.condition.findings import (
    Allowance,
    ConditionState,
    Distribution,
    Finding,
    FindingKind,
    Seen,
    TypedFigure,
    Unfavourable,
    foreign_rules,
)
from tension.installation import RopeSet
from tension.quantity.units import Quantity, as_decimal, as_typed

SMALLEST_ORDINARY = as_decimal(0.00795)
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

    @property
    def refusal(self) -> Outcome | None:
        """Why nothing of these ropes is compared at all; None if it can be."""
        if needs_makers_criteria(self.rope_set):
            return Outcome.MAKERS_CRITERIA
        if self.table is None or not self.allowance.is_confirmed:
            return Outcome.NOT_CONFIRMED
        return None


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakLimits:
    """Broken wires allowed in one lay of the rope, and of them in one strand. [1]."""

    lay: Fraction
    strand: Fraction | None = None

    def times(self, factor: Fraction) -> "BreakLimits":
        """Multiply both. [1]."""
        strand = None if self.strand is None else self.strand * factor
        return BreakLimits(lay=self.lay * factor, strand=strand)


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
    rope_class: str
    typed: BreakLimits | None = None
    held: BreakLimits | None = None
    allowed: BreakLimits | None = None
    reduced_by: tuple[Unfavourable, ...] = ()
    unreduced: Outcome | None = None
    foreign_rules: tuple[Rule, ...] = ()
    is_worn: bool = False
    row: BreakRow | None = None

    @property
    def when(self) -> When:
        """From where on the allowance is exceeded."""
        return self.row.when if self.row else When.OVER

    def exceeds(self, broken: int, allowance: Fraction) -> bool:
        """Tell whether a whole count [1] exceeds an allowance [1]."""
        is_reached = self.when is When.REACHES and broken == allowance
        return is_reached or broken > allowance


def needs_makers_criteria(rope_set: RopeSet) -> bool:
    """Tell whether no table of steel ropes applies.

    So it is for coated and aramid ropes and for small high-tensile ones under 8 mm.
    """
    construction, diameter = rope_set.construction.lower(), rope_set.diameter
    is_small = diameter is not None and as_typed(diameter) < SMALLEST_ORDINARY
    return is_small or any(word in construction for word in _MAKERS_WORDS)


def _unfit(finding: Finding, basis: Basis, rope_class: str) -> Outcome | None:
    """Why a count cannot be held against the table; None if it can be."""
    allowance, rope_set = basis.allowance, basis.rope_set
    construction = rope_set.construction
    asked = {
        Outcome.COULD_NOT_SEE: finding.seen is Seen.COULD_NOT_SEE
        or finding.broken is None,
        Outcome.NONE_BROKEN: finding.broken == 0,
        basis.refusal: basis.refusal is not None,
        Outcome.NO_CLASS: not rope_class,
        Outcome.CLASS_CONTRADICTS: ropes.contradicts(
            allowance.rope_class, construction
        ),
        Outcome.NO_LAY: ropes.lay_fault(finding.lay, rope_set.diameter) is not None,
    }
    return next((outcome for outcome, is_so in asked.items() if is_so), None)


def compare_breaks(finding: Finding, basis: Basis) -> BreakComparison:
    """Hold a count, in one lay of one rope, against the confirmed figure."""
    table, allowance = basis.table, basis.allowance
    construction = basis.rope_set.construction
    rope_class = allowance.rope_class or ropes.rope_class_of(construction)
    unfit = _unfit(finding, basis, rope_class)
    if unfit is not None or table is None:
        outcome = unfit or Outcome.NOT_CONFIRMED
        return BreakComparison(finding=finding, outcome=outcome, rope_class=rope_class)
    kind = finding.distribution or Distribution.SPREAD
    figure = allowance.figure(kind.value)
    row = table.break_row(rope_class, RowDistribution(kind.value))
    counted = [
        condition
        for condition in basis.conditions
        if finding.rope
        and condition.rope in {None, finding.rope}
        and condition.state is ConditionState.COUNTED
    ]
    wires = _Wires(
        strands=ropes.strands_of(construction) or ropes.strands_of(rope_class),
        row=row,
        is_worn=any(c.kind in WORN for c in counted),
        is_monthly=allowance.is_inspected_monthly,
    )
    comparison = BreakComparison(
        finding=finding,
        outcome=Outcome.NOT_TYPED if row else Outcome.NO_ROW,
        rope_class=rope_class,
        typed=wires.limits(figure),
        held=wires.limits(row),
        is_worn=wires.is_worn,
        row=row,
    )
    if comparison.typed is not None:
        between = wires.between(finding, finding.broken or 0)
        return _decide(comparison, between, table, counted)
    return replace(comparison, outcome=Outcome.NO_WIRES) if figure else comparison


@dataclass(frozen=True, kw_only=True, slots=True)
class _Wires:
    """The wires that are counted, and by which row of this program's copy."""

    strands: ropes.Strands | None
    row: BreakRow | None
    is_worn: bool
    is_monthly: bool

    def limits(self, one: BreakRow | TypedFigure | None) -> BreakLimits | None:
        """What a figure or a row allows; None without one, or without the wires."""
        if one is None:
            return None
        breaks, in_strand = one.breaks, one.in_strand
        if isinstance(one, BreakRow) and self.is_monthly:
            breaks = breaks if one.breaks_if_monthly is None else one.breaks_if_monthly
        has_worn = self.row is not None and self.row.in_strand_worn is not None
        if self.is_worn and (has_worn or one.in_strand_worn is not None):
            in_strand = one.in_strand_worn
        n_wires = n_strands = None
        if self.strands is not None and self.strands.n_filler is not None:
            n_strands, n_wires = self.strands.n_strands, self.strands.n_wires
            if self.row is None or not self.row.has_filler_counted:
                n_wires -= self.strands.n_filler
        lay = _number(breaks, one.fraction_of_wires, n_wires, n_strands)
        strand = _number(in_strand, one.fraction_of_strand, n_wires)
        return None if lay is None else BreakLimits(lay=lay, strand=strand)

    def between(self, finding: Finding, broken: int) -> tuple[int, int]:
        """Between what the most broken wires in any one strand lie. [1]."""
        if finding.in_one_strand is not None:
            return finding.in_one_strand, finding.in_one_strand
        least = 1
        if finding.distribution is Distribution.SIDE_BY_SIDE:
            is_of_adjacent = self.row is not None and self.row.is_of_adjacent
            least = finding.adjacent or (broken if is_of_adjacent else least)
        elif finding.distribution is Distribution.ONE_OR_TWO_STRANDS:
            least = ceil(Fraction(broken, 2))
        elif self.strands:
            least = ceil(Fraction(broken, self.strands.n_strands))
        return least, broken


def _number(
    number: int | None, part: Quantity | None, *of_how_many: int | None
) -> Fraction | None:
    """A number as it is, else a part of so many."""
    if number is not None:
        return Fraction(number)
    if part is None or None in of_how_many:
        return None
    return as_typed(part) * prod(count for count in of_how_many if count is not None)


def _decide(
    comparison: BreakComparison,
    between: tuple[int, int],
    table: AllowanceTable,
    counted: Sequence[Unfavourable],
) -> BreakComparison:
    """The outcome by the figure typed and by the copy held, reduced where it counts."""
    reducing: tuple[Unfavourable, ...] = ()
    factor = Fraction(1)
    is_in_valley = comparison.finding.distribution is Distribution.VALLEY
    if table.reduction is not None and not is_in_valley:
        reducing = tuple(c for c in counted if c.kind.value in table.reduced_for)
        factor = as_typed(table.reduction) if reducing else factor
    typed, held = comparison.typed, comparison.held
    outcome = _both(comparison, between, factor)
    if table.is_for_examination and outcome is Outcome.EXCEEDS:
        outcome = Outcome.EXAMINE
    lacks_strand = held and held.strand is not None and typed and typed.strand is None
    if lacks_strand and outcome not in {Outcome.EXCEEDS, Outcome.EXAMINE}:
        return replace(comparison, outcome=Outcome.NOT_TYPED, typed=None)
    return replace(
        comparison,
        outcome=outcome,
        allowed=typed.times(factor) if typed else None,
        reduced_by=reducing,
        unreduced=_both(comparison, between, Fraction(1)) if reducing else None,
        foreign_rules=foreign_rules(reducing, table),
    )


def _both(
    comparison: BreakComparison, between: tuple[int, int], factor: Fraction
) -> Outcome:
    """One answer where both figures give it; where they do not, neither."""
    answers = {
        _answer(comparison, between, limits.times(factor))
        for limits in (comparison.typed, comparison.held)
        if limits
    }
    return answers.pop() if len(answers) == 1 else Outcome.FIGURES_DIFFER


def _answer(
    comparison: BreakComparison, between: tuple[int, int], limits: BreakLimits
) -> Outcome:
    """What comes of a count by one set of figures; never milder than is known."""
    row, adjacent = comparison.row, comparison.finding.adjacent
    # those side by side, where the row is of those
    is_of_adjacent = row is not None and row.is_of_adjacent and adjacent is not None
    broken = adjacent if is_of_adjacent else comparison.finding.broken
    is_over = comparison.exceeds(broken or 0, limits.lay)
    if row is not None and row.adjacent_from is not None and row.adjacent_to:
        if adjacent is None or adjacent < row.adjacent_from:
            return Outcome.ROW_NOT_FOR_IT
        if adjacent > row.adjacent_to and not is_over:
            return Outcome.ROW_NOT_FOR_IT
    if limits.strand is not None:
        least, most = (comparison.exceeds(one, limits.strand) for one in between)
        if least:
            return Outcome.EXCEEDS
        if most and not is_over:
            return Outcome.STRAND_NOT_COUNTED
    return Outcome.EXCEEDS if is_over else Outcome.WITHIN
