"""Spectra of rings: whitened by their own noise floor, and the lines in them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LONGEST = 6.0
"""Longest stretch of one ring that is transformed at once. [s]"""
OVERSAMPLING = 4
"""Points per 1/duration: a parabola then finds a peak within 1e-3 of that."""
HIGHEST = 1200.0
"""Above it the partials of a rope have died within a tenth of a second. [Hz]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class RingSpectrum:
    """Whitened power spectrum of the rings of one rope.

    Attributes
    ----------
    frequencies : ndarray, shape (n_frequencies,)
        Equally spaced from 0. [Hz]
    levels : ndarray, shape (n_frequencies,)
        Power over the noise floor, weighted mean of the rings; 1 is noise. [1]
    duration : float
        Effective length of the transform. [s]
    n_rings : float
        How many rings were averaged, weights considered. [1]
    """

    frequencies: NDArray[np.float64]
    levels: NDArray[np.float64]
    duration: float
    n_rings: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Lines:
    """Peaks of a ring spectrum, one array element each, in order of frequency.

    Attributes
    ----------
    frequencies : ndarray, shape (n_lines,)
        Where they are. [Hz]
    uncertainties : ndarray, shape (n_lines,)
        Standard uncertainty of the frequencies from noise. [Hz]
    levels : ndarray, shape (n_lines,)
        Power over the noise floor. [1]
    weights : ndarray, shape (n_lines,)
        Belief that the line belongs to a ring rather than to hum. [1]
    """

    frequencies: NDArray[np.float64]
    uncertainties: NDArray[np.float64]
    levels: NDArray[np.float64]
    weights: NDArray[np.float64]


def noise_floor(powers: NDArray[np.float64], spacing: float) -> NDArray[np.float64]:
    """Estimate the noise floor under lines from a low quantile of the neighbourhood.

    Parameters
    ----------
    powers : ndarray, shape (n_frequencies,)
        Power spectrum. [1]
    spacing : float
        Of the frequencies. [Hz]

    Returns
    -------
    ndarray, shape (n_frequencies,)
        Mean noise power. [1]

    Notes
    -----
    Noise power is exponentially distributed: its 30 % quantile is 0.357 of its mean.
    Lines raise a low quantile little.
    """
    block = max(8, round(12.0 / spacing))
    n_blocks = max(1, powers.size // block)
    cut = powers[: n_blocks * block].reshape(n_blocks, -1)
    low = np.quantile(cut, 0.3, axis=1) / 0.3567
    low = np.maximum(low, 1e-30 + 1e-12 * float(low.max()))
    logarithm = np.log(low)
    if n_blocks > 2:
        padded = np.pad(logarithm, 1, mode="edge")
        logarithm = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    centres = (np.arange(n_blocks) + 0.5) * block
    floor: NDArray[np.float64] = np.exp(
        np.interp(np.arange(powers.size), centres, logarithm)
    )
    return floor


def ring_window(length: int) -> NDArray[np.float64]:
    """Window for a decaying ring: a fast rise over a quarter, a slow fall.

    Parameters
    ----------
    length : int
        Number of samples.

    Returns
    -------
    ndarray, shape (length,)
        Window, at most 1. [1]
    """
    rise = max(2, length // 4)
    window = np.empty(length)
    window[:rise] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(rise) + 0.5) / rise)
    fall = length - rise
    window[rise:] = 0.5 + 0.5 * np.cos(np.pi * (np.arange(fall) + 0.5) / fall)
    return window


def ring_spectrum(
    rings: list[NDArray[np.float64]], sampling_rate: float
) -> RingSpectrum:
    """Average the whitened spectra of the rings of one rope.

    Parameters
    ----------
    rings : list of ndarray, shape (n_samples,)
        Samples from shortly after the onset. [1]
    sampling_rate : float
        Of the samples. [Hz]

    Returns
    -------
    RingSpectrum
        The mean.
    """
    longest = max(ring.size for ring in rings)
    length = min(longest, round(LONGEST * sampling_rate))
    n_transform = 1 << int(np.ceil(np.log2(OVERSAMPLING * length)))
    spacing = sampling_rate / n_transform
    top = min(HIGHEST, 0.46 * sampling_rate)
    n_keep = int(top / spacing)
    total = np.zeros(n_keep)
    weight_sum = 0.0
    square_sum = 0.0
    for ring in rings:
        cut = ring[:length]
        spectrum = np.fft.rfft(cut * ring_window(cut.size), n_transform)[:n_keep]
        powers = spectrum.real**2 + spectrum.imag**2
        powers /= noise_floor(powers, spacing)
        weight = cut.size / length
        total += weight * powers
        weight_sum += weight
        square_sum += weight**2
    return RingSpectrum(
        frequencies=spacing * np.arange(n_keep, dtype=np.float64),
        levels=total / weight_sum,
        duration=length / sampling_rate,
        n_rings=weight_sum**2 / square_sum,
    )


def find_lines(spectrum: RingSpectrum, lowest: float, most: int = 160) -> Lines:
    """Find the peaks of a ring spectrum that stand out of the noise.

    Parameters
    ----------
    spectrum : RingSpectrum
        Whitened spectrum.
    lowest : float
        Lowest frequency of a line. [Hz]
    most : int
        Most lines kept, the highest.

    Returns
    -------
    Lines
        In order of frequency.

    Notes
    -----
    A peak of a Hann-like window is located to ``0.55 / (duration * sqrt(level))``, the
    Cramér-Rao bound of an undamped line times 1.4 for the window. Peaks under 1/500 of
    a neighbour within four resolution widths are its side lobes.
    """
    levels = spectrum.levels
    spacing = float(spectrum.frequencies[1])
    threshold = 1.0 + 5.5 / np.sqrt(spectrum.n_rings)
    inner = levels[1:-1]
    peak = np.flatnonzero(
        (inner > levels[:-2]) & (inner >= levels[2:]) & (inner > threshold)
    )
    peak += 1
    peak = peak[peak * spacing >= lowest]
    reach = max(1, round(4.0 / spectrum.duration / spacing))
    if peak.size:
        padded = np.pad(levels, reach)
        neighbourhood = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)[
            peak
        ]
        peak = peak[levels[peak] > neighbourhood.max(axis=1) / 500.0]
    if peak.size > most:
        peak = np.sort(peak[np.argsort(-levels[peak])[:most]])
    left, middle, right = (np.log(levels[peak + k] + 1e-12) for k in (-1, 0, 1))
    curvature = np.minimum(left - 2.0 * middle + right, -1e-9)
    offset = np.clip(0.5 * (left - right) / curvature, -0.5, 0.5)
    height = levels[peak]
    return Lines(
        frequencies=(peak + offset) * spacing,
        uncertainties=0.55 / (spectrum.duration * np.sqrt(height * spectrum.n_rings)),
        levels=height,
        weights=np.ones(peak.size),
    )
