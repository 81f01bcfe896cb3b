"""Comparisons in words: what was counted, what the figure typed allows, what to ask."""

from tension.catalogue.allowances import When
from tension.condition.comparison import BreakComparison, BreakLimits, Outcome
from tension.condition.diameters import DiameterComparison, GaugeComparison
from tension.condition.findings import Distribution, Finding, FindingKind, GaugeEntry
from tension.quantity.units import Dimension
from tension.report.numbers import written, written_apart

DIAMETER_RESOLUTION = 0.05e-3
"""To what a mean of two calliper readings is written. [m]"""

KIND_WORDS = {
    FindingKind.ROUGE: "rouge",
    FindingKind.CORROSION: "corrosion",
    FindingKind.CROWN_WEAR: "crown wear",
    FindingKind.DIAMETER: "diameter",
    FindingKind.BROKEN_WIRES: "broken wires",
    FindingKind.LAY_LENGTH: "lay length",
    FindingKind.KINK: "kink",
    FindingKind.BIRDCAGE: "birdcage",
    FindingKind.STRAND_OUT: "strand pushed out",
    FindingKind.FLATTENED: "flattened part",
    FindingKind.GROOVE: "poor groove",
    FindingKind.CROSSED: "crossed rope",
    FindingKind.UNEQUAL_TENSION: "unequal tension",
    FindingKind.OTHER: "other",
}

DISTRIBUTION_WORDS = {
    Distribution.SPREAD: "spread over the strands",
    Distribution.ONE_OR_TWO_STRANDS: "mainly in one or two strands",
    Distribution.SIDE_BY_SIDE: "side by side in one strand",
    Distribution.VALLEY: "in a valley",
}

GAUGE_WORDS = {
    GaugeEntry.STAYS_OUT: "stayed out",
    GaugeEntry.FIRST_STEP: "entered to the first step",
    GaugeEntry.WHOLE_GROOVE: "entered the whole groove",
}


def break_line(comparison: BreakComparison) -> str:
    """Write one count of broken wires and what comes of it.

    Returns
    -------
    str
        One sentence, and what a reader must ask.
    """
    finding, outcome = comparison.finding, comparison.outcome
    if outcome is Outcome.COULD_NOT_SEE:
        return f"Rope {finding.rope}: broken wires{spot(finding)} could not be seen."
    if outcome is Outcome.NONE_BROKEN:
        return f"Rope {finding.rope}: no broken wire{spot(finding)}."
    head = f"Rope {finding.rope}: {_count_words(finding)}{spot(finding)}"
    if comparison.typed is None:
        return f"{head}; {outcome.value}."
    words = _allowed_words(comparison, comparison.typed)
    return f"{head}; {words}: {outcome.value}.{_asks(comparison)}"


def _count_words(finding: Finding) -> str:
    """What was counted, and over what length."""
    lay = f" ({finding.lay.text})" if finding.lay else " (its length not written down)"
    parts = [f"{finding.broken} broken in one lay{lay}"]
    if finding.distribution:
        parts.append(DISTRIBUTION_WORDS[finding.distribution])
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
        reasons = ", ".join(
            dict.fromkeys(KIND_WORDS[c.kind] for c in comparison.reduced_by)
        )
        reduced = limits_words(comparison.allowed, comparison.when)
        words += f", reduced once to {reduced} for {reasons}"
    return words


def limits_words(limits: BreakLimits, when: When) -> str:
    """Write allowances of the lay and of one strand."""
    bound = "up to" if when is When.OVER else "fewer than"
    words = f"{bound} {written(None if limits.lay is None else float(limits.lay))}"
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
        asks.append(
            "For badly rusted or worn wires the table has less, where the inspector "
            "counts that."
        )
    return "".join(f" {ask}" for ask in asks)


def foreign_words(comparison: BreakComparison) -> str:
    """Ask whether unequal tension by another code's rule counts in this table.

    Returns
    -------
    str
        One sentence after a space; empty if there is nothing to ask.
    """
    if not comparison.foreign_rules or comparison.unreduced is None:
        return ""
    names = ", ".join(rule.name for rule in comparison.foreign_rules)
    return (
        f" Unequal tension is shown by another rule than this table's ({names}): ask "
        "whether the table's code counts it; not reduced: "
        f"{comparison.unreduced.value}."
    )


def diameter_line(comparison: DiameterComparison) -> str:
    """Write one diameter and what comes of it."""
    finding = comparison.finding
    readings = " and ".join(reading.text for reading in finding.diameters)
    least = comparison.least
    mean, bound = written_apart(
        comparison.mean,
        comparison.mean if least is None else least,
        Dimension.LENGTH,
        resolution=DIAMETER_RESOLUTION,
    )
    head = f"Rope {finding.rope}: diameter {readings}, mean {mean}{spot(finding)}"
    if least is None:
        return f"{head}; {comparison.outcome.value}."
    basis = f" ({comparison.basis})" if comparison.basis else ""
    words = f"{head}; the figure typed is at least {bound}{basis}"
    if comparison.outcome is Outcome.EXCEEDS:
        outcome = "under it"
    elif comparison.outcome is Outcome.WITHIN:
        outcome = "not under it"
    else:
        outcome = comparison.outcome.value
    return f"{words}: {outcome}.{_diameter_asks(comparison)}"


def _diameter_asks(comparison: DiameterComparison) -> str:
    """What a reader must know of a diameter."""
    words = ""
    if comparison.is_smaller_under and comparison.outcome is Outcome.WITHIN:
        words += " The smaller reading alone is under it."
    held, standing = comparison.held, comparison.standing
    if held is not None and held != comparison.least and standing is not None:
        copy = written(
            float(held), Dimension.LENGTH, uncertainty=DIAMETER_RESOLUTION / 10.0
        )
        words += f" This program's copy ({standing.value}) has {copy}."
    return words


def gauge_line(comparison: GaugeComparison) -> str:
    """Write what a gauge did in its two directions."""
    finding = comparison.finding
    did = " and ".join(GAUGE_WORDS[entry] for entry in finding.gauge)
    size = f" {finding.gauge_size}" if finding.gauge_size else ""
    head = f"Rope {finding.rope}: gauge{size} {did} (two directions){spot(finding)}"
    if comparison.outcome is Outcome.EXCEEDS:
        enough = "first step" if comparison.has_rouge else "whole groove"
        return f"{head}; due by the gauge ({enough}; common practice, no source)."
    if comparison.outcome is Outcome.WITHIN:
        return f"{head}; not due by the gauge (common practice, no source)."
    return f"{head}; {comparison.outcome.value}."


def spot(finding: Finding) -> str:
    """Say where something was found.

    Returns
    -------
    str
        After a comma; empty if it was not written down.
    """
    return f", {finding.at}" if finding.at else ""
