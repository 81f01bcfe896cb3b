"""Level and hum of what comes in, for the eye."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    """Tell the peak of a stretch.

    Parameters
    ----------
    values : ndarray, shape (n_samples,)
        Full scale ±1. [1]

    Returns
    -------
    float
        Below full scale; -inf for exact silence. [dB]
    """
    peak = float(np.abs(values).max()) if values.size else 0.0
    return 20.0 * float(np.log10(peak)) if peak else float("-inf")


def find_hum(values: NDArray[np.float32], sampling_rate: float) -> Hum | None:
    """Find hum of the mains in a second or more of waiting.

    Parameters
    ----------
    values : ndarray, shape (n_samples,)
        Full scale ±1. [1]
    sampling_rate : float
        Of the values. [Hz]

    Returns
    -------
    Hum or None
        Of 50 or 60 Hz, the stronger; None if there is nothing to tell.
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
