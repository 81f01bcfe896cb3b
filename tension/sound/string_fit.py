"""Strings: the lines of one assignment, and the stiff string fitted to them."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from tension.physics.partials import mode_frequencies, mode_positions
from tension.sound.hitch_resonance import HitchResonance
from tension.sound.partial_series import PartialSeries
from tension.sound.recording import Array, Counts
from tension.sound.spectra import Lines, envelope

FLOOR_SCATTER = 5e-5
"""Relative scatter that even clean plucks show: windows and interpolation."""
DEGREES = 4.0
"""Of Student's t: a partial near a hitch resonance or a neighbour's is far off."""
HIGHEST_TOLD = 400.0
"""Higher lines are dense, and any of them lies near a partial. [Hz]"""
LEAST_LEVEL = 12.0
"""Of a line that stands out, over the noise and under the envelope. [dB]"""
PLANES = 0.004
"""Relative distance of the two planes of a partial, twice. [1]"""
LARGEST_SQRT_DISPERSION = 0.03
"""Square root of the largest dispersion: 22 mm at half its usual speed. [s]"""
ROUNDS = 8
"""Of reweighting. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class StringFit:
    """A stiff string fitted to lines."""

    string_fundamental: float  # spacing of the partials without stiffness [Hz]
    # square root of the dispersion, 2 pi sqrt(EI/m) / c^2: the bending [s]
    sqrt_dispersion: float
    n_clamped_ends: int  # 0, 1 or 2
    # of the logarithm of the fundamental and the bending, shape (2, 2)
    covariance: Array
    # mode numbers of the lines on the series, their places among the lines, and their
    # relative offsets [1], shape (n_used,)
    modes: Counts
    lines: Counts
    residuals: Array
    scatter: float  # relative scatter about the string beyond noise [1]
    # how the hitch end swings; None if it stands still
    hitch: HitchResonance | None = None
    # first natural frequency, stiffness included [Hz]
    fundamental_frequency: float = field(init=False)

    def __post_init__(self) -> None:
        first = float(self.frequencies(np.ones(1))[0])
        object.__setattr__(self, "fundamental_frequency", first)

    @property
    def dispersion(self) -> float:
        """4 pi^2 (EI/m) / c^4. [s^2]."""
        return self.sqrt_dispersion**2

    @property
    def inharmonicity(self) -> float:
        """B in f_n = n f_0 sqrt(1 + B n^2). [1]."""
        return self.dispersion * self.string_fundamental**2

    def places(self, frequencies: Array) -> Array:
        """Give the places of lines, those of a swinging end counted as well.

        `frequencies` (n_lines,) [Hz]: measured. Gives shape (n_lines,): numbers, not
        rounded. [1]
        """
        place = mode_positions(
            frequencies, self.string_fundamental, self.dispersion, self.n_clamped_ends
        )
        return place if self.hitch is None else place + self.hitch.turn(frequencies)

    def frequencies(self, modes: Array | Counts) -> Array:
        """Give partials, those of a swinging end left as at rest.

        `modes` (n_modes,): mode numbers. Gives shape (n_modes,): frequencies. [Hz]
        """
        return mode_frequencies(
            np.asarray(modes, dtype=np.float64),
            self.string_fundamental,
            self.dispersion,
            self.n_clamped_ends,
        )

    def slopes(self, modes: Array) -> Array:
        """Give derivatives of ln f_n to ln spacing and bending, by differences.

        `modes` (n_modes,): mode numbers. Gives shape (n_modes, 2): derivatives. [1],
        [1/s]
        """
        slopes: Array = _linearised(
            modes[None, :],
            np.array([self.string_fundamental]),
            np.array([self.sqrt_dispersion]),
            self.n_clamped_ends,
        )[1][0]
        return slopes


def series_of(fits: Sequence[StringFit]) -> PartialSeries:
    """Series of strings, at least one, shape (n_fits,)."""
    return PartialSeries(
        string_fundamentals=np.array([fit.string_fundamental for fit in fits]),
        dispersions=np.array([fit.dispersion for fit in fits]),
        n_clamped_ends=fits[0].n_clamped_ends,
    )


