"""Hum: lines that stood before the pluck and do not decay."""

import numpy as np
from numpy.typing import NDArray

from tension.sound.spectra import Lines, ring_window

MAINS = (50.0, 60.0)
"""Mains frequencies; they stray by under 0.4 % even in island grids. [Hz]"""
SHORTEST_BEFORE = 0.2
"""A shorter stretch before the pluck says nothing about a line at 20 Hz. [s]"""


def line_powers(
    samples: NDArray[np.float64],
    window: NDArray[np.float64],
    sampling_rate: float,
    frequencies: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Squared amplitudes of lines in a windowed stretch.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        The stretch. [1]
    window : ndarray, shape (n_samples,)
        Its window. [1]
    sampling_rate : float
        Of the samples. [Hz]
    frequencies : ndarray, shape (n_lines,)
        Of the lines. [Hz]

    Returns
    -------
    ndarray, shape (n_lines,)
        Squared amplitudes. [1]
    """
    n_transform = 1 << int(np.ceil(np.log2(8 * samples.size)))
    spectrum = np.fft.rfft(samples * window, n_transform)
    powers = spectrum.real**2 + spectrum.imag**2
    index = np.clip(
        np.rint(frequencies * n_transform / sampling_rate).astype(int),
        0,
        powers.size - 1,
    )
    result: NDArray[np.float64] = 4.0 * powers[index] / window.sum() ** 2
    return result


def near_mains(frequencies: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which lines lie at a multiple of a mains frequency.

    Parameters
    ----------
    frequencies : ndarray, shape (n_lines,)
        Of the lines. [Hz]

    Returns
    -------
    ndarray, shape (n_lines,)
        True within 0.15 Hz plus 0.2 %.
    """
    result = np.zeros(frequencies.shape, dtype=bool)
    for mains in MAINS:
        order = np.maximum(np.rint(frequencies / mains), 1.0)
        result |= np.abs(frequencies - order * mains) < 0.15 + 0.002 * frequencies
    return result


def ring_belief(
    lines: Lines,
    before: NDArray[np.float64],
    ring: NDArray[np.float64],
    sampling_rate: float,
) -> NDArray[np.float64]:
    """Probability that each line belongs to the ring and not to hum.

    Parameters
    ----------
    lines : Lines
        Peaks of the ring spectrum.
    before : ndarray, shape (n_before,)
        What stood before the first pluck. [1]
    ring : ndarray, shape (n_samples,)
        The ring. [1]
    sampling_rate : float
        Of the samples. [Hz]

    Returns
    -------
    ndarray, shape (n_lines,)
        Probabilities.

    Notes
    -----
    Before the pluck a hum line has the amplitude it has in the ring, give or take a
    quarter; a rope's partial has only noise there. During the ring a hum line keeps its
    amplitude; a partial loses it at any rate from none to e^-4 per half ring, taken as
    equally likely. Prior: half of the lines at mains multiples are hum, else one in
    twenty.
    """
    prior = np.where(near_mains(lines.frequencies), 0.5, 0.05)
    log_odds = np.log(prior / (1.0 - prior))
    window = ring_window(ring.size)
    power = line_powers(ring, window, sampling_rate, lines.frequencies)
    noise_density = power / np.maximum(lines.levels, 1.0) * window.sum() ** 2
    noise_density /= np.sum(window**2)
    if before.size >= SHORTEST_BEFORE * sampling_rate:
        hann = np.hanning(before.size)
        stood = line_powers(before, hann, sampling_rate, lines.frequencies)
        noise = noise_density * np.sum(hann**2) / hann.sum() ** 2
        z, s = np.sqrt(stood / noise), np.sqrt(power / noise)
        variance = 0.5 + 0.06 * s**2
        log_hum = -0.5 * (z - s) ** 2 / variance - 0.5 * np.log(2 * np.pi * variance)
        log_hum = np.logaddexp(log_hum, -6.0)
        # what stood before may also be coloured noise: a floor under the tail
        log_rope = np.log(2.0 * z + 1e-9) - z**2
        log_rope = np.logaddexp(log_rope, np.log(0.02 / (1.0 + z) ** 2))
        log_odds += log_hum - log_rope
    half = ring.size // 2
    if half > 0.5 * sampling_rate:
        hann = np.hanning(half)
        early = line_powers(ring[:half], hann, sampling_rate, lines.frequencies)
        late = line_powers(
            ring[half : 2 * half], hann, sampling_rate, lines.frequencies
        )
        noise = noise_density * np.sum(hann**2) / hann.sum() ** 2
        change = 0.5 * np.log((late + 1e-30) / (early + 1e-30))
        variance = 0.05**2 + 0.25 * noise * (
            1.0 / (early + noise) + 1.0 / (late + noise)
        )
        log_hum = -0.5 * change**2 / variance - 0.5 * np.log(2 * np.pi * variance)
        log_hum = np.logaddexp(log_hum, np.log(0.02))
        log_rope = np.where(change < 0.1, np.log(1.0 / 4.0), np.log(0.05))
        log_odds += log_hum - log_rope
    result: NDArray[np.float64] = 1.0 / (1.0 + np.exp(np.clip(log_odds, -30.0, 30.0)))
    return result
