"""Beginning a record from what is known before, or after, the readings."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from tension.errors import ExistingFileError, FileFormatError
from tension.files.new_record import NewRecord as Answers
from tension.files.new_record import write_new_record
from tension.workflow.inputs import RECORD_NAME
from tension.workflow.record_files import name_in_record

__all__ = ["Answers", "require_no_record", "start_record"]


def require_no_record(folder: Path) -> None:
    """Refuse a folder that holds a record, before anybody is asked anything.

    Raises
    ------
    ExistingFileError
        If there is one already.
    """
    record = folder / RECORD_NAME
    if record.exists():
        raise ExistingFileError(
            f"{record}: this record exists and is never replaced; add readings to it, "
            "or name another folder"
        )


def start_record(answers: Answers, recordings: Sequence[Path], folder: Path) -> Path:
    """Write a new record beside or above its recordings.

    Raises
    ------
    FileFormatError
        If the folder does not exist or a recording lies outside of it.
    """
    if not folder.is_dir():
        raise FileFormatError(f"{folder}: there is no such folder; make it first")
    names = tuple(name_in_record(path, folder) for path in recordings)
    return write_new_record(replace(answers, recordings=names), folder)
