"""Holding a record and all it names against its seal and its corrections."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.corrections import (
    Correction,
    corrections_path,
    files_expected,
    known_missing,
    last_record_text,
    read_checked_corrections,
)
from tension.files.evidence import hash_file
from tension.files.line_changes import changed_lines
from tension.files.record_references import path_fault
from tension.files.seal import Seal, has_seal, read_seal, record_text, seal_path


class ChangeKind(StrEnum):
    """What is no longer as it was sealed."""

    SEAL = "seal changed"
    CORRECTIONS = "corrections changed"
    CHANGED = "changed"
    MISSING = "missing"
    NOT_SEALED = "not sealed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One thing that is no longer as it was sealed.

    Attributes
    ----------
    kind : ChangeKind
        What.
    path : str
        Which file.
    text : str
        What was found, one sentence.
    lines : tuple of str
        For the record, lines taken out ("- ") and put in ("+ ").
    """

    kind: ChangeKind
    path: str
    text: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Verification:
    """Outcome of holding a record against its seal.

    Attributes
    ----------
    changes : tuple of Change
        Everything that does not fit; empty if all is as sealed and corrected.
    seal : Seal or None
        The seal; None if it was changed.
    corrections : tuple of Correction
        Corrections that fit, in order.
    n_files : int
        Files held against their checksums. [1]
    rules : tuple of (str, str)
        When and which rule: at sealing, and by every correction that changed it.
    """

    changes: tuple[Change, ...]
    seal: Seal | None
    corrections: tuple[Correction, ...]
    n_files: int
    rules: tuple[tuple[str, str], ...]

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
    """Hold a record and all it names against its seal.

    Parameters
    ----------
    record : Path
        The record; it need not be readable any more.
    named : sequence of str, optional
        Files that the record names now; those that were never sealed are told.

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
        seal = read_seal(path)
    except FileFormatError as error:
        change = Change(kind=ChangeKind.SEAL, path=path.name, text=str(error))
        return Verification(
            changes=(change,), seal=None, corrections=(), n_files=0, rules=()
        )
    corrections, fault = read_checked_corrections(record, seal)
    changes = []
    if fault:
        name = corrections_path(record, seal).name
        changes.append(Change(kind=ChangeKind.CORRECTIONS, path=name, text=fault))
    expected = files_expected(seal, corrections)
    if record.name not in {file.path for file in expected}:
        text = f"{path.name}: it is the seal of {seal.record}, not of {record.name}"
        changes.append(Change(kind=ChangeKind.SEAL, path=path.name, text=text))
    for file in expected:
        change_found = _compare(record, file.path, file.n_bytes, file.sha256)
        if change_found is not None:
            changes.append(_with_lines(change_found, record, seal, corrections))
    changes += _never_sealed(record, named, seal, corrections)
    return Verification(
        changes=tuple(changes),
        seal=seal,
        corrections=corrections,
        n_files=len(expected),
        rules=_rules(seal, corrections),
    )


def _never_sealed(
    record: Path, named: Sequence[str], seal: Seal, corrections: Sequence[Correction]
) -> list[Change]:
    """Files that the record names and whose contents nothing holds."""
    known = {file.path for file in files_expected(seal, corrections)}
    missing = known_missing(seal, corrections)
    changes = []
    for name in named:
        if name in known or (name in missing and not (record.parent / name).exists()):
            continue
        since = "was not there when the record was sealed, and is now"
        never = "the record names it, but it was never sealed"
        text = f"{name}: {since if name in missing else never}"
        changes.append(Change(kind=ChangeKind.NOT_SEALED, path=name, text=text))
    return changes


def _compare(record: Path, name: str, n_bytes: int, sha256: str) -> Change | None:
    """Hold one file against what was sealed."""
    if fault := path_fault(name, record.parent):
        return Change(kind=ChangeKind.CHANGED, path=name, text=f"{name}: {fault}")
    try:
        now = hash_file(record.parent / name)
    except OSError:
        return Change(
            kind=ChangeKind.MISSING, path=name, text=f"{name}: missing, or unreadable"
        )
    if now.sha256 == sha256 and now.n_bytes == n_bytes:
        return None
    return Change(
        kind=ChangeKind.CHANGED,
        path=name,
        text=f"{name}: changed; sealed {n_bytes} bytes, SHA-256 {sha256}, "
        f"now {now.n_bytes} bytes, SHA-256 {now.sha256}",
    )


def _with_lines(
    change: Change, record: Path, seal: Seal, corrections: Sequence[Correction]
) -> Change:
    """Add the changed lines if it is the record that changed."""
    if change.path != record.name or change.kind is not ChangeKind.CHANGED:
        return change
    old = last_record_text(seal, corrections)
    lines = changed_lines(old, record_text(record)) if old else ()
    return Change(kind=change.kind, path=change.path, text=change.text, lines=lines)


def _rules(
    seal: Seal, corrections: Sequence[Correction]
) -> tuple[tuple[str, str], ...]:
    """The rule at sealing, and every later one that differs."""
    rules = [(seal.sealed, seal.rule)]
    for correction in corrections:
        if correction.rule and correction.rule != rules[-1][1]:
            rules.append((correction.date, correction.rule))
    return tuple(rules)
