"""The list of a fleet: what it says, as CSV, JSON lines, Parquet and one page.

The page sorts and filters without a network.
"""

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any, get_type_hints

from tension import __version__
from tension.errors import FileFormatError
from tension.files.atomic import placed_atomically, require_free
from tension.fleet.spool import (
    FAULT,
    UNUSABLE,
    LiftRow,
    Number,
    Numbers,
    Order,
    Spool,
)
from tension.report.visible import visible
from tension.telling.lines import told, word
from tension.wording import Terms, say
from tension.workflow.inputs import is_record
from tension.workflow.outputs import require_no_input

VERDICTS: Mapping[str, tuple[str, str]] = {
    "unequal": ("≠", "UNEQUAL"),
    "cannot-tell": ("?", "CANNOT TELL"),
    "no-result": ("–", "NO RESULT"),
    "equal": ("=", "EQUAL"),
    UNUSABLE: ("!", "NOT USABLE"),
    FAULT: ("!", "PROGRAM FAILED"),
}
"""Shape and word of each result, in the order in which they are counted."""


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


def spread_text(row: LiftRow) -> str:
    """Write the best estimate of a spread, in percent; empty without a number."""
    return "" if row.spread_percent is None else f"{row.spread_percent:.1f} %"


def interval_text(row: LiftRow) -> str:
    """Write between what a true spread lies at 95 %; empty where it is not bounded."""
    lower, upper = row.lower_percent, row.upper_percent
    if lower is None and upper is None:
        return ""
    if lower is None:
        return f"at most {upper:.1f} %"
    if upper is None:
        return f"at least {lower:.1f} %"
    return f"{lower:.1f} to {upper:.1f} %"


def lift_text(row: LiftRow) -> str:
    """Name a lift; by its record if it has no name."""
    named = [" ".join(t.split()) for t in (row.lift, row.address, row.car_number)]
    return ", ".join(text for text in named if text) or row.record


def rule_text(row: LiftRow) -> str:
    """Name the rule of a line with its limit; empty if there is none."""
    if row.limit_percent is None:
        return ""
    return f"{row.metric} {row.limit_percent:g} %, {row.rule}".rstrip(", ")


COLUMNS = tuple(one.name for one in fields(LiftRow) if one.name != "place")
"""Columns of CSV and Parquet; JSON lines have the same keys and `schema_version`."""

N_PLAIN = 100
"""So many lines stand on the page without its script, and are shown at a time. [1]"""

