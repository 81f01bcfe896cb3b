"""As found and as left, and the check of the springs, in words and as a table."""

from tension.adjustment.comparison import Comparison, RopeChange
from tension.adjustment.springs import SpringCheck, SpringLoad, are_level
from tension.adjustment.stiffness import KnownFrom, Origin
from tension.assessment.outcome import Assessment
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.telling.lines import TextLine, heading, items, reason_lines, sentence
from tension.telling.numbers import load_text, turns_text
from tension.telling.plans import HITCH_WORDS, origin_lines, origin_text
from tension.wording import limit_text, percent_text


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
        *items(map(change_text, comparison.changes)),
    ]
    remains = comparison.as_left.spread
    if remains.observed is not None:
        lines.append(
            sentence(
                f"What remains: {percent_text(remains.observed)} "
                f"({remains.metric.value}), limit "
                f"{limit_text(comparison.as_left.rule.limit)}."
            )
        )
    lines += _learned_lines(comparison, units)
    return (*lines, *reason_lines(comparison.notes, "To know"))


def _learned_lines(comparison: Comparison, units: UnitSystem) -> list[TextLine]:
    """The stiffness learned, for the set and rope by rope."""
    learned = comparison.learned
    if learned is None:
        return []
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
    return [
        sentence(f"{origin_text(origin, units)}."),
        sentence(
            f"Rope by rope {each}, each against the set known to "
            f"{100 * learned.own_uncertainty:.0f} %. The next plan uses it."
        ),
    ]


def signed_turns(turns: float) -> str:
    """Write turns [turns] as made on a nut, with their sign."""
    return f"{'+' if turns > 0 else '-'}{turns_text(turns)}"


def change_text(change: RopeChange) -> str:
    """Write one rope as found and as left."""
    made = signed_turns(change.turns) if change.turns else "not turned"
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
        f"{assessment.verdict.words}"
    )
    if spread.observed is None:
        return f"{text}."
    text += f", spread {percent_text(spread.observed)}"
    if spread.lower is not None and spread.upper is not None:
        text += f" ({percent_text(spread.lower)} to {percent_text(spread.upper)})"
    return f"{text}."


SPRING_HEADERS = ("Spring", "Length", "By length", "Otherwise", "Way left", "")
"""Columns: rope number, working length, both loads, margin at 125 % load, in words."""


def spring_rows(check: SpringCheck, units: UnitSystem) -> tuple[tuple[str, ...], ...]:
    """Write each spring as a row of a table; "-" where nothing is known."""
    return tuple(
        (
            str(spring.rope),
            small_length(spring.length, units),
            load_text(spring.by_length, spring.by_length_uncertainty, units),
            load_text(spring.by_reading, spring.by_reading_uncertainty, units),
            "-" if spring.margin is None else f"{100 * spring.margin:.0f} %",
            _oddity(spring, check),
        )
        for spring in check.springs
    )


def _oddity(spring: SpringLoad, check: SpringCheck) -> str:
    """What is odd about one spring."""
    solid, free = check.solid_length, check.free_length
    if free is not None and spring.length >= free.value:
        return "NOT PRESSED"
    if (
        solid is not None
        and spring.by_length is None
        and spring.length < (solid.value + 0.001)
    ):
        return "SOLID"
    return "STANDS OUT" if spring.stands_out else ""


def spring_heading(check: SpringCheck) -> TextLine:
    """Name the hitch."""
    return heading(f"SPRINGS at the {HITCH_WORDS[check.hitch.at]}")


def spring_lines(check: SpringCheck, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what stands under the table: slope, where numbers come from, notes."""
    lines = []
    if are_level(check):
        lines.append(sentence("The springs look level; that does not decide."))
    slope = check.slope
    if slope is not None:
        rate = show_quantity(
            slope.rate, Dimension.STIFFNESS, units, uncertainty=slope.uncertainty
        )
        lines.append(sentence(f"Slope of the set, tension against length: {rate}."))
    if check.rated_tension is not None:
        lines.append(
            sentence(
                "An even share at 125 % of rated load is "
                f"{force_text(check.rated_tension, units)} a rope."
            )
        )
    origins = (check.rate, check.free_length, check.solid_length, _preload(check))
    known = tuple(origin for origin in origins if origin is not None)
    if known:
        lines += origin_lines(known, units)
    return (*lines, *reason_lines(check.notes, "To know"))


def _preload(check: SpringCheck) -> Origin | None:
    """The preload as typed."""
    if check.preload is None:
        return None
    return Origin(
        name="spring preload",
        value=check.preload.value,
        dimension=Dimension.FORCE,
        known_from=KnownFrom.TYPED,
        source=check.preload.text,
    )
