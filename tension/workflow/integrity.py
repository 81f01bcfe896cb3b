"""Sealing a record, correcting it openly, verifying it and the order of its dates."""

import contextlib
import datetime as dt
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.atomic import held_alone
from tension.files.evidence import has_seal, hash_file, seal_path
from tension.files.record import read_visit
from tension.files.record_links import path_fault
from tension.files.seal import (
    Change,
    ChangeKind,
    Correction,
    Seal,
    Verification,
    append_correction,
    read_sealed,
    record_text,
    rule_words,
    time_now,
    write_seal,
)
from tension.files.toml_text import changed_lines, compared_lines
from tension.files.visit import RECORD_NAME, Visit, named_files
from tension.workflow.inputs import find_record

_DAY = re.compile(r"\s*(\d{4}-\d{2}-\d{2})(?:[ T](\d{2}:\d{2})(?::\d{2})?)?")
_ONE_DAY = dt.timedelta(days=1)  # midnight, and the zones of phone and computer


def seal_record(path: Path | str) -> Seal:
    """Seal a record and all it names.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.

    Examples
    --------
    Close a record with the checksums of its files::

        seal_record("visit.toml")
    """
    record = find_record(Path(path))
    with held_alone(record):
        return write_seal(read_visit(record), record)


def correct_record(path: Path | str, words: Correction) -> Correction:
    """Add a correction to a sealed record.

    Raises
    ------
    FileFormatError
        If the record is not sealed, or as `add_correction` tells.
    """
    record = find_record(Path(path))
    if not has_seal(record):
        raise FileFormatError(
            f"{record}: this record is not sealed; correct it in place, then seal it"
        )
    with held_alone(record):
        return add_correction(record, words)


def add_correction(record: Path, words: Correction) -> Correction:
    """Add a correction to a sealed record that is held alone.

    It tells what changed since the last one, goes to the end and is tied to the one
    before; what stands there is kept byte by byte.

    Raises
    ------
    FileFormatError
        If name or reason is missing, nothing changed and no words are given, seal or
        corrections were changed, or would become larger than what is read.
    """
    visit, sealed = read_visit(record), read_sealed(record)
    if sealed.changes:
        raise FileFormatError(sealed.changes[0].text)
    if not words.by.strip():
        raise FileFormatError("a correction needs a name; say who corrects: --by NAME")
    if not words.reason.strip():
        raise FileFormatError("a correction needs a reason; say why: --reason TEXT")
    found = list(_changes(record, sealed, (record.name, *named_files(visit))))
    files = {one.path: one.file_now for one in found if one.file_now}
    absent = [one for one in found if not one.file_now]
    missing = tuple(o.path for o in absent if o.kind is ChangeKind.NOT_SEALED)
    if not (files or missing or words.removed or words.text.strip()):
        raise FileFormatError(
            "nothing changed since the last seal or correction; "
            "give --text to put something right in words"
        )
    lines: list[str] = []
    if record.name in files:
        texts = (sealed.record_text, record_text(record))
        lines = compared_lines(*(text.splitlines(keepends=True) for text in texts))
    correction = replace(
        words,
        date=time_now(),
        files=tuple(files.values()),
        missing=missing,
        lines=tuple(lines),
        rule=rule_words(visit.rule) if record.name in files else "",
        previous=sealed.sha256,
    )
    return append_correction(record, correction)


def verify(path: Path | str) -> Verification:
    """Hold a record and all it names against its seal.

    A record that can no longer be read is a change too. Files that the record names now
    and that were never sealed are told.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.

    Raises
    ------
    FileFormatError
        If there is no seal.

    Examples
    --------
    Whether a sealed record and its files are as they were::

        verify("visit.toml")
    """
    record = Path(path)
    if record.is_dir():
        record /= RECORD_NAME
    name = seal_path(record).name
    if not has_seal(record):
        raise FileFormatError(
            f"{record.with_name(name)}: there is no seal; make one with "
            f"'tension seal {record}'"
        )
    sealed = read_sealed(record)
    if not sealed.seal:
        return sealed
    changes = list(sealed.changes)
    if record.name not in sealed.files:
        other = sealed.seal.record
        text = f"{name}: it is the seal of {other}, not of {record.name}"
        changes.append(Change(kind=ChangeKind.SEAL, path=name, text=text))
    try:
        named = named_files(read_visit(record))
    except (FileFormatError, OSError):
        named = ()
    changes += _changes(record, sealed, named)
    return replace(sealed, changes=tuple(changes))


