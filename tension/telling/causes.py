"""What a pattern of deviations suggests and what a history shows, in words."""

import datetime as dt
from math import isfinite

from tension.diagnosis.diagnose import SPEAKS
from tension.diagnosis.outcome import (
    Cause,
    Causes,
    Conclusion,
    Diagnosis,
    NextMeasurement,
    Suspect,
    Telltale,
)
from tension.history import (
    History,
    NextCheck,
    Point,
    Returned,
    RopeTrend,
    Track,
)
from tension.quantity.unit_table import POUND_FORCE
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
from tension.wording import limit_text, percent_text, rope_list

_NORMAL_95 = 1.96
_SPEAKS = {
    Conclusion.SUGGESTS,
    Conclusion.TWO_CAUSES,
    Conclusion.UNKNOWN_PATTERN,
}
"""Conclusions that say what to do."""


def causes_text(causes: Causes) -> str:
    """Name what is at work: nothing, one cause or two."""
    return " and ".join(map(word, causes)) or told("causes.none")


def conclusion_line(diagnosis: Diagnosis) -> str:
    """Write the conclusion in one or two sentences."""
    first, key = diagnosis.suspects[0], diagnosis.conclusion.value
    if diagnosis.conclusion is Conclusion.NOTHING_CONCLUDED:
        is_one = diagnosis.pattern.n_series_of_one_setting < 2
        key = "one-series" if is_one else "left-open"
        if is_one and first.weight >= SPEAKS and first.causes:
            key = "one-series-likeliest"
    named, weight = hypothesis_text(first), weight_text(first)
    return told(f"causes.{key}", named=named, weight=weight)


def hypothesis_text(suspect: Suspect) -> str:
    """Name a hypothesis and its ropes, such as "a bound spring or rod, rope 3"."""
    text = causes_text(suspect.causes)
    return f"{text}, {rope_list(suspect.ropes)}" if suspect.ropes else text


def weight_text(suspect: Suspect) -> str:
    """Write a weight, never as certainty."""
    if suspect.weight > 0.99:
        return "over 99 %"
    return f"{100.0 * suspect.weight:.0f} %"


