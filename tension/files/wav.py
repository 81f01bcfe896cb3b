"""WAV files that the program writes: grown while it is recorded, or cut to windows.

What is cut down to the windows around the plucks reduces what is heard of people and
guarantees nothing: what was said within a window stays in it.
"""

import io
import os
import wave
from collections.abc import Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tension.errors import ExistingFileError, FileFormatError, reason_of
from tension.files.atomic import settle_folder
from tension.files.decimation import Samples
from tension.files.sound import open_sound
from tension.notes import Refusal

BEFORE = 1.0  # kept before each pluck, so that hum and noise are known [s]
RING = 8.0
"""Kept after each pluck: as long as a ring is listened to, for in noise nobody can say
where it ends. [s]"""
JOIN = 0.02  # over so much one window fades into the next [s]
_WIDTH = 3  # of a sample [byte]
_FULL_SCALE = 2.0**23 - 1  # the largest sample of 24 bit [1]
LEAST_SAVED = 0.02  # a recording of which less would go stays whole [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Window:
    """A stretch that is kept."""

    # from the start of the recording [s]
    start: float
    end: float


def find_windows(onsets: Sequence[float], duration: float) -> tuple[Window, ...]:
    """Find what is kept [s] of a recording by its plucks [s]; no ring is cut.

    Examples
    --------
    >>> find_windows([3.0, 20.0], 60.0)
    (Window(start=2.0, end=11.0), Window(start=19.0, end=28.0))
    """
    windows: list[Window] = []
    for onset in sorted(onsets):
        low, high = max(onset - BEFORE, 0.0), min(onset + RING, duration)
        if windows and low <= windows[-1].end + JOIN:
            low = windows.pop().start
        windows.append(Window(start=low, end=high))
    return tuple(windows)


def trimmed_wav(source: Path, windows: Sequence[Window]) -> bytes | Refusal:
    """Decode a recording and write only its windows, joined, as WAV.

    The sampling rate and up to two channels are those of the file; samples get 24 bit,
    so that a quiet recording loses nothing.
    """
    opened = open_sound(source, source.name)
    if isinstance(opened, Refusal):
        return opened
    pieces: list[list[Samples]] = [[] for _ in windows]
    first = 0
    with closing(opened):
        for block in opened.blocks():
            rate = opened.sampling_rate
            for piece, window in zip(pieces, windows, strict=True):
                low = max(round(window.start * rate) - first, 0)
                high = min(round(window.end * rate) - first, block.shape[1])
                if low < high:
                    piece.append(block[:, low:high])
            first += block.shape[1]
        rate = opened.sampling_rate
    kept = [np.concatenate(piece, axis=1) for piece in pieces if piece]
    samples = _joined(kept, round(JOIN * rate))
    whole = np.round(np.clip(samples, -1.0, 1.0).T.astype(np.float64) * _FULL_SCALE)
    return _wav(whole.astype(np.int32) << 8, round(rate))


def _joined(windows: Sequence[Samples], n_join: int) -> Samples:
    """Windows one after the other, each fading into the next without a click."""
    joined = windows[0]
    for window in windows[1:]:
        n = min(n_join, joined.shape[1], window.shape[1])
        # powers, not amplitudes, add up to one: noise keeps its level
        fade = np.sin(np.linspace(0.0, np.pi / 2.0, n, dtype=np.float32))
        across = joined[:, -n:] * fade[::-1] + window[:, :n] * fade
        joined = np.concatenate([joined[:, :-n], across, window[:, n:]], axis=1)
    return joined


def _wav(samples: NDArray[np.int32], rate: int) -> bytes:
    """Numbers of 32 bit, shape (n_samples, n_channels), as WAV of their upper 24."""
    content = io.BytesIO()
    with wave.open(content, "wb") as written:
        written.setnchannels(samples.shape[1])
        written.setsampwidth(_WIDTH)
        written.setframerate(rate)
        written.writeframes(_raw(samples))
    return content.getvalue()


def _raw(samples: NDArray[np.int32]) -> bytes:
    """The upper 24 bit of numbers of 32 bit, one after the other."""
    one_by_one = samples.astype("<i4").reshape(-1)
    return one_by_one.view(np.uint8).reshape(-1, 4)[:, 1:].tobytes()


HEADER = 44  # length of the header: RIFF, format and the head of the samples [byte]
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
        self._empty = _wav(np.empty((0, 1), np.int32), sampling_rate)
        self._n_bytes = 0
        self._unsettled = 0
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        try:
            self._handle = os.open(path, flags, 0o666)
            self._write_header()
        except FileExistsError as error:
            raise ExistingFileError(f"{path}: this file exists") from error
        except OSError as error:
            raise FileFormatError(self._why_not(error)) from error
        settle_folder(path.parent)

    def append(self, samples: NDArray[np.int32]) -> None:
        """Append a block of numbers of 32 bit [1], of which the upper 24 are kept.

        Raises
        ------
        FileFormatError
            If the disk takes no more; what was written before stays.
        """
        raw, before = _raw(samples), self._n_bytes
        try:
            self._write(raw, HEADER + before)
            self._n_bytes += len(raw)
            self._write_header()
            self._unsettled += len(raw)
            if self._unsettled >= SETTLE * _WIDTH * self.sampling_rate:
                os.fsync(self._handle)
                self._unsettled = 0
        except OSError as error:
            self._n_bytes = before
            with suppress(OSError):  # the header tells of no more than there is
                os.ftruncate(self._handle, HEADER + before)
                self._write_header()
            raise FileFormatError(self._why_not(error)) from error

    def _write(self, raw: bytes | bytearray, place: int) -> None:
        """Write all of some bytes at a place of the file."""
        os.lseek(self._handle, place, os.SEEK_SET)
        left = memoryview(raw)
        while left:
            left = left[os.write(self._handle, left) :]

    def _write_header(self) -> None:
        """Tell how much the file holds now: the sizes of RIFF and of its samples."""
        header, n = bytearray(self._empty), self._n_bytes
        header[4:8] = (HEADER - 8 + n + n % 2).to_bytes(4, "little")
        header[-4:] = n.to_bytes(4, "little")
        self._write(header, 0)

    def close(self) -> None:
        """Bring the file to the disk and close it."""
        with suppress(OSError):  # it holds what was written; there is no more to do
            if self._n_bytes % 2:
                self._write(b"\0", HEADER + self._n_bytes)
            os.fsync(self._handle)
        os.close(self._handle)

    def _why_not(self, error: OSError) -> str:
        """Say why no more is written."""
        return f"{self.path}: cannot be written ({reason_of(error)})"
