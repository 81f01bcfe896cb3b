"""The chain from what was found to what the confirmed table says of it.

Condition shown, reduced allowance applied, what was counted or read compared: each step
a value. The chain ends there; the order and its date are the inspector's.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from tension.assessment.decide import Assessment
from tension.catalogue import Standing
from tension.catalogue.allowances import AllowanceTable, DiameterRow
from tension.catalogue.ropes import LayFault, lay_fault
from tension.condition.comparison import Basis, BreakComparison, Outcome, compare_breaks
from tension.condition.findings import (
    DEFORMATIONS,
    Allowance,
    FigureOf,
    Finding,
    FindingKind,
    GaugeEntry,
    Seen,
    TypedFigure,
    Unfavourable,
    find_unfavourable,
)
from tension.installation import RopeSet
from tension.quantity.units import Quantity, as_typed


@dataclass(frozen=True, kw_only=True, slots=True)
class DiameterComparison:
    """A diameter against the row of that size, never reduced, never interpolated.

    Mean and smaller of the two readings, and the least diameter by the figure typed and
    by this program's copy, if it holds one [m]; whether rouge was seen on the rope; how
    the copy is known.
    """

    finding: Finding
    outcome: Outcome
    mean: Fraction
    smaller: Fraction
    has_rouge: bool
    least: Fraction | None = None
    figure: TypedFigure | None = None
    held: Fraction | None = None
    standing: Standing | None = None

    @property
    def is_smaller_under(self) -> bool:
        """Whether the smaller reading alone is under the least diameter."""
        return self.least is not None and self.smaller < self.least

    @property
    def is_by_rouge(self) -> bool:
        """Whether the figure for a rope with rouge decides."""
        rouge = self.figure.least_with_rouge if self.figure else None
        return self.has_rouge and rouge is not None and self.least == as_typed(rouge)


@dataclass(frozen=True, kw_only=True, slots=True)
class GaugeComparison:
    """A go and no-go gauge tried in two directions.

    The direction in which the rope entered farther decides; where rouge was seen on the
    rope, the first step is enough.
    """

    finding: Finding
    outcome: Outcome
    has_rouge: bool


Compared = BreakComparison | DiameterComparison | GaugeComparison
"""What is held against the table."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LayChange:
    """Length of one lay now [m], and its change against that of the new rope [1].

    No change without a baseline; a fault if it can be no lay of this rope.
    """

    finding: Finding
    lay: float
    change: float | None
    fault: LayFault | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeChain:
    """Everything found on one rope and what the table says of it, one per reading.

    Counts are never summed, neither over lays nor over ropes; kinks, birdcages and the
    like, and what the table names, are judged by sight.
    """

    rope: int
    breaks: tuple[BreakComparison, ...] = ()
    diameters: tuple[DiameterComparison, ...] = ()
    gauges: tuple[GaugeComparison, ...] = ()
    lays: tuple[LayChange, ...] = ()
    deformations: tuple[Finding, ...] = ()

    @property
    def compared(self) -> tuple[Compared, ...]:
        """Everything that was held against the table."""
        return (*self.breaks, *self.diameters, *self.gauges)

    @property
    def has_anything(self) -> bool:
        """Whether anything of this rope was compared, measured or seen deformed."""
        return bool(self.compared or self.lays or self.deformations)


@dataclass(frozen=True, kw_only=True, slots=True)
class Chain:
    """The chain of a whole set: the table, who confirms it, what may lower it, ropes.

    Conditions tell whether they count; ropes are in order of number.
    """

    table: AllowanceTable | None
    allowance: Allowance
    conditions: tuple[Unfavourable, ...]
    ropes: tuple[RopeChain, ...]
    findings: tuple[Finding, ...]

    @property
    def of_the_set(self) -> tuple[Finding, ...]:
        """What was seen deformed without a rope being named."""
        seen = (f for f in self.findings if f.rope is None and f.seen is Seen.YES)
        return tuple(finding for finding in seen if finding.kind in DEFORMATIONS)


def build_chain(
    findings: Sequence[Finding],
    *,
    rope_set: RopeSet,
    assessments: Sequence[Assessment],
    allowance: Allowance,
    table: AllowanceTable | None,
) -> Chain:
    """Build the chain of a set; assessments are of every series, in order of time."""
    conditions = find_unfavourable(findings, assessments)
    basis = Basis(
        table=table, allowance=allowance, rope_set=rope_set, conditions=conditions
    )
    numbers = range(1, rope_set.n_ropes + 1)
    return Chain(
        table=table,
        allowance=allowance,
        conditions=conditions,
        ropes=tuple(_rope_chain(number, findings, basis) for number in numbers),
        findings=tuple(findings),
    )


