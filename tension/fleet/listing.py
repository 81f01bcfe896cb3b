"""The list of a fleet: one line a lift, put in order on disk, and every form of it.

Memory stays the same however many lifts there are: SQLite sorts on disk. The page sorts
and filters without a network.
"""

import csv
import io
import json
import os
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import chain, islice
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, TypeAlias

from tension import __version__
from tension.documents.commands import SCHEMA_VERSION, described
from tension.errors import FileFormatError
from tension.files.atomic import placed_atomically, require_free
from tension.fleet.tree import Place
from tension.report.visible import visible
from tension.telling.lines import told, word
from tension.wording import Terms, say
from tension.workflow.inputs import is_record
from tension.workflow.outputs import require_no_input

if TYPE_CHECKING:
    from tension.workflow.assess import Assessed

UNUSABLE = "unusable"
"""Stands where a verdict would, if a record or a folder could not be used."""

FAULT = "fault"
"""The same, if the program itself failed over the record, which is a bug."""

VERDICTS: Mapping[str, tuple[str, str]] = {
    "unequal": ("≠", "UNEQUAL"),
    "cannot-tell": ("?", "CANNOT TELL"),
    "no-result": ("–", "NO RESULT"),
    "equal": ("=", "EQUAL"),
    UNUSABLE: ("!", "NOT USABLE"),
    FAULT: ("!", "PROGRAM FAILED"),
}
"""Shape and word of each result, in the order in which they are counted."""

Row: TypeAlias = dict[str, Any]
"""One line as JSON has it; ``fleet.lifts`` in ``documents/keys.txt`` tells its keys."""
_SHAPE = described("fleet.lifts")
COLUMNS = tuple(key.name for key in _SHAPE if key.name != "schema_version")
"""Columns of CSV and Parquet; JSON lines have the same keys and `schema_version`."""

_WHOLE = ("days_since", "n_records", "n_ropes", "lowest_rope", "highest_rope")
_PERCENT = ("spread_percent", "lower_percent", "upper_percent", "limit_percent")
_REAL = (*_PERCENT, "probability_over_limit")
_NUMBERS = dict.fromkeys(_WHOLE, "int32") | dict.fromkeys(_REAL, "double")
"""Columns that hold a number or nothing, with its type."""
_LISTS = {
    "measure_again": "int32",
    "shares_percent": "double",
    "share_standard_uncertainties_percent": "double",
    "tensions_n": "double",
    "notes": "string",
}
"""Columns that hold lists, with the type of what is in them; all others are texts."""
_EMPTY: Row = (
    {"schema_version": SCHEMA_VERSION}
    | dict.fromkeys(COLUMNS, "")
    | dict.fromkeys(_NUMBERS)
    | {name: [] for name in _LISTS}
    | {"n_records": 1}
)
"""A line that tells nothing yet."""

N_PLAIN = 100
"""So many lines stand on the page without its script, and are shown at a time. [1]"""

_BATCH = 1000  # lifts of a row group in Parquet


def row_of(assessed: "Assessed") -> Row:
    """Take the line of a lift from its document, without the path of the record."""
    from tension.documents.commands import document

    visit, found = assessed.visit, assessed.assessment
    answer = document("assess", found, assessed.inputs, found.notes)
    ropes = answer["ropes"]
    by_share = sorted(
        (rope["share_percent"], rope["number"])
        for rope in ropes
        if rope["share_percent"] is not None
    )
    more = {
        "visit": {"lift": visit.lift.name, **dict(visit.particulars)},
        "lowest_rope": by_share[0][1] if by_share else None,
        "highest_rope": by_share[-1][1] if by_share else None,
        "n_ropes": len(ropes),
        "of_ropes": {name: [rope[name] for rope in ropes] for name in ropes[0]},
        "codes": list(dict.fromkeys(note["code"] for note in answer["notes"])),
    }
    told = _SHAPE.of(answer | more)
    return _EMPTY | {name: value for name, value in told.items() if value is not None}


