"""Dates of a record that cannot all be right, told and never put right."""

import datetime as dt
import re
from collections.abc import Iterator
from itertools import pairwise

from tension.files.corrections import Correction
from tension.files.seal import Seal
from tension.files.visit import Visit

_DAY = re.compile(r"\s*(\d{4}-\d{2}-\d{2})(?:[ T](\d{2}:\d{2})(?::\d{2})?)?")
_ONE_DAY = dt.timedelta(days=1)  # midnight, and the zones of phone and computer


def date_doubts(
    visit: Visit,
    *,
    today: dt.date,
    seal: Seal | None = None,
    corrections: tuple[Correction, ...] = (),
) -> tuple[str, ...]:
    """Find dates that contradict each other or lie in the future.

    Returns
    -------
    tuple of str
        A sentence each; empty if nothing contradicts anything.
    """
    given = dict(visit.particulars)
    day = day_of(given.get("date", ""))
    dated = [
        *((f'series "{one.name}"', day_of(one.taken)) for one in visit.series),
        *((f"the trim of {t.recording}", day_of(t.date)) for t in visit.trims),
        ("the seal", day_of(seal.sealed) if seal else None),
        ("the order", day_of(given.get("order_date", ""))),
    ]
    after = [("the visit", day), *dated[:-1], ("the allowance", visit.allowance.date)]
    return (
        *_in_the_future(after, today),
        *_before_the_visit(dated, day),
        *_off_the_visit(visit, day),
        *_out_of_order(visit),
        *_before_the_seal(seal, corrections),
    )


def day_of(text: str) -> dt.date | None:
    """Read the day that a text begins with.

    Parameters
    ----------
    text : str
        Such as "2026-11-20 10:12 +00:00".

    Returns
    -------
    date or None
        None if it begins with none.
    """
    found = _DAY.match(text)
    try:
        return dt.date.fromisoformat(found.group(1)) if found else None
    except ValueError:
        return None


def _in_the_future(
    dated: list[tuple[str, dt.date | None]], today: dt.date
) -> Iterator[str]:
    """What is dated later than it can have happened."""
    for name, day in dated:
        if day is not None and day > today + _ONE_DAY:
            yield f"{name} is dated {day}, which lies in the future."


def _before_the_visit(
    dated: list[tuple[str, dt.date | None]], visited: dt.date | None
) -> Iterator[str]:
    """What follows from a visit and is dated before it."""
    for name, day in dated:
        if visited is not None and day is not None and day < visited - _ONE_DAY:
            yield f"{name} is dated {day}, before the visit of {visited}."


def _off_the_visit(visit: Visit, visited: dt.date | None) -> Iterator[str]:
    """A series taken long after the visit."""
    for series in visit.series:
        day = day_of(series.taken)
        if visited is not None and day is not None and day > visited + _ONE_DAY:
            yield (
                f'series "{series.name}" is dated {day}, after the visit of {visited}.'
            )


def _out_of_order(visit: Visit) -> Iterator[str]:
    """Series that stand in another order than that of their times."""
    times = [(one.name, _DAY.match(one.taken)) for one in visit.series]
    told = [(name, found.group(0).strip()) for name, found in times if found]
    for (name, before), (other, after) in pairwise(told):
        if after < before and len(after) == len(before):
            yield f'series "{other}" stands after "{name}" and was taken before it.'


def _before_the_seal(
    seal: Seal | None, corrections: tuple[Correction, ...]
) -> Iterator[str]:
    """Corrections dated before what they correct."""
    before = day_of(seal.sealed) if seal else None
    for number, one in enumerate(corrections, start=1):
        day = day_of(one.date)
        if before is not None and day is not None and day < before - _ONE_DAY:
            yield f"correction {number} is dated {day}, before what it corrects."
        before = day or before