def match_lines(lines: Lines, series: PartialSeries) -> list[tuple[Counts, Counts]]:
    """Choose for each mode number of each series the line that belongs to it.

    Gives for each series mode numbers, increasing, and their places among the lines,
    each (n_used,).

    Notes
    -----
    Within 0.4 % (twice two polarisations) and 0.15 spacings the highest line is taken,
    of two polarisations the stronger.
    """
    f = lines.frequencies
    n = np.maximum(np.rint(series.places(f)), 1.0)
    spacing = series.string_fundamentals[:, None]
    reach = np.minimum(3.0 * lines.uncertainties + 0.004 * f, 0.15 * spacing)
    near = (np.abs(f - series.partials(n)) < reach) & (lines.weights > 0.3)
    highest = np.argsort(-lines.levels, kind="stable")
    matched = []
    for numbers, is_near in zip(n.astype(np.int64), near, strict=True):
        order = highest[is_near[highest]]
        modes, first = np.unique(numbers[order], return_index=True)
        matched.append((modes, order[first]))
    return matched


def explained_share(lines: Lines, fit: StringFit) -> float:
    """Find how much of what is heard a string explains.

    Gives: share of the lines that stand out, each counted by its level over the noise.
    [1]
    """
    f = lines.frequencies
    level = 10.0 * np.log10(lines.levels)
    stands_out = (lines.weights > 0.5) & (f < HIGHEST_TOLD) & (level > LEAST_LEVEL)
    stands_out &= envelope(lines, f) - level < LEAST_LEVEL
    place = fit.places(f)
    off = np.abs(place - np.maximum(np.rint(place), 1.0))
    beside = (off * fit.string_fundamental < PLANES * f) | (off < 0.02)
    counts = np.clip(level - 10.0, 0.0, 20.0) * stands_out
    return float(np.sum(counts * beside) / max(float(np.sum(counts)), 1e-9))


def fit_strings(
    lines: Lines, series: PartialSeries, sqrt_dispersion_slacks: Array | None = None
) -> list[StringFit | None]:
    """Fit a stiff string to the lines that belong to each of some series.

    `sqrt_dispersion_slacks` (n_series,) [s]: standard uncertainties of the bendings to
    start from, where they are known from other ropes.

    Notes
    -----
    Gauss-Newton in ln spacing and bending with Student's t; the scatter about the
    string is estimated from the residuals and scales the covariance.
    """
    matched = match_lines(lines, series)
    kept = np.flatnonzero([modes.size > 1 for modes, _ in matched])
    fits: list[StringFit | None] = [None] * len(matched)
    if not kept.size:
        return fits
    slacks = np.full(len(matched), np.inf)
    if sqrt_dispersion_slacks is not None:
        slacks = sqrt_dispersion_slacks
    rows = _Rows(lines, [matched[k] for k in kept], series.n_clamped_ends)
    found = rows.refined(series.of(kept), 1.0 / slacks[kept] ** 2)
    for k, spacing, bending, scatter, covariance, residuals in zip(
        kept.tolist(), *found, strict=True
    ):
        modes, used = matched[k]
        fits[k] = StringFit(
            string_fundamental=float(spacing),
            sqrt_dispersion=float(bending),
            n_clamped_ends=series.n_clamped_ends,
            covariance=covariance,
            modes=modes,
            lines=used,
            residuals=residuals[: modes.size],
            scatter=float(scatter),
        )
    return fits


