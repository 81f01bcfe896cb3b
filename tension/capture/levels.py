"""Level and hum of what comes in, for the eye, and a short look at a microphone."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.capture.blocks import Loss, LossWatch, Source

CHECKED = 5.0
"""How long is looked. [s]"""
FAINT = -80.0
"""Under this peak hardly anything comes in: 13 steps of 16 bit. [dB]"""
LOUD = -1.0
"""From this level on the input is overdriven or nearly so. [dB]"""
STRONG_HUM = 10.0
"""Hum so much over all else from 20 to 600 Hz drowns a rope at a distance. [dB]"""
_MAINS = (50.0, 60.0)
_BAND = (20.0, 600.0)
_LINE = 1.6


@dataclass(frozen=True, kw_only=True, slots=True)
class Hum:
    """Hum of the mains.

    Attributes
    ----------
    mains : float
        50 or 60. [Hz]
    over_rest : float
        Its level over all else in the band of ropes. [dB]
    """

    mains: float
    over_rest: float

    @property
    def is_strong(self) -> bool:
        """Whether it is worth going nearer or switching something off."""
        return self.over_rest >= STRONG_HUM


def peak_level(values: NDArray[np.float32]) -> float:
    """Tell the peak of samples of full scale ±1 [dB]; -inf for exact silence."""
    peak = float(np.abs(values).max()) if values.size else 0.0
    return 20.0 * float(np.log10(peak)) if peak else float("-inf")


def find_hum(values: NDArray[np.float32], sampling_rate: float) -> Hum | None:
    """Find hum of 50 or 60 Hz, the stronger, in a second or more of waiting.

    Samples are of full scale ±1, at a sampling rate [Hz].
    """
    if values.size < sampling_rate:
        return None
    window = np.hanning(values.size)
    power = np.abs(np.fft.rfft(values * window)) ** 2
    frequencies = np.fft.rfftfreq(values.size, 1.0 / sampling_rate)
    inside = (frequencies >= _BAND[0]) & (frequencies <= _BAND[1])
    total = float(power[inside].sum())
    if total <= 0.0:
        return None
    found = []
    for mains in _MAINS:
        off = np.abs(frequencies - mains * np.maximum(np.round(frequencies / mains), 1))
        near = inside & (off <= _LINE)
        lines = float(power[near].sum())
        rest = max(total - lines, 1e-12 * total)
        found.append(Hum(mains=mains, over_rest=10.0 * float(np.log10(lines / rest))))
    return max(found, key=lambda one: one.over_rest)


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
    """Look at what an open source gives for so long [s]; each peak is watched [dB].

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
