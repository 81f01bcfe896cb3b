"""What trimming changes of a sealed record: nothing but that, and all of it told."""

from pathlib import Path

from tension.errors import FileFormatError
from tension.files.corrections import (
    files_expected,
    last_record_text,
    read_corrections,
)
from tension.files.record import read_visit
from tension.files.seal import (
    has_seal,
    read_seal,
    record_text,
    seal_path,
)
from tension.files.trim import differ_in_trims_alone
from tension.files.verification import Change, ChangeKind, verify_record
from tension.files.visit import Visit, named_files
from tension.workflow.integrity import CorrectionWords, correct_held

SILENCED = "The rest is cut out; windows fade into each other over 0.02 s."
TRIMMED = "recordings trimmed"
DELETED = "deleted"


def require_as_sealed(visit: Visit, record: Path, *, delete_originals: bool) -> None:
    """Refuse a sealed record with changes that no killed trim can have left.

    Parameters
    ----------
    visit : Visit
        The record.
    record : Path
        Its file.
    delete_originals : bool
        Whether originals may be gone already.

    Raises
    ------
    FileFormatError
        If anything else changed.
    """
    seal = read_seal(seal_path(record))
    corrections = read_corrections(record, seal)
    old = last_record_text(seal, corrections)
    for change in verify_record(record, named_files(visit)).changes:
        if not _is_of_a_trim(change, visit, record, old, delete_originals):
            raise FileFormatError(
                f"{record}: changed since it was sealed: {change.text}; put that right "
                "first, with 'tension seal --correct'"
            )


def _is_of_a_trim(
    change: Change,
    visit: Visit,
    record: Path,
    old: str,
    delete_originals: bool,  # noqa: FBT001
) -> bool:
    """Whether a killed trim may have left a change."""
    if change.kind is ChangeKind.CHANGED and change.path == record.name:
        return differ_in_trims_alone(old, record_text(record))
    if change.kind is ChangeKind.NOT_SEALED:
        return change.path in {trim.trimmed for trim in visit.trims}
    return change.kind is ChangeKind.MISSING and change.path in {
        trim.recording
        for trim in visit.trims
        if delete_originals or trim.original == DELETED
    }


def correct_trims(record: Path, by: str) -> None:
    """Tell the seal what trimming changed, if anything did."""
    if not has_seal(record):
        return
    visit = read_visit(record)
    if verify_record(record, named_files(visit)).is_same:
        return
    seal = read_seal(seal_path(record))
    expected = {f.path for f in files_expected(seal, read_corrections(record, seal))}
    removed = tuple(
        trim.recording
        for trim in visit.trims
        if trim.original == DELETED and trim.recording in expected
    )
    reason = "originals of trimmed recordings deleted" if removed else TRIMMED
    correct_held(
        record, CorrectionWords(by=by, reason=reason, text=SILENCED, removed=removed)
    )
