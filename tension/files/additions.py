"""Adding tables to a record: what stands there is never touched."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.atomic import held_alone, write_atomically
from tension.files.evidence import has_seal
from tension.files.record import visit_from_text
from tension.files.toml_reading import LARGEST_RECORD, read_record_text
from tension.files.toml_text import NewTable, tables_text, with_tables
from tension.files.visit import Visit


@dataclass(frozen=True, kw_only=True, slots=True)
class Addition:
    """What was added, or would be."""

    record: Path  # the record
    text: str  # the lines added, without the empty line before them
    tables: tuple[NewTable, ...]  # the same as tables
    visit: Visit  # what the record says with them
    is_written: bool  # whether they stand in the record


Maker = Callable[[Visit], Sequence[NewTable]]
"""Makes the tables from what the record says at that moment; raises what it refuses."""


def append_tables(record: Path, make: Maker, *, dry_run: bool = False) -> Addition:
    """Add tables to a record, or none of them: at its end, or where they stand once.

    The record is held while it is read, the tables are made from what it says then and
    the whole is checked; the bytes that stood there stay as they are. A kill or a full
    disk leaves the record as it was.

    Raises
    ------
    FileFormatError
        If the record is sealed or cannot be read, or would not be right any more with
        the tables.
    """
    with held_alone(record):
        if has_seal(record):
            raise FileFormatError(
                f"{record}: this record is sealed, so an addition is a correction; "
                "give --by and --reason"
            )
        return append_held(record, make, dry_run=dry_run)


def append_held(record: Path, make: Maker, *, dry_run: bool = False) -> Addition:
    """Add tables at the end of a record that is held, sealed or not.

    Raises
    ------
    FileFormatError
        As `append_tables`, the seal aside.
    """
    text, before = read_record_text(record), record.read_bytes()
    visit = visit_from_text(text, record)
    tables = tuple(make(visit))
    if tables:
        longer = with_tables(text, tables)
        visit = _visit_with(longer, record)
        mark = before[: len(before) - len(text.encode("utf-8"))]
        after = mark + longer.encode("utf-8")
        if len(after) > LARGEST_RECORD:
            raise FileFormatError(
                f"{record}: would become larger than {LARGEST_RECORD // 1000} kB and "
                "could not be read any more; begin a new record"
            )
        if not dry_run and record.read_bytes() != before:
            raise FileFormatError(
                f"{record}: was saved by another program meanwhile; nothing was added, "
                "run it again"
            )
        if not dry_run:
            write_atomically(record.resolve(), after, overwrite=True)
    return Addition(
        record=record,
        text=tables_text(tables),
        tables=tables,
        visit=visit,
        is_written=bool(tables) and not dry_run,
    )


def _visit_with(text: str, record: Path) -> Visit:
    """Read the record as it would be; a mistake is one of the lines to add."""
    try:
        return visit_from_text(text, record)
    except FileFormatError as error:
        place = re.compile(rf"^{re.escape(str(record))}: (?:line \d+: )?")
        told = [place.sub("", line) for line in error.lines]
        raise FileFormatError(
            *(f"nothing was added to {record}: {line}" for line in told)
        ) from error
