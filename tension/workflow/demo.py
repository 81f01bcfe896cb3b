"""Copying out the demo recordings."""

import os
import secrets
import shutil
from pathlib import Path

from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import settle_folder


def copy_demo(place: Path, folder: Path) -> None:
    """Copy the demo to a folder that does not exist yet, whole or not at all.

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
