"""Writing files so that the old or the new one is there whole, whatever happens."""

import contextlib
import os
import secrets
import stat
from collections.abc import Iterator
from pathlib import Path

from tension.errors import ExistingFileError, FileFormatError


def write_atomically(
    path: Path, content: bytes | str, *, overwrite: bool, like: Path | None = None
) -> None:
    """Write a file in one step.

    The content goes to a new file in the same folder, is brought to the disk, and only
    then gets its name. A full disk, a kill or a power cut leaves what was there before.
    A file that is replaced keeps who may read it.

    Parameters
    ----------
    path : Path
        The file to write.
    content : bytes or str
        What to write; text becomes UTF-8, line ends as they are.
    overwrite : bool
        Whether a file of that name may be replaced.
    like : Path, optional
        A new file may be read by whom this one may be.

    Raises
    ------
    ExistingFileError
        If the file exists and may not be replaced, also if it appears meanwhile.
    FileFormatError
        If the folder is missing or the system refuses to write.
    """
    require_free(path, overwrite=overwrite)
    data = content.encode("utf-8") if isinstance(content, str) else content
    temporary = path.with_name(f".{path.name[:100]}.{secrets.token_hex(6)}.part")
    try:
        _write_new(temporary, data, _mode(path if overwrite else None, like))
        if overwrite:
            temporary.replace(path)
        else:
            _give_name(temporary, path, data)
        settle_folder(path.parent)
    except FileExistsError as error:
        raise ExistingFileError(_exists(path)) from error
    except OSError as error:
        raise FileFormatError(_why_not(path, error)) from error
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)


@contextlib.contextmanager
def placed_atomically(path: Path, *, overwrite: bool) -> Iterator[Path]:
    """Write a large file piece by piece and give it its name in one step.

    Parameters
    ----------
    path : Path
        The file to write.
    overwrite : bool
        Whether a file of that name may be replaced.

    Yields
    ------
    Path
        A new file in the same folder to be written to; it gets the name at the end, or
        is taken away if anything goes wrong.

    Raises
    ------
    ExistingFileError
        If the file exists and may not be replaced, also if it appears meanwhile.
    FileFormatError
        If the folder is missing or the system refuses to write.
    """
    require_free(path, overwrite=overwrite)
    temporary = path.with_name(f".{path.name[:100]}.{secrets.token_hex(6)}.part")
    try:
        _write_new(temporary, b"", _mode(path if overwrite else None))
        yield temporary
        with temporary.open("rb") as opened:
            os.fsync(opened.fileno())
        if overwrite:
            temporary.replace(path)
        else:
            _give_name(temporary, path, None)
        settle_folder(path.parent)
    except FileExistsError as error:
        raise ExistingFileError(_exists(path)) from error
    except OSError as error:
        raise FileFormatError(_why_not(path, error)) from error
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)


def require_free(path: Path, *, overwrite: bool) -> None:
    """Refuse a name that is taken, before any work is done.

    Parameters
    ----------
    path : Path
        The file to write.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    ExistingFileError
        If it is a folder, or exists and may not be replaced.
    """
    if path.is_dir():
        raise ExistingFileError(f"{path}: this is a folder; name a file in it")
    if not overwrite and os.path.lexists(path):
        raise ExistingFileError(_exists(path))


def _mode(*models: Path | None) -> int | None:
    """Who may read and write the first of some files that exists; None if none does."""
    for model in models:
        if model is not None:
            with contextlib.suppress(FileNotFoundError):
                return stat.S_IMODE(model.stat().st_mode)
    return None


def _write_new(temporary: Path, data: bytes, mode: int | None) -> None:
    """Write a file that did not exist and bring it to the disk."""
    with temporary.open("xb") as opened:
        if mode is not None:
            temporary.chmod(mode)
        opened.write(data)
        opened.flush()
        os.fsync(opened.fileno())


def _give_name(temporary: Path, path: Path, data: bytes | None) -> None:
    """Give the finished file its name, but never one that is taken.

    A hard link fails if the name is taken, in one step. Where the disk knows no links
    (memory sticks), the name is taken first, exclusively, and the content follows.
    """
    try:
        os.link(temporary, path)
    except OSError:
        whole = temporary.read_bytes() if data is None else data
        _write_named(path, whole)  # fails likewise if the name is taken


def _write_named(path: Path, data: bytes) -> None:
    """Write under the final name, exclusively; take it back if that fails."""
    with path.open("xb") as opened:
        try:
            opened.write(data)
            opened.flush()
            os.fsync(opened.fileno())
        except BaseException:
            opened.close()
            path.unlink(missing_ok=True)
            raise


def settle_folder(folder: Path) -> None:
    """Bring names given and taken in a folder to the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _exists(path: Path) -> str:
    """Say that a file is there already."""
    return f"{path}: this file exists; give another name, or --overwrite to replace it"


def _why_not(path: Path, error: OSError) -> str:
    """Say why a file could not be written, and what to do."""
    if isinstance(error, FileNotFoundError):
        return f"{path}: there is no folder {path.parent}; make it first"
    reason = (error.strerror or "the system refuses").lower()
    return f"{path}: cannot be written ({reason}); nothing was changed"
