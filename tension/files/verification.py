"""A record held against its seal and its corrections; its dates against each other."""

import contextlib
import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence, has_seal, hash_file, seal_path
from tension.files.record_links import path_fault
from tension.files.seal import (
    Correction,
    Seal,
    Sealed,
    append_correction,
    read_sealed,
    record_text,
)
from tension.files.toml_text import changed_lines, compared_lines
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
    """Find dates that contradict each other or lie in the future, a sentence each."""
    given = dict(visit.particulars)
    day, before = day_of(given.get("date", "")), day_of(seal.sealed) if seal else None
    taken = [(f'series "{one.name}"', day_of(one.taken)) for one in visit.series]
    trims = [(f"the trim of {one.recording}", day_of(one.date)) for one in visit.trims]
    ordered = ("the order", day_of(given.get("order_date", "")))
    known = [*taken, *trims, ("the seal", before)]
    done = [("the visit", day), *known, ("the allowance", visit.allowance.date)]
    doubts = [
        *_off(done, today, 1, "which lies in the future"),
        *_off((*known, ordered), day, -1, f"before the visit of {day}"),
        *_off(taken, day, 1, f"after the visit of {day}"),
        *_out_of_order(visit),
    ]
    for number, one in enumerate(corrections, start=1):
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


class ChangeKind(StrEnum):
    """What is no longer as it was sealed."""

    SEAL = "seal changed"
    CORRECTIONS = "corrections changed"
    CHANGED = "changed"
    MISSING = "missing"
    NOT_SEALED = "not sealed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One thing that is no longer as it was sealed."""

    kind: ChangeKind
    path: str  # which file
    text: str  # what was found, one sentence
    lines: tuple[str, ...] = ()  # of the record, taken out ("- ") and put in ("+ ")
    file_now: FileEvidence | None = None  # the file as it is, if it can be read


@dataclass(frozen=True, kw_only=True, slots=True)
class Verification:
    """Outcome of holding a record against its seal."""

    changes: tuple[Change, ...]  # all that does not fit
    seal: Seal | None = None  # None if it was changed
    corrections: tuple[Correction, ...] = ()  # those that fit, in order
    n_files: int = 0  # held against their checksums
    # when and which rule: at sealing, and by every correction that changed it
    rules: tuple[tuple[str, str], ...] = ()

    @property
    def is_same(self) -> bool:
        """Whether everything is as sealed and corrected."""
        return not self.changes

    @property
    def sha256(self) -> str:
        """Checksum of the last correction, or of the seal, to be written down."""
        if self.corrections:
            return self.corrections[-1].sha256
        return self.seal.sha256 if self.seal else ""


def verify_record(record: Path, named: Sequence[str] = ()) -> Verification:
    """Hold a record, readable or not, against its seal.

    Files that the record names now and that were never sealed are told.

    Raises
    ------
    FileFormatError
        If there is no seal.
    """
    path = seal_path(record)
    if not has_seal(record):
        raise FileFormatError(
            f"{path}: there is no seal; make one with 'tension seal {record}'"
        )
    try:
        sealed = read_sealed(record)
    except FileFormatError as error:
        change = Change(kind=ChangeKind.SEAL, path=path.name, text=str(error))
        return Verification(changes=(change,))
    seal, expected = sealed.seal, sealed.files
    changes = []
    if fault := sealed.fault:
        name = sealed.path.name
        changes.append(Change(kind=ChangeKind.CORRECTIONS, path=name, text=fault))
    if record.name not in expected:
        text = f"{path.name}: it is the seal of {seal.record}, not of {record.name}"
        changes.append(Change(kind=ChangeKind.SEAL, path=path.name, text=text))
    changes += changes_since(record, sealed, named)
    rules = [(seal.sealed, seal.rule)]
    for correction in sealed.corrections:
        if correction.rule and correction.rule != rules[-1][1]:
            rules.append((correction.date, correction.rule))
    return Verification(
        changes=tuple(changes),
        seal=seal,
        corrections=sealed.corrections,
        n_files=len(expected),
        rules=tuple(rules),
    )


def changes_since(
    record: Path, sealed: Sealed, named: Iterable[str]
) -> Iterator[Change]:
    """Find files that are not as sealed and corrected; the record with its lines.

    What is named now and neither seal nor corrections tell of is found too.
    """
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


def add_correction(record: Path, entry: Correction, named: Iterable[str]) -> Correction:
    """Complete a correction with what changed since the last one, and write it.

    It goes to the end and is tied to the one before; what stands there is kept byte by
    byte. Files that the record names now are looked at too.

    Raises
    ------
    FileFormatError
        If name or reason is missing, nothing changed and no words are given, seal or
        corrections were changed, or would become larger than what is read.
    """
    sealed = read_sealed(record)
    if sealed.fault:
        raise FileFormatError(sealed.fault)
    if not entry.by.strip():
        raise FileFormatError("a correction needs a name; say who corrects: --by NAME")
    if not entry.reason.strip():
        raise FileFormatError("a correction needs a reason; say why: --reason TEXT")
    found = list(changes_since(record, sealed, (record.name, *named)))
    changed = tuple(one.file_now for one in found if one.file_now)
    missing = tuple(
        one.path
        for one in found
        if one.kind is ChangeKind.NOT_SEALED and not one.file_now
    )
    if not (changed or missing or entry.removed or entry.text.strip()):
        raise FileFormatError(
            "nothing changed since the last seal or correction; "
            "give --text to put something right in words"
        )
    lines: list[str] = []
    if is_record_changed := any(file.path == record.name for file in changed):
        texts = (sealed.record_text, record_text(record))
        lines = compared_lines(*(text.splitlines(keepends=True) for text in texts))
    correction = replace(
        entry,
        files=changed,
        missing=missing,
        lines=tuple(lines),
        rule=entry.rule if is_record_changed else "",
        previous=sealed.sha256,
    )
    return append_correction(record, sealed.path, correction)
