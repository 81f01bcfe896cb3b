"""As found and as left, in words."""

from tension.adjustment.comparison import Comparison, RopeChange
from tension.adjustment.origins import KnownFrom, Origin
from tension.adjustment.plan_details import origin_text
from tension.adjustment.text import (
    TextLine,
    heading,
    item,
    percent_text,
    reason_lines,
    sentence,
    turns_text,
)
from tension.assessment.outcome import Assessment
from tension.assessment.words import limit_text
from tension.quantity.units import Dimension, UnitSystem, show_quantity


def comparison_lines(comparison: Comparison, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what the turns have changed and what is learned from it."""
    trips = comparison.round_trips
    ran = (
        "whether the car ran in between is not recorded"
        if trips is None
        else f"the car ran {trips} round {'trip' if trips == 1 else 'trips'}"
    )
    lines = [
        heading("AS FOUND AND AS LEFT"),
        sentence(_series_text("As found", comparison.as_found)),
        sentence(_series_text("As left", comparison.as_left) + f" Between them {ran}."),
        heading("Share as found, turns, share as left; change, of it expected"),
        *(item(change_text(change)) for change in comparison.changes),
    ]
    remains = comparison.as_left.spread
    if remains.observed is not None:
        rule = comparison.as_left.rule
        lines.append(
            sentence(
                f"What remains: {percent_text(remains.observed)} "
                f"({remains.metric.value}), limit {limit_text(rule.limit)}."
            )
        )
    learned = comparison.learned
    if learned is not None:
        origin = Origin(
            name="Learned: stiffness once the car has run",
            value=learned.set_stiffness,
            dimension=Dimension.STIFFNESS,
            known_from=KnownFrom.LEARNED,
            source=learned.source,
            relative_uncertainty=learned.set_uncertainty,
        )
        each = ", ".join(
            show_quantity(k, Dimension.STIFFNESS, units, digits=3).split(" ")[0]
            for k in learned.stiffnesses
        )
        lines.append(sentence(origin_text(origin, units) + "."))
        lines.append(
            sentence(
                f"Rope by rope {each}, each against the set known to "
                f"{100 * learned.own_uncertainty:.0f} %. The next plan uses it."
            )
        )
    if comparison.notes:
        lines += [heading("To know"), *reason_lines(comparison.notes)]
    return tuple(lines)


def change_text(change: RopeChange) -> str:
    """Write one rope as found and as left."""
    way = "+" if change.turns > 0 else "-"
    made = f"{way}{turns_text(change.turns)}" if change.turns else "not turned"
    text = (
        f"Rope {change.number}: {percent_text(change.share_before)}, {made}, "
        f"{percent_text(change.share_after)}; {100 * change.achieved:+.1f}"
    )
    if change.predicted is not None:
        text += f" of {100 * change.predicted:+.1f}"
    return f"{text} points"


def _series_text(name: str, assessment: Assessment) -> str:
    """Name, verdict and spread of one series."""
    spread = assessment.spread
    text = (
        f'{name} (series "{assessment.measurement.series.name}"): '
        f"{assessment.verdict.value.replace('-', ' ')}"
    )
    if spread.observed is None:
        return f"{text}."
    text += f", spread {percent_text(spread.observed)}"
    if spread.lower is not None and spread.upper is not None:
        text += f" ({percent_text(spread.lower)} to {percent_text(spread.upper)})"
    return f"{text}."
