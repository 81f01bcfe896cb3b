"""Hum: lines that stood before the pluck and do not decay."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.spectra import Lines

MAINS = (50.0, 60.0)
"""Mains frequencies; they stray by under 0.4 % even in island grids. [Hz]"""
SHORTEST_BEFORE = 0.2
"""A shorter stretch before the pluck says nothing about a line at 20 Hz. [s]"""
SLACK = 0.35
"""Standard deviation of ln amplitude of hum in some seconds: load, gain control. [1]"""
BESIDE = 1.0
"""Mains wanders by some hundredths of a hertz in a second. [Hz]"""
BESIDE_SHARE = 0.005
"""Its multiples wander with their number, and a hum line has skirts that far. [1]"""
HUM_PRIOR = (0.05, 0.5)
"""Share of lines that are hum: anywhere, and at multiples of the mains. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Ring:
    """One ring and what stood before it.

    Attributes
    ----------
    samples : ndarray, shape (n_samples,)
        From shortly after the onset. [1]
    before : ndarray, shape (n_before,)
        Before the first pluck of the recording. [1]
    sampling_rate : float
        Of both. [Hz]
    """

    samples: NDArray[np.float64]
    before: NDArray[np.float64]
    sampling_rate: float


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


def amplitudes(
    samples: NDArray[np.float64],
    sampling_rate: float,
    frequencies: NDArray[np.float64],
) -> tuple[NDArray[np.float64], float]:
    """Amplitudes of lines in a stretch, and what noise of unit density makes of them.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        The stretch. [1]
    sampling_rate : float
        Of the samples. [Hz]
    frequencies : ndarray, shape (n_lines,)
        Of the lines. [Hz]

    Returns
    -------
    amplitude : ndarray, shape (n_lines,)
        Amplitudes. [1]
    noise : float
        Mean squared amplitude that noise of unit variance per sample shows. [1]
    """
    window = np.hanning(samples.size)
    n_transform = 1 << int(np.ceil(np.log2(8 * samples.size)))
    spectrum = np.abs(np.fft.rfft(samples * window, n_transform))
    index = np.rint(frequencies * n_transform / sampling_rate).astype(int)
    amplitude: NDArray[np.float64] = (
        2.0 * spectrum[np.clip(index, 0, spectrum.size - 1)] / window.sum()
    )
    return amplitude, float(4.0 * np.sum(window**2) / window.sum() ** 2)


def _without(
    samples: NDArray[np.float64],
    sampling_rate: float,
    frequencies: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Take steady lines out of a stretch by least squares; also their amplitudes."""
    if not frequencies.size or samples.size < 4 * frequencies.size:
        return samples, np.zeros(frequencies.size)
    phase = 2.0 * np.pi * np.arange(samples.size)[:, None] / sampling_rate
    design = np.hstack([np.cos(phase * frequencies), np.sin(phase * frequencies)])
    normal = design.T @ design
    normal[np.diag_indices_from(normal)] *= 1.001
    solution = np.linalg.solve(normal, design.T @ samples)
    half = frequencies.size
    return samples - design @ solution, np.hypot(solution[:half], solution[half:])


def ring_belief(
    lines: Lines, ring: Ring, noise_density: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Probability that each line belongs to the ring and not to hum.

    Parameters
    ----------
    lines : Lines
        Lines of the rings.
    ring : Ring
        The longest ring of the rope.
    noise_density : ndarray, shape (n_lines,)
        Noise variance per sample at each line. [1]

    Returns
    -------
    ndarray, shape (n_lines,)
        Probabilities.

    Notes
    -----
    A hum line has the same amplitude before the pluck, in the window in which the line
    stands out, and late in the ring, within ``SLACK``. A partial has only noise before
    the pluck, and late any amplitude from e^-6 to 1 of the early one, taken as equally
    likely in its logarithm.
    """
    f = lines.frequencies
    rate = ring.sampling_rate
    mains = near_mains(f)
    prior = np.where(mains, HUM_PRIOR[1], HUM_PRIOR[0])
    log_odds = np.log(prior / (1.0 - prior))
    # from the level: A^2 = 4 level density sum w^2 / (sum w)^2
    length = np.minimum(lines.durations * rate, ring.samples.size)
    own = np.sqrt(4.0 * lines.levels * noise_density * 1.5 / length)
    if ring.before.size >= SHORTEST_BEFORE * rate:
        steady = mains & (lines.durations >= 1.0)
        rest, found = _without(ring.before, rate, f[steady])
        stood, unit = amplitudes(rest, rate, f)
        stood[steady] = found
        sigma = np.sqrt(0.5 * noise_density * unit)
        log_odds += _log_same(stood, own, sigma) - _log_noise(stood, own, sigma)
    half = ring.samples.size // 2
    if half > 0.4 * rate:
        late, unit = amplitudes(ring.samples[half:], rate, f)
        sigma = np.sqrt(0.5 * noise_density * unit)
        decayed = np.log(
            np.mean(
                [
                    np.exp(_log_same(late, own * np.exp(-k), sigma, slack=0.25))
                    for k in np.arange(0.25, 6.0, 0.5)
                ],
                axis=0,
            )
            + 1e-300
        )
        log_odds += _log_same(late, own, sigma) - decayed
    belief: NDArray[np.float64] = 1.0 / (1.0 + np.exp(np.clip(log_odds, -30.0, 30.0)))
    return np.where(_beside_hum(lines, belief < 0.2), 0.0, belief)


def _beside_hum(lines: Lines, is_hum: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell which lines are what a stronger hum line's wander makes beside it."""
    f = lines.frequencies
    reach = np.maximum(np.maximum(BESIDE, BESIDE_SHARE * f), 0.8 / lines.durations)
    near = np.abs(f[:, None] - f[None, :]) < reach[:, None]
    stronger = lines.levels[None, :] > lines.levels[:, None]
    result: NDArray[np.bool_] = np.any(near & stronger & is_hum[None, :], axis=1)
    return result


def _log_same(
    found: NDArray[np.float64],
    expected: NDArray[np.float64],
    sigma: NDArray[np.float64],
    slack: float = SLACK,
) -> NDArray[np.float64]:
    """Log-density of an amplitude where another is expected, with heavy tails."""
    width = np.sqrt(sigma**2 + (slack * expected) ** 2)
    result: NDArray[np.float64] = np.logaddexp(
        -0.5 * ((found - expected) / width) ** 2 - np.log(width * np.sqrt(2 * np.pi)),
        np.log(0.01 / (found + expected + sigma)),
    )
    return result


def _log_noise(
    found: NDArray[np.float64],
    own: NDArray[np.float64],
    sigma: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Log-density of an amplitude that is only noise, coloured or speech at times."""
    rayleigh = np.log(found / sigma**2 + 1e-300) - 0.5 * (found / sigma) ** 2
    tail = np.log(0.1 * sigma / (found + sigma) ** 2 + 0.001 / (found + own))
    result: NDArray[np.float64] = np.logaddexp(rayleigh, tail)
    return result