def diagnosis_lines(diagnosis: Diagnosis, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what a pattern suggests."""
    lines = [sentence(conclusion_line(diagnosis))]
    numbers = [telltale_text(t, diagnosis, units) for t in diagnosis.telltales]
    if numbers:
        lines += [heading("THE NUMBERS THAT TELL"), *items(numbers)]
    if diagnosis.conclusion in _SPEAKS:
        acts = [word(cause, "act") for cause in diagnosis.suspects[0].causes]
        lines += [heading("WHAT TO DO"), *items(acts)]
    if diagnosis.next_measurement is not None:
        lines.append(heading("MEASURE NEXT"))
        lines.append(sentence(next_text(diagnosis.next_measurement)))
    lines += reason_lines(diagnosis.notes, "TO KNOW")
    return (*lines, heading("LIMITS"), sentence(told("causes.limits")))


def next_text(after: NextMeasurement) -> str:
    """Write the one further measurement that would settle most."""
    what = word(after.step).format(arrived=after.condition.arrived)
    if after.open_now < 0.3:
        return told("causes.little-open", what=what)
    part = min(after.gain / after.open_now, 1.0)
    return told("causes.next", what=what, part=f"{100.0 * part:.0f} %")


def telltale_text(tale: Telltale, diagnosis: Diagnosis, units: UnitSystem) -> str:
    """Write the number that tells for one cause."""
    name = word(tale.cause)
    places = {
        "name": f"{name[0].upper()}{name[1:]}",
        "rope": tale.rope,
        "where": tale.where,
        "elsewhere": tale.elsewhere,
    }

    def size(value: float, uncertainty: float | None = None) -> str:
        return deviation_text(value, diagnosis, units, uncertainty)

    match tale.cause:
        case Cause.LENGTH:
            key = "off-mean"
            places["size"] = size(tale.value, tale.uncertainty)
            places["apart"] = size(tale.against).lstrip("+")
        case Cause.STIFFNESS | Cause.BOUND_SPRING:
            key = "takes"
            places["value"] = percent_text(tale.value)
            places["uncertainty"] = percent_text(tale.uncertainty)
            places["against"] = percent_text(tale.against)
        case Cause.MASS:
            key = "reads-twice" if isfinite(tale.against) else "reads"
            places["value"] = f"{100 * tale.value:+.1f}"
            places["uncertainty"] = percent_text(tale.uncertainty)
            places["against"] = f"{100 * tale.against:+.1f}"
        case Cause.STAGGER:
            key = "stagger"
            places["against"] = f"{tale.against:.0f}"
            places["length"] = show_quantity(
                tale.value, Dimension.LENGTH, units, uncertainty=tale.uncertainty
            )
        case _:
            key = "changes"
            places["value"], places["against"] = size(tale.value), size(tale.against)
            places["change"] = size(tale.value - tale.against, tale.uncertainty)
    return told(f"causes.{key}", **places)


def deviation_text(
    value: float,
    diagnosis: Diagnosis,
    units: UnitSystem,
    uncertainty: float | None = None,
) -> str:
    """Write a deviation on the scale of the pattern [N], such as "+250 ± 40 N".

    In percent of the mean where only shares are known; the uncertainty is a standard
    one. [N]
    """
    if diagnosis.pattern.is_absolute:
        unit = POUND_FORCE if units is UnitSystem.US else 1.0
        step, name = (1.0, "lbf") if units is UnitSystem.US else (10.0, "N")
    else:
        unit, step, name = diagnosis.pattern.mean_tension / 100.0, 0.1, "%"
    digits = 1 if step < 1 else 0
    shown = f"{step * round(value / unit / step):+.{digits}f}"
    if uncertainty is not None:
        shown += f" ± {max(step * round(uncertainty / unit / step), step):.{digits}f}"
    return f"{shown} {name}"


def history_heading(history: History) -> str:
    """Name the lift and the rule."""
    days = {p.day for track in history.tracks for p in track.points}
    visits = "visit" if len(days) == 1 else "visits"
    rule = history.rule
    return (
        f"{history.lift or 'Lift without a name'}: {len(days)} {visits}. Rule: "
        f"{rule.metric.value}, limit {limit_text(rule.limit)}."
    )


def track_title(track: Track) -> str:
    """Name a life, side and position."""
    parts = [f"{track.side.value} side", track.position, track.load]
    begun = track.life.begun
    if begun is not None:
        parts.append(f"ropes of {begun.isoformat()[:7]}")
    elif track.life.is_begun_here:
        parts.append("after a [[re-roping]]")
    return ", ".join(part for part in parts if part)


def track_lines(track: Track) -> tuple[TextLine, ...]:
    """Write what a track shows, its table left out."""
    texts = [returned_text(each) for each in track.returned]
    if not track.trends:
        texts.append(told("causes.no-trend"))
        return tuple(items(texts))
    if seen := [trend_text(trend) for trend in track.trends if trend.is_seen]:
        texts.append(told("causes.trend", ropes="; ".join(seen)))
    else:
        widest = 4 * _NORMAL_95 * max(trend.uncertainty for trend in track.trends)
        texts.append(told("causes.none-seen", points=f"{100 * widest:.1f}"))
    if track.next_check is not None:
        texts.append(next_check_text(track.next_check))
    return tuple(items(texts))


def trend_text(trend: RopeTrend) -> str:
    """Write the trend of one rope."""
    return told(
        "causes.rope",
        rope=trend.number,
        slope=f"{400 * trend.slope:+.1f}",
        width=f"{400 * _NORMAL_95 * trend.uncertainty:.1f}",
    )


def returned_text(returned: Returned) -> str:
    """Say within which time a set was unequal again."""
    still = returned.still_equal_weeks
    return told(
        "causes.returned" if still is None else "causes.returned-still",
        weeks=f"{returned.weeks:.0f}",
        left=returned.left.isoformat(),
        found=returned.found.isoformat(),
        still=f"{still or 0.0:.0f}",
    )


def next_check_text(check: NextCheck) -> str:
    """Suggest the next check."""
    if check.is_over_now:
        return told("causes.over-now")
    if check.earliest is None:
        return told("causes.not-reached")
    return told(
        "causes.next-check",
        earliest=check.earliest.isoformat(),
        likely=_day(check.likely),
        latest=_day(check.latest),
    )


def _day(day: dt.date | None) -> str:
    """A day, or never."""
    return told("causes.no-day") if day is None else day.isoformat()


def history_notes(history: History) -> tuple[TextLine, ...]:
    """Write notes and limits."""
    notes = reason_lines(history.notes, "TO KNOW")
    return (*notes, heading("LIMITS"), sentence(told("causes.limits-of-trends")))


def point_cells(point: Point) -> list[str]:
    """One row of the table of a track."""
    observed = point.spread.observed
    widths = [s.share_uncertainty or 0.0 for s in point.shares]
    return [
        point.day.isoformat(),
        point.role.value,
        point.verdict.words,
        "" if observed is None else percent_text(observed),
        f"{100 * _NORMAL_95 * max(widths):.1f}",
        *(
            "" if s.share is None else f"{100 * (s.share - 1):+.1f}"
            for s in point.shares
        ),
    ]
