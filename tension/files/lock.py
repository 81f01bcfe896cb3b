"""One command at a time writes to a record; the system frees it, whatever happens."""

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tension.errors import FileFormatError

PATIENCE = 20.0
"""So long another command is waited for. [s]"""
_PAUSE = 0.02

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


@contextmanager
def held_alone(record: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Hold a record, so that no other command writes to it or beside it meanwhile.

    Parameters
    ----------
    record : Path
        The record.
    patience : float, optional
        So long another command is waited for. [s]

    Yields
    ------
    None
        While the record is held. A killed process holds nothing.

    Raises
    ------
    FileFormatError
        If another command does not let go of it, or it cannot be held at all.
    """
    end = time.monotonic() + patience
    while True:
        try:
            handle = os.open(record, os.O_RDONLY)
        except OSError as error:
            raise FileFormatError(_why_not(record, error)) from error
        try:
            if _is_held(handle, record):
                yield
                return
        finally:
            os.close(handle)
        if time.monotonic() > end:
            raise FileFormatError(
                f"{record}: another command is writing to this record; wait until it "
                "is done, then run this one again"
            )
        time.sleep(_PAUSE)


def _is_held(handle: int, record: Path) -> bool:
    """Whether the lock was had, and of the file that has the name now."""
    try:
        if not _try_to_lock(handle):
            return False
        return os.path.samestat(os.fstat(handle), record.stat())
    except FileNotFoundError:
        return False
    except OSError as error:
        raise FileFormatError(_why_not(record, error)) from error


def _why_not(record: Path, error: OSError) -> str:
    """Say why a record cannot be held."""
    reason = (error.strerror or "the system refuses").lower()
    return (
        f"{record}: cannot be held against other writers ({reason}); copy the folder "
        "to a disk of this computer"
    )