class _Rows:
    """Strings fitted together, one a row; short rows are filled up with no weight."""

    def __init__(
        self,
        lines: Lines,
        matched: Sequence[tuple[Counts, Counts]],
        n_clamped_ends: int,
    ) -> None:
        self.ends = n_clamped_ends
        self.sizes = np.array([modes.size for modes, _ in matched])
        shape = len(matched), int(self.sizes.max())
        self.is_line = np.arange(shape[1]) < self.sizes[:, None]
        used = np.concatenate([of for _, of in matched])
        self.modes, self.log_f, self.noise = np.ones((3, *shape))
        self.modes[self.is_line] = np.concatenate([modes for modes, _ in matched])
        self.log_f[self.is_line] = np.log(lines.frequencies[used])
        self.noise[self.is_line] = lines.uncertainties[used] / lines.frequencies[used]

    def refined(
        self, start: PartialSeries, hold: Array
    ) -> tuple[Array, Array, Array, Array, Array]:
        """Refine, row by row alike: strings, scatters, covariances and residuals.

        `hold` (n_rows,): how much the bendings to start from are trusted. [1/s^2]
        """
        spacing, told = start.string_fundamentals, np.sqrt(start.dispersions)
        bending, scatter = told, np.full(told.size, 5e-4)
        normal = np.empty(0)
        for _ in range(ROUNDS):
            logs, slopes = _linearised(self.modes, spacing, bending, self.ends)
            residual = self.log_f - logs
            variance = self.noise**2 + scatter[:, None] ** 2
            weight = (DEGREES + 1.0) / (DEGREES + residual**2 / variance) / variance
            weight *= self.is_line
            heavy = weight[..., None] * slopes
            normal = np.swapaxes(slopes, 1, 2) @ heavy
            # two lines leave the bending open: it stays within what ropes can have
            normal[:, 1, 1] += 1.0 / LARGEST_SQRT_DISPERSION**2 + hold
            gradient = np.einsum("cl,cli->ci", residual, heavy)
            gradient[:, 1] -= bending / LARGEST_SQRT_DISPERSION**2
            gradient[:, 1] += (told - bending) * hold
            step = np.linalg.solve(normal, gradient[..., None])[..., 0]
            most = 0.5 * bending + 2e-4
            spacing = spacing * np.exp(np.clip(step[:, 0], -0.02, 0.02))
            bending = bending + np.clip(step[:, 1], -most, most)
            bending = np.clip(bending, 1e-6, LARGEST_SQRT_DISPERSION)
            scatter = self._scatter(weight * variance * (residual**2 - self.noise**2))
        turn = np.tile(np.eye(2), (bending.size, 1, 1))
        first = np.ones((bending.size, 1))
        turn[:, :1] = _linearised(first, spacing, bending, self.ends)[1]
        covariance = turn @ np.linalg.inv(normal) @ np.swapaxes(turn, 1, 2)
        residual = self.log_f - _linearised(self.modes, spacing, bending, self.ends)[0]
        return spacing, bending, scatter, covariance, residual

    def _scatter(self, excess: Array) -> Array:
        """Scatter about each string: what residuals show beyond noise. [1]."""
        degrees = np.maximum(self.sizes - 2.0, 0.5)
        # a prior worth two partials at the scatter of mild polarisation
        total = np.maximum(excess.sum(axis=1), 0.0) + 2.0 * (2e-4) ** 2
        scatter: Array = np.sqrt(total / (degrees + 2.0) + FLOOR_SCATTER**2)
        return scatter


def _linearised(
    modes: Array, spacing: Array, bending: Array, n_clamped_ends: int
) -> tuple[Array, Array]:
    """Ln f_n of strings, one a row, and its derivatives to ln spacing and bending."""
    step = 1e-3 * bending + 1e-7
    low = np.maximum(bending - step, 0.0)
    spacings = np.stack([spacing, spacing * 1.001, spacing, spacing])
    bendings = np.stack([bending, bending, bending + step, low])
    here, higher, stiffer, slacker = np.log(
        mode_frequencies(
            modes, spacings[..., None], bendings[..., None] ** 2, n_clamped_ends
        )
    )
    by_spacing = (higher - here) / np.log(1.001)
    by_bending = (stiffer - slacker) / (bending + step - low)[:, None]
    return here, np.stack([by_spacing, by_bending], axis=-1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """One way to count the partials of one rope, fitted."""

    fit: StringFit  # the string
    log_likelihood: float  # from its own recording [1]
    node_order: int = 0  # every so-many-th partial is missing; 0 if none is
