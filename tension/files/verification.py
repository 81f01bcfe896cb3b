"""A record held against its seal and its corrections; its dates against each other."""

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence, has_seal, hash_file, seal_path
from tension.files.record_links import path_fault
from tension.files.seal import Correction, Seal, Sealed, read_sealed, record_text
from tension.files.toml_text import changed_lines
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
    day = day_of(given.get("date", ""))
    taken = [(f'series "{one.name}"', day_of(one.taken)) for one in visit.series]
    sealed = day_of(seal.sealed) if seal else None
    known = [
        *taken,
        *((f"the trim of {t.recording}", day_of(t.date)) for t in visit.trims),
        ("the seal", sealed),
    ]
    ordered = ("the order", day_of(given.get("order_date", "")))
    done = [("the visit", day), *known, ("the allowance", visit.allowance.date)]
    corrected, before = [], sealed
    for number, one in enumerate(corrections, start=1):
        corrected.append((f"correction {number}", day_of(one.date), before))
        before = day_of(one.date) or before
    return (
        *_off(((*one, today) for one in done), 1, "which lies in the future"),
        *_off(
            ((*one, day) for one in (*known, ordered)), -1, f"before the visit of {day}"
        ),
        *_off(((*one, day) for one in taken), 1, f"after the visit of {day}"),
        *_out_of_order(visit),
        *_off(corrected, -1, "before what it corrects"),
    )


def _off(
    dated: Iterable[tuple[str, dt.date | None, dt.date | None]], way: int, words: str
) -> Iterator[str]:
    """What is dated more than a day after (1) or before (-1) some other day."""
    for name, day, other in dated:
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
    seal, expected, old = sealed.seal, sealed.files, sealed.record_text
    changes = []
    if fault := sealed.fault:
        name = sealed.path.name
        changes.append(Change(kind=ChangeKind.CORRECTIONS, path=name, text=fault))
    if record.name not in expected:
        text = f"{path.name}: it is the seal of {seal.record}, not of {record.name}"
        changes.append(Change(kind=ChangeKind.SEAL, path=path.name, text=text))
    for file in expected.values():
        changes += _compared(record, file, old)
    rules = [(seal.sealed, seal.rule)]
    for correction in sealed.corrections:
        if correction.rule and correction.rule != rules[-1][1]:
            rules.append((correction.date, correction.rule))
    return Verification(
        changes=(*changes, *_never_sealed(record, named, sealed)),
        seal=seal,
        corrections=sealed.corrections,
        n_files=len(expected),
        rules=tuple(rules),
    )


def _never_sealed(
    record: Path, named: Sequence[str], sealed: Sealed
) -> Iterator[Change]:
    """Files that the record names and whose contents nothing holds."""
    known, missing = sealed.files, sealed.missing
    for name in named:
        if name in known or (name in missing and not (record.parent / name).exists()):
            continue
        since = "was not there when the record was sealed, and is now"
        never = "the record names it, but it was never sealed"
        text = f"{name}: {since if name in missing else never}"
        yield Change(kind=ChangeKind.NOT_SEALED, path=name, text=text)


def _compared(record: Path, file: FileEvidence, old: str) -> Iterator[Change]:
    """How one file differs from what was sealed; the record with its changed lines."""
    name, kind = file.path, ChangeKind.CHANGED
    lines: tuple[str, ...] = ()
    fault = path_fault(name, record.parent)
    if not fault:
        try:
            now = hash_file(record.parent / name, name)
        except OSError:
            kind, fault = ChangeKind.MISSING, "missing, or unreadable"
        else:
            if now == file:
                return
            fault = (
                f"changed; sealed {file.n_bytes} bytes, SHA-256 {file.sha256}, "
                f"now {now.n_bytes} bytes, SHA-256 {now.sha256}"
            )
    if name == record.name and kind is ChangeKind.CHANGED and old:
        lines = changed_lines(old, record_text(record))
    yield Change(kind=kind, path=name, text=f"{name}: {fault}", lines=lines)
