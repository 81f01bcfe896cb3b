"""Sealing a record, correcting it openly, verifying it."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from tension import __version__
from tension.errors import FileFormatError
from tension.files.atomic import held_alone
from tension.files.evidence import has_seal, seal_path
from tension.files.record import read_visit, visit_from_text
from tension.files.seal import (
    Correction,
    Seal,
    read_seal,
    read_sealed,
    rule_words,
    write_seal,
)
from tension.files.verification import (
    ChangeKind,
    Verification,
    add_correction,
    date_doubts,
    verify_record,
)
from tension.files.visit import RECORD_NAME, Visit, named_files
from tension.workflow.inputs import find_record

SILENCED = "The rest is cut out; windows fade into each other over 0.02 s."
DELETED = "deleted"


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
        software = f"tension {__version__}"
        write_seal(read_visit(record), record, sealed=time_now(), software=software)
        return read_seal(seal_path(record))


def correct_record(path: Path | str, words: Correction) -> Correction:
    """Add a correction to a sealed record.

    Raises
    ------
    FileFormatError
        If the record is not sealed, or seal or corrections were changed.
    """
    record = find_record(Path(path))
    if not has_seal(record):
        raise FileFormatError(
            f"{record}: this record is not sealed; correct it in place, then seal it"
        )
    with held_alone(record):
        return correct_held(record, words)


def correct_held(record: Path, words: Correction) -> Correction:
    """Add a correction to a sealed record that is held alone."""
    visit = read_visit(record)
    entry = replace(words, date=time_now(), rule=rule_words(visit.rule))
    return add_correction(record, entry, named_files(visit))


def doubtful_dates(path: Path | str) -> tuple[str, ...]:
    """Find dates of a sealed record that cannot all be right."""
    record = find_record(Path(path))
    sealed = read_sealed(record)
    return date_doubts(
        read_visit(record),
        today=datetime.now().astimezone().date(),
        seal=sealed.seal,
        corrections=sealed.corrections,
    )


def verify(path: Path | str) -> Verification:
    """Hold a record and all it names against its seal.

    A record that can no longer be read is a change too.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.

    Examples
    --------
    Whether a sealed record and its files are as they were::

        verify("visit.toml")
    """
    record = Path(path)
    if record.is_dir():
        record /= RECORD_NAME
    try:
        named = named_files(read_visit(record))
    except (FileFormatError, OSError):
        named = ()
    return verify_record(record, named)


def time_now() -> str:
    """Tell the local time with its offset, such as "2026-11-20 18:02:11 +00:00"."""
    return datetime.now().astimezone().isoformat(sep=" ", timespec="seconds")


def require_as_sealed(visit: Visit, record: Path, *, delete_originals: bool) -> None:
    """Refuse a sealed record with changes that no killed trim can have left.

    Originals may be gone already where they are to be deleted.

    Raises
    ------
    FileFormatError
        If anything else changed.
    """
    of_trims = {
        ChangeKind.NOT_SEALED: {trim.trimmed for trim in visit.trims},
        ChangeKind.MISSING: {
            trim.recording
            for trim in visit.trims
            if delete_originals or trim.original == DELETED
        },
    }
    if _differ_in_trims_alone(read_sealed(record).record_text, visit, record):
        of_trims[ChangeKind.CHANGED] = {record.name}
    for change in verify_record(record, named_files(visit)).changes:
        if change.path not in of_trims.get(change.kind, ()):
            raise FileFormatError(
                f"{record}: changed since it was sealed: {change.text}; put that right "
                "first, with 'tension seal --correct'"
            )


def _differ_in_trims_alone(old: str, visit: Visit, record: Path) -> bool:
    """Whether trims were added, originals marked as deleted, and nothing else."""
    try:
        before = visit_from_text(old, record)
    except FileFormatError:
        return False
    return (
        replace(before, trims=visit.trims) == visit
        and len(before.trims) <= len(visit.trims)
        and all(
            now in (was, replace(was, original=DELETED))
            for was, now in zip(before.trims, visit.trims, strict=False)
        )
    )


def correct_trims(record: Path, by: str) -> None:
    """Tell the seal what trimming changed, if anything did."""
    if not has_seal(record):
        return
    visit = read_visit(record)
    if verify_record(record, named_files(visit)).is_same:
        return
    expected = read_sealed(record).files
    removed = tuple(
        trim.recording
        for trim in visit.trims
        if trim.original == DELETED and trim.recording in expected
    )
    reason = (
        "originals of trimmed recordings deleted" if removed else "recordings trimmed"
    )
    correct_held(
        record, Correction(by=by, reason=reason, text=SILENCED, removed=removed)
    )
