"""Copying out the demo recordings."""

import shutil
from pathlib import Path

from tension.errors import ExistingFileError


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
    """
    if folder.exists():
        raise ExistingFileError(
            f"{folder}: this exists already; name a folder that does not"
        )
    shutil.copytree(place, folder)
