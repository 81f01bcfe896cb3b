"""A diameter or a gauge held against the table that the inspector confirms."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tension.catalogue.allowances import AllowanceTable
from tension.catalogue.standing import Standing
from tension.condition.comparison import (
    Outcome,
    early_outcome,
    needs_makers_criteria,
)
from tension.condition.confirmation import Allowance
from tension.condition.findings import Finding, FindingKind, GaugeEntry, Seen
from tension.installation import RopeSet


@dataclass(frozen=True, kw_only=True, slots=True)
class DiameterComparison:
    """A diameter against the row of that size, never reduced, never interpolated.

    Attributes
    ----------
    finding : Finding
        The two readings.
    outcome : Outcome
        What comes of their mean.
    mean, smaller : float
        Of the two readings. [m]
    least : float or None
        Least diameter; None until confirmed. [m]
    basis : str
        Which row or which part of the nominal diameter.
    has_rouge : bool
        Whether rouge was seen on the rope.
    standing : Standing or None
        How the row is known.
    """

    finding: Finding
    outcome: Outcome
    mean: float
    smaller: float
    least: float | None = None
    basis: str = ""
    has_rouge: bool = False
    standing: Standing | None = None

    @property
    def is_smaller_under(self) -> bool:
        """Whether the smaller reading alone is under the least diameter."""
        return self.least is not None and self.smaller < self.least


@dataclass(frozen=True, kw_only=True, slots=True)
class GaugeComparison:
    """A go and no-go gauge tried in two directions.

    Attributes
    ----------
    finding : Finding
        What the gauge did.
    outcome : Outcome
        What comes of the direction in which the rope entered farther.
    has_rouge : bool
        Whether rouge was seen on the rope; then the first step is enough.
    """

    finding: Finding
    outcome: Outcome
    has_rouge: bool


def compare_diameter(
    finding: Finding,
    *,
    table: AllowanceTable | None,
    allowance: Allowance,
    rope_set: RopeSet,
    has_rouge: bool,
) -> DiameterComparison | None:
    """Hold the mean of two readings at right angles against the confirmed table.

    Parameters
    ----------
    finding : Finding
        The readings.
    table : AllowanceTable or None
        The table named; None if there is none.
    allowance : Allowance
        Whether it is confirmed.
    rope_set : RopeSet
        The ropes.
    has_rouge : bool
        Whether rouge was seen on the rope.

    Returns
    -------
    DiameterComparison or None
        None if no diameter was read.
    """
    if len(finding.diameters) != 2:
        return None
    values = [reading.value for reading in finding.diameters]
    comparison = DiameterComparison(
        finding=finding,
        outcome=Outcome.NOT_CONFIRMED,
        mean=sum(values) / 2.0,
        smaller=min(values),
        has_rouge=has_rouge,
    )
    early = early_outcome(finding, table, allowance, rope_set)
    if early is not None or table is None:
        return replace(comparison, outcome=early or Outcome.NOT_CONFIRMED)
    if rope_set.diameter is None:
        return replace(comparison, outcome=Outcome.NO_SIZE)
    comparison = _least_diameter(comparison, table, rope_set.diameter.value)
    if comparison.least is None:
        return comparison
    is_under = comparison.mean < comparison.least
    return replace(comparison, outcome=Outcome.EXCEEDS if is_under else Outcome.WITHIN)


def compare_gauge(
    finding: Finding, *, allowance: Allowance, rope_set: RopeSet, has_rouge: bool
) -> GaugeComparison | None:
    """Say what a gauge shows: with rouge the first step is enough.

    Common practice, no source.

    Parameters
    ----------
    finding : Finding
        How far the rope entered, in two directions.
    allowance : Allowance
        Whether the inspector confirms what he goes by.
    rope_set : RopeSet
        The ropes.
    has_rouge : bool
        Whether rouge was seen on the rope.

    Returns
    -------
    GaugeComparison or None
        None if no gauge was tried.
    """
    if not finding.gauge:
        return None
    if needs_makers_criteria(rope_set):
        outcome = Outcome.MAKERS_CRITERIA
    elif not allowance.is_confirmed:
        outcome = Outcome.NOT_CONFIRMED
    else:
        enough = {GaugeEntry.WHOLE_GROOVE}
        if has_rouge:
            enough.add(GaugeEntry.FIRST_STEP)
        is_due = any(entry in enough for entry in finding.gauge)
        outcome = Outcome.EXCEEDS if is_due else Outcome.WITHIN
    return GaugeComparison(finding=finding, outcome=outcome, has_rouge=has_rouge)


def has_rouge_on(rope: int | None, findings: Sequence[Finding]) -> bool:
    """Tell whether rouge was seen on a rope, anywhere.

    Parameters
    ----------
    rope : int or None
        Rope number.
    findings : sequence of Finding
        Every finding.

    Returns
    -------
    bool
        True also where rouge was seen on the set without a rope named.
    """
    return any(
        finding.kind is FindingKind.ROUGE
        and finding.seen is Seen.YES
        and finding.rope in {None, rope}
        for finding in findings
    )


def _least_diameter(
    comparison: DiameterComparison, table: AllowanceTable, nominal: float
) -> DiameterComparison:
    """Find the least diameter for one nominal diameter, with what it rests on."""
    row = table.diameter_row(nominal)
    if comparison.has_rouge and table.has_rouge_column:
        with_rouge = row.least_with_rouge if row else None
        if row is None or with_rouge is None:
            return replace(comparison, outcome=Outcome.ROUGE_NOT_HELD)
        return replace(
            comparison,
            least=with_rouge.value,
            basis=f"row {row.size.text}, with rouge: {with_rouge.text}",
            standing=row.standing,
        )
    if row is not None:
        if row.least is not None:
            least, basis = row.least.value, f"row {row.size.text}: {row.least.text}"
        elif row.most_loss is not None:
            least = nominal - row.most_loss.value
            basis = (
                f"row {row.size.text} to {row.size_to.text}: loss {row.most_loss.text}"
            )
        else:
            return replace(comparison, outcome=Outcome.NO_ROW)
        return replace(comparison, least=least, basis=basis, standing=row.standing)
    if table.least_fraction is not None:
        return replace(
            comparison,
            least=nominal * table.least_fraction.value,
            basis=f"{table.least_fraction.text} of nominal",
            standing=table.standing,
        )
    return replace(comparison, outcome=Outcome.NO_ROW)
