"""A diameter or a gauge held against the figure that the inspector confirms."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from tension.catalogue.allowances import AllowanceTable, DiameterRow
from tension.catalogue.standing import Standing
from tension.condition.comparison import (
    Basis,
    Outcome,
    early_outcome,
    needs_makers_criteria,
)
from tension.condition.findings import (
    FigureOf,
    Finding,
    FindingKind,
    GaugeEntry,
    Seen,
    TypedFigure,
)
from tension.quantity.comparison import as_typed
from tension.quantity.units import Quantity


@dataclass(frozen=True, kw_only=True, slots=True)
class DiameterComparison:
    """A diameter against the row of that size, never reduced, never interpolated.

    Mean and smaller of the two readings, and the least diameter by the figure typed and
    by this program's copy, if it holds one [m]; whether rouge was seen on the rope and
    decides the figure; how the copy is known.
    """

    finding: Finding
    outcome: Outcome
    mean: Fraction
    smaller: Fraction
    least: Fraction | None = None
    figure: TypedFigure | None = None
    held: Fraction | None = None
    has_rouge: bool = False
    is_by_rouge: bool = False
    standing: Standing | None = None

    @property
    def is_smaller_under(self) -> bool:
        """Whether the smaller reading alone is under the least diameter."""
        return self.least is not None and self.smaller < self.least


@dataclass(frozen=True, kw_only=True, slots=True)
class GaugeComparison:
    """A go and no-go gauge tried in two directions.

    The direction in which the rope entered farther decides; where rouge was seen on the
    rope, the first step is enough.
    """

    finding: Finding
    outcome: Outcome
    has_rouge: bool


def compare_diameter(
    finding: Finding, basis: Basis, *, has_rouge: bool
) -> DiameterComparison | None:
    """Hold the mean of two readings at right angles against the confirmed table.

    None if no diameter was read; `has_rouge` tells whether rouge was seen on the rope.
    """
    table, nominal = basis.table, basis.rope_set.diameter
    if len(finding.diameters) != 2:
        return None
    values = [as_typed(reading) for reading in finding.diameters]
    comparison = DiameterComparison(
        finding=finding,
        outcome=Outcome.NOT_CONFIRMED,
        mean=(values[0] + values[1]) / 2,
        smaller=min(values),
        has_rouge=has_rouge,
    )
    early = early_outcome(finding, basis)
    if early is not None or table is None:
        return replace(comparison, outcome=early or Outcome.NOT_CONFIRMED)
    if nominal is None:
        return replace(comparison, outcome=Outcome.NO_SIZE)
    figure = basis.allowance.figure(FigureOf.DIAMETER)
    return _decide(comparison, table, figure, as_typed(nominal))


def compare_gauge(
    finding: Finding, basis: Basis, *, has_rouge: bool
) -> GaugeComparison | None:
    """Say what a gauge shows, if one was tried: with rouge the first step is enough.

    Common practice, no source.
    """
    if not finding.gauge:
        return None
    if needs_makers_criteria(basis.rope_set):
        outcome = Outcome.MAKERS_CRITERIA
    elif not basis.allowance.is_confirmed:
        outcome = Outcome.NOT_CONFIRMED
    elif GaugeEntry.WHOLE_GROOVE in finding.gauge or (
        has_rouge and GaugeEntry.FIRST_STEP in finding.gauge
    ):
        outcome = Outcome.EXCEEDS
    else:
        outcome = Outcome.WITHIN
    return GaugeComparison(finding=finding, outcome=outcome, has_rouge=has_rouge)


def has_rouge_on(rope: int | None, findings: Sequence[Finding]) -> bool:
    """Tell whether rouge was seen on a rope, or on the set without a rope named."""
    return any(
        finding.kind is FindingKind.ROUGE
        and finding.seen is Seen.YES
        and finding.rope in {None, rope}
        for finding in findings
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Least:
    """Least diameters of one size, without rouge and with it."""

    plain: Fraction | None = None
    with_rouge: Fraction | None = None


def _decide(
    comparison: DiameterComparison,
    table: AllowanceTable,
    figure: TypedFigure | None,
    nominal: Fraction,
) -> DiameterComparison:
    """The outcome by the figures typed and by the copy held; rouge is never milder."""
    row = table.diameter_row(float(nominal))
    held = _held(row, table, nominal)
    typed = _typed(figure, nominal)
    has_column = comparison.has_rouge and (
        table.has_rouge_column or typed.with_rouge is not None
    )
    comparison = replace(comparison, standing=row.standing if row else table.standing)
    if typed.plain is None and not (has_column and typed.with_rouge is not None):
        no_row = held.plain is None and typed.with_rouge is None
        return replace(
            comparison, outcome=Outcome.NO_ROW if no_row else Outcome.NOT_TYPED
        )
    answers = {
        _answer(comparison.mean, one, has_column=has_column)
        for one in (typed, held)
        if one.plain is not None or one.with_rouge is not None
    }
    if has_column and typed.with_rouge is not None and held.with_rouge is None:
        # this copy cannot say more of rouge than that it is under the milder figure
        answers -= {Outcome.ROUGE_NOT_HELD}
    with_rouge = (
        has_column
        and typed.with_rouge is not None
        and (typed.plain is None or typed.plain <= typed.with_rouge)
    )
    return replace(
        comparison,
        outcome=answers.pop() if len(answers) == 1 else Outcome.FIGURES_DIFFER,
        least=typed.with_rouge if with_rouge else typed.plain,
        figure=figure,
        is_by_rouge=with_rouge,
        held=held.with_rouge if with_rouge else held.plain,
    )


def _answer(mean: Fraction, least: _Least, *, has_column: bool) -> Outcome:
    """What comes of a mean; under the milder figure it is under the other as well."""
    if least.plain is not None and mean < least.plain:
        return Outcome.EXCEEDS
    if not has_column:
        return Outcome.WITHIN if least.plain is not None else Outcome.NOT_TYPED
    if least.with_rouge is None:
        return Outcome.ROUGE_NOT_HELD
    return Outcome.EXCEEDS if mean < least.with_rouge else Outcome.WITHIN


def _held(row: DiameterRow | None, table: AllowanceTable, nominal: Fraction) -> _Least:
    """What this program's copy holds for one nominal diameter."""
    if row is None:
        return _Least(plain=_least(None, None, table.least_fraction, nominal))
    return _Least(
        plain=_least(row.least, row.most_loss, None, nominal),
        with_rouge=_least(row.least_with_rouge, None, None, nominal),
    )


def _typed(figure: TypedFigure | None, nominal: Fraction) -> _Least:
    """What was typed for the nominal diameter of this set."""
    if figure is None:
        return _Least()
    part, loss = figure.least_fraction, figure.most_loss
    return _Least(
        plain=_least(figure.least, loss, part, nominal),
        with_rouge=_least(figure.least_with_rouge, None, None, nominal),
    )


def _least(
    least: Quantity | None,
    loss: Quantity | None,
    part: Quantity | None,
    nominal: Fraction,
) -> Fraction | None:
    """A least diameter, as it is, or as a loss or a part of the nominal one."""
    if least is not None:
        return as_typed(least)
    if loss is not None:
        return nominal - as_typed(loss)
    return None if part is None else nominal * as_typed(part)
