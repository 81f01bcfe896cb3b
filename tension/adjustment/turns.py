"""Turns of nuts, as a person wrote them down, and how far the car has run since."""

from dataclasses import dataclass

from tension.installation import HitchPlace
from tension.measurement.readings import Series
from tension.quantity.units import Quantity


@dataclass(frozen=True, kw_only=True, slots=True)
class Turn:
    """A turn of one nut."""

    after: str  # the series after which it was made
    hitch: HitchPlace  # which hitch
    rope: int  # rope number
    turns: Quantity  # positive: nut towards the plate, tension up [turns]
    # round trips the car ran afterwards; None if not recorded: nothing is learned
    round_trips_after: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PastTurn:
    """A turn with what the car is known to have run until a reading."""

    turn: Turn  # the turn
    # until the reading, at least; None where nothing is recorded
    round_trips: int | None

    @property
    def at_least(self) -> int:
        """Round trips that are certain."""
        return self.round_trips or 0


def turns_before(
    series: tuple[Series, ...], turns: tuple[Turn, ...], until: str, since: str = ""
) -> tuple[PastTurn, ...]:
    """Find the turns made before a series, with what the car has run since each.

    Parameters
    ----------
    series : tuple of Series
        In order of time.
    turns : tuple of Turn
        In order of time.
    until : str
        Name of the series.
    since : str, optional
        Only turns after this series; all if left out.

    Notes
    -----
    Turns of one gap between two series that share a run each carry its round trips, so
    they are not added up; what was run in later gaps comes on top. Where a turn and the
    series after it tell different numbers, the smaller counts.
    """
    names = [each.name for each in series]
    end = names.index(until)
    start = names.index(since) if since else 0
    found = []
    for turn in turns:
        gap = names.index(turn.after)
        if start <= gap < end:
            own = _smaller(turn.round_trips_after, series[gap + 1].round_trips_before)
            later = [_run_in_gap(series, turns, g) for g in range(gap + 1, end)]
            known = [trips for trips in (own, *later) if trips is not None]
            found.append(PastTurn(turn=turn, round_trips=sum(known) if known else None))
    return tuple(found)


def turns_since(
    series: tuple[Series, ...], turns: tuple[Turn, ...], reading: str
) -> tuple[PastTurn, ...]:
    """Find the turns that were made after a series was read."""
    names = [each.name for each in series]
    return tuple(
        PastTurn(turn=turn, round_trips=turn.round_trips_after)
        for turn in turns
        if names.index(turn.after) >= names.index(reading)
    )


def _smaller(one: int | None, other: int | None) -> int | None:
    """The smaller of two numbers where both are told."""
    known = [trips for trips in (one, other) if trips is not None]
    return min(known) if known else None


def _run_in_gap(
    series: tuple[Series, ...], turns: tuple[Turn, ...], gap: int
) -> int | None:
    """What the car ran between two series, as far as it is told."""
    told = [turn.round_trips_after for turn in turns if turn.after == series[gap].name]
    known = [trips for trips in told if trips is not None]
    return _smaller(max(known) if known else None, series[gap + 1].round_trips_before)
