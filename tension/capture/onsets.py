"""Where something begins, cheaply: enough to know when to listen, not what it was."""

from collections import deque

import numpy as np
from numpy.typing import NDArray

FRAME = 0.128
"""Length of a frame. [s]"""
HOP = 0.064
"""Distance of frames. [s]"""
N_BEFORE = 12
"""Frames that tell what stood before. [1]"""
LEAST_BEFORE = 7
"""Fewer tell nothing yet. [1]"""
N_BANDS = 8
"""Bands of equal ratio. [1]"""
BAND = (20.0, 1500.0)
"""Where ropes are heard. [Hz]"""
NOISE_RISE = 1.5
"""What the logarithm of power in a band of noise hardly rises by. [1]"""
LEAST_RISE = 0.16
"""Mean rise over the bands from which something begins. [1]"""
DEAD_TIME = 0.45
"""Two beginnings closer than this are one. [s]"""


class OnsetWatch:
    """Tells when something begins in a stream of samples.

    Parameters
    ----------
    sampling_rate : float
        Of the samples, some thousands. [Hz]
    """

    def __init__(self, sampling_rate: float) -> None:
        self._rate = sampling_rate
        self._n_frame = round(FRAME * sampling_rate)
        self._n_hop = round(HOP * sampling_rate)
        self._window = np.hanning(self._n_frame).astype(np.float32)
        frequencies = np.fft.rfftfreq(self._n_frame, 1.0 / sampling_rate)
        top = min(BAND[1], 0.45 * sampling_rate)
        edges = np.geomspace(BAND[0], top, N_BANDS + 1)
        first = np.unique(np.searchsorted(frequencies, edges))
        self._first, self._end = first[:-1], int(first[-1])
        self.forget()

    def forget(self) -> None:
        """Begin anew: what comes next does not follow what was seen."""
        self._held = np.empty(0, dtype=np.float32)
        self._n_seen = 0
        self._last = -np.inf
        self._before: deque[NDArray[np.float64]] = deque(maxlen=N_BEFORE)

    def push(self, values: NDArray[np.float32]) -> list[float]:
        """See the next stretch.

        Parameters
        ----------
        values : ndarray, shape (n_samples,)
            Full scale ±1. [1]

        Returns
        -------
        list of float
            Where something begins, from the start of the stream. [s]
        """
        self._held = np.concatenate([self._held, values])
        found = []
        while self._held.size >= self._n_frame:
            began = self._frame(self._held[: self._n_frame])
            if began is not None:
                found.append(began)
            self._held = self._held[self._n_hop :]
            self._n_seen += self._n_hop
        return found

    def _frame(self, frame: NDArray[np.float32]) -> float | None:
        """Where something begins in one frame, from the start of the stream [s]."""
        spectrum = np.fft.rfft(frame * self._window)[: self._end]
        power = np.add.reduceat(spectrum.real**2 + spectrum.imag**2, self._first)
        here = np.log(power.astype(np.float64) + 1e-18)
        before = list(self._before)[:-1]
        self._before.append(here)
        if len(before) < LEAST_BEFORE:
            return None
        usual = np.median(before[-N_BEFORE:], axis=0)
        recent = np.median(before[-3:], axis=0)
        rise = here - np.maximum(usual, recent) - NOISE_RISE
        is_high = float(np.maximum(rise, 0.0).mean()) >= LEAST_RISE
        moment = (self._n_seen + 0.5 * self._n_frame) / self._rate
        if not is_high or moment - self._last < DEAD_TIME:
            return None
        self._last = moment
        return moment
