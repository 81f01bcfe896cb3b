"""Decimation while reading: fewer samples, the same times, nothing folded back."""

import numpy as np
from numpy.typing import NDArray

TARGET_RATE = 4000.0
"""Lowest sampling rate left after decimation. [Hz]"""

_HALF_WIDTH = 32
"""Half the length of the filter, in samples after decimation."""
_STOP_BAND = 90.0
"""Depth of the stop band the window is chosen for. [dB]"""
_BLOCK = 1024
"""Samples after decimation in one transform."""


def decimation_factor(sampling_rate: float) -> int:
    """Return the largest whole factor that leaves `TARGET_RATE` [Hz], to 0.1 %."""
    return max(1, int(1.001 * sampling_rate / TARGET_RATE))


class Decimator:
    """Keep every m-th sample of a stream behind a linear-phase low pass.

    Output sample k stands at the time of input sample k m: the filter is symmetric and
    its delay is taken off, so times and frequencies are unchanged.

    Parameters
    ----------
    factor : int
        m, how many samples become one; 1 passes the stream through.
    n_channels : int
        Number of channels, filtered alike.

    Notes
    -----
    Windowed ideal low pass, cut-off at 0.9 of the new half rate, Kaiser window of
    length 64 m + 1: flat to 0.8 and closed from 1.0 of the new half rate [1]_. The
    convolution is done block by block in the frequency domain (overlap-save, [2]_);
    the part of each spectrum above the new half rate is left out before going back.

    References
    ----------
    .. [1] A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal Processing, chapter on
       design by windowing (Kaiser window).
    .. [2] The same, chapter on the discrete Fourier transform (overlap-save method).
    """

    def __init__(self, factor: int, n_channels: int = 1) -> None:
        self.factor = factor
        self._delay = _HALF_WIDTH * factor
        self._n_block = _BLOCK * factor
        self._advance = self._n_block - 2 * self._delay
        self._n_in = 0
        self._n_out = 0
        self._response = _response(factor) if factor > 1 else np.empty(0)
        # zeros stand before the first sample, so that sample 0 is the first one out
        lead = self._delay if factor > 1 else 0
        self._held: list[NDArray[np.float32]] = [
            np.zeros((n_channels, lead), dtype=np.float32)
        ]
        self._n_held = lead

    def push(self, samples: NDArray[np.float32]) -> list[NDArray[np.float32]]:
        """Take the next samples [1], shape (n_channels, n), and give what is ready."""
        self._n_in += samples.shape[1]
        if self.factor == 1:
            self._n_out += samples.shape[1]
            return [samples]
        self._held.append(samples)
        self._n_held += samples.shape[1]
        if self._n_held < self._n_block:
            return []
        return self._take_blocks()

    def finish(self) -> list[NDArray[np.float32]]:
        """End the stream and give what was held back [1], shape (n_channels, n)."""
        n_wanted = -(-self._n_in // self.factor) - self._n_out
        if self.factor == 1 or n_wanted <= 0:
            return []
        tail = np.zeros((self._held[0].shape[0], self._n_block), dtype=np.float32)
        self._held.append(tail)
        self._n_held += self._n_block
        ready = np.concatenate(self._take_blocks(), axis=1)[:, :n_wanted]
        return [ready]

    def _take_blocks(self) -> list[NDArray[np.float32]]:
        """Filter as many whole blocks as are held."""
        held = np.concatenate(self._held, axis=1)
        ready = []
        start = 0
        while start + self._n_block <= held.shape[1]:
            ready.append(self._filter(held[:, start : start + self._n_block]))
            start += self._advance
        rest = held[:, start:].copy()
        self._held, self._n_held = [rest], rest.shape[1]
        self._n_out += sum(block.shape[1] for block in ready)
        return ready

    def _filter(self, block: NDArray[np.float32]) -> NDArray[np.float32]:
        """Filter one block and keep every m-th sample of its valid part."""
        spectrum = np.fft.rfft(block, axis=1)[:, : _BLOCK // 2 + 1] * self._response
        few = np.fft.irfft(spectrum, n=_BLOCK, axis=1) / self.factor
        return few[:, _HALF_WIDTH:-_HALF_WIDTH].astype(np.float32)


def _response(factor: int) -> NDArray[np.float64]:
    """Return the zero-phase response at the frequencies that are kept."""
    delay = _HALF_WIDTH * factor
    time = np.arange(-delay, delay + 1)
    cut_off = 0.45 / factor
    beta = 0.1102 * (_STOP_BAND - 8.7)
    kernel = 2 * cut_off * np.sinc(2 * cut_off * time) * np.kaiser(time.size, beta)
    around_zero = np.zeros(_BLOCK * factor)
    around_zero[time] = kernel / kernel.sum()
    response: NDArray[np.float64] = np.fft.rfft(around_zero).real[: _BLOCK // 2 + 1]
    return response
