"""Blocks of samples, each with the moment it came, and input that was lost.

Losses are found by frames counted against the clock and by stretches of zeros: the
sound library does not tell of every loss, so nothing here rests on its word alone.
"""

from collections import deque
from dataclasses import dataclass, field
from enum import Enum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FULL_SCALE = 2.0**31
"""Full scale of the samples of a block. [1]"""
SHORTEST_ZEROS = 0.02
"""Exact silence for so long within sound is no sound. [s]"""
LEAST_LATE = 0.06
"""Frames that stay behind the clock by more are lost, not late. [s]"""
SETTLES = 2.0
"""What is only late comes within this time. [s]"""
DRIFT = 3e-4
"""Clock of a device against that of the computer, at most; a usual crystal is ten times
better, from memory. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Block:
    """Samples of one channel as the device gave them, of 32 bit.

    What the device gave in fewer stands in the upper ones. The moment is when the block
    came, by a clock that only goes forward [s]; the sound library may say that input
    was lost before it.
    """

    samples: NDArray[np.int32]
    moment: float
    has_overflowed: bool = False

    @property
    def values(self) -> NDArray[np.float32]:
        """The samples, full scale ±1, as sound is computed with [1]."""
        return self.samples.astype(np.float32) / np.float32(FULL_SCALE)


class Source(Protocol):
    """Where blocks come from: a microphone, or a made one in simulated time."""

    @property
    def name(self) -> str:
        """Name of the device."""

    @property
    def sampling_rate(self) -> int:
        """Of the blocks [Hz]."""

    def take(self, patience: float) -> Block | None:
        """Give the next block; None if none came within the patience [s]."""

    def now(self) -> float:
        """Tell the time by the clock of the blocks [s]."""

    def close(self) -> None:
        """Let go of the device."""


class LossKind(Enum):
    """How a loss shows."""

    CLOCK = "fewer frames than the clock allows"
    ZEROS = "exact silence within the sound"
    OVERFLOW = "told by the sound library"


@dataclass(frozen=True, kw_only=True, slots=True)
class Loss:
    """Input that was lost about at a frame of the stream, counted from 0.

    How it showed, and how much; 0 if it is not known [s].
    """

    kind: LossKind
    frame: int
    seconds: float


@dataclass(kw_only=True, slots=True)
class LossWatch:
    """Watches the blocks of one stream: frames seen, zeros in a row at its end.

    It has sound once any sample differed from zero.
    """

    sampling_rate: int
    n_frames: int = 0
    n_zeros: int = 0
    has_sound: bool = False
    _start: float | None = None
    _usual: float = 0.0
    _late: deque[tuple[float, float]] = field(default_factory=deque)

    @property
    def seconds_of_zeros(self) -> float:
        """How long the input has been exactly zero, up to the last frame seen [s]."""
        return self.n_zeros / self.sampling_rate

    def see(self, block: Block) -> tuple[Loss, ...]:
        """Watch one block."""
        if not block.samples.size:
            return ()
        losses = self._zeros(block)
        self.n_frames += block.samples.size
        late = self._lateness(block)
        if late:
            losses.append(Loss(kind=LossKind.CLOCK, frame=self.n_frames, seconds=late))
        elif block.has_overflowed:
            place = self.n_frames - block.samples.size
            losses.append(Loss(kind=LossKind.OVERFLOW, frame=place, seconds=0.0))
        return tuple(losses)

    def _zeros(self, block: Block) -> list[Loss]:
        """Stretches of zeros that end in this block."""
        sounding = np.flatnonzero(block.samples)
        if not sounding.size:
            self.n_zeros += block.samples.size
            return []
        edges = np.concatenate(([-1 - self.n_zeros], sounding))
        gaps = np.diff(edges) - 1
        # what stood before the first sound of the stream is no loss
        found = [
            Loss(
                kind=LossKind.ZEROS,
                frame=self.n_frames + int(edges[place]) + 1,
                seconds=float(gaps[place]) / self.sampling_rate,
            )
            for place in np.flatnonzero(gaps >= SHORTEST_ZEROS * self.sampling_rate)
            if self.has_sound or place > 0
        ]
        self.has_sound = True
        self.n_zeros = block.samples.size - 1 - int(sounding[-1])
        return found

    def _lateness(self, block: Block) -> float:
        """Frames that are behind the clock for good [s]; nought if none."""
        if self._start is None:
            # time starts when the first block is there: some devices begin late
            self._start = block.moment - self.n_frames / self.sampling_rate
        here = block.moment - self._start - self.n_frames / self.sampling_rate
        self._late.append((block.moment, here))
        if block.moment - self._late[0][0] < SETTLES:
            self._usual = min(self._usual, here)
            return 0.0
        while block.moment - self._late[0][0] > SETTLES:
            self._late.popleft()
        least = min(one for _, one in self._late)
        step = least - self._usual
        if step < LEAST_LATE:
            drift = DRIFT * block.samples.size / self.sampling_rate
            self._usual += min(step, drift)
            return 0.0
        self._usual = least
        return step
