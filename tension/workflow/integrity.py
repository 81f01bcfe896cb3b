"""Sealing a record, correcting it openly, verifying it."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tension import __version__
from tension.errors import FileFormatError
from tension.files.atomic import held_alone
from tension.files.corrections import (
    Correction,
    add_correction,
    make_correction,
    read_corrections,
)
from tension.files.record import read_visit
from tension.files.seal import (
    Seal,
    has_seal,
    make_seal,
    read_seal,
    rule_words,
    seal_path,
    write_seal,
)
from tension.files.verification import Verification, date_doubts, verify_record
from tension.files.visit import named_files
from tension.workflow.inputs import RECORD_NAME, find_record


@dataclass(frozen=True, kw_only=True, slots=True)
class CorrectionWords:
    """What a person says of a correction.

    Attributes
    ----------
    by, reason : str
        Who and why.
    text : str
        What is put right, in words.
    removed : tuple of str
        Files that no longer belong to the record.
    """

    by: str
    reason: str
    text: str = ""
    removed: tuple[str, ...] = ()


def seal_record(path: Path | str) -> Seal:
    """Seal a record and all it names.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.

    Returns
    -------
    Seal
        As written.

    Examples
    --------
    Close a record with the checksums of its files::

        seal_record("visit.toml")
    """
    record = find_record(Path(path))
    with held_alone(record):
        seal = make_seal(
            read_visit(record),
            record,
            sealed=time_now(),
            software=f"tension {__version__}",
        )
        write_seal(seal, record)
        return read_seal(seal_path(record))


def correct_record(path: Path | str, words: CorrectionWords) -> Correction:
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


def correct_held(record: Path, words: CorrectionWords) -> Correction:
    """Add a correction to a sealed record that is held alone."""
    visit = read_visit(record)
    seal = read_seal(seal_path(record))
    correction = make_correction(
        record,
        seal=seal,
        corrections=read_corrections(record, seal),
        named=named_files(visit),
        entry=Correction(
            date=time_now(),
            by=words.by,
            reason=words.reason,
            text=words.text,
            removed=words.removed,
            rule=rule_words(visit.rule),
        ),
    )
    return add_correction(record, seal, correction)


def doubtful_dates(path: Path | str) -> tuple[str, ...]:
    """Find dates of a sealed record that cannot all be right."""
    record = find_record(Path(path))
    seal = read_seal(seal_path(record))
    return date_doubts(
        read_visit(record),
        today=datetime.now().astimezone().date(),
        seal=seal,
        corrections=read_corrections(record, seal),
    )


def verify(path: Path | str) -> Verification:
    """Hold a record and all it names against its seal.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.

    Returns
    -------
    Verification
        Every change; a record that can no longer be read is a change too.

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
    """Tell the local time with its zone offset.

    Returns
    -------
    str
        Such as "2026-11-20 18:02:11 +00:00".
    """
    return datetime.now().astimezone().isoformat(sep=" ", timespec="seconds")
