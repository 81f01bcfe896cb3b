"""One line a record: what it answers or why it cannot be used; kept on disk, in order.

Memory stays the same however many lifts there are: SQLite sorts on disk.
"""

import json
import os
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from enum import StrEnum
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from tension.workflow.assess import Assessed

UNUSABLE = "unusable"
"""Stands where a verdict would, if a record or a folder could not be used."""

FAULT = "fault"
"""The same, if the program itself failed over the record, which is a bug."""

Number = float | None
Numbers = tuple[Number, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftRow:
    """What one record answers, in the numbers of ``tension assess --json``.

    The keys of the document of a fleet (`tension.documents.commands`) tell each; in the
    order of the columns of a list.
    """

    record: str = ""  # Path from the folder that was searched, with forward slashes
    lift: str = ""
    address: str = ""
    car_number: str = ""
    date: str = ""
    # what depends on the day of the list and on the other records
    days_since: int | None = None  # [d] from the visit to the day of the list
    n_records: int = 1  # [1] of this lift in the tree; the newest one answers
    series: str = ""
    side: str = ""
    position: str = ""
    verdict: str  # One of the four results, "unusable" or "fault"
    spread_percent: Number = None
    lower_percent: Number = None
    upper_percent: Number = None
    probability_over_limit: Number = None
    rule: str = ""
    metric: str = ""
    limit_percent: Number = None
    n_ropes: int | None = None
    lowest_rope: int | None = None
    highest_rope: int | None = None
    measure_again: tuple[int, ...] = ()
    shares_percent: Numbers = ()
    share_standard_uncertainties_percent: Numbers = ()
    tensions_n: Numbers = ()  # [N] at the hitch
    reason: str = ""
    next_act: str = ""  # Empty if the result speaks for itself
    notes: tuple[str, ...] = ()
    record_sha256: str = ""
    place: int = 0  # [1] in the order of the tree, from 1 up; no column

    @property
    def is_usable(self) -> bool:
        """Whether there is an answer, be it that there is no result."""
        return self.verdict not in {UNUSABLE, FAULT}

    def document(self) -> dict[str, Any]:
        """Give the line as machines read it."""
        from tension.documents.commands import described

        return described("fleet.lifts").of(self)


def row_of(assessed: "Assessed") -> LiftRow:
    """Take the line of a lift from its assessment, without the path of the record."""
    from tension.documents import commands

    visit, told = assessed.visit, dict(assessed.visit.particulars)
    notes = assessed.assessment.notes
    document = commands.document("assess", assessed.assessment, notes=notes)
    condition, rule = document["condition"], document["rule"]
    ropes, spread = document["ropes"], document["spread"]
    by_share = sorted(
        (rope["share_percent"], rope["number"])
        for rope in ropes
        if rope["share_percent"] is not None
    )
    return LiftRow(
        lift=visit.lift.name,
        address=told.get("address", ""),
        car_number=told.get("car_number", ""),
        date=told.get("date", ""),
        series=document["series"],
        side=condition["side"] or "",
        position=condition["position"] or "",
        verdict=document["verdict"],
        reason=document["reason"],
        next_act=document["next_act"],
        rule=rule["name"],
        metric=rule["metric"],
        limit_percent=rule["limit_percent"],
        spread_percent=spread["percent"],
        lower_percent=spread["lower_percent"],
        upper_percent=spread["upper_percent"],
        probability_over_limit=spread["probability_over_limit"],
        n_ropes=len(ropes),
        lowest_rope=by_share[0][1] if by_share else None,
        highest_rope=by_share[-1][1] if by_share else None,
        measure_again=tuple(document["measure_again"]),
        shares_percent=tuple(rope["share_percent"] for rope in ropes),
        share_standard_uncertainties_percent=tuple(
            rope["share_standard_uncertainty_percent"] for rope in ropes
        ),
        tensions_n=tuple(rope["tension_n"] for rope in ropes),
        notes=tuple(dict.fromkeys(one["code"] for one in document["notes"])),
        record_sha256=assessed.inputs[0].sha256 if assessed.inputs else "",
    )


def unusable(record: str, lines: Sequence[str], verdict: str = UNUSABLE) -> LiftRow:
    """Make the line of a record or a folder that could not be used; reasons name it."""
    folder, _, name = record.rpartition("/")
    reasons = [
        line
        if (folder or name) in line
        else f"{record}: {line.removeprefix(f'{name}: ')}"
        for line in lines
    ]
    return LiftRow(record=record, verdict=verdict, reason="\n".join(reasons))


def row_to_text(row: LiftRow) -> str:
    """Write a line as JSON on one line; the same line gives the same text."""
    return json.dumps(asdict(row), allow_nan=False)


def row_from_fields(fields: Mapping[str, Any]) -> LiftRow:
    """Make a line of its fields, as JSON gives them back."""
    told: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in fields.items()
    }
    return LiftRow(**told)


class Place(NamedTuple):
    """A record found in a tree, or a folder with reasons why it cannot be used."""

    record: str  # Its path from the top, with forward slashes
    reasons: tuple[str, ...] = ()


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

_RANK = {"cannot-tell": 0, "no-result": 1, UNUSABLE: 3, FAULT: 3}
"""Of the results when what cannot tell comes first; 2 for the others."""


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
        self._base.execute(
            "INSERT INTO line VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                number,
                lift_of(row),
                row.date,
                row.verdict,
                _RANK.get(row.verdict, 2),
                row.spread_percent,
                row.probability_over_limit,
                row_to_text(row),
            ),
        )

    def listed(
        self, order: Order, day: date, *, is_every_record: bool = False
    ) -> Iterator[LiftRow]:
        """Give the newest record of each lift, and all that cannot be used, in order.

        Older records get a line if asked; `day` is that of the list.
        """
        query = f"{_LISTED} ORDER BY {_ORDERED[order]}"
        found = self._base.execute(query, {"is_every_record": is_every_record})
        for place, n_records, _ in found:
            (row,) = self._lines("number = ?", place)
            since = _days(row.date, day)
            yield replace(row, days_since=since, n_records=n_records, place=place)

    def counts(self, *, is_every_record: bool = False) -> Mapping[str, int]:
        """Count the lines by their result; older records of a lift only if asked."""
        found = self._base.execute(_LISTED, {"is_every_record": is_every_record})
        return Counter(verdict for *_, verdict in found)

    def unusable(self) -> Iterator[LiftRow]:
        """Give what could not be used, in the order of the tree."""
        return self._lines("rank = ?", _RANK[UNUSABLE])

    def _lines(self, which: str, value: int) -> Iterator[LiftRow]:
        """The lines of which something holds, in the order of the tree."""
        query = f"SELECT text FROM line WHERE {which} ORDER BY number"  # noqa: S608
        for (text,) in self._base.execute(query, (value,)):
            yield row_from_fields(json.loads(text))


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
