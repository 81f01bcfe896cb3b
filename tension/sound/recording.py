"""A recording in memory, already decimated, and which ropes were plucked in it."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, Refusal

Array = NDArray[np.float64]
"""Real numbers; the docstring of each tells shape and unit."""
Counts = NDArray[np.int64]
"""Mode numbers, places among lines."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Recording:
    """One channel of sound or vibration; nothing in one that cannot be used."""

    name: str  # how the record names the file
    # samples, full scale ±1 (vibration logs: in the unit of the
    # log) [1], shape (n_samples,)
    samples: NDArray[np.float32] = field(
        default_factory=lambda: np.empty(0, np.float32)
    )
    sampling_rate: float = 0.0  # of the samples held [Hz]
    source_rate: float = 0.0  # of the file, before decimation [Hz]
    codec: str = ""  # codec name; empty for vibration logs
    # start and end of what was at full scale in the file [s], shape (n_clipped, 2)
    clipped: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 2)))
    notes: tuple[Note, ...] = ()  # what the reading found
    refusal: Refusal | None = None  # why it cannot be used at all

    @property
    def duration(self) -> float:
        """How long it lasts; nought for one that could not be read. [s]."""
        return self.samples.size / (self.sampling_rate or 1.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Take:
    """A recording and the ropes plucked in it.

    `ropes` in the order plucked, one for a recording of one rope; `plucks_each`: how
    many plucks were announced for each; None if not said; `excluded_plucks`: left out
    by the record, counted from 1 in this recording.
    """

    recording: Recording
    ropes: tuple[int, ...]
    plucks_each: int | None = None
    excluded_plucks: tuple[int, ...] = ()
