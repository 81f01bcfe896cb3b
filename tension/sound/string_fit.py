"""Strings: stiff strings, one or many, and those fitted to the lines of a rope."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from tension.physics.partials import mode_frequencies, mode_positions
from tension.sound.hearing import Array, Counts
from tension.sound.spectra import Lines, envelope

FLOOR_SCATTER = 5e-5
"""Relative scatter that even clean plucks show: windows and interpolation."""
DEGREES = 4.0
"""Of Student's t: a partial near a hitch resonance or a neighbour's is far off."""
HIGHEST_TOLD = 400.0  # higher lines are dense, and any of them lies near a partial [Hz]
LEAST_LEVEL = 12.0
"""Of a line that stands out, over the noise and under the envelope. [dB]"""
PLANES, BESIDE = 0.004, 0.02
"""A line so near a partial is its: relative distance of the two planes of a partial,
twice; and in spacings. [1]"""
LARGEST_SQRT_DISPERSION = 0.03
"""Square root of the largest dispersion: 22 mm at half its usual speed. [s]"""
ROUNDS = 8  # of reweighting [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class PartialSeries:
    """Stiff strings as `tension.physics.partials` has them, one per element."""

    string_fundamentals: Array  # spacing without stiffness [Hz], shape (n_series,)
    # 4 pi^2 (EI/m) / c^4; does not depend on the length [s^2], shape (n_series,)
    dispersions: Array
    n_clamped_ends: int = 1  # of all of them: 0, 1 or 2

    def places(self, frequencies: Array) -> Array:
        """Mode numbers, not rounded, at which frequencies lie.

        `frequencies` (n_lines,) [Hz]. Gives shape (n_series, n_lines).
        """
        return mode_positions(frequencies, *self._columns)

    def partials(self, numbers: Array) -> Array:
        """Frequencies [Hz] of mode numbers, shape (n_series, n_numbers).

        `numbers` (n_numbers,) or (n_series, n_numbers): of one shape for all, or each.
        """
        return mode_frequencies(numbers, *self._columns)

    @property
    def _columns(self) -> tuple[Array, Array, int]:
        spacings, dispersions = self.string_fundamentals, self.dispersions
        return spacings[..., None], dispersions[..., None], self.n_clamped_ends

    def of(self, chosen: NDArray[np.intp] | slice) -> Self:
        """Choose some of them, shape (n_chosen,)."""
        return self._each(lambda name: getattr(self, name)[chosen])

    def joined(self, *others: Self) -> Self:
        """Put others behind them."""
        every = (self, *others)
        return self._each(lambda n: np.concatenate([getattr(one, n) for one in every]))

    def _each(self, of: Callable[[str], Any]) -> Self:
        """With something else for all of what there is one per series."""
        names = [each.name for each in fields(self) if each.name != "n_clamped_ends"]
        return replace(self, **{name: of(name) for name in names})

    def spread(
        self, spacings: Array, dispersions: Array | None = None
    ) -> "PartialSeries":
        """Multiples [1], (n_multiples,), of the spacing and dispersion of each."""
        if dispersions is None:
            dispersions = np.ones(spacings.size)
        return PartialSeries(
            string_fundamentals=np.outer(self.string_fundamentals, spacings).ravel(),
            dispersions=np.outer(self.dispersions, dispersions).ravel(),
            n_clamped_ends=self.n_clamped_ends,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class HitchResonance:
    """How a hitch end swings."""

    # at which socket and rod would swing if the rope carried nothing away: to and fro
    # first, then nodding [Hz]
    resonances: tuple[float, ...]
    # of each resonance, by what the rope carries away: sqrt(T m)/(2 pi M) for a mass M
    # that moves to and fro [Hz]
    bandwidths: tuple[float, ...]


def end_turn(frequencies: Array, resonances: Array, bandwidths: Array) -> Array:
    """Part of a mode number that a swinging end takes up.

    `frequencies` (..., n_lines) [Hz]: where; `resonances`, `bandwidths` (..., n_swings)
    [Hz]: of the end. Gives shape (..., n_lines): from 0 far below all resonances to
    their number far above. [1]

    Notes
    -----
    A lossless end has a reactance that rises between its poles (Foster's theorem): it
    turns the wave by 1/pi atan(sum of f bandwidth/(resonance^2 - f^2)) of a place, and
    by a whole place more past each pole. For one mass on one spring this is z cot z =
    -(kappa - mu z^2), as `tension.physics.partials` has it. Far above all resonances
    the mass holds the end still, and the rope is clamped in the socket.
    """
    f = frequencies[..., None, :]
    gap = resonances[..., :, None] ** 2 - f**2
    gap = np.where(np.abs(gap) < 1e-9, 1e-9, gap)
    lean = np.sum(f * bandwidths[..., :, None] / gap, axis=-2)
    passed = np.sum(gap < 0.0, axis=-2)
    return np.asarray(np.arctan(lean) / np.pi + passed)


@dataclass(frozen=True, kw_only=True, slots=True)
class StringFit:
    """A stiff string fitted to lines."""

    string_fundamental: float  # spacing of the partials without stiffness [Hz]
    # square root of the dispersion, 2 pi sqrt(EI/m) / c^2: the bending [s]
    sqrt_dispersion: float
    n_clamped_ends: int  # 0, 1 or 2
    covariance: Array  # of ln of the fundamental and the bending, shape (2, 2)
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
        """Give the places (n_lines,) [1] of lines [Hz], not rounded.

        Lines of a swinging end are counted as well.
        """
        place: Array = series_of([self]).places(frequencies)[0]
        if self.hitch is None:
            return place
        end = np.array(self.hitch.resonances), np.array(self.hitch.bandwidths)
        return place + end_turn(frequencies, *end)

    def frequencies(self, modes: Array | Counts) -> Array:
        """Give partials (n_modes,) [Hz], those of a swinging end left as at rest."""
        numbers = np.asarray(modes, np.float64)
        return np.asarray(series_of([self]).partials(numbers)[0])

    def has_partials_at(self, frequencies: Array) -> NDArray[np.bool_]:
        """Tell which lines [Hz] are its partials, (n_lines,)."""
        place = self.places(frequencies)
        off = np.abs(place - np.maximum(np.rint(place), 1.0))
        reach = np.maximum(PLANES * frequencies / self.string_fundamental, BESIDE)
        return np.asarray(off < reach)

    def slopes(self, modes: Array) -> Array:
        """Give derivatives of ln f_n to ln spacing [1] and bending [1/s], (n_modes, 2).

        By differences.
        """
        spacing, bending = self.string_fundamental, self.sqrt_dispersion
        table = np.array([spacing]), np.array([bending])
        slopes: Array = _linearised(modes[None, :], *table, self.n_clamped_ends)[1][0]
        return slopes


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """One way to count the partials of one rope, fitted."""

    fit: StringFit  # the string
    log_likelihood: float  # from its own recording [1]
    node_order: int = 0  # every so-many-th partial is missing; 0 if none is


def series_of(fits: Sequence[StringFit]) -> PartialSeries:
    """Series of strings, at least one, shape (n_fits,)."""
    return PartialSeries(
        string_fundamentals=np.array([fit.string_fundamental for fit in fits]),
        dispersions=np.array([fit.dispersion for fit in fits]),
        n_clamped_ends=fits[0].n_clamped_ends,
    )


def highest_of_each(
    lines: Lines, numbers: Counts, is_near: NDArray[np.bool_]
) -> tuple[Counts, Counts]:
    """Choose for each mode number the highest line near it that is believed.

    `numbers`, `is_near`: of each line, shape (n_lines,). Gives mode numbers,
    increasing, and their places among the lines, each (n_used,).
    """
    highest = np.argsort(-lines.levels, kind="stable")
    order = highest[(is_near & (lines.weights > 0.3))[highest]]
    modes, first = np.unique(numbers[order], return_index=True)
    return modes, order[first]


def explained_share(lines: Lines, fit: StringFit) -> float:
    """Find how much of what is heard a string explains.

    Gives: share of the lines that stand out, each counted by its level over the noise.
    [1]
    """
    f = lines.frequencies
    level = 10.0 * np.log10(lines.levels)
    is_partial = fit.has_partials_at(f)
    stands_out = (lines.weights > 0.5) & (f < HIGHEST_TOLD) & (level > LEAST_LEVEL)
    stands_out &= envelope(lines, f) - level < LEAST_LEVEL
    counts = np.clip(level - 10.0, 0.0, 20.0) * stands_out
    return float(np.sum(counts * is_partial) / max(float(np.sum(counts)), 1e-9))


def fit_strings(
    lines: Lines, series: PartialSeries, sqrt_dispersion_slacks: Array | None = None
) -> list[StringFit | None]:
    """Fit a stiff string to the lines that belong to each of some series.

    `sqrt_dispersion_slacks` (n_series,) [s]: standard uncertainties of the bendings to
    start from, where they are known from other ropes.

    Notes
    -----
    Within 0.4 % (twice two polarisations) and 0.15 spacings the highest line is taken,
    of two polarisations the stronger. Gauss-Newton in ln spacing and bending with
    Student's t; the scatter about the string is estimated from the residuals and scales
    the covariance.
    """
    f = lines.frequencies
    n = np.maximum(np.rint(series.places(f)), 1.0)
    spacing = series.string_fundamentals[:, None]
    reach = np.minimum(3.0 * lines.uncertainties + 0.004 * f, 0.15 * spacing)
    near = np.abs(f - series.partials(n)) < reach
    matched = [
        highest_of_each(lines, numbers, is_near)
        for numbers, is_near in zip(n.astype(np.int64), near, strict=True)
    ]
    fits: list[StringFit | None] = [None] * len(matched)
    kept = np.flatnonzero([modes.size > 1 for modes, _ in matched])
    if not kept.size:
        return fits
    hold = np.zeros(kept.size)
    if sqrt_dispersion_slacks is not None:
        hold = 1.0 / sqrt_dispersion_slacks[kept] ** 2
    ends = series.n_clamped_ends
    spacings, bendings, normal, residuals, scatters = _fit_rows(
        lines, [matched[k] for k in kept], series.of(kept), hold
    )
    turn = np.tile(np.eye(2), (kept.size, 1, 1))
    turn[:, :1] = _linearised(np.ones((kept.size, 1)), spacings, bendings, ends)[1]
    covariances = turn @ np.linalg.inv(normal) @ np.swapaxes(turn, 1, 2)
    for row, k in enumerate(kept):
        modes, used = matched[k]
        fits[k] = StringFit(
            string_fundamental=float(spacings[row]),
            sqrt_dispersion=float(bendings[row]),
            n_clamped_ends=ends,
            covariance=covariances[row],
            modes=modes,
            lines=used,
            residuals=residuals[row, : modes.size],
            scatter=float(scatters[row]),
        )
    return fits


def _fit_rows(
    lines: Lines,
    matched: Sequence[tuple[Counts, Counts]],
    start: PartialSeries,
    hold: Array,
) -> tuple[Array, Array, Array, Array, Array]:
    """Fit strings together, one a row; short rows are filled up with no weight.

    `hold` (n_rows,) [1/s^2]: trust in the bendings to start from. Gives spacings,
    bendings, inverse covariances of ln of the one and the other, residuals, scatters.
    """
    ends, sizes = start.n_clamped_ends, np.array([modes.size for modes, _ in matched])
    is_line = np.arange(sizes.max()) < sizes[:, None]
    used = np.concatenate([of for _, of in matched])
    modes, log_f, noise = np.ones((3, *is_line.shape))
    modes[is_line] = np.concatenate([modes for modes, _ in matched])
    log_f[is_line] = np.log(lines.frequencies[used])
    noise[is_line] = lines.uncertainties[used] / lines.frequencies[used]
    spacing, told = start.string_fundamentals, np.sqrt(start.dispersions)
    bending, scatter = told, np.full(told.size, 5e-4)
    normal, degrees = np.empty(0), np.maximum(sizes - 2.0, 0.5)
    for _ in range(ROUNDS):
        logs, slopes = _linearised(modes, spacing, bending, ends)
        residual = log_f - logs
        variance = noise**2 + scatter[:, None] ** 2
        weight = (DEGREES + 1.0) / (DEGREES + residual**2 / variance) / variance
        heavy = np.where(is_line, weight, 0.0)[..., None] * slopes
        normal = np.swapaxes(slopes, 1, 2) @ heavy
        # two lines leave the bending open: it stays within what ropes can have
        normal[:, 1, 1] += 1.0 / LARGEST_SQRT_DISPERSION**2 + hold
        gradient = np.einsum("cl,cli->ci", residual, heavy)
        gradient[:, 1] -= bending / LARGEST_SQRT_DISPERSION**2
        gradient[:, 1] += (told - bending) * hold
        step = np.linalg.solve(normal, gradient[..., None])[..., 0]
        spacing = spacing * np.exp(np.clip(step[:, 0], -0.02, 0.02))
        most = 0.5 * bending + 2e-4
        bending = bending + np.clip(step[:, 1], -most, most)
        bending = np.clip(bending, 1e-6, LARGEST_SQRT_DISPERSION)
        # what residuals show beyond noise, and a prior worth two partials at the
        # scatter of mild polarisation
        excess = is_line * weight * variance * (residual**2 - noise**2)
        total = np.maximum(excess.sum(axis=1), 0.0) + 2.0 * (2e-4) ** 2
        scatter = np.sqrt(total / (degrees + 2.0) + FLOOR_SCATTER**2)
    residual = log_f - _linearised(modes, spacing, bending, ends)[0]
    return spacing, bending, normal, residual, scatter


def _linearised(
    modes: Array, spacing: Array, bending: Array, n_clamped_ends: int
) -> tuple[Array, Array]:
    """Ln f_n of strings, one a row, and its derivatives to ln spacing and bending."""
    step = 1e-3 * bending + 1e-7
    low = np.maximum(bending - step, 0.0)
    moved = PartialSeries(
        string_fundamentals=np.stack([spacing, spacing * 1.001, spacing, spacing]),
        dispersions=np.stack([bending, bending, bending + step, low]) ** 2,
        n_clamped_ends=n_clamped_ends,
    )
    here, higher, stiffer, slacker = np.log(moved.partials(modes))
    by_spacing = (higher - here) / np.log(1.001)
    by_bending = (stiffer - slacker) / (bending + step - low)[:, None]
    return here, np.stack([by_spacing, by_bending], axis=-1)
