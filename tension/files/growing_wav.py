"""A WAV file that grows while it is recorded, and is whole at any moment."""

import os
import struct
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import settle_folder

HEADER = 44
"""Length of the header: RIFF, format and the head of the samples. [byte]"""
_WIDTH = 3
_LARGEST = 2**32 - 2**16
SETTLE = 2.0
"""After so much sound the file is brought to the disk itself, against a cut of power.
[s]"""


class GrowingWav:
    """One channel of 24 bit, appended to block by block.

    The samples of a block go to the file first, then the header with both sizes in one
    write of 44 bytes. A process killed between the two leaves a header that tells of
    fewer samples than there are, which every reader takes; a header written at the end
    alone would leave a file that tells of none.

    Raises
    ------
    ExistingFileError
        If the file exists.
    FileFormatError
        If it cannot be made.
    """

    def __init__(self, path: Path, sampling_rate: int) -> None:
        self.path = path
        self.sampling_rate = sampling_rate
        self._n_bytes = 0
        self._unsettled = 0
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        try:
            self._handle = os.open(path, flags, 0o666)
        except FileExistsError as error:
            raise ExistingFileError(f"{path}: this file exists") from error
        except OSError as error:
            raise FileFormatError(self._why_not(error)) from error
        self._guarded(lambda: self._write(self._header(), 0))
        settle_folder(path.parent)

    def __enter__(self) -> Self:
        """Give the file."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close it, whatever happened."""
        self.close()

    @property
    def duration(self) -> float:
        """How much sound it holds. [s]."""
        return self._n_bytes / _WIDTH / self.sampling_rate

    def append(self, samples: NDArray[np.int32]) -> None:
        """Append a block of numbers of 32 bit [1], of which the upper 24 are kept.

        Raises
        ------
        FileFormatError
            If the disk takes no more; what was written before stays.
        """
        raw = samples.astype("<i4").view(np.uint8).reshape(-1, 4)[:, 1:].tobytes()
        if self._n_bytes + len(raw) > _LARGEST:
            raise FileFormatError(f"{self.path}: a WAV file gets no longer")
        self._guarded(lambda: self._append(raw))

    def _append(self, raw: bytes) -> None:
        """Write samples, then the sizes."""
        self._write(raw, HEADER + self._n_bytes)
        self._n_bytes += len(raw)
        self._write(self._header(), 0)
        self._unsettled += len(raw)
        if self._unsettled >= SETTLE * _WIDTH * self.sampling_rate:
            os.fsync(self._handle)
            self._unsettled = 0

    def _guarded(self, act: Callable[[], None]) -> None:
        """Write; where that fails, what was there before is all there is."""
        before = self._n_bytes
        try:
            act()
        except OSError as error:
            self._n_bytes = before
            try:
                os.ftruncate(self._handle, HEADER + before)
                self._write(self._header(), 0)
            except OSError:  # the header on the disk tells of no more than there is
                pass
            raise FileFormatError(self._why_not(error)) from error

    def _write(self, raw: bytes, place: int) -> None:
        """Write all of some bytes at a place of the file."""
        os.lseek(self._handle, place, os.SEEK_SET)
        left = memoryview(raw)
        while left:
            left = left[os.write(self._handle, left) :]

    def _header(self) -> bytes:
        """The header of what the file holds now."""
        padding = self._n_bytes % 2
        return struct.pack(
            "<4sI4s4sIHHIIHH4sI",
            b"RIFF",
            HEADER - 8 + self._n_bytes + padding,
            b"WAVE",
            b"fmt ",
            16,
            1,
            1,
            self.sampling_rate,
            self.sampling_rate * _WIDTH,
            _WIDTH,
            8 * _WIDTH,
            b"data",
            self._n_bytes,
        )

    def close(self) -> None:
        """Bring the file to the disk and close it."""
        if self._handle < 0:
            return
        handle, self._handle = self._handle, -1
        try:
            if self._n_bytes % 2:
                os.lseek(handle, 0, os.SEEK_END)
                os.write(handle, b"\0")
            os.fsync(handle)
        except OSError:  # it holds what was written; there is no more to be done
            pass
        finally:
            os.close(handle)

    def _why_not(self, error: OSError) -> str:
        """Say why no more is written."""
        reason = (error.strerror or "the system refuses").lower()
        return f"{self.path}: cannot be written ({reason})"
