"""Findings in words: condition shown, allowance, count, comparison, what exceeds."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tension.assessment.outcome import Assessment
from tension.catalogue.allowances import AllowanceTable, When
from tension.condition.chain import (
    Chain,
    DiameterComparison,
    GaugeComparison,
    LayChange,
    RopeChain,
)
from tension.condition.checks import Check
from tension.condition.comparison import BreakComparison, BreakLimits, Outcome
from tension.condition.findings import Finding, FindingKind
from tension.condition.rope_class import LEAST, MOST, LayFault
from tension.condition.unfavourable import ConditionState, Unfavourable
from tension.quantity.showing import rounded_text
from tension.quantity.units import Dimension
from tension.telling.lines import joined, told, word
from tension.telling.numbers import count_text, typed_and_si, written, written_apart
from tension.telling.results import condition_words, spread_words
from tension.wording import limit_text, percent_text, rope_list

_DECIMALS = 5
"""To what a mean of two calliper readings is written: hundredths of a millimetre."""

CLOSING = told("condition.closing")


def break_line(comparison: BreakComparison) -> str:
    """Write one count of broken wires, what comes of it, and what must be asked."""
    finding, outcome = comparison.finding, comparison.outcome
    if outcome is Outcome.COULD_NOT_SEE:
        return f"Rope {finding.rope}: broken wires{spot(finding)} could not be seen."
    if outcome is Outcome.NONE_BROKEN:
        return f"Rope {finding.rope}: no broken wire{spot(finding)}."
    head = f"Rope {finding.rope}: {_count_words(finding)}{spot(finding)}"
    if comparison.typed is None:
        return f"{head}; {word(outcome)}."
    words = _allowed_words(comparison, comparison.typed)
    return f"{head}; {words}: {word(outcome)}.{_asks(comparison)}"


def _count_words(finding: Finding) -> str:
    """What was counted, and over what length."""
    lay = f" ({finding.lay.text})" if finding.lay else " (its length not written down)"
    parts = [f"{finding.broken} broken in one lay{lay}"]
    if finding.distribution:
        parts.append(word(finding.distribution))
    if finding.adjacent is not None:
        parts.append(f"{finding.adjacent} of them side by side")
    if finding.in_one_strand is not None:
        parts.append(f"at most {finding.in_one_strand} in one strand")
    return ", ".join(parts)


def _allowed_words(comparison: BreakComparison, typed: BreakLimits) -> str:
    """What the confirmed figure allows, by class, reduced where a condition counts."""
    words = (
        f"class {comparison.rope_class}, the figure typed allows "
        f"{limits_words(typed, comparison.when)}"
    )
    if comparison.reduced_by and comparison.allowed is not None:
        reduced = limits_words(comparison.allowed, comparison.when)
        words += f", reduced once to {reduced} for {_reducing(comparison)}"
    return words


def _reducing(comparison: BreakComparison) -> str:
    """The conditions that reduce what is allowed, each once."""
    return ", ".join(dict.fromkeys(word(c.kind) for c in comparison.reduced_by))


def limits_words(limits: BreakLimits, when: When) -> str:
    """Write allowances of the lay and of one strand."""
    bound = "up to" if when is When.OVER else "fewer than"
    words = f"{bound} {written(float(limits.lay))}"
    if limits.strand is not None:
        words += f", {bound} {written(float(limits.strand))} in one strand"
    return words


def _asks(comparison: BreakComparison) -> str:
    """What a reader must ask of a count."""
    asks = []
    typed, held, row = comparison.typed, comparison.held, comparison.row
    if held is not None and row is not None and held != typed:
        copy = limits_words(held, comparison.when)
        asks.append(f"This program's copy ({row.standing.value}) has {copy}.")
    if foreign := foreign_words(comparison).strip():
        asks.append(foreign)
    if row is not None and row.in_strand_worn is not None and not comparison.is_worn:
        asks.append(told("condition.worn"))
    return "".join(f" {ask}" for ask in asks)


def foreign_words(comparison: BreakComparison) -> str:
    """Ask whether unequal tension by another code's rule counts in this table.

    One sentence after a space; empty if there is nothing to ask.
    """
    if not comparison.foreign_rules or comparison.unreduced is None:
        return ""
    names = ", ".join(rule.name for rule in comparison.foreign_rules)
    outcome = word(comparison.unreduced)
    return " " + told("condition.another-rule", rules=names, outcome=outcome)


def diameter_line(comparison: DiameterComparison) -> str:
    """Write one diameter and what comes of it."""
    finding, least = comparison.finding, comparison.least
    readings = " and ".join(reading.text for reading in finding.diameters)
    mean, bound = _mean_and_bound(comparison)
    head = f"Rope {finding.rope}: diameter {readings}, mean {mean}{spot(finding)}"
    if least is None:
        return f"{head}; {word(comparison.outcome)}."
    basis = f" ({on})" if (on := _basis(comparison)) else ""
    words = f"{head}; the figure typed is at least {bound}{basis}"
    if comparison.outcome is Outcome.EXCEEDS:
        outcome = "under it"
    elif comparison.outcome is Outcome.WITHIN:
        outcome = "not under it"
    else:
        outcome = word(comparison.outcome)
    return f"{words}: {outcome}.{_diameter_asks(comparison)}"


def _basis(comparison: DiameterComparison) -> str:
    """What was typed, and whether rouge counts in it; empty for a least diameter."""
    figure = comparison.figure
    if comparison.is_by_rouge:
        return "where rouge shows"
    if figure is not None and figure.least_fraction is not None:
        return f"{figure.least_fraction.text} of nominal"
    if figure is not None and figure.most_loss is not None:
        return f"loss {figure.most_loss.text}"
    return ""


def _mean_and_bound(comparison: DiameterComparison) -> tuple[str, str]:
    """Mean and least diameter, told apart in writing."""
    least = comparison.mean if comparison.least is None else comparison.least
    return written_apart(comparison.mean, least, Dimension.LENGTH, decimals=_DECIMALS)


def _diameter_asks(comparison: DiameterComparison) -> str:
    """What a reader must know of a diameter."""
    words = ""
    if comparison.is_smaller_under and comparison.outcome is Outcome.WITHIN:
        words += " The smaller reading alone is under it."
    held, standing = comparison.held, comparison.standing
    if held is not None and held != comparison.least and standing is not None:
        copy = written(float(held), Dimension.LENGTH, uncertainty=10.0**-_DECIMALS)
        words += f" This program's copy ({standing.value}) has {copy}."
    return words


def gauge_line(comparison: GaugeComparison) -> str:
    """Write what a gauge did in its two directions."""
    finding = comparison.finding
    did = " and ".join(word(entry) for entry in finding.gauge)
    size = f" {finding.gauge_size}" if finding.gauge_size else ""
    head = f"Rope {finding.rope}: gauge{size} {did} (two directions){spot(finding)}"
    if comparison.outcome is Outcome.EXCEEDS:
        enough = "first step" if comparison.has_rouge else "whole groove"
        return f"{head}; due by the gauge ({enough}; common practice, no source)."
    if comparison.outcome is Outcome.WITHIN:
        return f"{head}; not due by the gauge (common practice, no source)."
    return f"{head}; {word(comparison.outcome)}."


def spot(finding: Finding) -> str:
    """Say where something was found, after a comma; empty if nobody wrote it down."""
    return f", {finding.at}" if finding.at else ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Exceeding:
    """One finding that exceeds, in short words, and what a reader must ask of it.

    The excess is found over allowed, for the order of the worst. [1]
    """

    rope: str
    found: str
    allowed: str
    where: str
    excess: float
    asks: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class ChainLine:
    """One sentence of the chain, weighty if it stands before others on a first page.

    Where a finding exceeds what is allowed, the same in short words.
    """

    text: str
    is_weighty: bool = True
    exceeding: Exceeding | None = None


def chain_lines(chain: Chain) -> list[ChainLine]:
    """Write the chain: conditions, the table, then rope by rope.

    Empty without findings.
    """
    if chain.is_empty:
        return []
    light = {ConditionState.NOT_SEEN, ConditionState.NOT_SHOWN}
    lines = [
        ChainLine(text=condition_line(one), is_weighty=one.state not in light)
        for one in chain.conditions
    ]
    if any(rope.has_anything for rope in chain.ropes):
        lines.append(ChainLine(text=table_line(chain)))
    by_sight = chain.table.by_sight if chain.table else ()
    lines += [_sight_line(finding, by_sight) for finding in chain.of_the_set]
    for rope in chain.ropes:
        lines += _rope_lines(rope, by_sight)
    return lines


def condition_line(condition: Unfavourable) -> str:
    """Write one condition with what shows it and whether it counts."""
    where = "the set" if condition.rope is None else f"rope {condition.rope}"
    place = spot(condition.finding) if condition.finding is not None else ""
    head = f"{word(condition.kind).capitalize()} on {where}{place}"
    line = f"{head}: {word(condition.state)}."
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
            f" What would decide: measure {rope_list(shown.measure_again[:1])} again."
        )
    since = condition.equalised_since
    if since is not None:
        words += f" Equalised since: {evidence_words(since)}. The state as found stays."
    return words


def evidence_words(assessment: Assessment) -> str:
    """Write a result as evidence: answer, interval, limit, condition."""
    return (
        f'series "{assessment.measurement.series.name}" '
        f"{assessment.verdict.banner}, {spread_words(assessment.spread)}, "
        f"limit {limit_text(assessment.rule.limit)}; {condition_words(assessment)}"
    )


def table_line(chain: Chain) -> str:
    """Say which table is used, and whether somebody has it open."""
    allowance, table = chain.allowance, chain.table
    if table is None:
        return told("condition.no-table")
    missing = ", ".join(allowance.missing)
    monthly = "-monthly" if allowance.is_inspected_monthly else ""
    key = f"confirmed{monthly}" if allowance.is_confirmed else "not-confirmed"
    if allowance.is_of_the_future:
        key = "not-confirmed-future" if missing else "future"
    return told(
        f"condition.{key}",
        table=table_words(table),
        missing=missing,
        by=allowance.confirmed_by,
        date=allowance.date,
        edition=allowance.edition,
        page=allowance.page,
    )


def table_words(table: AllowanceTable) -> str:
    """Name a table with its source and standing."""
    scope = f" For {table.scope}." if table.scope else ""
    return (
        f"{table.name}, {table.source} ({table.edition}; standing: "
        f"{table.standing.value}).{scope}"
    )


def _rope_lines(rope: RopeChain, by_sight: Sequence[str]) -> Iterator[ChainLine]:
    """What was found on one rope and what the table says of it."""
    for count in rope.breaks:
        is_light = count.outcome in {Outcome.WITHIN, Outcome.NONE_BROKEN}
        yield ChainLine(
            text=break_line(count),
            is_weighty=not is_light or bool(foreign_words(count)),
            exceeding=_of_breaks(count) if count.outcome is Outcome.EXCEEDS else None,
        )
    for one in rope.diameters:
        over = _of_diameter(one) if one.outcome is Outcome.EXCEEDS else None
        yield ChainLine(text=diameter_line(one), exceeding=over)
    for gauge in rope.gauges:
        over = _of_gauge(gauge) if gauge.outcome is Outcome.EXCEEDS else None
        yield ChainLine(text=gauge_line(gauge), exceeding=over)
    for change in rope.lays:
        yield ChainLine(text=_lay_line(change), is_weighty=False)
    for finding in rope.deformations:
        yield _sight_line(finding, by_sight)


def _sight_line(finding: Finding, by_sight: Sequence[str]) -> ChainLine:
    """What is judged by sight, and whether the table names it."""
    where = "The set" if finding.rope is None else f"Rope {finding.rope}"
    named = "the table discards for it; " if finding.kind.value in by_sight else ""
    return ChainLine(
        text=f"{where}: {word(finding.kind)} seen{spot(finding)}; {named}judged "
        "by sight by the inspector."
    )


def _lay_line(change: LayChange) -> str:
    """A lay length against its baseline."""
    lay = written(change.lay, Dimension.LENGTH, uncertainty=0.5e-3)
    head = f"Rope {change.finding.rope}: one lay {lay}{spot(change.finding)}"
    if change.fault:
        return f"{head}; {lay_fault_text(change.fault)}."
    if change.change is None:
        return f"{head}; no baseline."
    way = "longer" if change.change >= 0 else "shorter"
    return f"{head}; {percent_text(abs(change.change))} {way} than the baseline."


def lay_fault_text(fault: LayFault) -> str:
    """Say why a length can be no lay of a rope."""
    what = "one lay" if fault.lays == 1 else f"each of {fault.lays} lays"
    return told(
        "condition.not-a-lay",
        length=fault.length.text,
        what=what,
        diameters=rounded_text(fault.diameters, digits=2),
        least=LEAST,
        most=MOST,
    )


def _of_breaks(comparison: BreakComparison) -> Exceeding:
    """A count of broken wires."""
    finding, limits = comparison.finding, comparison.allowed
    how = finding.distribution
    reasons = _reducing(comparison)
    allowed = "" if limits is None else limits_words(limits, comparison.when)
    if reasons and comparison.typed is not None:
        full = limits_words(comparison.typed, comparison.when)
        allowed = f"{full}, reduced once to {allowed} ({reasons})"
    excess = 1.0
    if limits is not None:
        excess = (finding.broken or 0) / max(float(limits.lay), 0.5)
    return Exceeding(
        rope=count_text(finding.rope),
        found=f"{count_text(finding.broken)} broken"
        + (f", {word(how)}" if how else ""),
        allowed=allowed,
        where=finding.at,
        excess=excess,
        asks=foreign_words(comparison).strip(),
    )


def _of_diameter(comparison: DiameterComparison) -> Exceeding:
    """A diameter."""
    least = comparison.mean if comparison.least is None else comparison.least
    mean, bound = _mean_and_bound(comparison)
    return Exceeding(
        rope=count_text(comparison.finding.rope),
        found=f"diameter, mean {mean}",
        allowed=f"at least {bound}",
        where=comparison.finding.at,
        excess=float(least / comparison.mean) if comparison.mean else 2.0,
    )


def _of_gauge(comparison: GaugeComparison) -> Exceeding:
    """A gauge."""
    finding = comparison.finding
    enough = "first step" if comparison.has_rouge else "whole groove"
    return Exceeding(
        rope=count_text(finding.rope),
        found="gauge " + " and ".join(word(entry) for entry in finding.gauge),
        allowed=f"due at the {enough} (common practice, no source)",
        where=finding.at,
        excess=1.0,
    )


def finding_read(finding: Finding) -> str:
    """Write what was read or counted of a finding."""
    lays = f" over {count_text(finding.lays)} lays" if finding.lays else ""
    how = finding.distribution
    return joined(
        f"{count_text(finding.broken)} broken" if finding.broken is not None else "",
        word(how) if how is not None else "",
        f"lay {typed_and_si(finding.lay)}{lays}" if finding.lay else "",
        f"baseline {typed_and_si(finding.baseline)}" if finding.baseline else "",
        *(typed_and_si(reading) for reading in finding.diameters),
        *(f"gauge {entry.value}" for entry in finding.gauge),
        f"gauge marked {finding.gauge_size}" if finding.gauge_size else "",
        f"groove {count_text(finding.groove)}" if finding.groove else "",
        f"lower by {typed_and_si(finding.seating)}" if finding.seating else "",
        f"crosses rope {count_text(finding.other_rope)}" if finding.other_rope else "",
        f'series "{finding.series}"' if finding.series else "",
    )


def remarks(entry: Finding | Check) -> str:
    """Note, name and photos of a finding or a check; a dash without any."""
    return joined(entry.note, f"by {entry.by}" if entry.by else "", *entry.photos)
