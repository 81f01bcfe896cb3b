"""What visits to one lift show over time."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from tension.assessment.outcome import RopeShare, Spread, Verdict
from tension.catalogue.rules import Rule
from tension.installation import Side
from tension.notes import Note


@dataclass(frozen=True, kw_only=True, slots=True)
class Life:
    """The time from one re-roping to the next.

    Attributes
    ----------
    begun : date or None
        Day or first of the month of the re-roping; None if not known.
    is_begun_here : bool
        Whether a re-roping between two records begins it.
    visits : tuple of int
        Places of its visits in the sequence given.
    """

    number: int
    begun: dt.date | None
    is_begun_here: bool
    visits: tuple[int, ...]


class Role(StrEnum):
    """When in a visit a series was taken."""

    FOUND = "as found"
    LEFT = "as left"
    BETWEEN = "between"
    ONLY = "measured"


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """One series of one visit.

    Attributes
    ----------
    role : Role
        As found, as left, or neither: no nut was turned at that visit.
    epoch : int
        Counts up each time nuts were turned.
    position : str
        Car position, as typed, or the name of the span.
    load : str
        As typed; empty if not recorded.
    spread, verdict : Spread, Verdict
        By the metric of the rule, and against the rule.
    life : int
        Number of the life of the ropes.
    """

    day: dt.date
    record: str
    series: str
    role: Role
    epoch: int
    side: Side
    position: str
    load: str
    shares: tuple[RopeShare, ...]
    spread: Spread
    verdict: Verdict
    life: int


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeTrend:
    """How the deviation of one rope goes while no nut is turned.

    Attributes
    ----------
    slope, uncertainty : float
        Change of its share, and the standard uncertainty of it. [1/week]
    is_seen : bool
        Whether its 95 % interval, widened for the number of ropes, leaves out none.
    """

    number: int
    slope: float
    uncertainty: float
    is_seen: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Returned:
    """A set that was left equal and found unequal.

    Attributes
    ----------
    left, found : date
        When it was left equal, and first found unequal after it.
    weeks : float
        Between them. [week]
    still_equal_weeks : float or None
        Weeks after which it was last found not unequal; None if never looked at.
    """

    left: dt.date
    found: dt.date
    weeks: float
    still_equal_weeks: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class NextCheck:
    """When the spread may reach the limit if the trend goes on.

    Attributes
    ----------
    earliest, likely, latest : date or None
        Days by which it has with a chance of 5, 50 and 95 %; None beyond two years.
    is_over_now : bool
        Whether the last series is over the limit already.
    """

    earliest: dt.date | None
    likely: dt.date | None
    latest: dt.date | None
    is_over_now: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Track:
    """All series of one life, side and position.

    Attributes
    ----------
    points : tuple of Point
        In order of time.
    trends : tuple of RopeTrend
        One per rope; empty if no setting was measured on two days.
    returned : tuple of Returned
        Each time it came back.
    next_check : NextCheck or None
        None without a trend.
    """

    life: Life
    side: Side
    position: str
    load: str
    points: tuple[Point, ...]
    trends: tuple[RopeTrend, ...]
    returned: tuple[Returned, ...]
    next_check: NextCheck | None


@dataclass(frozen=True, kw_only=True, slots=True)
class History:
    """Visits to one lift over time.

    Attributes
    ----------
    rule : Rule
        The rule of the last record, or the one chosen.
    lives : tuple of Life
        In order of time.
    tracks : tuple of Track
        Life by life, the place most often measured first.
    """

    lift: str
    rule: Rule
    lives: tuple[Life, ...]
    tracks: tuple[Track, ...]
    notes: tuple[Note, ...]