def _changes(
    record: Path, sealed: Verification, named: Iterable[str]
) -> Iterator[Change]:
    """Files that are not as sealed and corrected, or never were; record with lines."""
    expected, missing, old = sealed.files, sealed.missing, sealed.record_text
    for name in dict.fromkeys((*expected, *named)):
        before, now = expected.get(name), None
        fault, kind = path_fault(name, record.parent), ChangeKind.CHANGED
        if not fault:
            with contextlib.suppress(OSError):
                now = hash_file(record.parent / name, name)
        if before == now and (before or name in missing):
            continue
        if before is None:
            since = "was not there when the record was sealed, and is now"
            never = "the record names it, but it was never sealed"
            kind = ChangeKind.NOT_SEALED
            fault = since if name in missing else never
        elif now:
            fault = (
                f"changed; sealed {before.n_bytes} bytes, SHA-256 {before.sha256}, "
                f"now {now.n_bytes} bytes, SHA-256 {now.sha256}"
            )
        elif not fault:
            kind, fault = ChangeKind.MISSING, "missing, or unreadable"
        lines: tuple[str, ...] = ()
        if name == record.name and now and before and old:
            lines = changed_lines(old, record_text(record))
        yield Change(
            kind=kind, path=name, text=f"{name}: {fault}", lines=lines, file_now=now
        )


def date_doubts(
    visit: Visit, sealed: Verification | None = None, *, today: dt.date | None = None
) -> tuple[str, ...]:
    """Find dates that contradict each other or lie in the future, a sentence each."""
    given, seal = dict(visit.particulars), sealed.seal if sealed else None
    day, before = day_of(given.get("date", "")), day_of(seal.sealed) if seal else None
    taken = [(f'series "{one.name}"', day_of(one.taken)) for one in visit.series]
    trims = [(f"the trim of {one.recording}", day_of(one.date)) for one in visit.trims]
    ordered = ("the order", day_of(given.get("order_date", "")))
    known = [*taken, *trims, ("the seal", before)]
    done = [("the visit", day), *known, ("the allowance", visit.allowance.date)]
    doubts = [
        *_off(done, today or dt.date.today(), 1, "which lies in the future"),
        *_off((*known, ordered), day, -1, f"before the visit of {day}"),
        *_off(taken, day, 1, f"after the visit of {day}"),
        *_out_of_order(visit),
    ]
    for number, one in enumerate(sealed.corrections if sealed else (), start=1):
        dated = [(f"correction {number}", day_of(one.date))]
        doubts += _off(dated, before, -1, "before what it corrects")
        before = day_of(one.date) or before
    return tuple(doubts)


def _off(
    dated: Iterable[tuple[str, dt.date | None]],
    other: dt.date | None,
    way: int,
    words: str,
) -> Iterator[str]:
    """What is dated more than a day after (1) or before (-1) some other day."""
    for name, day in dated:
        if day and other and way * (day - other) > _ONE_DAY:
            yield f"{name} is dated {day}, {words}."


def day_of(text: str) -> dt.date | None:
    """Read the day that a text begins with, such as "2026-11-20 10:12 +00:00"."""
    found = _DAY.match(text)
    try:
        return dt.date.fromisoformat(found.group(1)) if found else None
    except ValueError:
        return None


def _out_of_order(visit: Visit) -> Iterator[str]:
    """Series that stand in another order than that of their times."""
    times = [(one.name, _DAY.match(one.taken)) for one in visit.series]
    told = [(name, found.group(0).strip()) for name, found in times if found]
    for (name, before), (other, after) in pairwise(told):
        if after < before and len(after) == len(before):
            yield f'series "{other}" stands after "{name}" and was taken before it.'
