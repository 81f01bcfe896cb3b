"""The list of a fleet as files and streams: CSV, JSON lines, Parquet, one page."""

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any

from tension.errors import FileFormatError
from tension.files.atomic import placed_atomically, require_free
from tension.fleet.page import page_parts
from tension.fleet.rows import ListedRow
from tension.fleet.spool import Order, Spool
from tension.wording import Terms
from tension.workflow.inputs import is_record
from tension.workflow.outputs import require_no_input

COLUMNS = (
    "record",
    "lift",
    "address",
    "car_number",
    "date",
    "days_since",
    "n_records",
    "series",
    "side",
    "position",
    "verdict",
    "spread_percent",
    "lower_percent",
    "upper_percent",
    "probability_over_limit",
    "rule",
    "metric",
    "limit_percent",
    "n_ropes",
    "lowest_rope",
    "highest_rope",
    "measure_again",
    "shares_percent",
    "share_standard_uncertainties_percent",
    "tensions_n",
    "reason",
    "next_act",
    "notes",
    "record_sha256",
)
"""Columns of CSV and Parquet; JSON lines have the same keys and `schema_version`."""

_WHOLES = {"days_since", "n_records", "n_ropes", "lowest_rope", "highest_rope"}
_BATCH = 1000
_NEEDS_PYARROW = (
    "{path}: Parquet is written by pyarrow, which is not installed; "
    "pip install 'tension[fleet]', or write .csv or .jsonl"
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Listing:
    """Which lines are listed, and how.

    Attributes
    ----------
    spool : Spool
        All lines.
    order : Order
        By what they are put in order.
    day : date
        The day of the list.
    is_every_record : bool
        Whether older records of a lift get a line too.
    top : str
        What was searched, as a person calls it.
    terms : Terms
        Words of the trade on the page.
    """

    spool: Spool
    order: Order
    day: date
    is_every_record: bool
    top: str
    terms: Terms

    def rows(self) -> Iterator[ListedRow]:
        """Give the lines in order."""
        return self.spool.listed(
            self.order, self.day, is_every_record=self.is_every_record
        )

    def counts(self) -> Mapping[str, int]:
        """Count the lines by their result."""
        return self.spool.counts(is_every_record=self.is_every_record)


def require_writable(path: Path, *, overwrite: bool) -> None:
    """Refuse a list that cannot be written, before any work is done.

    Parameters
    ----------
    path : Path
        Where to.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    FileFormatError
        If its ending is unknown, or what writes it is missing.
    ExistingFileError
        If it exists and may not be replaced, or is a file that a record names.
    """
    if path.suffix.lower() not in _WRITERS:
        endings = ", ".join(_WRITERS)
        raise FileFormatError(f"{path}: a list ends in one of {endings}")
    if path.suffix.lower() == ".parquet":
        _pyarrow(path)
    require_free(path, overwrite=overwrite)
    for folder in path.absolute().parents:
        if is_record(folder):
            require_no_input(path, [folder])


def write_list(listing: Listing, path: Path, *, overwrite: bool) -> None:
    """Write a list in the form that its name ends in.

    Parameters
    ----------
    listing : Listing
        The lines.
    path : Path
        Where to.
    overwrite : bool
        Whether a file of that name may be replaced.
    """
    with placed_atomically(path, overwrite=overwrite) as part:
        _WRITERS[path.suffix.lower()](listing, part)


def csv_lines(rows: Iterable[ListedRow]) -> Iterator[str]:
    """Write lines as CSV, one row a lift; units are in the header."""
    yield _csv_row(COLUMNS)
    for row in rows:
        document = row.document()
        yield _csv_row([_csv_cell(document[column]) for column in COLUMNS])


def json_lines(rows: Iterable[ListedRow]) -> Iterator[str]:
    """Write lines as JSON, each on a line of its own."""
    for row in rows:
        yield json.dumps(row.document(), ensure_ascii=True, allow_nan=False) + "\n"


def _csv_row(cells: Iterable[str]) -> str:
    """One row of CSV."""
    written = io.StringIO()
    csv.writer(written, lineterminator="\n").writerow(cells)
    return written.getvalue()


def _csv_cell(value: object) -> str:
    """A value as a cell that a spreadsheet opens."""
    from tension.documents.assessed import csv_text

    if value is None:
        return ""
    if isinstance(value, str):
        return csv_text(" ".join(value.split("\n")))
    if isinstance(value, list):
        return " ".join("-" if one is None else str(one) for one in value)
    return repr(value)


def _write_csv(listing: Listing, path: Path) -> None:
    """Write CSV, marked as UTF-8 so that spreadsheets read it as such."""
    with path.open("w", encoding="utf-8-sig", newline="") as opened:
        opened.writelines(csv_lines(listing.rows()))


def _write_json_lines(listing: Listing, path: Path) -> None:
    """Write JSON lines."""
    with path.open("w", encoding="utf-8", newline="") as opened:
        opened.writelines(json_lines(listing.rows()))


def _write_page(listing: Listing, path: Path) -> None:
    """Write the page."""
    parts = page_parts(
        listing.rows,
        listing.counts(),
        top=listing.top,
        day=listing.day,
        order=listing.order,
        terms=listing.terms,
    )
    with path.open("w", encoding="utf-8", newline="") as opened:
        opened.writelines(parts)


def _write_parquet(listing: Listing, path: Path) -> None:
    """Write Parquet, a thousand rows at a time."""
    pa = _pyarrow(path)
    schema = _schema(pa)
    rows = listing.rows()
    with pa.parquet.ParquetWriter(path, schema) as writer:
        while batch := [_parquet_row(row) for row in islice(rows, _BATCH)]:
            writer.write_table(pa.Table.from_pylist(batch, schema=schema))


def _parquet_row(row: ListedRow) -> dict[str, Any]:
    """A line for pyarrow."""
    document = row.document()
    return {
        column: value if isinstance(value, list) else _whole_text(value)
        for column, value in ((column, document[column]) for column in COLUMNS)
    }


def _whole_text(value: object) -> object:
    """A text without halves of characters, such as of a path in no coding."""
    if isinstance(value, str):
        return value.encode("utf-8", "backslashreplace").decode("utf-8")
    return value


def _schema(pa: Any) -> Any:  # noqa: ANN401 - pyarrow comes without types
    """Types of the columns."""
    lists = {
        "measure_again": pa.list_(pa.int32()),
        "shares_percent": pa.list_(pa.float64()),
        "share_standard_uncertainties_percent": pa.list_(pa.float64()),
        "tensions_n": pa.list_(pa.float64()),
        "notes": pa.list_(pa.string()),
    }
    return pa.schema(
        [(name, lists.get(name) or _type_of(pa, name)) for name in COLUMNS]
    )


def _type_of(pa: Any, column: str) -> Any:  # noqa: ANN401 - as above
    """Type of a column of single values."""
    if column in _WHOLES:
        return pa.int32()
    is_number = column.endswith("_percent") or column == "probability_over_limit"
    return pa.float64() if is_number else pa.string()


def _pyarrow(path: Path) -> Any:  # noqa: ANN401 - as above
    """The package that writes Parquet."""
    try:
        import pyarrow as pa
        import pyarrow.parquet
    except ImportError as error:
        raise FileFormatError(_NEEDS_PYARROW.format(path=path)) from error
    return pa


_WRITERS: Mapping[str, Callable[[Listing, Path], None]] = {
    ".csv": _write_csv,
    ".jsonl": _write_json_lines,
    ".parquet": _write_parquet,
    ".html": _write_page,
}
