"""Where the files of a record are, and what they are called in it."""

import hashlib
from collections.abc import Sequence
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.evidence import find_recordings
from tension.files.visit import Visit


def folder_of(visit: Visit) -> Path:
    """Tell the folder of a record."""
    return visit.path.parent if visit.path else Path()


def places_of(visit: Visit, paths: Sequence[Path]) -> list[Path]:
    """Find files and folders as typed, or below the record."""
    return [place_of(folder_of(visit), path) for path in paths]


def place_of(folder: Path, path: Path) -> Path:
    """Find a file or folder as typed, or below the record.

    Raises
    ------
    FileFormatError
        If it is in neither place.
    """
    if path.exists():
        return path
    if (folder / path).exists():
        return folder / path
    raise FileFormatError(f"{path}: there is no such file or folder; check the name")


def name_in_record(path: Path, folder: Path) -> str:
    """Name a recording as the record will.

    Raises
    ------
    FileFormatError
        If it lies elsewhere or is no file.
    """
    if path.is_dir():
        raise FileFormatError(f"{path}: is a folder; name the sound file in it")
    try:
        return path.resolve().relative_to(folder.resolve()).as_posix()
    except ValueError:
        raise FileFormatError(
            f"{path}: a record names only files beside or below it; copy the "
            f"recordings into {folder} first"
        ) from None


def fingerprint(file: Path) -> tuple[int, str] | None:
    """Tell one content from another.

    Returns
    -------
    tuple of (int, str) or None
        Size and checksum; None if it cannot be read.
    """
    try:
        content = file.read_bytes()
    except OSError:
        return None
    return len(content), hashlib.sha256(content).hexdigest()


def folders_with_sound(folder: Path) -> tuple[Path, ...]:
    """Find the folders right below one that hold sound files."""
    below = sorted(p for p in folder.iterdir() if p.is_dir() and p.name[0] != ".")
    return tuple(one for one in below if find_recordings(one))
