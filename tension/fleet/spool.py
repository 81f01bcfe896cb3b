"""Lines on their way to be listed: kept on disk and put in order there.

Memory stays the same however many lifts there are: SQLite sorts on disk.
"""

import os
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from enum import StrEnum
from pathlib import Path, PurePosixPath

from tension.fleet.rows import LiftRow, ListedRow, row_from_text, row_to_text, unusable
from tension.fleet.tree import Place


class Order(StrEnum):
    """By what the lines are put in order."""

    SPREAD = "spread"
    CANNOT_TELL = "cannot-tell"
    DAYS_SINCE = "days-since"
    RECORD = "record"


_TABLES = """
PRAGMA journal_mode = OFF;
PRAGMA synchronous = OFF;
PRAGMA temp_store = FILE;
PRAGMA cache_size = -1000;
CREATE TABLE place (number INTEGER PRIMARY KEY, record BLOB);
CREATE TABLE line (
    number INTEGER PRIMARY KEY, lift BLOB, day TEXT, verdict TEXT, rank INTEGER,
    spread REAL, probability REAL, text TEXT
);
"""

_LISTED = """
SELECT number, n_records, verdict FROM (
    SELECT number, day, verdict, rank, spread, probability,
        ROW_NUMBER() OVER newest AS age, COUNT(*) OVER (PARTITION BY lift) AS n_records
    FROM line
    WINDOW newest AS (PARTITION BY lift ORDER BY day DESC, number DESC)
) WHERE age = 1 OR :is_every_record
"""

_ORDERED = {
    Order.SPREAD: "rank >= 3, spread IS NULL, spread DESC, number",
    Order.CANNOT_TELL: "rank, probability IS NULL, probability DESC, "
    "spread DESC, number",
    Order.DAYS_SINCE: "rank >= 3, day = '', day, number",
    Order.RECORD: "number",
}

_RANK = {"cannot-tell": 0, "no-result": 1}
_UNUSABLE_RANK = 3


class Spool:
    """Every record found and every line that came of one, in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self._base = sqlite3.connect(folder / "spool", isolation_level=None)
        self._base.executescript(_TABLES)

    def close(self) -> None:
        """Let the files go."""
        self._base.close()

    def find(self, places: Iterable[Place]) -> None:
        """Take in what was found in a tree; what cannot be used gets its line."""
        self._base.execute("BEGIN")
        for number, place in enumerate(places, start=1):
            self._base.execute(
                "INSERT INTO place VALUES (?, ?)", (number, os.fsencode(place.record))
            )
            if place.reasons:
                self.add(number, unusable(place.record, place.reasons))
        self._base.execute("COMMIT")

    def count(self) -> int:
        """Count the places found: records, and folders that cannot be used. [1]."""
        counted: int = self._base.execute("SELECT COUNT(*) FROM place").fetchone()[0]
        return counted

    def unanswered(self) -> Iterator[tuple[int, str]]:
        """Give every record without a line: its number from 1 up, and its path."""
        found = self._base.execute(
            "SELECT number, record FROM place WHERE NOT EXISTS "
            "(SELECT 1 FROM line WHERE line.number = place.number) ORDER BY number"
        )
        for number, record in found:
            yield number, os.fsdecode(record)

    def add(self, number: int, row: LiftRow) -> None:
        """Take in the line of a place."""
        rank = _RANK.get(row.verdict, 2) if row.is_usable else _UNUSABLE_RANK
        self._base.execute(
            "INSERT INTO line VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                number,
                lift_of(row),
                row.date,
                row.verdict,
                rank,
                row.spread_percent,
                row.probability_over_limit,
                row_to_text(row),
            ),
        )

    def listed(
        self, order: Order, day: date, *, is_every_record: bool = False
    ) -> Iterator[ListedRow]:
        """Give the newest record of each lift, and all that cannot be used, in order.

        Parameters
        ----------
        order : Order
            By what.
        day : date
            The day of the list.
        is_every_record : bool, optional
            Whether older records of a lift get a line too.
        """
        query = f"{_LISTED} ORDER BY {_ORDERED[order]}"
        found = self._base.execute(query, {"is_every_record": is_every_record})
        for place, n_records, _ in found:
            (text,) = self._base.execute(
                "SELECT text FROM line WHERE number = ?", (place,)
            ).fetchone()
            row = row_from_text(text)
            yield ListedRow(
                row=row,
                days_since=_days(row.date, day),
                n_records=n_records,
                place=place,
            )

    def counts(self, *, is_every_record: bool = False) -> Mapping[str, int]:
        """Count the lines by their result; older records of a lift only if asked."""
        found = self._base.execute(_LISTED, {"is_every_record": is_every_record})
        return Counter(verdict for *_, verdict in found)

    def unusable(self) -> Iterator[LiftRow]:
        """Give what could not be used, in the order of the tree."""
        found = self._base.execute(
            "SELECT text FROM line WHERE rank = ? ORDER BY number", (_UNUSABLE_RANK,)
        )
        for (text,) in found:
            yield row_from_text(text)


def lift_of(row: LiftRow) -> bytes:
    """Tell which lift a record is of.

    Records are of one lift if name, address and car number are the same and the folders
    of the records lie side by side. A record without a name, or one that cannot be
    used, stands for itself: two lifts must never become one line.
    """
    if not (row.is_usable and row.lift.strip()):
        return os.fsencode(f"record\n{row.record}")
    beside = PurePosixPath(row.record).parent.parent.as_posix()
    named = (row.lift, row.address, row.car_number)
    return os.fsencode("\n".join((beside, *(" ".join(n.split()) for n in named))))


def _days(visited: str, day: date) -> int | None:
    """Days from a visit to a day."""
    try:
        return (day - date.fromisoformat(visited)).days
    except ValueError:
        return None