def _rope_chain(number: int, findings: Sequence[Finding], basis: Basis) -> RopeChain:
    """What was found on one rope, compared."""
    own = [finding for finding in findings if finding.rope == number]
    kinds: frozenset[str] = DEFORMATIONS
    if basis.table is not None and basis.allowance.is_confirmed:
        kinds |= set(basis.table.by_sight)
    has_rouge = any(
        f.kind is FindingKind.ROUGE and f.seen is Seen.YES and f.rope in {None, number}
        for f in findings
    )
    kinds_compared = (
        FindingKind.BROKEN_WIRES,
        FindingKind.DIAMETER,
        FindingKind.LAY_LENGTH,
    )
    counts, sizes, lays = ([f for f in own if f.kind is k] for k in kinds_compared)
    return RopeChain(
        rope=number,
        breaks=tuple(compare_breaks(f, basis) for f in counts),
        diameters=tuple(
            _compare_diameter(f, basis, has_rouge=has_rouge)
            for f in sizes
            if len(f.diameters) == 2
        ),
        gauges=tuple(
            _compare_gauge(f, basis, has_rouge=has_rouge) for f in sizes if f.gauge
        ),
        lays=tuple(_lay_change(f, f.lay, basis.rope_set) for f in lays if f.lay),
        deformations=tuple(f for f in own if f.seen is Seen.YES and f.kind in kinds),
    )


def _lay_change(finding: Finding, length: Quantity, rope_set: RopeSet) -> LayChange:
    """The length of so many lays against the baseline of one."""
    baseline, nominal = finding.baseline, rope_set.diameter
    lays = finding.lays or 1
    lay = length.value / lays
    return LayChange(
        finding=finding,
        lay=lay,
        change=lay / baseline.value - 1.0 if baseline else None,
        fault=lay_fault(length, nominal, lays) or lay_fault(baseline, nominal),
    )


def _compare_gauge(
    finding: Finding, basis: Basis, *, has_rouge: bool
) -> GaugeComparison:
    """Say what a gauge shows: with rouge the first step is enough.

    Common practice, no source.
    """
    due = {GaugeEntry.WHOLE_GROOVE, *([GaugeEntry.FIRST_STEP] if has_rouge else [])}
    shown = Outcome.EXCEEDS if due & set(finding.gauge) else Outcome.WITHIN
    outcome = basis.refusal or shown
    return GaugeComparison(finding=finding, outcome=outcome, has_rouge=has_rouge)


def _compare_diameter(
    finding: Finding, basis: Basis, *, has_rouge: bool
) -> DiameterComparison:
    """Hold the mean of two readings at right angles against the confirmed table.

    By the figures typed and by the copy held; rouge is never milder.
    """
    table, nominal = basis.table, basis.rope_set.diameter
    one, other = map(as_typed, finding.diameters)
    mean, figure = (one + other) / 2, basis.allowance.figure(FigureOf.DIAMETER)
    unseen = Outcome.COULD_NOT_SEE if finding.seen is Seen.COULD_NOT_SEE else None
    comparison = DiameterComparison(
        finding=finding,
        outcome=unseen or basis.refusal or Outcome.NO_SIZE,
        mean=mean,
        smaller=min(one, other),
        has_rouge=has_rouge,
        figure=figure,
    )
    if comparison.outcome is not Outcome.NO_SIZE or table is None or nominal is None:
        return comparison
    row = table.diameter_row(nominal.value)
    of_all = TypedFigure(what=FigureOf.DIAMETER, least_fraction=table.least_fraction)
    typed, held = (
        _least(one, as_typed(nominal), has_rouge=has_rouge)
        for one in (figure, row or of_all)
    )
    comparison = replace(comparison, standing=row.standing if row else table.standing)
    if not typed:
        is_in_table = False in held or figure is not None
        outcome = Outcome.NOT_TYPED if is_in_table else Outcome.NO_ROW
        return replace(comparison, outcome=outcome)
    has_column = True in typed or True in held or (has_rouge and table.has_rouge_column)
    answers = {_under(mean, one, has_column=has_column) for one in (typed, held) if one}
    if True in typed:
        # this copy cannot say more of rouge than that it is under the milder figure
        answers -= {Outcome.ROUGE_NOT_HELD}
    least = max(typed.values())
    return replace(
        comparison,
        outcome=answers.pop() if len(answers) == 1 else Outcome.FIGURES_DIFFER,
        least=least,
        held=held.get(least == typed.get(True)),
    )


def _least(
    one: TypedFigure | DiameterRow | None, nominal: Fraction, *, has_rouge: bool
) -> dict[bool, Fraction]:
    """Least diameters known [m], by whether rouge shows.

    They are as they stand, or as a loss or a part of the nominal one.
    """
    if one is None:
        return {}
    known: dict[bool, Fraction] = {}
    if one.least is not None:
        known[False] = as_typed(one.least)
    elif one.most_loss is not None:
        known[False] = nominal - as_typed(one.most_loss)
    elif isinstance(one, TypedFigure) and one.least_fraction is not None:
        known[False] = nominal * as_typed(one.least_fraction)
    if has_rouge and one.least_with_rouge:
        known[True] = as_typed(one.least_with_rouge)
    return known


def _under(
    mean: Fraction, least: Mapping[bool, Fraction], *, has_column: bool
) -> Outcome:
    """What comes of a mean; under the milder figure it is under the other as well."""
    if any(mean < one for one in least.values()):
        return Outcome.EXCEEDS
    is_open = has_column and True not in least
    return Outcome.ROUGE_NOT_HELD if is_open else Outcome.WITHIN