_TEMPLATES = Path(__file__).with_name("templates")
_BATCH = 1000  # lifts of a row group in Parquet
_NEEDS_PYARROW = (
    "{path}: Parquet is written by pyarrow, which is not installed; "
    "pip install 'tension[fleet]', or write .csv or .jsonl"
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Listing:
    """Which lines are listed, and how."""

    spool: Spool
    order: Order
    day: date
    top: str  # What was searched, as a person calls it
    is_every_record: bool = False  # A line for older records of a lift too
    terms: Terms = Terms.EUROPE

    def rows(self) -> Iterator[LiftRow]:
        """Give the lines in order."""
        return self.spool.listed(
            self.order, self.day, is_every_record=self.is_every_record
        )

    @property
    def counts(self) -> Mapping[str, int]:
        """How many lines have which result, in the order of `VERDICTS`."""
        counted = self.spool.counts(is_every_record=self.is_every_record)
        return {name: counted[name] for name in VERDICTS}


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
    for folder in path.absolute().parents:
        if is_record(folder):
            require_no_input(path, [folder])


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
    yield _csv_row(COLUMNS)
    for row in listing.rows():
        document = row.document()
        yield _csv_row(_csv_cell(document[column]) for column in COLUMNS)


def json_lines(listing: Listing) -> Iterator[str]:
    """Write lines as JSON, each on a line of its own."""
    for row in listing.rows():
        yield json.dumps(row.document(), ensure_ascii=True, allow_nan=False) + "\n"


def json_pieces(listing: Listing) -> Iterator[str]:
    """Write one JSON document piece by piece."""
    from tension.documents.commands import FLEET
    from tension.documents.shape import envelope, to_json

    text = to_json(envelope("fleet") | FLEET.of(listing))
    yield text.removesuffix("\n}\n") + ',\n  "lifts": ['
    between = "\n    "
    for line in json_lines(listing):
        yield between + line.rstrip("\n")
        between = ",\n    "
    yield "\n  ]\n}\n"


def _csv_row(cells: Iterable[str]) -> str:
    """One row of CSV."""
    written = io.StringIO()
    csv.writer(written, lineterminator="\n").writerow(cells)
    return written.getvalue()


def _csv_cell(value: object) -> str:
    """A value as a cell that a spreadsheet opens."""
    from tension.documents.shape import csv_text

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
    types = {
        str: pa.string(),
        int: pa.int32(),
        int | None: pa.int32(),
        Number: pa.float64(),
        tuple[int, ...]: pa.list_(pa.int32()),
        tuple[str, ...]: pa.list_(pa.string()),
        Numbers: pa.list_(pa.float64()),
    }
    hints = get_type_hints(LiftRow)
    schema = pa.schema([(name, types[hints[name]]) for name in COLUMNS])
    rows = listing.rows()
    with pa.parquet.ParquetWriter(path, schema) as writer:
        while batch := [_parquet_row(row) for row in islice(rows, _BATCH)]:
            writer.write_table(pa.Table.from_pylist(batch, schema=schema))


def _parquet_row(row: LiftRow) -> dict[str, Any]:
    """A line for pyarrow: no halves of characters, such as of a path in no coding."""
    return {
        name: value.encode("utf-8", "backslashreplace").decode("utf-8")
        if isinstance(value, str)
        else value
        for name, value in row.document().items()
        if name in COLUMNS
    }


def _pyarrow(path: Path) -> Any:  # noqa: ANN401 - it comes without types
    """The package that writes Parquet."""
    try:
        import pyarrow as pa
        import pyarrow.parquet
    except ImportError as error:
        raise FileFormatError(_NEEDS_PYARROW.format(path=path)) from error
    return pa


def page_parts(listing: Listing) -> Iterator[str]:
    """Make the page piece by piece, so that memory does not grow with the lifts.

    Texts of people are escaped.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    terms, counts = listing.terms, listing.counts
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
        plain=(_card(row, terms) for row in islice(listing.rows(), N_PLAIN)),
        cards=(_script_text(_card(row, terms)) for row in listing.rows()),
        shapes=_script_text({name: list(said) for name, said in VERDICTS.items()}),
        version=__version__,
    )


def _card(row: LiftRow, terms: Terms) -> dict[str, str | float | int | None]:
    """What the page shows of a line, and what it is sorted by."""
    again = ", ".join(map(str, row.measure_again))
    return {
        "verdict": row.verdict,
        "shape": VERDICTS[row.verdict][0],
        "word": VERDICTS[row.verdict][1],
        "lift": visible(lift_text(row)),
        "record": visible(row.record),
        "spread": spread_text(row),
        "interval": interval_text(row),
        "days": "" if row.days_since is None else str(row.days_since),
        "date": visible(row.date),
        "records": "" if row.n_records == 1 else str(row.n_records),
        "where": visible(", ".join(t for t in (row.side, row.position) if t)),
        "rule": visible(rule_text(row)),
        "reason": visible(say(row.reason, terms)),
        "next": visible(say(row.next_act, terms)),
        "again": again,
        "place": row.place,
        "by_spread": row.spread_percent,
        "by_probability": row.probability_over_limit,
    }


def _script_text(value: object) -> str:
    """JSON that may stand in a script of a page."""
    text = json.dumps(value, ensure_ascii=True, allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


_TEXTS: Mapping[str, tuple[Callable[[Listing], Iterator[str]], str]] = {
    ".csv": (csv_lines, "utf-8-sig"),  # so that spreadsheets read it as UTF-8
    ".jsonl": (json_lines, "utf-8"),
    ".html": (page_parts, "utf-8"),
}
_ENDINGS = (".csv", ".jsonl", ".parquet", ".html")
