"""What is done to blocks of sound as they pass: full scale, levels, decimation."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
"""Full scale ±1, shape (n_samples,) or (n_channels, n_samples). [1]"""

TARGET_RATE = 4000.0  # lowest sampling rate left after decimation [Hz]

_HALF_WIDTH = 32  # half the length of the filter, in samples after decimation
_STOP_BAND = 90.0  # depth of the stop band the window is chosen for [dB]
_TRANSFORM = 1024  # samples after decimation in one transform

_FULL_SCALE = 0.999  # samples from here on stand at full scale [1]
_IN_A_ROW = 3  # so many of them are overdriven [1]
_MERGE_WITHIN = 0.02  # stretches closer than this are one [s]


def as_full_scale(values: NDArray[np.generic]) -> Samples:
    """Turn samples of any width to full scale ±1 [1]; of 8 bit they stand about 128."""
    if values.dtype == np.uint8:
        return (values.astype(np.float32) - np.float32(128)) / np.float32(128)
    if values.dtype.kind == "i":
        scale = np.float32(2.0 ** (8 * values.dtype.itemsize - 1))
        return values.astype(np.float32) / scale
    return np.asarray(values, dtype=np.float32)


@dataclass(kw_only=True, slots=True)
class LevelWatch:
    """What is watched at the full sampling rate [Hz] while the blocks pass by."""

    sampling_rate: float
    lowest: float = float("inf")  # extremes of all channels so far
    highest: float = float("-inf")
    # channel, start and end of stretches at full scale [s]
    stretches: list[tuple[int, float, float]] = field(default_factory=list)
    _n_before: int = 0  # samples of the blocks before

    def see(self, block: Samples) -> None:
        """Watch the next block, shape (n_channels, n_samples). [1]."""
        low, high = float(block.min()), float(block.max())
        self.lowest, self.highest = min(self.lowest, low), max(self.highest, high)
        if max(-low, high) >= _FULL_SCALE:
            for channel, is_full in enumerate(np.abs(block) >= _FULL_SCALE):
                edges = np.flatnonzero(np.diff(is_full, prepend=False, append=False))
                pairs = edges.reshape(-1, 2)
                pairs = pairs[pairs[:, 1] - pairs[:, 0] >= _IN_A_ROW]
                stretches = _merged((pairs + self._n_before) / self.sampling_rate)
                self.stretches += [(channel, a, b) for a, b in stretches.tolist()]
        self._n_before += block.shape[1]

    def clipped(self, channels: tuple[int, ...]) -> NDArray[np.float64]:
        """Return where [s] any of some channels is overdriven, shape (n_clipped, 2)."""
        wanted = sorted((a, b) for one, a, b in self.stretches if one in channels)
        clipped = _merged(np.array(wanted, dtype=np.float64).reshape(-1, 2))
        clipped.flags.writeable = False
        return clipped


def _merged(stretches: NDArray[np.float64]) -> NDArray[np.float64]:
    """Stretches [s] in order of their starts, those that nearly touch as one."""
    if not len(stretches):
        return stretches
    starts, ends = stretches[:, 0], np.maximum.accumulate(stretches[:, 1])
    is_apart = starts[1:] - ends[:-1] > _MERGE_WITHIN
    firsts, lasts = np.r_[True, is_apart], np.r_[is_apart, True]
    return np.column_stack([starts[firsts], ends[lasts]])


class Decimator:
    """Keep every m-th sample of a stream behind a linear-phase low pass.

    The factor m is the largest that leaves `TARGET_RATE` [Hz], to 0.1 %; of 1 it passes
    the stream through. Output sample k stands at the time of input sample k m: the
    filter is symmetric and its delay is taken off, so times and frequencies are
    unchanged. All channels are filtered alike.

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

    def __init__(self, sampling_rate: float) -> None:
        factor = max(1, int(1.001 * sampling_rate / TARGET_RATE))
        self.sampling_rate = sampling_rate / factor  # of what comes out [Hz]
        self._factor = factor
        self._n_block = _TRANSFORM * factor
        self._n_in = 0
        self._n_out = 0
        self._response = _response(factor) if factor > 1 else np.empty(0)
        # zeros stand before the first sample, so that sample 0 is the first one out
        self._held = np.zeros((1, _HALF_WIDTH * factor), np.float32)

    def push(self, samples: Samples) -> Samples:
        """Take the next samples [1], shape (n_channels, n), and give what is ready."""
        n_channels, n_new = samples.shape
        if not self._n_in:
            self._held = np.repeat(self._held, n_channels, axis=0)
        self._n_in += n_new
        if self._factor == 1:
            self._n_out += n_new
            return samples
        held = np.concatenate([self._held, samples], axis=1)
        ready = [np.zeros((n_channels, 0), np.float32)]
        start = 0
        while start + self._n_block <= held.shape[1]:
            ready.append(self._filter(held[:, start : start + self._n_block]))
            start += self._n_block - 2 * _HALF_WIDTH * self._factor
        self._held = held[:, start:].copy()
        taken = np.concatenate(ready, axis=1)
        self._n_out += taken.shape[1]
        return taken

    def finish(self) -> Samples:
        """End the stream and give what was held back [1], shape (n_channels, n)."""
        n_wanted = max(-(-self._n_in // self._factor) - self._n_out, 0)
        rest = np.zeros((len(self._held), self._n_block), np.float32)
        return self.push(rest)[:, :n_wanted]

    def _filter(self, block: Samples) -> Samples:
        """Filter one block and keep every m-th sample of its valid part."""
        spectrum = np.fft.rfft(block, axis=1)[:, : _TRANSFORM // 2 + 1] * self._response
        few = np.fft.irfft(spectrum, n=_TRANSFORM, axis=1) / self._factor
        return few[:, _HALF_WIDTH:-_HALF_WIDTH].astype(np.float32)


def _response(factor: int) -> NDArray[np.float64]:
    """Return the zero-phase response at the frequencies that are kept."""
    delay = _HALF_WIDTH * factor
    time = np.arange(-delay, delay + 1)
    cut_off = 0.45 / factor
    beta = 0.1102 * (_STOP_BAND - 8.7)
    kernel = 2 * cut_off * np.sinc(2 * cut_off * time) * np.kaiser(time.size, beta)
    around_zero = np.zeros(_TRANSFORM * factor)
    around_zero[time] = kernel / kernel.sum()
    return np.fft.rfft(around_zero).real[: _TRANSFORM // 2 + 1]
