"""Spectra of decays: whitened by their own noise floor, and the lines in them."""

from dataclasses import dataclass, fields, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tension.sound.recording import Array


def noise_floor(powers: Array, spacing: float) -> Array:
    """Estimate the noise floor under lines from a low quantile of the neighbourhood.

    `powers` (n_frequencies,) [1]: power spectrum; `spacing` [Hz]: of the frequencies.
    Gives shape (n_frequencies,): mean noise power. [1]

    Notes
    -----
    Noise power is exponentially distributed: its 30 % quantile is 0.357 of its mean.
    Lines raise a low quantile little.
    """
    block = max(8, round(12.0 / spacing))
    n_blocks = max(1, powers.size // block)
    cut = powers[: n_blocks * block].reshape(n_blocks, -1)
    # the quantile by hand: numpy's own takes longer about than over it
    place = 0.3 * (cut.shape[1] - 1)
    first = int(place)
    cut = np.partition(cut, (first, min(first + 1, cut.shape[1] - 1)), axis=1)
    low = cut[:, first] + (place - first) * (cut[:, first + 1] - cut[:, first])
    low /= 0.3567
    low = np.maximum(low, 1e-30 + 1e-12 * float(low.max()))
    logarithm = np.log(low)
    if n_blocks > 2:
        padded = np.pad(logarithm, 1, mode="edge")
        logarithm = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    centres = (np.arange(n_blocks) + 0.5) * block
    floor: Array = np.exp(np.interp(np.arange(powers.size), centres, logarithm))
    return floor


def peaks_over(levels: Array, least: float) -> NDArray[np.intp]:
    """Find peaks.

    `levels` (n_frequencies,), `least` [1]. Gives where they are, (n_peaks,).
    """
    inner = levels[1:-1]
    is_peak = (inner > levels[:-2]) & (inner >= levels[2:]) & (inner > least)
    return 1 + np.flatnonzero(is_peak)


SCALES = (4.8, 2.4, 1.2, 0.6, 0.3)
"""Lengths of the windows: partials die within 0.1 s at 500 Hz, ring for 10 s at 10 Hz.
A window fits a decay best when it is about twice the decay time. [s]"""
OVERSAMPLING = 4
"""Points per 1/duration: a parabola then finds a peak within 1e-3 of that."""
STRAY_REACHES = (25.0, 100.0)
"""Neighbourhoods in which stray lines are counted. [Hz]"""
STRAY_DEPTH = 10.0
"""Lines so far under the envelope are as often stray as not. [dB]"""
SLOPE = 25.0
"""Fall of the envelope away from a line: a recorder's low cut of fourth order. [dB]"""
STRAY_SHARE = 0.3
"""Share of lines that belong to no series, before listening. [1]"""
HIGHEST = 1200.0
"""Above it the partials of a rope have died within a tenth of a second. [Hz]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Lines:
    """Peaks of a ring spectrum, one array element each, in order of frequency."""

    frequencies: Array  # where they are [Hz], shape (n_lines,)
    # standard uncertainty of the frequencies from noise [Hz], shape (n_lines,)
    uncertainties: Array
    levels: Array  # power over the noise floor [1], shape (n_lines,)
    # length of the window in which each stands out most [s], shape (n_lines,)
    durations: Array
    # density of noise peaks as high as each [1/Hz], shape (n_lines,)
    false_densities: Array
    # of lines as high that belong to nothing, noise too [1/Hz], shape (n_lines,)
    densities: Array
    # belief that the line belongs to a ring rather than to hum [1], shape (n_lines,)
    weights: Array

    @property
    def strengths(self) -> Array:
        """Ln of how much likelier each is as a partial than as stray, (n_lines,)."""
        strengths: Array = self.weights * np.log1p(0.02 / self.densities)
        return strengths

    def start(self, share: float) -> float:
        """Give the frequency under which a share of the strength lies. [Hz]."""
        strength = np.cumsum(self.strengths)
        return float(self.frequencies[np.searchsorted(strength, share * strength[-1])])


@lru_cache(maxsize=64)
def ring_window(length: int) -> Array:
    """Window for a decaying ring: a fast rise over a quarter, a slow fall.

    Gives shape (length,): window, at most 1. [1]
    """
    rise = max(2, length // 4)
    window = np.empty(length)
    window[:rise] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(rise) + 0.5) / rise)
    fall = length - rise
    window[rise:] = 0.5 + 0.5 * np.cos(np.pi * (np.arange(fall) + 0.5) / fall)
    window.setflags(write=False)
    return window


def find_lines(
    rings: list[Array],
    sampling_rate: float,
    lowest: float,
    most: int = 160,
) -> Lines:
    """Find the lines of the rings of one rope, each in the window that suits its decay.

    `rings` (n_samples,) [1]: samples from shortly after the onset; `sampling_rate`
    [Hz]: of the samples; `lowest` [Hz]: lowest frequency of a line.

    Notes
    -----
    Whitened power spectra of the rings are averaged per window length, so that several
    plucks speak before anything is decided. A line belongs to the window in which its
    log-likelihood ratio is highest; peaks within 0.8 of that window's resolution are
    the same line. A peak of a Hann-like window is located to ``0.55 / (duration *
    sqrt(level))``, the Cramér-Rao bound of an undamped line times 1.4 for the window.
    """
    longest = max(ring.size for ring in rings) / sampling_rate
    scales = [scale for scale in SCALES if scale < 0.85 * longest]
    scales = [min(longest, 1.25 * SCALES[0]), *scales]
    floors = [_densities(ring, sampling_rate) for ring in rings]
    found = [_peaks(rings, floors, sampling_rate, scale, lowest) for scale in scales]
    frequency, level, duration, count = (
        np.concatenate([one[k] for one in found]) for k in range(4)
    )
    score = count * (level - 1.0 - np.log(level))
    order = np.argsort(-score)
    is_left = np.ones(order.size, dtype=bool)
    keep: list[int] = []
    while is_left.any() and len(keep) < most:
        keep.append(int(order[np.argmax(is_left)]))
        gap = np.abs(frequency[order] - frequency[keep[-1]])
        is_left &= gap > 0.8 / np.minimum(duration[order], duration[keep[-1]])
    keep.sort(key=lambda k: float(frequency[k]))
    f, z, t, n = (each[keep] for each in (frequency, level, duration, count))
    excess = np.minimum(n * (z - 1.0 - np.log(z)), 300.0)
    lines = Lines(
        frequencies=f,
        uncertainties=0.55 / (t * np.sqrt(z * n)),
        levels=z,
        durations=t,
        # a cell of 1/duration shows a peak as high as this by chance
        false_densities=t * (1.0 + n * z) * np.exp(-excess - 1.0),
        densities=np.ones(len(keep)),
        weights=np.ones(len(keep)),
    )
    return believed(lines, lines.weights)


def believed(lines: Lines, weights: Array) -> Lines:
    """Give lines their beliefs, and the density of stray lines that follows.

    `weights` (n_lines,): belief that each belongs to a ring.

    Notes
    -----
    Of the lines nearby that are as high, to 3 dB, three in ten count as stray if they
    reach the envelope, all if they lie far under it. Nearby is within 25 or 100 Hz,
    whichever is denser: talk is dense in places.
    """
    f = lines.frequencies
    as_high = lines.levels[None, :] >= 0.5 * lines.levels[:, None]
    density = np.zeros(f.size)
    for reach in STRAY_REACHES:
        near = np.abs(f[:, None] - f[None, :]) < reach
        count = np.maximum((near & as_high) @ weights, 1.0)
        width = np.minimum(f + reach, HIGHEST) - np.maximum(f - reach, 0.0)
        density = np.maximum(density, count / width)
    heard = replace(lines, weights=weights)
    under = envelope(heard, f) - 10.0 * np.log10(lines.levels) - STRAY_DEPTH
    share = STRAY_SHARE + (1.0 - STRAY_SHARE) / (1.0 + np.exp(-under / 3.0))
    return replace(heard, densities=share * density + lines.false_densities)


def below(lines: Lines, top: float) -> Lines:
    """Keep the lines up to a frequency.

    `top` [Hz]: highest frequency kept.
    """
    count = int(np.searchsorted(lines.frequencies, top))
    return Lines(
        **{each.name: getattr(lines, each.name)[:count] for each in fields(Lines)}
    )


def envelope(lines: Lines, frequencies: Array) -> Array:
    """Level that partials near some frequencies would have.

    `frequencies` (...) [Hz]: where. Gives shape (...): the highest line nearby, less
    ``SLOPE`` per octave of distance. [dB]
    """
    real = lines.weights > 0.5
    if not real.any():
        return np.zeros_like(frequencies)
    octaves = np.linspace(0.0, np.log2(2.0 * HIGHEST), 300)
    level = 10.0 * np.log10(lines.levels[real])
    away = np.abs(octaves[:, None] - np.log2(lines.frequencies[real])[None, :])
    height = np.max(level[None, :] - SLOPE * away, axis=1)
    result: Array = np.interp(np.log2(np.maximum(frequencies, 1.0)), octaves, height)
    return result


def noise_at(
    ring: Array,
    sampling_rate: float,
    frequencies: Array,
) -> Array:
    """Noise density under lines.

    `ring` (n_samples,) [1]; `sampling_rate` [Hz]; `frequencies` (n_lines,) [Hz]. Gives
    shape (n_lines,): variance per sample that white noise of that density would have.
    [1]
    """
    grid, floor = _densities(ring, sampling_rate)
    result: Array = np.interp(frequencies, grid, floor)
    return result


def _densities(ring: Array, sampling_rate: float) -> tuple[Array, Array]:
    """Noise density under the lines of one ring: frequencies and power."""
    cut = ring[: round(SCALES[0] * sampling_rate)]
    window = ring_window(cut.size)
    n_transform = 1 << int(np.ceil(np.log2(cut.size)))
    spectrum = np.fft.rfft(cut * window, n_transform)
    powers = (spectrum.real**2 + spectrum.imag**2) / np.sum(window**2)
    spacing = sampling_rate / n_transform
    floor = noise_floor(powers, spacing)
    frequencies = spacing * np.arange(powers.size, dtype=np.float64)
    return frequencies, floor


def _peaks(
    rings: list[Array],
    floors: list[tuple[Array, Array]],
    sampling_rate: float,
    scale: float,
    lowest: float,
) -> tuple[Array, ...]:
    """Peaks in windows of one length: frequency, level, duration, rings averaged."""
    length = round(scale * sampling_rate)
    n_transform = 1 << int(np.ceil(np.log2(OVERSAMPLING * length)))
    spacing = sampling_rate / n_transform
    n_keep = int(min(HIGHEST, 0.46 * sampling_rate) / spacing)
    grid = spacing * np.arange(n_keep)
    total = np.zeros(n_keep)
    weights = []
    for ring, (frequencies, floor) in zip(rings, floors, strict=True):
        cut = ring[:length]
        if cut.size < 0.6 * length:
            continue
        window = ring_window(cut.size)
        spectrum = np.fft.rfft(cut * window, n_transform)[:n_keep]
        powers = spectrum.real**2 + spectrum.imag**2
        powers /= np.interp(grid, frequencies, floor) * np.sum(window**2)
        weights.append(cut.size / length)
        total += weights[-1] * powers
    weight = np.array(weights)
    count = float(weight.sum() ** 2 / np.sum(weight**2))
    levels = total / weight.sum()
    # one false peak in some 500 cells
    peak = peaks_over(levels, 1.0 + 5.0 / np.sqrt(count) + 0.5 / count)
    peak = peak[peak * spacing >= max(lowest, 2.0 / scale)]
    peak = _without_leaks(levels, peak, spacing * scale)
    left, middle, right = (np.log(levels[peak + k] + 1e-12) for k in (-1, 0, 1))
    curvature = np.minimum(left - 2.0 * middle + right, -1e-9)
    offset = np.clip(0.5 * (left - right) / curvature, -0.5, 0.5)
    size = peak.size
    return (
        (peak + offset) * spacing,
        levels[peak],
        np.full(size, scale),
        np.full(size, count),
    )


def _without_leaks(
    levels: Array, peak: NDArray[np.intp], cells: float
) -> NDArray[np.intp]:
    """Leave out peaks that are side lobes of others; a point is so many cells wide."""
    if not peak.size:
        return peak
    away = np.abs(peak[:, None] - peak[None, :]) * cells
    fall = 13.0 + 18.0 * np.log2(np.maximum(away / 2.0, 1.0))
    np.fill_diagonal(fall, 1.0)
    leak = levels[peak][None, :] * 10.0 ** (-0.1 * fall)
    kept: NDArray[np.intp] = peak[levels[peak] > leak.max(axis=1)]
    return kept
