"""Partials: the lines of one assignment, and the stiff string fitted to them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.physics.partials import mode_frequencies, places
from tension.sound.lines.spectra import Lines, envelope
from tension.sound.strings.swinging import Swing

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
LARGEST_BENDING = 0.03
"""Square root of the largest dispersion: 22 mm at half its usual speed. [s]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class StringFit:
    """A stiff string fitted to lines.

    Attributes
    ----------
    spacing : float
        Spacing of the partials without stiffness. [Hz]
    bending : float
        Square root of the dispersion, 2 pi sqrt(EI/m) / c^2. [s]
    n_clamped_ends : int
        0, 1 or 2.
    covariance : ndarray, shape (2, 2)
        Of the logarithm of the fundamental and the bending.
    modes : ndarray, shape (n_used,)
        Mode numbers of the lines on the comb.
    lines : ndarray, shape (n_used,)
        Their places among the lines.
    residuals : ndarray, shape (n_used,)
        Relative offsets. [1]
    scatter : float
        Relative scatter about the string beyond noise. [1]
    swing : Swing or None
        How the hitch end swings; None if it stands still.
    """

    spacing: float
    bending: float
    n_clamped_ends: int
    covariance: NDArray[np.float64]
    modes: NDArray[np.int64]
    lines: NDArray[np.int64]
    residuals: NDArray[np.float64]
    scatter: float
    swing: Swing | None = None

    @property
    def dispersion(self) -> float:
        """4 pi^2 (EI/m) / c^4. [s^2]."""
        return self.bending**2

    @property
    def fundamental_frequency(self) -> float:
        """First natural frequency, stiffness included. [Hz]."""
        one = mode_frequencies(
            np.ones(1), self.spacing, self.dispersion, self.n_clamped_ends
        )
        return float(one[0])

    @property
    def inharmonicity(self) -> float:
        """B in f_n = n f_0 sqrt(1 + B n^2). [1]."""
        return self.dispersion * self.spacing**2

    def places(self, frequencies: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the places of lines, those of a swinging end counted as well.

        Parameters
        ----------
        frequencies : ndarray, shape (n_lines,)
            Measured. [Hz]

        Returns
        -------
        ndarray, shape (n_lines,)
            Numbers, not rounded. [1]
        """
        place = places(frequencies, self.spacing, self.dispersion, self.n_clamped_ends)
        return place if self.swing is None else place + self.swing.turn(frequencies)

    def predicted(self, count: int) -> NDArray[np.float64]:
        """Give the first partials, those of a swinging end left as at rest.

        Returns
        -------
        ndarray, shape (count,)
            Frequencies. [Hz]
        """
        modes = np.arange(1.0, count + 1.0)
        return mode_frequencies(
            modes, self.spacing, self.dispersion, self.n_clamped_ends
        )

    @property
    def relative_uncertainty(self) -> float:
        """Of the fundamental, from the covariance. [1]."""
        return float(np.sqrt(self.covariance[0, 0]))


def match_lines(
    lines: Lines, spacing: float, dispersion: float, n_clamped_ends: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Choose for each mode number the line that belongs to it.

    Parameters
    ----------
    lines : Lines
        Lines of the rings.
    spacing : float
        Of the comb. [Hz]
    dispersion : float
        Of the comb. [s^2]
    n_clamped_ends : int
        0, 1 or 2.

    Returns
    -------
    modes : ndarray, shape (n_used,)
        Mode numbers, increasing.
    used : ndarray, shape (n_used,)
        Places among the lines.

    Notes
    -----
    Within 0.4 % (twice two polarisations) and 0.15 spacings the highest line is taken,
    of two polarisations the stronger.
    """
    f = lines.frequencies
    n = np.maximum(np.rint(places(f, spacing, dispersion, n_clamped_ends)), 1.0)
    predicted = mode_frequencies(n, spacing, dispersion, n_clamped_ends)
    reach = np.minimum(3.0 * lines.uncertainties + 0.004 * f, 0.15 * spacing)
    near = (np.abs(f - predicted) < reach) & (lines.weights > 0.3)
    chosen: dict[int, int] = {}
    for k in np.flatnonzero(near):
        mode = int(n[k])
        if mode not in chosen or lines.levels[k] > lines.levels[chosen[mode]]:
            chosen[mode] = int(k)
    modes = np.array(sorted(chosen), dtype=np.int64)
    used = np.array([chosen[int(mode)] for mode in modes], dtype=np.int64)
    return modes, used


def explained_share(lines: Lines, fit: StringFit) -> float:
    """Find how much of what is heard a string explains.

    Returns
    -------
    float
        Share of the lines that stand out, each counted by its level over the noise. [1]
    """
    f = lines.frequencies
    level = 10.0 * np.log10(lines.levels)
    stands_out = (lines.weights > 0.5) & (f < HIGHEST_TOLD) & (level > LEAST_LEVEL)
    stands_out &= envelope(lines, f) - level < LEAST_LEVEL
    place = fit.places(f)
    off = np.abs(place - np.maximum(np.rint(place), 1.0))
    beside = (off * fit.spacing < PLANES * f) | (off < 0.02)
    counts = np.clip(level - 10.0, 0.0, 20.0) * stands_out
    return float(np.sum(counts * beside) / max(float(np.sum(counts)), 1e-9))


def fit_string(
    lines: Lines,
    spacing: float,
    dispersion: float,
    n_clamped_ends: int,
    rounds: int = 8,
    bending_slack: float | None = None,
) -> StringFit | None:
    """Fit a stiff string to the lines that belong to a assignment.

    Parameters
    ----------
    lines : Lines
        Lines of the rings.
    spacing : float
        To start from. [Hz]
    dispersion : float
        To start from. [s^2]
    n_clamped_ends : int
        0, 1 or 2.
    rounds : int
        Rounds of reweighting.
    bending_slack : float, optional
        Standard uncertainty of the bending to start from, where it is known from other
        ropes. [s]

    Returns
    -------
    StringFit or None
        None with fewer than two lines.

    Notes
    -----
    Gauss-Newton in ln spacing and bending with Student's t; the scatter about the
    string is estimated from the residuals and scales the covariance.
    """
    modes, used = match_lines(lines, spacing, dispersion, n_clamped_ends)
    if modes.size < 2:
        return None
    f = lines.frequencies[used]
    noise = lines.uncertainties[used] / f
    n = modes.astype(np.float64)
    bending = told = float(np.sqrt(dispersion))
    scatter = 5e-4
    covariance: NDArray[np.float64] = np.zeros((2, 2))

    for _ in range(rounds):
        residual = np.log(f) - np.log(
            mode_frequencies(n, spacing, bending**2, n_clamped_ends)
        )
        variance = noise**2 + scatter**2
        weight = (DEGREES + 1.0) / (DEGREES + residual**2 / variance) / variance
        design = mode_slopes(n, spacing, bending, n_clamped_ends)
        normal = design.T @ (weight[:, None] * design)
        # two lines leave the bending open: it stays within what ropes can have
        normal[1, 1] += 1.0 / LARGEST_BENDING**2
        gradient = design.T @ (weight * residual)
        gradient[1] -= bending / LARGEST_BENDING**2
        if bending_slack is not None:
            normal[1, 1] += 1.0 / bending_slack**2
            gradient[1] += (told - bending) / bending_slack**2
        step = np.linalg.solve(normal, gradient)
        spacing *= float(np.exp(np.clip(step[0], -0.02, 0.02)))
        move = float(np.clip(step[1], -0.5 * bending - 2e-4, 0.5 * bending + 2e-4))
        bending = float(np.clip(bending + move, 1e-6, LARGEST_BENDING))
        covariance = np.asarray(np.linalg.inv(normal), dtype=np.float64)
        degrees = max(modes.size - 2.0, 0.5)
        excess = np.sum(weight * variance * (residual**2 - noise**2)) / degrees
        # a prior worth two partials at the scatter of mild polarisation
        total = (degrees * max(excess, 0.0) + 2.0 * (2e-4) ** 2) / (degrees + 2.0)
        scatter = float(np.sqrt(total + FLOOR_SCATTER**2))
    turn = np.eye(2)
    turn[0] = mode_slopes(np.ones(1), spacing, bending, n_clamped_ends)[0]
    return StringFit(
        spacing=spacing,
        bending=bending,
        n_clamped_ends=n_clamped_ends,
        covariance=turn @ covariance @ turn.T,
        modes=modes,
        lines=used,
        residuals=np.log(f)
        - np.log(mode_frequencies(n, spacing, bending**2, n_clamped_ends)),
        scatter=scatter,
    )


def mode_slopes(
    modes: NDArray[np.float64], spacing: float, bending: float, n_clamped_ends: int
) -> NDArray[np.float64]:
    """Derivatives of ln f_n to ln spacing and bending, by differences.

    Parameters
    ----------
    modes : ndarray, shape (n_modes,)
        Mode numbers.
    spacing : float
        Of the comb. [Hz]
    bending : float
        Square root of the dispersion. [s]
    n_clamped_ends : int
        0, 1 or 2.

    Returns
    -------
    ndarray, shape (n_modes, 2)
        Derivatives. [1, 1/s]
    """
    step = 1e-3 * bending + 1e-7

    def logarithm(at_spacing: float, at_bending: float) -> NDArray[np.float64]:
        """Ln f_n."""
        f = mode_frequencies(modes, at_spacing, at_bending**2, n_clamped_ends)
        result: NDArray[np.float64] = np.log(f)
        return result

    low = max(bending - step, 0.0)
    by_bending = logarithm(spacing, bending + step) - logarithm(spacing, low)
    by_spacing = logarithm(spacing * 1.001, bending) - logarithm(spacing, bending)
    return np.stack(
        [by_spacing / np.log(1.001), by_bending / (bending + step - low)], axis=1
    )
