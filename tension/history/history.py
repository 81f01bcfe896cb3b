"""From the series of all visits to tracks by life, side and position."""

from collections import Counter
from collections.abc import Sequence

from tension.catalogue.rules import Rule
from tension.history.lives import Life
from tension.history.outcome import History, Point, Track
from tension.history.trend import find_next_check, find_returned, find_trends
from tension.installation import Side
from tension.notes import Note

_Key = tuple[int, Side, str, str]


def make_history(
    *,
    lift: str,
    rule: Rule,
    lives: Sequence[Life],
    points: Sequence[Point],
    notes: Sequence[Note] = (),
) -> History:
    """Put points of one life, side, position and load together, others apart.

    Returns
    -------
    History
        Tracks in order of their lives, those with the most days first.
    """
    groups: dict[_Key, list[Point]] = {}
    loads = _loads(points)
    for point in points:
        if all(share.share is None for share in point.shares):
            continue
        place = _words(point.position)
        load = _words(point.load) or loads.get((point.life, point.side, place), "")
        groups.setdefault((point.life, point.side, place, load), []).append(point)
    ordered = sorted(
        groups.items(),
        key=lambda item: (item[0][0], -len({p.day for p in item[1]}), item[0][1:]),
    )
    return History(
        lift=lift,
        rule=rule,
        lives=tuple(lives),
        tracks=tuple(_track(lives[key[0]], tuple(own), rule) for key, own in ordered),
        notes=tuple(notes),
    )


def _loads(points: Sequence[Point]) -> dict[tuple[int, Side, str], str]:
    """The load that a series without one is taken to have: the only one recorded."""
    found: dict[tuple[int, Side, str], Counter[str]] = {}
    for point in points:
        if point.load:
            key = (point.life, point.side, _words(point.position))
            found.setdefault(key, Counter())[_words(point.load)] += 1
    return {key: next(iter(c)) for key, c in found.items() if len(c) == 1}


def _words(text: str) -> str:
    """A text such that blanks and case do not matter."""
    return " ".join(text.casefold().split())


def _track(life: Life, points: tuple[Point, ...], rule: Rule) -> Track:
    """One track with its trends."""
    trends = find_trends(points)
    return Track(
        life=life,
        side=points[0].side,
        position=points[0].position,
        load=next((p.load for p in points if p.load), ""),
        points=points,
        trends=trends,
        returned=find_returned(points),
        next_check=find_next_check(points, trends, rule),
    )
