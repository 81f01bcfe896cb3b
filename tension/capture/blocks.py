"""What a microphone gives: blocks of samples, each with the moment it came."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FULL_SCALE = 2.0**31
"""Full scale of the samples of a block. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Block:
    """Samples of one channel as the device gave them.

    Attributes
    ----------
    samples : ndarray, shape (n_samples,)
        Whole numbers of 32 bit; what the device gave in fewer stands in the upper ones.
    moment : float
        When the block came, by a clock that only goes forward. [s]
    has_overflowed : bool
        Whether the sound library says that input was lost before it.
    """

    samples: NDArray[np.int32]
    moment: float
    has_overflowed: bool = False

    @property
    def values(self) -> NDArray[np.float32]:
        """The samples, full scale ±1.

        Returns
        -------
        ndarray, shape (n_samples,)
            As sound is computed with. [1]
        """
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
