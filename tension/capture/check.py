"""A short look at an open microphone: sound, hum, losses."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tension.capture.blocks import Source
from tension.capture.levels import Hum, find_hum, peak_level
from tension.capture.losses import Loss, LossWatch

CHECKED = 5.0
"""How long is looked. [s]"""
FAINT = -80.0
"""Under this peak hardly anything comes in: 13 steps of 16 bit. [dB]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class MicrophoneCheck:
    """What came in.

    Attributes
    ----------
    sampling_rate : int
        As opened. [Hz]
    seconds : float
        How much came. [s]
    peak : float
        Below full scale; -inf for exact silence. [dB]
    hum : Hum or None
        Of the mains.
    losses : tuple of Loss
        What was lost.
    """

    sampling_rate: int
    seconds: float
    peak: float
    hum: Hum | None
    losses: tuple[Loss, ...]

    @property
    def is_silent(self) -> bool:
        """Whether every sample was exactly zero, or none came."""
        return self.peak == float("-inf")


def check_source(
    source: Source,
    seconds: float = CHECKED,
    watch: Callable[[float], None] | None = None,
) -> MicrophoneCheck:
    """Look at what a source gives.

    Parameters
    ----------
    source : Source
        Open.
    seconds : float, optional
        How long. [s]
    watch : callable, optional
        Called with the peak of each block. [dB]

    Raises
    ------
    CaptureError
        If the device is gone.
    """
    rate = source.sampling_rate
    losses = LossWatch(sampling_rate=rate)
    found: list[Loss] = []
    pieces = [np.empty(0, dtype=np.float32)]
    end = source.now() + seconds
    while source.now() < end:
        block = source.take(0.2)
        if block is None:
            continue
        found += losses.see(block)
        pieces.append(block.values)
        if watch is not None:
            watch(peak_level(block.values))
    values = np.concatenate(pieces)
    return MicrophoneCheck(
        sampling_rate=rate,
        seconds=values.size / rate,
        peak=peak_level(values),
        hum=find_hum(values, float(rate)),
        losses=tuple(found),
    )
