"""Series: spacings and stiffnesses at which lines could be one rope's partials."""

from dataclasses import dataclass, fields, replace
from itertools import pairwise
from math import sqrt
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from tension.physics import partials as physics
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
    """Stiff strings as `tension.physics.partials` has them, one per element."""

    # spacing of the partials without stiffness [Hz], shape (n_series,)
    string_fundamentals: Array
    # 4 pi^2 (EI/m) / c^4; does not depend on the length [s^2], shape (n_series,)
    dispersions: Array
    n_clamped_ends: int = 1  # of all of them: 0, 1 or 2

    def places(self, frequencies: Array) -> Array:
        """Mode numbers, not rounded, at which frequencies lie.

        `frequencies` (n_lines,) [Hz]. Gives shape (n_series, n_lines).
        """
        return physics.mode_positions(frequencies, *self._columns)

    def partials(self, numbers: Array) -> Array:
        """Frequencies [Hz] of mode numbers, shape (n_series, n_numbers).

        `numbers` (n_numbers,) or (n_series, n_numbers): of one shape for all, or each.
        """
        return physics.mode_frequencies(numbers, *self._columns)

    @property
    def _columns(self) -> tuple[Array, Array, int]:
        spacings, dispersions = self.string_fundamentals, self.dispersions
        return spacings[:, None], dispersions[:, None], self.n_clamped_ends

    def of(self, chosen: NDArray[np.intp] | slice) -> Self:
        """Choose some of them, shape (n_chosen,)."""
        parts = {name: getattr(self, name)[chosen] for name in self._names()}
        return replace(self, **parts)

    def joined(self, *others: Self) -> Self:
        """Put others behind them."""
        every = (self, *others)
        parts: dict[str, Any] = {
            name: np.concatenate([getattr(one, name) for one in every])
            for name in self._names()
        }
        return replace(self, **parts)

    @classmethod
    def _names(cls) -> list[str]:
        """All of what there is one per series."""
        return [each.name for each in fields(cls) if each.name != "n_clamped_ends"]

    def spread(self, spacings: Array, dispersions: Array) -> "PartialSeries":
        """Multiples of the spacing and dispersion of each, series by series.

        `spacings`, `dispersions` (n_multiples,) [1].
        """
        return PartialSeries(
            string_fundamentals=np.outer(self.string_fundamentals, spacings).ravel(),
            dispersions=np.outer(self.dispersions, dispersions).ravel(),
            n_clamped_ends=self.n_clamped_ends,
        )


def dispersion_grid(string_fundamental: float, highest: float, largest: float) -> Array:
    """Dispersions to try: linear while the top partial moves by a fifth of the spacing.

    `string_fundamental` [Hz]: of the series; `highest` [Hz]: frequency looked at;
    `largest` [s^2]: dispersion. Gives shape (n_dispersions,): from 0. [s^2]

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
    """Find the spacings and dispersions at which many lines fall on a series.

    `lowest`, `highest` [Hz]: range of the spacing; `largest_dispersion` [s^2]: largest
    dispersion tried.

    Notes
    -----
    On an axis that undoes the dispersion the lines stand at multiples of the spacing;
    the cosine transform of the lines is then large at 1/spacing. The cosine is positive
    at places of the series and negative at the mid-points, so a series at double the
    spacing loses and one at half the spacing gains nothing.
    """
    edges = [lowest]
    while edges[-1] < highest:
        edges.append(min(2.0 * edges[-1], highest))
    found = [
        _series_of_octave(lines, low, high, largest_dispersion, n_clamped_ends)
        for low, high in pairwise(edges)
    ]
    return PartialSeries.joined(*found)


def _series_of_octave(
    lines: Lines, low: float, high: float, largest: float, n_clamped_ends: int
) -> PartialSeries:
    """Search one octave of the spacing."""
    strength = lines.strengths
    top = max(lines.start(0.1) + 0.5 * MOST_PARTIALS * high, MOST_PARTIALS * low)
    used = (lines.frequencies <= top) & (strength > LEAST_WORTH)
    frequencies, strength = lines.frequencies[used], strength[used]
    if frequencies.size < 2:
        return PartialSeries(
            string_fundamentals=np.empty(0),
            dispersions=np.empty(0),
            n_clamped_ends=n_clamped_ends,
        )
    grid = dispersion_grid(low, float(frequencies[-1]), largest)
    cell = low / 8.0
    unstiff = physics.unstiffened(frequencies[None, :], grid[:, None])
    turn = physics.end_phase(unstiff, grid[:, None], n_clamped_ends)
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
    rows, columns = _highest(score)
    return PartialSeries(
        string_fundamentals=np.asarray(1.0 / (inverse[columns] * rate), np.float64),
        dispersions=grid[rows],
        n_clamped_ends=n_clamped_ends,
    )


def _highest(score: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the highest local maxima."""
    around = np.pad(score, 1, constant_values=-np.inf)
    around = np.maximum(np.maximum(around[:-2], around[1:-1]), around[2:])
    around = np.maximum(np.maximum(around[:, :-2], around[:, 1:-1]), around[:, 2:])
    rows, columns = np.nonzero(score >= around)
    best = np.argsort(-score[rows, columns])[:MOST_CANDIDATES]
    return rows[best], columns[best]
