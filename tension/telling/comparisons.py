"""As found and as left, and the check of the springs, in words and as a table."""

from collections.abc import Sequence

from tension.adjustment.comparison import Comparison, RopeChange
from tension.adjustment.springs import SpringCheck, SpringLoad, are_level
from tension.adjustment.stiffness import KnownFrom, Origin
from tension.adjustment.turns import Turn
from tension.assessment.outcome import Assessment
from tension.installation import Hitch, Rope
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.telling.lines import (
    TextLine,
    heading,
    items,
    reason_lines,
    sentence,
    told,
    word,
)
from tension.telling.numbers import (
    count_text,
    load_text,
    turns_text,
    typed_and_si,
    written,
)
from tension.telling.plans import origin_lines, origin_text
from tension.wording import limit_text, percent_text

SPRING_HEADERS = ("Spring", "Length", "By length", "Otherwise", "Way left", "")
"""Columns: rope number, working length, both loads, margin at 125 % load, in words."""


def comparison_lines(comparison: Comparison, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what the turns have changed and what is learned from it."""
    trips = comparison.round_trips
    key = {None: "not-recorded", 1: "one-trip"}.get(trips, "trips")
    ran = told(f"comparisons.{key}", trips=trips)
    as_left = comparison.as_left
    lines = [
        heading("AS FOUND AND AS LEFT"),
        sentence(_series_text("comparisons.as-found", comparison.as_found)),
        sentence(f"{_series_text('comparisons.as-left', as_left)} {ran}"),
        heading(told("comparisons.columns")),
        *items(map(change_text, comparison.changes)),
    ]
    remains = as_left.spread
    if remains.observed is not None:
        text = told(
            "comparisons.remains",
            spread=percent_text(remains.observed),
            metric=remains.metric.value,
            limit=limit_text(as_left.rule.limit),
        )
        lines.append(sentence(text))
    lines += _learned_lines(comparison, units)
    return (*lines, *reason_lines(comparison.notes, "To know"))


def _learned_lines(comparison: Comparison, units: UnitSystem) -> list[TextLine]:
    """The stiffness learned, for the set and rope by rope."""
    learned = comparison.learned
    if learned is None:
        return []
    origin = Origin(
        name=told("comparisons.learned"),
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
    width = f"{100 * learned.own_uncertainty:.0f}"
    return [
        sentence(f"{origin_text(origin, units)}."),
        sentence(told("comparisons.rope-by-rope", each=each, width=width)),
    ]


def signed_turns(turns: float) -> str:
    """Write turns [turns] as made on a nut, with their sign."""
    return f"{'+' if turns > 0 else '-'}{turns_text(turns)}"


def change_text(change: RopeChange) -> str:
    """Write one rope as found and as left."""
    expected = change.predicted
    not_turned = told("comparisons.not-turned")
    return told(
        "comparisons.rope" if expected is None else "comparisons.rope-expected",
        rope=change.number,
        before=percent_text(change.share_before),
        turns=signed_turns(change.turns) if change.turns else not_turned,
        after=percent_text(change.share_after),
        change=f"{100 * change.achieved:+.1f}",
        expected=f"{100 * (expected or 0.0):+.1f}",
    )


def _series_text(key: str, assessment: Assessment) -> str:
    """Name, verdict and spread of one series."""
    spread = assessment.spread
    if spread.observed is None:
        way = "series"
    elif spread.lower is None or spread.upper is None:
        way = "series-spread"
    else:
        way = "series-between"
    return told(
        f"comparisons.{way}",
        name=told(key),
        series=assessment.measurement.series.name,
        verdict=assessment.verdict.words,
        spread=percent_text(spread.observed),
        lower=percent_text(spread.lower),
        upper=percent_text(spread.upper),
    )


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
    is_near = solid is not None and spring.length < solid.value + 0.001
    if is_near and spring.by_length is None:
        return "SOLID"
    return "STANDS OUT" if spring.stands_out else ""


def spring_heading(check: SpringCheck) -> TextLine:
    """Name the hitch."""
    return heading(told("comparisons.springs-at", hitch=word(check.hitch.at)))


def spring_lines(check: SpringCheck, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what stands under the table: slope, where numbers come from, notes."""
    lines = []
    if are_level(check):
        lines.append(sentence(told("comparisons.level")))
    slope, preload = check.slope, check.preload
    if slope is not None:
        rate = show_quantity(
            slope.rate, Dimension.STIFFNESS, units, uncertainty=slope.uncertainty
        )
        lines.append(sentence(told("comparisons.slope", rate=rate)))
    if check.rated_tension is not None:
        force = force_text(check.rated_tension, units)
        lines.append(sentence(told("comparisons.even-share", force=force)))
    origins = [check.rate, check.free_length, check.solid_length]
    if preload is not None:
        typed = Origin(
            name="spring preload",
            value=preload.value,
            dimension=Dimension.FORCE,
            known_from=KnownFrom.TYPED,
            source=preload.text,
        )
        origins.append(typed)
    if known := tuple(origin for origin in origins if origin is not None):
        lines += origin_lines(known, units)
    return (*lines, *reason_lines(check.notes, "To know"))


def thread_cells(
    rope: Rope, hitches: Sequence[Hitch], turns: Sequence[Turn]
) -> tuple[str, ...]:
    """Write the thread left on the rods of one rope, as read and after the turns."""
    pitches = {h.at: h.thread.pitch for h in hitches if h.thread}
    turned = [t for t in turns if t.rope == rope.number and t.hitch in pitches]
    drawn = sum(t.turns.value * pitches[t.hitch] for t in turned)
    left = [
        None if read is None else read.value + sign * drawn
        for read, sign in ((rope.take_up_left, -1.0), (rope.ease_left, 1.0))
    ]
    return (
        count_text(rope.number),
        typed_and_si(rope.take_up_left),
        typed_and_si(rope.ease_left),
        written(sum(t.turns.value for t in turned), Dimension.TURNS),
        *(written(one, Dimension.LENGTH, uncertainty=0.5e-3) for one in left),
    )
