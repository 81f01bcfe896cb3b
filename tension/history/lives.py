"""Lives of a set of ropes: a re-roping begins a new one."""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass

from tension.history.outcome import Life

_MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_YEAR_MONTH = re.compile(r"\b(\d{4})[-/.](\d{1,2})\b")
_MONTH_YEAR = re.compile(r"\b(\d{1,2})[-/.](\d{4})\b")
_NAME_YEAR = re.compile(r"\b([a-z]{3,9})\.?\s+(\d{4})\b")


@dataclass(frozen=True, kw_only=True, slots=True)
class SetOnADay:
    """What a record tells of the ropes that hung on its day.

    Attributes
    ----------
    diameter : float or None
        Nominal. [m]
    construction : str
        As typed; empty if not recorded.
    installed : str
        Month and year as typed; empty if not recorded.
    """

    day: dt.date
    n_ropes: int
    diameter: float | None = None
    construction: str = ""
    installed: str = ""


def find_lives(
    sets: Sequence[SetOnADay], re_roped: Sequence[dt.date] = ()
) -> tuple[Life, ...]:
    """Part visits, in order of time, into the lives of the ropes.

    A new life begins where the ropes are said to have been installed at another time,
    where their number, diameter or construction is another, and on the days told.
    """
    parts: list[list[int]] = []
    for i, one in enumerate(sets):
        if not parts or _is_new(sets[i - 1], one, re_roped):
            parts.append([])
        parts[-1].append(i)
    return tuple(
        Life(
            number=number,
            begun=_begun([sets[i] for i in part], re_roped),
            is_begun_here=number > 0,
            visits=tuple(part),
        )
        for number, part in enumerate(parts)
    )


def _is_new(before: SetOnADay, after: SetOnADay, re_roped: Sequence[dt.date]) -> bool:
    """Whether other ropes hang on the later day."""
    if any(before.day < day <= after.day for day in re_roped):
        return True
    if before.n_ropes != after.n_ropes:
        return True
    if before.diameter and after.diameter and before.diameter != after.diameter:
        return True
    pairs = (
        (before.construction, after.construction),
        (before.installed, after.installed),
    )
    return any(a and b and _same(a) != _same(b) for a, b in pairs)


def _same(text: str) -> object:
    """A text such that two ways of writing one thing are alike."""
    return month_of(text) or "".join(text.casefold().split())


def _begun(sets: Sequence[SetOnADay], re_roped: Sequence[dt.date]) -> dt.date | None:
    """Day of the re-roping that begins a life."""
    first = sets[0].day
    told = [day for day in re_roped if day <= first]
    months = [month for s in sets if (month := month_of(s.installed)) is not None]
    known = [*told, *(month for month in months if month <= first)]
    return max(known, default=None)


def month_of(text: str) -> dt.date | None:
    """Read the first of a month as people write it; None if it is not read.

    Such as "2025-03", "03/2025", "March 2025", "Mar 2025".

    Examples
    --------
    >>> month_of("Mar 2025")
    datetime.date(2025, 3, 1)
    """
    plain = text.casefold()
    if found := _YEAR_MONTH.search(plain):
        year, month = int(found[1]), int(found[2])
    elif found := _MONTH_YEAR.search(plain):
        year, month = int(found[2]), int(found[1])
    elif found := _NAME_YEAR.search(plain):
        names = [m for m in _MONTHS if m.startswith(found[1])]
        if len(names) != 1:
            return None
        year, month = int(found[2]), _MONTHS.index(names[0]) + 1
    else:
        return None
    return dt.date(year, month, 1) if 1 <= month <= 12 and year > 1800 else None
