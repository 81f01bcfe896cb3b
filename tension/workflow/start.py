"""Beginning a record from what is known before, or after, the readings; the demo."""

import os
import secrets
import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import settle_folder
from tension.files.new_record import NewRecord as Answers
from tension.files.new_record import write_new_record
from tension.workflow.inputs import RECORD_NAME
from tension.workflow.record_files import name_in_record

__all__ = [
    "Answers",
    "copy_demo",
    "names_below",
    "require_no_record",
    "start_record",
]


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


def names_below(recordings: Sequence[Path], folder: Path) -> tuple[str, ...]:
    """Name recordings as the record of a folder will, before anybody is asked anything.

    Raises
    ------
    FileFormatError
        If the folder does not exist or a recording lies outside of it.
    """
    if not folder.is_dir():
        raise FileFormatError(f"{folder}: there is no such folder; make it first")
    return tuple(name_in_record(path, folder) for path in recordings)


def start_record(answers: Answers, recordings: Sequence[Path], folder: Path) -> Path:
    """Write a new record beside or above its recordings.

    Raises
    ------
    FileFormatError
        If the folder does not exist or a recording lies outside of it.
    """
    names = names_below(recordings, folder)
    return write_new_record(replace(answers, recordings=names), folder)


def copy_demo(place: Path, folder: Path) -> None:
    """Copy the demo to a folder that does not exist yet, whole or not at all.

    Raises
    ------
    ExistingFileError
        If the folder exists.
    FileFormatError
        If the folder cannot be made or filled.
    """
    if os.path.lexists(folder):
        raise ExistingFileError(
            f"{folder}: this exists already; name a folder that does not"
        )
    part = folder.with_name(f".{folder.name[:100]}.{secrets.token_hex(6)}.part")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        shutil.copytree(place, part)
        part.rename(folder)
        settle_folder(folder.parent)
    except OSError as error:
        reason = (error.strerror or "the system refuses").lower()
        raise FileFormatError(
            f"{folder}: the demo cannot be copied there ({reason}); nothing was left "
            "half copied; name another folder"
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
