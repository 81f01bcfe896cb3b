"""Writing files whole or not at all, and one command at a time."""

import contextlib
import os
import secrets
import stat
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from tension.errors import ExistingFileError, FileFormatError, reason_of

PATIENCE = 20.0  # so long another command is waited for [s]
_PAUSE = 0.02  # between two tries [s]

if sys.platform == "win32":
    import msvcrt

    _FAR_BEHIND = 1 << 30  # a byte that nobody reads: locked bytes cannot be read

    def _try_to_lock(handle: int) -> bool:
        """Lock a byte far behind the end of the file; False if another has it."""
        os.lseek(handle, _FAR_BEHIND, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _try_to_lock(handle: int) -> bool:
        """Lock the file; False if another has it."""
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


@contextlib.contextmanager
def held_alone(record: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Hold a record, so that no other command writes to it or beside it meanwhile.

    Another command is waited for so many seconds [s]; a killed process holds nothing.

    Raises
    ------
    FileFormatError
        If another command does not let go of it, or it cannot be held at all.
    """
    end = time.monotonic() + patience
    while (handle := _held(record)) is None:
        if time.monotonic() > end:
            raise FileFormatError(
                f"{record}: another command is writing to this record; wait until it "
                "is done, then run this one again"
            )
        time.sleep(_PAUSE)
    try:
        yield
    finally:
        os.close(handle)


def _held(record: Path) -> int | None:
    """The record opened and locked; None if another has it, or it was replaced."""
    handle = -1
    is_held = False
    try:
        handle = os.open(record, os.O_RDONLY)
        if _try_to_lock(handle):
            with contextlib.suppress(FileNotFoundError):
                is_held = os.path.samestat(os.fstat(handle), record.stat())
    except OSError as error:
        raise FileFormatError(
            f"{record}: cannot be held against other writers ({reason_of(error)}); "
            "copy the folder to a disk of this computer"
        ) from error
    finally:
        if handle >= 0 and not is_held:
            os.close(handle)
    return handle if is_held else None


def write_atomically(
    path: Path, content: bytes | str, *, overwrite: bool, like: Path | None = None
) -> None:
    """Write a file in one step; text becomes UTF-8, line ends as they are.

    A full disk, a kill or a power cut leaves what was there before. Raises what
    `placed_atomically` raises.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    with placed_atomically(path, overwrite=overwrite, like=like) as part:
        part.write_bytes(data)


@contextlib.contextmanager
def placed_atomically(
    path: Path, *, overwrite: bool, like: Path | None = None
) -> Iterator[Path]:
    """Give a new file to be written piece by piece; it gets the name at the end.

    It lies in the same folder and is brought to the disk first; if anything goes wrong
    it is taken away. A file that is replaced keeps who may read it; a new one may be
    read by whom ``like`` may be.

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
        temporary.open("xb").close()
        mode = _mode(path if overwrite else None, like)
        if mode is not None:
            temporary.chmod(mode | stat.S_IWUSR)
        yield temporary
        with temporary.open("r+b") as opened:
            os.fsync(opened.fileno())
        if mode is not None:
            temporary.chmod(mode)
        if overwrite:
            temporary.replace(path)
        else:
            _give_name(temporary, path)
        settle_folder(path.parent)
    except FileExistsError as error:
        raise ExistingFileError(_exists(path)) from error
    except FileNotFoundError as error:
        raise FileFormatError(
            f"{path}: there is no folder {path.parent}; make it first"
        ) from error
    except OSError as error:
        raise FileFormatError(
            f"{path}: cannot be written ({reason_of(error)}); nothing was changed"
        ) from error
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)


def require_free(path: Path, *, overwrite: bool) -> None:
    """Refuse a name that is taken, before any work is done.

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


def _give_name(temporary: Path, path: Path) -> None:
    """Give the finished file its name, but never one that is taken.

    A hard link fails if the name is taken, in one step. Where the disk knows no links
    (memory sticks), the name is taken first, exclusively, by an empty file.
    """
    try:
        os.link(temporary, path)
    except OSError:
        path.open("xb").close()  # fails too if the name is taken
        try:
            temporary.replace(path)
        except BaseException:
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
