"""The chain from what was found to what the confirmed table says of it.

Condition shown, reduced allowance applied, broken wires counted, compared: each step a
value. The chain ends there; the order and its date are the inspector's.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from tension.assessment.outcome import Assessment
from tension.catalogue.allowances import AllowanceTable
from tension.condition.comparison import Basis, BreakComparison, compare_breaks
from tension.condition.diameters import (
    DiameterComparison,
    GaugeComparison,
    compare_diameter,
    compare_gauge,
    has_rouge_on,
)
from tension.condition.findings import (
    DEFORMATIONS,
    Allowance,
    Finding,
    FindingKind,
    Seen,
)
from tension.condition.rope_class import LayFault, lay_fault
from tension.condition.unfavourable import Unfavourable, find_unfavourable
from tension.installation import RopeSet


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
    def compared(
        self,
    ) -> tuple[BreakComparison | DiameterComparison | GaugeComparison, ...]:
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
        return tuple(
            finding
            for finding in self.findings
            if finding.rope is None
            and finding.kind in DEFORMATIONS
            and finding.seen is Seen.YES
        )

    @property
    def is_empty(self) -> bool:
        """Whether nothing was found and nothing is offered."""
        return not self.findings and not self.conditions


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
    table, is_confirmed = basis.table, basis.allowance.is_confirmed
    by_sight = table.by_sight if table is not None and is_confirmed else ()
    has_rouge = has_rouge_on(number, findings)
    sized = [f for f in own if f.kind is FindingKind.DIAMETER]
    diameters = [compare_diameter(f, basis, has_rouge=has_rouge) for f in sized]
    gauges = [compare_gauge(f, basis, has_rouge=has_rouge) for f in sized]
    return RopeChain(
        rope=number,
        breaks=tuple(
            compare_breaks(finding, basis)
            for finding in own
            if finding.kind is FindingKind.BROKEN_WIRES
        ),
        diameters=tuple(c for c in diameters if c is not None),
        gauges=tuple(c for c in gauges if c is not None),
        lays=tuple(_lay_changes(own, basis.rope_set)),
        deformations=tuple(
            f
            for f in own
            if f.seen is Seen.YES and (f.kind in DEFORMATIONS or f.kind in by_sight)
        ),
    )


def _lay_changes(findings: Sequence[Finding], rope_set: RopeSet) -> list[LayChange]:
    """Lay lengths against the baseline."""
    return [
        LayChange(
            finding=finding,
            lay=(lay := finding.lay.value / (finding.lays or 1)),
            change=lay / finding.baseline.value - 1.0 if finding.baseline else None,
            fault=lay_fault(finding.lay, rope_set.diameter, finding.lays or 1)
            or lay_fault(finding.baseline, rope_set.diameter),
        )
        for finding in findings
        if finding.kind is FindingKind.LAY_LENGTH and finding.lay is not None
    ]
