"""Every finding that exceeds what a confirmed table allows, one short line each."""

from collections.abc import Iterator
from dataclasses import dataclass

from tension.condition.chain import Chain
from tension.condition.comparison import BreakComparison, Outcome
from tension.condition.diameters import DiameterComparison, GaugeComparison
from tension.quantity.units import Dimension
from tension.report.comparison_words import (
    DIAMETER_RESOLUTION,
    DISTRIBUTION_WORDS,
    GAUGE_WORDS,
    KIND_WORDS,
    break_line,
    diameter_line,
    foreign_words,
    gauge_line,
    limits_words,
)
from tension.report.numbers import written, written_apart


@dataclass(frozen=True, kw_only=True, slots=True)
class Exceeding:
    """One finding that exceeds.

    Attributes
    ----------
    rope : str
        Rope number.
    found, allowed, where : str
        In short words.
    excess : float
        How far it exceeds: found over allowed, for the order of the worst. [1]
    line : str
        The same as the chain says it in full.
    asks : str
        What a reader must ask of it; empty if nothing.
    """

    rope: str
    found: str
    allowed: str
    where: str
    excess: float
    line: str
    asks: str = ""


def exceeding(chain: Chain) -> tuple[Exceeding, ...]:
    """Find every finding that exceeds."""
    return tuple(one for rope in chain.ropes for one in _of_rope(chain, rope.rope))


def _of_rope(chain: Chain, number: int) -> Iterator[Exceeding]:
    """What exceeds on one rope."""
    rope = chain.ropes[number - 1]
    for count in rope.breaks:
        if count.outcome is Outcome.EXCEEDS:
            yield _of_breaks(count)
    for diameter in rope.diameters:
        if diameter.outcome is Outcome.EXCEEDS:
            yield _of_diameter(diameter)
    for gauge in rope.gauges:
        if gauge.outcome is Outcome.EXCEEDS:
            yield _of_gauge(gauge)


def _of_breaks(comparison: BreakComparison) -> Exceeding:
    """A count of broken wires."""
    finding, limits = comparison.finding, comparison.allowed
    how = finding.distribution
    reasons = ", ".join(
        dict.fromkeys(KIND_WORDS[c.kind] for c in comparison.reduced_by)
    )
    allowed = "" if limits is None else limits_words(limits, comparison.when)
    if reasons and comparison.typed is not None:
        full = limits_words(comparison.typed, comparison.when)
        allowed = f"{full}, reduced once to {allowed} ({reasons})"
    excess = 1.0
    if limits is not None and limits.lay is not None:
        excess = (finding.broken or 0) / max(float(limits.lay), 0.5)
    return Exceeding(
        rope=_number(finding.rope),
        found=f"{_number(finding.broken)} broken"
        + (f", {DISTRIBUTION_WORDS[how]}" if how else ""),
        allowed=allowed,
        where=finding.at,
        excess=excess,
        line=break_line(comparison),
        asks=foreign_words(comparison).strip(),
    )


def _of_diameter(comparison: DiameterComparison) -> Exceeding:
    """A diameter."""
    least = comparison.mean if comparison.least is None else comparison.least
    mean, bound = written_apart(
        comparison.mean, least, Dimension.LENGTH, resolution=DIAMETER_RESOLUTION
    )
    return Exceeding(
        rope=_number(comparison.finding.rope),
        found=f"diameter, mean {mean}",
        allowed=f"at least {bound}",
        where=comparison.finding.at,
        excess=float(least / comparison.mean) if comparison.mean else 2.0,
        line=diameter_line(comparison),
    )


def _of_gauge(comparison: GaugeComparison) -> Exceeding:
    """A gauge."""
    finding = comparison.finding
    enough = "first step" if comparison.has_rouge else "whole groove"
    return Exceeding(
        rope=_number(finding.rope),
        found="gauge " + " and ".join(GAUGE_WORDS[entry] for entry in finding.gauge),
        allowed=f"due at the {enough} (common practice, no source)",
        where=finding.at,
        excess=1.0,
        line=gauge_line(comparison),
    )


def _number(number: int | None) -> str:
    """A whole number."""
    return written(None if number is None else float(number))
