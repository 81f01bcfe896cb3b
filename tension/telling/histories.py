"""The history of a lift, in words."""

import datetime as dt

from tension.history import (
    History,
    NextCheck,
    Point,
    Returned,
    RopeTrend,
    Track,
)
from tension.telling.lines import TextLine, heading, items, reason_lines, sentence
from tension.wording import limit_text, percent_text

LIMITS = (
    "A trend is drawn on as a straight line; what settles gets slower. The maintenance "
    "plan and the local code decide when a check is due."
)

_NORMAL_95 = 1.96


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
    parts = [f"{track.side.value} side", track.position]
    if track.load:
        parts.append(track.load)
    begun = track.life.begun
    if begun is not None:
        parts.append(f"ropes of {begun.isoformat()[:7]}")
    elif track.life.is_begun_here:
        parts.append("after a [[re-roping]]")
    return ", ".join(parts)


def track_lines(track: Track) -> tuple[TextLine, ...]:
    """Write what a track shows, its table left out."""
    told = [returned_text(each) for each in track.returned]
    if not track.trends:
        told.append(
            "No trend: no setting of the nuts was measured on two days here. "
            "Measure again at this place before a nut is turned."
        )
        return tuple(items(told))
    seen = [t for t in track.trends if t.is_seen]
    if seen:
        told.append("Trend: " + "; ".join(trend_text(t) for t in seen) + " (95 %).")
    else:
        widest = max(track.trends, key=lambda t: t.uncertainty)
        told.append(
            "No trend is seen on any rope; one of "
            f"{100 * 4 * _NORMAL_95 * widest.uncertainty:.1f} points in four "
            "weeks could hide."
        )
    if track.next_check is not None:
        told.append(next_check_text(track.next_check))
    return tuple(items(told))


def trend_text(trend: RopeTrend) -> str:
    """Write the trend of one rope."""
    return (
        f"rope {trend.number} {400 * trend.slope:+.1f} ± "
        f"{400 * _NORMAL_95 * trend.uncertainty:.1f} points in four weeks"
    )


def returned_text(returned: Returned) -> str:
    """Say within which time a set was unequal again."""
    text = (
        f"Returned within {returned.weeks:.0f} weeks: left equal on "
        f"{returned.left.isoformat()}, found unequal on {returned.found.isoformat()}"
    )
    if returned.still_equal_weeks is not None:
        text += f"; still equal after {returned.still_equal_weeks:.0f} weeks"
    return f"{text}."


def next_check_text(check: NextCheck) -> str:
    """Suggest the next check."""
    if check.is_over_now:
        return "Next check: the last series reads over the limit; that comes first."
    if check.earliest is None:
        return (
            "Next check: by the trend the limit is not reached within two years; keep "
            "to the maintenance plan."
        )
    return (
        f"Next check suggested by {check.earliest.isoformat()}: if the trend goes on, "
        f"the limit is reached about {_day(check.likely)} (90 %: "
        f"{check.earliest.isoformat()} to {_day(check.latest)})."
    )


def _day(day: dt.date | None) -> str:
    """A day, or never."""
    return "two years on or never" if day is None else day.isoformat()


def history_notes(history: History) -> tuple[TextLine, ...]:
    """Write notes and limits."""
    notes = reason_lines(history.notes, "TO KNOW")
    return (*notes, heading("LIMITS"), sentence(LIMITS))


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