def unusable(record: str, lines: Sequence[str], verdict: str = UNUSABLE) -> Row:
    """Make the line of a record or a folder that could not be used; reasons name it."""
    folder, _, name = record.rpartition("/")
    reasons = [
        line
        if (folder or name) in line
        else f"{record}: {line.removeprefix(f'{name}: ')}"
        for line in lines
    ]
    return _EMPTY | {"record": record, "verdict": verdict, "reason": "\n".join(reasons)}


def is_usable(row: Row) -> bool:
    """Tell whether there is an answer, be it that there is no result."""
    return row["verdict"] not in {UNUSABLE, FAULT}


def counts_text(counts: Mapping[str, int]) -> str:
    """Tell how many lifts got which result."""
    n_lost = counts[UNUSABLE] + counts[FAULT]
    n_lifts = sum(counts.values()) - n_lost
    said = [
        f"{n} {VERDICTS[name][1].lower()}"
        for name, n in counts.items()
        if n and name not in {UNUSABLE, FAULT}
    ]
    noun = "[[lift]]" if n_lifts == 1 else "[[lifts]]"
    text = f"{n_lifts} {noun}" + (f": {', '.join(said)}" if said else "")
    if not n_lost:
        return f"{text}."
    places = "1 folder or record" if n_lost == 1 else f"{n_lost} folders or records"
    return f"{text}; {places} could not be used."


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
CREATE TABLE line (
    number INTEGER PRIMARY KEY, record BLOB, lift BLOB, day TEXT, verdict TEXT,
    rank INTEGER, spread REAL, probability REAL, text TEXT
);
"""

_LISTED = """
SELECT number, n_records, CAST(julianday(:day) - julianday(day) AS INTEGER), verdict
FROM (
    SELECT number, day, verdict, rank, spread, probability,
        ROW_NUMBER() OVER newest AS age, COUNT(*) OVER (PARTITION BY lift) AS n_records
    FROM line WHERE text NOTNULL
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

_NAMES = ("lift", "address", "car_number")
_RANK = {"cannot-tell": 0, "no-result": 1, UNUSABLE: 3, FAULT: 3}
"""Of the results when what cannot tell comes first; 2 for the others."""


class Spool:
    """Every record found and every line that came of one, in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.base = sqlite3.connect(folder / "spool", isolation_level=None)
        self.base.executescript(_TABLES)

    def close(self) -> None:
        """Let the files go."""
        self.base.close()

    def find(self, places: Iterable[Place]) -> int:
        """Take in and count what was found in a tree; the unusable gets its line."""
        number = 0
        self.base.execute("BEGIN")
        for number, (record, reasons) in enumerate(places, start=1):
            self.base.execute(
                "INSERT INTO line (number, record) VALUES (?, ?)",
                (number, os.fsencode(record)),
            )
            if reasons:
                self.add(number, unusable(record, reasons))
        self.base.execute("COMMIT")
        return number

    def unanswered(self) -> Iterator[tuple[int, str]]:
        """Give every record without a line: its number from 1 up, and its path."""
        query = "SELECT number, record FROM line WHERE text IS NULL ORDER BY number"
        for number, record in self.base.execute(query):
            yield number, os.fsdecode(record)

    def add(self, number: int, row: Row) -> None:
        """Take in the line of a place."""
        self.base.execute(
            "UPDATE line SET (lift, day, verdict, rank, spread, probability, text) "
            "= (?, ?, ?, ?, ?, ?, ?) WHERE number = ?",
            (
                _lift_of(row),
                row["date"],
                row["verdict"],
                _RANK.get(row["verdict"], 2),
                row["spread_percent"],
                row["probability_over_limit"],
                json.dumps(row, allow_nan=False),
                number,
            ),
        )

    def unusable(self) -> Iterator[Row]:
        """Give what could not be used, in the order of the tree."""
        return self.lines("rank = ?", _RANK[UNUSABLE])

    def lines(self, which: str, value: int) -> Iterator[Row]:
        """Give the lines of which something holds, in the order of the tree."""
        query = f"SELECT text FROM line WHERE {which} ORDER BY number"  # noqa: S608
        for (text,) in self.base.execute(query, (value,)):
            yield json.loads(text)


def _lift_of(row: Row) -> bytes:
    """Which lift a record is of: by name, address, car number and the folder above."""
    # for want of a name it stands for itself: two lifts must never become one line
    if not (is_usable(row) and row["lift"].strip()):
        return os.fsencode(f"record\n{row['record']}")
    beside = PurePosixPath(row["record"]).parent.parent.as_posix()
    named = (row[name] for name in _NAMES)
    return os.fsencode("\n".join((beside, *(" ".join(n.split()) for n in named))))


@dataclass(frozen=True, kw_only=True, slots=True)
class Listing:
    """Which lines are listed, and how."""

    spool: Spool
    order: Order
    day: date
    top: str  # What was searched, as a person calls it
    is_every_record: bool = False  # A line for older records of a lift too
    terms: Terms = Terms.EUROPE

    def rows(self) -> Iterator[Row]:
        """Give in order the newest record of each lift, and what cannot be used."""
        for place, n_records, since, _ in self._listed(_ORDERED[self.order]):
            (row,) = self.spool.lines("number = ?", place)
            yield row | {"days_since": since, "n_records": n_records, "place": place}

    @property
    def counts(self) -> Mapping[str, int]:
        """How many lines have which result, in the order of `VERDICTS`."""
        counted = Counter(verdict for *_, verdict in self._listed("number"))
        return {name: counted[name] for name in VERDICTS}

    def _listed(self, order: str) -> sqlite3.Cursor:
        """Number, records, days since and result of every line, in order."""
        asked = {"day": self.day.isoformat(), "is_every_record": self.is_every_record}
        return self.spool.base.execute(f"{_LISTED} ORDER BY {order}", asked)


def require_writable(path: Path, *, overwrite: bool) -> None:
    """Refuse a list that cannot be written, before any work is done.

    Raises
    ------
    FileFormatError
        If its ending is unknown, or what writes it is missing.
    ExistingFileError
        If it exists and may not be replaced, or is a file that a record names.
    """
    if path.suffix.lower() not in _ENDINGS:
        endings = ", ".join(_ENDINGS)
        raise FileFormatError(f"{path}: a list ends in one of {endings}")
    if path.suffix.lower() == ".parquet":
        _pyarrow(path)
    require_free(path, overwrite=overwrite)
    require_no_input(path, [one for one in path.absolute().parents if is_record(one)])


def write_list(listing: Listing, path: Path, *, overwrite: bool) -> None:
    """Write a list in the form that its name ends in."""
    suffix = path.suffix.lower()
    with placed_atomically(path, overwrite=overwrite) as part:
        if suffix == ".parquet":
            _write_parquet(listing, part)
            return
        parts, encoding = _TEXTS[suffix]
        with part.open("w", encoding=encoding, newline="") as opened:
            opened.writelines(parts(listing))


def csv_lines(listing: Listing) -> Iterator[str]:
    """Write lines as CSV, one row a lift; units are in the header."""
    rows = ([_csv_cell(row[name]) for name in COLUMNS] for row in listing.rows())
    for cells in chain([COLUMNS], rows):
        written = io.StringIO()
        csv.writer(written, lineterminator="\n").writerow(cells)
        yield written.getvalue()


def json_lines(listing: Listing) -> Iterator[str]:
    """Write lines as JSON, each on a line of its own."""
    for row in listing.rows():
        told = {key.name: row[key.name] for key in _SHAPE}
        yield json.dumps(told, ensure_ascii=True, allow_nan=False) + "\n"


def json_pieces(listing: Listing) -> Iterator[str]:
    """Write one JSON document piece by piece."""
    from tension.documents.commands import document, to_json

    text = to_json(document("fleet", listing))
    yield text.removesuffix("\n}\n") + ',\n  "lifts": ['
    between = "\n    "
    for line in json_lines(listing):
        yield between + line.rstrip("\n")
        between = ",\n    "
    yield "\n  ]\n}\n"


def _csv_cell(value: object) -> str:
    """A value as a cell that a spreadsheet opens."""
    from tension.documents.commands import csv_text

    if value is None:
        return ""
    if isinstance(value, str):
        return csv_text(" ".join(value.split("\n")))
    if isinstance(value, list):
        return " ".join("-" if one is None else str(one) for one in value)
    return repr(value)


def _write_parquet(listing: Listing, path: Path) -> None:
    """Write Parquet, a thousand rows at a time."""
    pa = _pyarrow(path)
    lists = {name: pa.list_(pa.type_for_alias(one)) for name, one in _LISTS.items()}
    types = dict.fromkeys(COLUMNS, "string") | _NUMBERS | lists
    schema = pa.schema(list(types.items()))
    rows = map(_parquet_row, listing.rows())
    with pa.parquet.ParquetWriter(path, schema) as writer:
        while batch := list(islice(rows, _BATCH)):
            writer.write_table(pa.Table.from_pylist(batch, schema=schema))


def _parquet_row(row: Row) -> Row:
    """A line for pyarrow: no halves of characters, such as of a path in no coding."""
    return {
        name: value.encode("utf-8", "backslashreplace").decode("utf-8")
        if isinstance(value, str)
        else value
        for name, value in row.items()
    }


def _pyarrow(path: Path) -> Any:  # noqa: ANN401 - it comes without types
    """The package that writes Parquet."""
    try:
        import pyarrow as pa
        import pyarrow.parquet
    except ImportError as error:
        raise FileFormatError(
            f"{path}: Parquet is written by pyarrow, which is not installed; "
            "pip install 'tension[fleet]', or write .csv or .jsonl"
        ) from error
    return pa


def page_parts(listing: Listing) -> Iterator[str]:
    """Make the page piece by piece, so that memory does not grow with the lifts.

    Texts of people are escaped.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(Path(__file__).with_name("templates")),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    terms, counts = listing.terms, listing.counts
    environment.policies["json.dumps_kwargs"] = {}
    environment.filters["say"] = lambda text: say(text, terms)
    return environment.get_template("fleet.html.j2").generate(
        top=visible(listing.top),
        day=listing.day.isoformat(),
        order=listing.order.value,
        orders=[(one.value, word(one)) for one in Order],
        verdicts=[(name, *VERDICTS[name], n) for name, n in counts.items() if n],
        counts=counts_text(counts),
        condition=told("fleet.condition"),
        n_all=sum(counts.values()),
        n_plain=N_PLAIN,
        plain=(card(row, terms) for row in islice(listing.rows(), N_PLAIN)),
        cards=(card(row, terms) for row in listing.rows()),
        version=__version__,
    )


def card(row: Row, terms: Terms) -> Row:
    """Tell what people are shown of a line, and what it is sorted by."""
    shape, verdict = VERDICTS[row["verdict"]]
    named = (" ".join(row[name].split()) for name in _NAMES)
    rule = f"{row['metric']} {row['limit_percent'] or 0:g} %, {row['rule']}"
    spread, days = row["spread_percent"], row["days_since"]
    lower, upper = row["lower_percent"], row["upper_percent"]
    interval = "" if lower is None else f"at least {lower:.1f} %"
    if upper is not None:
        interval = f"{lower:.1f} to {upper:.1f} %"
    return {
        "verdict": row["verdict"],
        "shape": shape,
        "word": verdict,
        "lift": visible(", ".join(filter(None, named)) or row["record"]),
        "record": visible(row["record"]),
        "spread": "" if spread is None else f"{spread:.1f} %",
        "interval": interval,
        "days": "" if days is None else str(days),
        "date": visible(row["date"]),
        "records": "" if row["n_records"] == 1 else str(row["n_records"]),
        "where": visible(", ".join(filter(None, (row["side"], row["position"])))),
        "rule": visible(rule.rstrip(", ")) if row["limit_percent"] is not None else "",
        "reason": visible(say(row["reason"], terms)),
        "next": visible(say(row["next_act"], terms)),
        "again": ", ".join(map(str, row["measure_again"])),
        "place": row["place"],
        "by_spread": spread,
        "by_probability": row["probability_over_limit"],
    }


_TEXTS: Mapping[str, tuple[Callable[[Listing], Iterator[str]], str]] = {
    ".csv": (csv_lines, "utf-8-sig"),  # so that spreadsheets read it as UTF-8
    ".jsonl": (json_lines, "utf-8"),
    ".html": (page_parts, "utf-8"),
}
_ENDINGS = (".csv", ".jsonl", ".parquet", ".html")
