"""What visits to one lift show over time.

From visits to lives of the ropes, and to tracks by life, side and position. Of each
track the trend of each rope between adjustments, each time it came back, and when the
limit may be reached.
"""

import calendar
import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby, pairwise
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from tension.assessment.decide import RopeShare, Verdict
from tension.assessment.interval import Spread, spread_from_tensions
from tension.catalogue.rules import Rule
from tension.installation import RopeSet, Side
from tension.notes import Note

FloatArray = NDArray[np.float64]

_DRAWS = 4000  # trends drawn for the next check
_SEED = 0  # the draws are the same each time
_FURTHEST = 104  # weeks beyond which nothing is foretold [week]

_MONTH = re.compile(
    r"\b(?:(\d{4})[-/.](\d{1,2})|(\d{1,2})[-/.](\d{4})|([a-z]{3,9})\.?\s+(\d{4}))\b"
)
"""A year with the number of its month, the same turned round, a month by its name."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SetOnADay:
    """What a record tells of the ropes that hung on its day."""

    day: dt.date
    ropes: RopeSet
    installed: str = ""  # Month and year as typed; empty if not recorded


@dataclass(frozen=True, kw_only=True, slots=True)
class Life:
    """The time from one re-roping to the next."""

    number: int  # From 0; a re-roping between two records begins all but the first
    begun: dt.date | None  # Day or first of the month of the re-roping, if known
    visits: tuple[int, ...]  # Places of its visits in the sequence given


class Role(StrEnum):
    """When in a visit a series was taken; only: no nut was turned at that visit."""

    FOUND = "as found"
    LEFT = "as left"
    BETWEEN = "between"
    ONLY = "measured"


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """One series of one visit."""

    day: dt.date
    record: str
    series: str
    role: Role
    epoch: int  # Counts up each time nuts were turned
    side: Side
    position: str  # Car position, as typed, or the name of the span
    load: str  # As typed; empty if not recorded
    shares: tuple[RopeShare, ...]
    spread: Spread  # By the metric of the rule
    verdict: Verdict  # Against the rule
    life: int  # Number of the life of the ropes


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeTrend:
    """How the deviation of one rope goes while no nut is turned."""

    number: int
    slope: float  # Change of its share [1/week]
    uncertainty: float  # Standard uncertainty of the slope [1/week]
    is_seen: bool  # Its 95 % interval, widened for the number of ropes, leaves out none


@dataclass(frozen=True, kw_only=True, slots=True)
class Returned:
    """A set that was left equal and found unequal."""

    left: dt.date  # When it was left equal
    found: dt.date  # First found unequal after it
    weeks: float  # Between them [week]
    # After which it was last found not unequal; None if never looked at [week]
    still_equal_weeks: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class NextCheck:
    """When the spread may reach the limit if the trend goes on.

    Days by which it has with a chance of 5, 50 and 95 %; None beyond two years.
    """

    earliest: dt.date | None
    likely: dt.date | None
    latest: dt.date | None
    is_over_now: bool = False  # Whether the last series is over the limit already


@dataclass(frozen=True, kw_only=True, slots=True)
class Track:
    """All series of one life, side and position, in order of time."""

    life: Life
    side: Side
    position: str
    load: str
    points: tuple[Point, ...]
    trends: tuple[RopeTrend, ...]  # One per rope measured on two days
    returned: tuple[Returned, ...]  # Each time it came back
    next_check: NextCheck | None  # None without a trend


@dataclass(frozen=True, kw_only=True, slots=True)
class History:
    """Visits to one lift over time."""

    lift: str
    rule: Rule  # That of the last record, or the one chosen
    lives: tuple[Life, ...]  # In order of time
    tracks: tuple[Track, ...]  # Life by life, the place most often measured first
    notes: tuple[Note, ...]


def find_lives(
    sets: Sequence[SetOnADay], re_roped: Sequence[dt.date] = ()
) -> tuple[Life, ...]:
    """Part visits, in order of time, into the lives of the ropes.

    A new life begins where the ropes are said to have been installed at another time,
    where their number, diameter or construction is another, and on the days told.
    """
    bounds = [
        i for i, one in enumerate(sets) if i == 0 or _is_new(sets[i - 1], one, re_roped)
    ]
    return tuple(
        Life(
            number=number,
            begun=_begun(sets[start:end], re_roped),
            visits=tuple(range(start, end)),
        )
        for number, (start, end) in enumerate(pairwise((*bounds, len(sets))))
    )


def _is_new(before: SetOnADay, after: SetOnADay, re_roped: Sequence[dt.date]) -> bool:
    """Whether other ropes hang on the later day."""
    told = [
        (
            one.ropes.diameter and one.ropes.diameter.value,
            _same(one.ropes.construction),
            _same(one.installed),
        )
        for one in (before, after)
    ]
    return (
        any(before.day < day <= after.day for day in re_roped)
        or before.ropes.n_ropes != after.ropes.n_ropes
        or any(a and b and a != b for a, b in zip(*told, strict=True))
    )


def _same(text: str) -> object:
    """A text such that two ways of writing one thing are alike."""
    return month_of(text) or "".join(text.casefold().split())


def _begun(sets: Sequence[SetOnADay], re_roped: Sequence[dt.date]) -> dt.date | None:
    """Day of the re-roping that begins a life."""
    months = (month_of(s.installed) for s in sets)
    known = [day for day in (*re_roped, *months) if day and day <= sets[0].day]
    return max(known, default=None)


def month_of(text: str) -> dt.date | None:
    """Read the first of a month as people write it; None if it is not read.

    Such as "2025-03", "03/2025", "March 2025", "Mar 2025".

    Examples
    --------
    >>> month_of("Mar 2025")
    datetime.date(2025, 3, 1)
    """
    found = _MONTH.search(text.casefold())
    if found is None:
        return None
    year = int(found[1] or found[4] or found[6])
    months = [int(found[2] or found[3] or 0)]
    if found[5]:
        names = enumerate(calendar.month_name)
        months = [i for i, m in names if i and m.casefold().startswith(found[5])]
    month = months[0] if len(months) == 1 else 0
    return dt.date(year, month, 1) if 1 <= month <= 12 and year > 1800 else None


def make_history(
    *,
    lift: str,
    rule: Rule,
    lives: Sequence[Life],
    points: Sequence[Point],
    notes: Sequence[Note] = (),
) -> History:
    """Put points of one life, side, position and load together, others apart."""
    groups: dict[tuple[int, Side, str, str], list[Point]] = {}
    for point in points:
        if any(share.share is not None for share in point.shares):
            key = (*_place(point), alike(point.load) or _only_load(point, points))
            groups.setdefault(key, []).append(point)
    ordered = sorted(
        groups.items(),
        key=lambda item: (item[0][0], -len({p.day for p in item[1]}), item[0][1:]),
    )
    tracks = []
    for _, own in ordered:
        trends = find_trends(own)
        track = Track(
            life=lives[own[0].life],
            side=own[0].side,
            position=own[0].position,
            load=next((p.load for p in own if p.load), ""),
            points=tuple(own),
            trends=trends,
            returned=find_returned(own),
            next_check=find_next_check(own, trends, rule),
        )
        tracks.append(track)
    return History(
        lift=lift,
        rule=rule,
        lives=tuple(lives),
        tracks=tuple(tracks),
        notes=tuple(notes),
    )


def alike(text: str) -> str:
    """Write a text such that blanks and case do not matter."""
    return " ".join(text.casefold().split())


def _place(point: Point) -> tuple[int, Side, str]:
    """Life, side and position of a point."""
    return point.life, point.side, alike(point.position)


def _only_load(point: Point, points: Sequence[Point]) -> str:
    """The load that a series without one is taken to have: the only one recorded."""
    there = {alike(p.load) for p in points if p.load and _place(p) == _place(point)}
    return there.pop() if len(there) == 1 else ""


def find_trends(points: Sequence[Point]) -> tuple[RopeTrend, ...]:
    """Fit a slope to each rope, free to start anew each time nuts were turned.

    Points are of one life, side and position, in order of time. One for each rope that
    has a number on two days or more of a setting.

    Notes
    -----
    Weighted least squares with one level for each setting and one slope for all. Where
    the points scatter more than their uncertainties allow, the slope's uncertainty is
    widened by the root of chi-squared over its degrees of freedom, never narrowed.
    """
    # two-sided 95 % of the largest of so many normal values (Bonferroni), to 0.01
    away = round(NormalDist().inv_cdf(1.0 - 0.025 / len(points[0].shares)), 2)
    trends = (_trend(points, rope, away) for rope in range(len(points[0].shares)))
    return tuple(trend for trend in trends if trend is not None)


def _width(point: Point, rope: int) -> float:
    """Standard uncertainty of a share; never quite nought."""
    return max(point.shares[rope].share_uncertainty or 0.0, 1e-4)


def _trend(every: Sequence[Point], rope: int, away: float) -> RopeTrend | None:
    """The slope of a rope; None if no setting spans two days."""
    points = [p for p in every if p.shares[rope].share is not None]
    if not points:
        return None
    weeks = np.array([_weeks_between(points[0], p) for p in points])
    shares = np.array([p.shares[rope].share for p in points], dtype=float)
    weights = 1.0 / np.array([_width(p, rope) for p in points]) ** 2
    epochs = np.array([p.epoch for p in points])
    for epoch in set(epochs.tolist()):
        own = epochs == epoch
        weeks[own] -= np.average(weeks[own], weights=weights[own])
        shares[own] -= np.average(shares[own], weights=weights[own])
    information = float((weights * weeks**2).sum())
    if information <= 0.0:
        return None
    slope = float((weights * weeks * shares).sum()) / information
    rest = shares - slope * weeks
    freedom = len(weeks) - len(set(epochs.tolist())) - 1
    scatter = float((weights * rest**2).sum())
    widening = max(1.0, scatter / freedom) if freedom > 0 else 1.0
    uncertainty = float(np.sqrt(widening / information))
    return RopeTrend(
        number=points[0].shares[rope].number,
        slope=slope,
        uncertainty=uncertainty,
        is_seen=abs(slope) > away * uncertainty,
    )


def find_returned(points: Sequence[Point]) -> tuple[Returned, ...]:
    """Find each time a set was left equal and found unequal while nobody turned a nut.

    Points are of one life, side and position, in order of time.
    """
    found = []
    for _, of_epoch in groupby(points, lambda point: point.epoch):
        own = list(of_epoch)
        left = next((p for p in own if p.verdict is Verdict.EQUAL), own[-1])
        later = [p for p in own[own.index(left) + 1 :] if p.day > left.day]
        back = next((p for p in later if p.verdict is Verdict.UNEQUAL), None)
        if back is None:
            continue
        between = later[: later.index(back)]
        still = [p for p in between if p.verdict is Verdict.EQUAL]
        found.append(
            Returned(
                left=left.day,
                found=back.day,
                weeks=_weeks_between(left, back),
                still_equal_weeks=_weeks_between(left, still[-1]) if still else None,
            )
        )
    return tuple(found)


def _weeks_between(first: Point, last: Point) -> float:
    """Time from one point to another. [week]."""
    return (last.day - first.day).days / 7.0


def find_next_check(
    points: Sequence[Point], trends: Sequence[RopeTrend], rule: Rule
) -> NextCheck | None:
    """Foretell when the spread may reach the limit if the trend goes on.

    None if not every rope has a trend and a number in the last series.

    Notes
    -----
    Levels and slopes are drawn from normal densities; the day is the first on which the
    spread of a draw is over the limit. Going on straight is hard on a set that settles,
    for settling gets slower.
    """
    last = points[-1]
    shares = [s.share for s in last.shares]
    if len(trends) != len(shares) or any(s is None for s in shares):
        return None
    now = np.array(shares, dtype=float)
    widths = np.array([_width(last, i) for i in range(len(now))])
    slopes = np.array([t.slope for t in trends])
    doubt = np.array([t.uncertainty for t in trends])
    random = np.random.default_rng(_SEED)
    levels = now + widths * random.standard_normal((_DRAWS, len(now)))
    drifts = slopes + doubt * random.standard_normal((_DRAWS, len(now)))
    reached = np.full(_DRAWS, np.inf)
    for week in np.arange(_FURTHEST, -1.0, -1.0):
        tensions = np.maximum(levels + week * drifts, 1e-3)
        reached[spread_from_tensions(tensions, metric=rule.metric) > rule.limit] = week
    earliest, likely, latest = (
        last.day + dt.timedelta(weeks=weeks) if np.isfinite(weeks) else None
        for weeks in np.quantile(reached, (0.05, 0.5, 0.95), method="higher").tolist()
    )
    return NextCheck(
        earliest=earliest,
        likely=likely,
        latest=latest,
        is_over_now=float(spread_from_tensions(now, metric=rule.metric)) > rule.limit,
    )
