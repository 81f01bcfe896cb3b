"""The chain in words: condition shown, allowance, count, comparison."""

from collections.abc import Sequence

from tension.assessment.outcome import Assessment
from tension.assessment.words import limit_text
from tension.catalogue.allowances import AllowanceTable
from tension.condition.chain import Chain, LayChange, RopeChain
from tension.condition.findings import Finding, FindingKind
from tension.condition.unfavourable import ConditionState, Unfavourable
from tension.quantity.units import Dimension
from tension.report.comparison_words import (
    KIND_WORDS,
    break_line,
    diameter_line,
    gauge_line,
    spot,
)
from tension.report.numbers import written
from tension.report.words import (
    VERDICT_WORDS,
    condition_words,
    percent,
    rope_words,
    spread_words,
)

CLOSING = (
    "Counts are per rope in its worst measured lay, never summed. What follows, and by "
    "when, is the inspector's order, not this program's."
)


def chain_lines(chain: Chain) -> list[str]:
    """Write the chain, a sentence per step.

    Returns
    -------
    list of str
        Conditions, the table, then rope by rope; empty without findings.
    """
    if chain.is_empty:
        return []
    lines = [condition_line(condition) for condition in chain.conditions]
    if any(rope.has_anything for rope in chain.ropes):
        lines.append(table_line(chain))
    by_sight = chain.table.by_sight if chain.table else ()
    lines += [_sight_line(finding, by_sight) for finding in chain.of_the_set]
    for rope in chain.ropes:
        lines += rope_lines(rope, by_sight)
    return lines


def condition_line(condition: Unfavourable) -> str:
    """Write one condition with what shows it and whether it counts."""
    where = "the set" if condition.rope is None else f"rope {condition.rope}"
    finding = condition.finding
    place = f", {finding.at}" if finding is not None and finding.at else ""
    head = f"{KIND_WORDS[condition.kind].capitalize()} on {where}{place}"
    line = f"{head}: {condition.state.value}."
    if condition.kind is FindingKind.UNEQUAL_TENSION:
        line += _assessment_words(condition)
    return line


def _assessment_words(condition: Unfavourable) -> str:
    """What the measurement says of unequal tension."""
    shown = condition.assessment
    if shown is None:
        return " No series was assessed."
    words = f" Evidence: {evidence_words(shown)}."
    if condition.state is ConditionState.CANNOT_TELL and shown.measure_again:
        words += (
            f" What would decide: measure {rope_words(shown.measure_again[:1])} again."
        )
    since = condition.equalised_since
    if since is not None:
        words += f" Equalised since: {evidence_words(since)}. The state as found stays."
    return words


def evidence_words(assessment: Assessment) -> str:
    """Write a result as evidence: answer, interval, limit, condition."""
    return (
        f'series "{assessment.measurement.series.name}" '
        f"{VERDICT_WORDS[assessment.verdict]}, {spread_words(assessment.spread)}, "
        f"limit {limit_text(assessment.rule.limit)}; {condition_words(assessment)}"
    )


def table_line(chain: Chain) -> str:
    """Say which table is used, and whether somebody has it open."""
    allowance, table = chain.allowance, chain.table
    if table is None:
        return "Allowance: no table is named; nothing is compared."
    if not allowance.is_confirmed:
        missing = ", ".join(allowance.missing)
        return (
            f"Allowance: {table_words(table)} Not confirmed (missing: {missing}); "
            "nothing is compared."
        )
    return (
        f"Allowance: {table_words(table)} Figures typed by {allowance.confirmed_by} on "
        f"{allowance.date} from edition {allowance.edition}, page {allowance.page}"
        f"{', inspected monthly' if allowance.is_inspected_monthly else ''}."
    )


def table_words(table: AllowanceTable) -> str:
    """Name a table with its source and standing."""
    scope = f" For {table.scope}." if table.scope else ""
    return (
        f"{table.name}, {table.source} ({table.edition}; standing: "
        f"{table.standing.value}).{scope}"
    )


def rope_lines(rope: RopeChain, by_sight: Sequence[str] = ()) -> list[str]:
    """Write what was found on one rope and what the table says of it.

    Parameters
    ----------
    rope : RopeChain
        The rope.
    by_sight : sequence of str, optional
        Kinds of finding for which the table discards.
    """
    lines = [break_line(comparison) for comparison in rope.breaks]
    lines += [diameter_line(comparison) for comparison in rope.diameters]
    lines += [gauge_line(comparison) for comparison in rope.gauges]
    lines += [_lay_line(change) for change in rope.lays]
    lines += [_sight_line(finding, by_sight) for finding in rope.deformations]
    return lines


def _sight_line(finding: Finding, by_sight: Sequence[str]) -> str:
    """What is judged by sight, and whether the table names it."""
    where = "The set" if finding.rope is None else f"Rope {finding.rope}"
    named = "the table discards for it; " if finding.kind.value in by_sight else ""
    return (
        f"{where}: {KIND_WORDS[finding.kind]} seen{spot(finding)}; {named}judged by "
        "sight by the inspector."
    )


def _lay_line(change: LayChange) -> str:
    """A lay length against its baseline."""
    lay = written(change.lay, Dimension.LENGTH, uncertainty=0.5e-3)
    head = f"Rope {change.finding.rope}: one lay {lay}{spot(change.finding)}"
    if change.fault:
        return f"{head}; {change.fault}."
    if change.change is None:
        return f"{head}; no baseline."
    way = "longer" if change.change >= 0 else "shorter"
    return f"{head}; {percent(abs(change.change))} {way} than the baseline."
