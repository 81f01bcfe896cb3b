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
from tension.telling.lines import TextLine, heading, items, reason_lines, sentence, told
from tension.wording import limit_text, percent_text

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
        texts.append(told("histories.no-trend"))
        return tuple(items(texts))
    if seen := [trend_text(trend) for trend in track.trends if trend.is_seen]:
        texts.append(told("histories.trend", ropes="; ".join(seen)))
    else:
        widest = 4 * _NORMAL_95 * max(trend.uncertainty for trend in track.trends)
        texts.append(told("histories.none-seen", points=f"{100 * widest:.1f}"))
    if track.next_check is not None:
        texts.append(next_check_text(track.next_check))
    return tuple(items(texts))


def trend_text(trend: RopeTrend) -> str:
    """Write the trend of one rope."""
    return told(
        "histories.rope",
        rope=trend.number,
        slope=f"{400 * trend.slope:+.1f}",
        width=f"{400 * _NORMAL_95 * trend.uncertainty:.1f}",
    )


def returned_text(returned: Returned) -> str:
    """Say within which time a set was unequal again."""
    still = returned.still_equal_weeks
    return told(
        "histories.returned" if still is None else "histories.returned-still",
        weeks=f"{returned.weeks:.0f}",
        left=returned.left.isoformat(),
        found=returned.found.isoformat(),
        still=f"{still or 0.0:.0f}",
    )


def next_check_text(check: NextCheck) -> str:
    """Suggest the next check."""
    if check.is_over_now:
        return told("histories.over-now")
    if check.earliest is None:
        return told("histories.not-reached")
    return told(
        "histories.next-check",
        earliest=check.earliest.isoformat(),
        likely=_day(check.likely),
        latest=_day(check.latest),
    )


def _day(day: dt.date | None) -> str:
    """A day, or never."""
    return told("histories.no-day") if day is None else day.isoformat()


def history_notes(history: History) -> tuple[TextLine, ...]:
    """Write notes and limits."""
    notes = reason_lines(history.notes, "TO KNOW")
    return (*notes, heading("LIMITS"), sentence(told("histories.limits")))


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
