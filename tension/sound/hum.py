"""Hum: multiples of the mains that keep their level, taken out of a recording."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.sound.hearing import HumLine
from tension.sound.recording import Array
from tension.sound.spectra import noise_floor

MAINS = (50.0, 60.0)
"""Mains frequencies. [Hz]"""
DRIFT = 4e-3
"""They stray by so much at most, even in a small building grid; relative. [1]"""
STEP = 5e-5
"""Of the mains frequencies tried, relative: 0.05 Hz at 1000 Hz. [1]"""
HIGHEST = 1200.0
"""Highest multiple looked for. [Hz]"""
CHUNK = 60.0
"""Mains wander: one frequency for so long. [s]"""
MOST_COUNTED = 6.0
"""ln of level over noise of a multiple beyond which it counts no more. [1]"""
CLEAR = 3.0
"""ln of level over noise of a multiple that is heard. [1]"""
PLATEAU = 0.8
"""Of the most that multiples hold: neighbouring frequencies that hold so much are held
against each other by their clear multiples alone. [1]"""
COURSE = 1.0
"""Window in which the amplitude of a multiple is followed. [s]"""
FLAT = 0.6
"""Lowest tenth of the amplitudes over the highest tenth, of a tone that does not ring:
a partial falls between plucks and rises at them. [1]"""
BESIDE, BESIDE_SHARE = 0.2, 1e-3
"""A line so near hum that was taken out may be what its wander left. [Hz, 1]"""
LEAST_WINDOWS = 2
"""Fewer tell no course. [1]"""


def near_mains(frequencies: Array) -> NDArray[np.bool_]:
    """Tell which lines lie at a multiple of a mains frequency.

    `frequencies` (n_lines,) [Hz]: of the lines. Gives shape (n_lines,): true within
    0.15 Hz plus 0.2 %.
    """
    result = np.zeros(frequencies.shape, dtype=bool)
    for mains in MAINS:
        order = np.maximum(np.rint(frequencies / mains), 1.0)
        result |= np.abs(frequencies - order * mains) < 0.15 + 0.002 * frequencies
    return result


def remove_hum(
    samples: NDArray[np.floating], rate: float
) -> tuple[NDArray[np.float32], tuple[HumLine, ...]]:
    """Take hum out of a recording.

    `samples` (n_samples,) [1]: the recording; `rate` [Hz]: sampling rate. Gives the
    recording without it (n_samples,) [1], and what was taken out of the first minute
    that held any.

    Notes
    -----
    Nothing needs to stand before the pluck. Hum lies at exact multiples of one mains
    frequency and keeps its amplitude through plucks and rings; a partial does not. Each
    multiple that is heard and keeps its level is demodulated, smoothed over `COURSE`,
    and subtracted.
    """
    cleaned = np.array(samples, dtype=np.float32)
    found: tuple[HumLine, ...] = ()
    length = round(CHUNK * rate)
    for first in range(0, cleaned.size, length):
        part = cleaned[first : first + length].astype(np.float64)
        frequencies, levels = _heard_multiples(part, rate)
        if not frequencies.size:
            continue
        is_flat = _flatness(part, rate, frequencies) > FLAT
        if is_flat.any():
            smoothing = _Smoothing(part.size, rate)
            for frequency in frequencies[is_flat].tolist():
                part -= smoothing.tone(part, frequency)
        cleaned[first : first + length] = part
        if not found:
            lines = np.stack([frequencies, levels], axis=1)[is_flat].tolist()
            found = tuple(HumLine(frequency=f, level=level) for f, level in lines)
    return cleaned, found


def beside_hum(
    frequencies: Array, durations: Array, hum: Sequence[float]
) -> NDArray[np.bool_]:
    """Tell which lines are what is left beside hum that was taken out.

    `frequencies` (n_lines,) [Hz]; `durations` (n_lines,) [s]: of the window in which
    each stands out; `hum` [Hz]: taken out. Gives shape (n_lines,): true within `BESIDE`
    of one.
    """
    if not hum:
        return np.zeros(frequencies.size, dtype=bool)
    away = np.abs(frequencies[:, None] - np.asarray(hum)).min(axis=1)
    reach = np.maximum(BESIDE + BESIDE_SHARE * frequencies, 0.6 / durations)
    result: NDArray[np.bool_] = away < reach
    return result


def _heard_multiples(samples: Array, rate: float) -> tuple[Array, Array]:
    """Multiples of the likeliest mains frequency that stand out, and their levels."""
    nothing = np.empty(0), np.empty(0)
    if samples.size < 0.3 * rate:
        return nothing
    n_transform = 1 << int(np.ceil(np.log2(4 * samples.size)))
    window = np.hanning(samples.size)
    spectrum = np.fft.rfft(samples * window, n_transform)
    powers = spectrum.real**2 + spectrum.imag**2
    spacing = rate / n_transform
    levels = np.log(powers / np.maximum(noise_floor(powers, spacing), 1e-300) + 1e-12)
    steps = np.arange(-DRIFT, DRIFT + 0.5 * STEP, STEP)
    best = nothing
    most = 0.0
    top = min(HIGHEST, 0.45 * rate)
    for mains in MAINS:
        order = np.arange(1.0, np.floor(top / mains) + 1.0)
        if not order.size:
            continue
        tried = mains * (1.0 + steps)[:, None] * order
        heard = levels[np.rint(tried / spacing).astype(int)]
        total = np.clip(heard, 0.0, MOST_COUNTED).sum(axis=1)
        row = int(np.argmax(total))
        if total[row] > most:
            most = float(total[row])
            # of those that hold as much, the one whose clear multiples are highest
            own = heard[:, heard[row] > CLEAR].sum(axis=1)
            row = int(np.argmax(np.where(total > PLATEAU * most, own, -np.inf)))
            clear = heard[row] > CLEAR
            best = tried[row][clear], heard[row][clear] * 10.0 / np.log(10.0)
    return best


def _flatness(samples: Array, rate: float, frequencies: Array) -> Array:
    """Lowest over highest tenth of the amplitudes of tones through a recording."""
    length = round(min(COURSE, 0.5 * samples.size / rate) * rate)
    hop = max(1, length // 2)
    if samples.size < LEAST_WINDOWS * hop or length < 2:
        return np.ones(frequencies.size)
    view = np.lib.stride_tricks.sliding_window_view(samples, length)[::hop]
    moments = np.arange(length)[:, None] / rate
    kernel = np.hanning(length)[:, None] * np.exp(-2j * np.pi * moments * frequencies)
    low, high = np.percentile(np.abs(view @ kernel), [10.0, 90.0], axis=0)
    result: Array = low / np.maximum(high, 1e-30)
    return result


class _Smoothing:
    """Tones that change slowly, in stretches of one length."""

    def __init__(self, n_samples: int, rate: float) -> None:
        length = min(round(2.0 * COURSE * rate), n_samples) | 1
        window = np.hanning(length + 2)[1:-1]
        self.moments = -2j * np.pi * np.arange(n_samples) / rate
        self.size = 1 << int(np.ceil(np.log2(n_samples + length)))
        self.kernel = np.fft.fft(window, self.size)
        self.middle = slice(length // 2, length // 2 + n_samples)
        # of the window only what lies within the stretch counts
        sums = np.concatenate([[0.0], np.cumsum(window)])
        places = np.arange(n_samples) + length // 2 + 1
        self.weight = sums[np.minimum(places, length)]
        self.weight = self.weight - sums[np.maximum(places - n_samples, 0)]

    def tone(self, samples: Array, frequency: float) -> Array:
        """Give a tone [Hz] whose amplitude and phase change slowly, as it is there."""
        turn = np.exp(frequency * self.moments)
        whole = np.fft.ifft(np.fft.fft(samples * turn, self.size) * self.kernel)
        slow = whole[self.middle] / self.weight
        result: Array = 2.0 * np.real(slow * np.conj(turn))
        return result


def amplitudes(samples: Array, sampling_rate: float, frequencies: Array) -> Array:
    """Amplitudes of lines in a stretch.

    `samples` (n_samples,) [1]; `sampling_rate` [Hz]; `frequencies` (n_lines,) [Hz].
    Gives shape (n_lines,): amplitudes. [1]
    """
    window = np.hanning(samples.size)
    n_transform = 1 << int(np.ceil(np.log2(8 * samples.size)))
    spectrum = np.abs(np.fft.rfft(samples * window, n_transform))
    index = np.rint(frequencies * n_transform / sampling_rate).astype(int)
    amplitude: Array = (
        2.0 * spectrum[np.clip(index, 0, spectrum.size - 1)] / window.sum()
    )
    return amplitude
