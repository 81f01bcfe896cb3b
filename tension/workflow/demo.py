"""Copying out the demo recordings."""

import shutil
from pathlib import Path

from tension.errors import ExistingFileError, FileFormatError


def copy_demo(place: Path, folder: Path) -> None:
    """Copy the demo to a folder that does not exist yet.

    Parameters
    ----------
    place : Path
        Where the demo is.
    folder : Path
        Where to; nothing that exists is touched.

    Raises
    ------
    ExistingFileError
        If the folder exists.
    FileFormatError
        If the folder cannot be made or filled.
    """
    if folder.exists():
        raise ExistingFileError(
            f"{folder}: this exists already; name a folder that does not"
        )
    try:
        shutil.copytree(place, folder)
    except OSError as error:
        reason = (error.strerror or "the system refuses").lower()
        raise FileFormatError(
            f"{folder}: the demo cannot be copied there ({reason}); name another folder"
        ) from error
