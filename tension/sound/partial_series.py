"""Combs: spacings and stiffnesses at which lines could be one rope's partials."""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from tension.physics.partials import end_phase, unstiffened
from tension.sound.recording import Array
from tension.sound.spectra import Lines

MOST_PARTIALS = 48
"""Mode numbers looked at in the search; the fit that follows uses all."""
LEAST_WORTH = 0.1
"""ln of how much likelier a line is as partial than as stray, to be searched. [1]"""
MOST_CANDIDATES = 24
"""Candidates kept per octave of the fundamental."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PartialSeries:
    """Stiff strings as `tension.physics.partials` has them, one per element.

    Attributes
    ----------
    string_fundamentals : ndarray, shape (n_series,)
        Spacing of the partials without stiffness. [Hz]
    dispersions : ndarray, shape (n_series,)
        4 pi^2 (EI/m) / c^4; does not depend on the length. [s^2]
    """

    string_fundamentals: Array
    dispersions: Array


def dispersion_grid(string_fundamental: float, highest: float, largest: float) -> Array:
    """Dispersions to try: linear while the top partial moves by a fifth of the spacing.

    Gives shape (n_dispersions,): from 0. [s^2]

    Parameters
    ----------
    string_fundamental : float
        Of the comb. [Hz]
    highest : float
        Highest frequency looked at. [Hz]
    largest : float
        Largest dispersion. [s^2]

    Notes
    -----
    A cubic phase error, fitted by a change of spacing, leaves about a third of itself
    at the ends; u^3/2 per dispersion and spacing then gives the step 2 f_0/u^3.
    """
    grid = [0.0]
    while grid[-1] < largest:
        root = sqrt(1.0 + 4.0 * grid[-1] * highest**2)
        # the cube of `unstiffened`, of one number
        top3 = highest**3 * sqrt(2.0 / (1.0 + root)) ** 3
        step = max(2.0 * string_fundamental / top3, 0.02 * grid[-1], 2e-4 * largest)
        grid.append(grid[-1] + step)
    return np.array(grid)


def find_series(
    lines: Lines,
    lowest: float,
    highest: float,
    largest_dispersion: float,
    n_clamped_ends: int,
) -> PartialSeries:
    """Find the spacings and dispersions at which many lines fall on a comb.

    `lowest`, `highest` [Hz]: range of the spacing; `largest_dispersion` [s^2]: largest
    dispersion tried.

    Notes
    -----
    On an axis that undoes the dispersion the lines stand at multiples of the spacing;
    the cosine transform of the lines is then large at 1/spacing. The cosine is positive
    at places of the comb and negative at the mid-points, so a comb at double the
    spacing loses and one at half the spacing gains nothing.
    """
    string_fundamentals: list[Array] = []
    dispersions: list[Array] = []
    low = lowest
    while low < highest:
        high = min(2.0 * low, highest)
        found = _series_of_octave(lines, low, high, largest_dispersion, n_clamped_ends)
        string_fundamentals.append(found.string_fundamentals)
        dispersions.append(found.dispersions)
        low = high
    return PartialSeries(
        string_fundamentals=np.concatenate(string_fundamentals),
        dispersions=np.concatenate(dispersions),
    )


def _series_of_octave(
    lines: Lines, low: float, high: float, largest: float, n_clamped_ends: int
) -> PartialSeries:
    """Search one octave of the spacing."""
    empty = PartialSeries(string_fundamentals=np.empty(0), dispersions=np.empty(0))
    strength = lines.weights * np.log1p(0.02 / lines.densities)
    start = _start_of_activity(lines.frequencies, strength)
    top = max(start + 0.5 * MOST_PARTIALS * high, MOST_PARTIALS * low)
    used = (lines.frequencies <= top) & (strength > LEAST_WORTH)
    frequencies, strength = lines.frequencies[used], strength[used]
    if frequencies.size < 2:
        return empty
    grid = dispersion_grid(low, float(frequencies[-1]), largest)
    cell = low / 8.0
    unstiff = unstiffened(frequencies[None, :], grid[:, None])
    turn = end_phase(unstiff, grid[:, None], n_clamped_ends)
    n_cells = int(frequencies[-1] / cell) + 2
    n_transform = 1 << int(np.ceil(np.log2(4 * n_cells)))
    index = np.floor(unstiff / cell).astype(np.int64)
    fraction = unstiff / cell - index
    flat = np.arange(grid.size)[:, None] * n_transform + index
    phasor = strength * np.exp(2j * np.pi * turn)
    cells = np.stack([flat, flat + 1]).ravel()
    weight = np.stack([phasor * (1.0 - fraction), phasor * fraction]).ravel()
    partials = np.empty(grid.size * n_transform, dtype=np.complex64)
    partials.real = np.bincount(cells, weight.real, partials.size)
    partials.imag = np.bincount(cells, weight.imag, partials.size)
    transform = np.fft.fft(partials.reshape(grid.size, n_transform), axis=1).real
    rate = 1.0 / (n_transform * cell)
    first = max(1, int(1.0 / high / rate))
    last = min(n_transform // 4 - 1, int(np.ceil(1.0 / low / rate)))
    inverse = np.arange(first, last + 1)
    score = transform[:, inverse] + 0.5 * transform[:, 2 * inverse]
    inverse_fundamentals: Array = (inverse * rate).astype(np.float64)
    return _highest(score, grid, inverse_fundamentals)


def _start_of_activity(frequencies: Array, strength: Array) -> float:
    """Frequency under which a tenth of the strength lies."""
    if not np.any(strength > 0.0):
        return 0.0
    share = np.cumsum(strength) / np.sum(strength)
    return float(frequencies[int(np.searchsorted(share, 0.1))])


def _highest(
    score: Array,
    grid: Array,
    inverse_fundamentals: Array,
) -> PartialSeries:
    """Local maxima of the score over spacing and dispersion."""
    padded = np.pad(score, 1, constant_values=-np.inf)
    centre = padded[1:-1, 1:-1]
    is_peak = np.ones(score.shape, dtype=bool)
    for row in (0, 1, 2):
        for column in (0, 1, 2):
            if (row, column) != (1, 1):
                other = padded[
                    row : row + score.shape[0], column : column + score.shape[1]
                ]
                is_peak &= centre >= other
    rows, columns = np.nonzero(is_peak)
    best = np.argsort(-score[rows, columns])[:MOST_CANDIDATES]
    return PartialSeries(
        string_fundamentals=1.0 / inverse_fundamentals[columns[best]],
        dispersions=grid[rows[best]],
    )
