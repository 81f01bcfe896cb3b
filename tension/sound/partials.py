"""Partials: the lines of one numbering, and the stiff string fitted to them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.comb import unstiffened
from tension.sound.spectra import Lines

FLOOR_SCATTER = 5e-5
"""Relative scatter that even clean plucks show: windows and interpolation."""
DEGREES = 4.0
"""Of Student's t: a partial near a hitch resonance or a neighbour's is far off."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StringFit:
    """A stiff string fitted to lines.

    Attributes
    ----------
    spacing : float
        f_0. [Hz]
    dispersion : float
        Inharmonicity over spacing squared. [s^2]
    covariance : ndarray, shape (2, 2)
        Of ln f_0 and the dispersion.
    modes : ndarray, shape (n_used,)
        Mode numbers of the lines on the comb.
    lines : ndarray, shape (n_used,)
        Their places among the lines.
    residuals : ndarray, shape (n_used,)
        Relative offsets. [1]
    scatter : float
        Relative scatter about the string beyond noise. [1]
    """

    spacing: float
    dispersion: float
    covariance: NDArray[np.float64]
    modes: NDArray[np.int64]
    lines: NDArray[np.int64]
    residuals: NDArray[np.float64]
    scatter: float

    @property
    def fundamental_frequency(self) -> float:
        """First natural frequency, stiffness included. [Hz]."""
        return float(self.spacing * np.sqrt(1.0 + self.inharmonicity))

    @property
    def inharmonicity(self) -> float:
        """B in f_n = n f_0 sqrt(1 + B n^2). [1]."""
        return self.dispersion * self.spacing**2

    @property
    def relative_uncertainty(self) -> float:
        """Of the fundamental, from the covariance. [1]."""
        gradient = self.fundamental_gradient()
        return float(np.sqrt(gradient @ self.covariance @ gradient))

    def fundamental_gradient(self) -> NDArray[np.float64]:
        """Derivatives of ln f_1 to ln f_0 and the dispersion."""
        b = self.inharmonicity
        return np.array([1.0 + b / (1.0 + b), 0.5 * self.spacing**2 / (1.0 + b)])


def match_lines(
    lines: Lines, spacing: float, dispersion: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Choose for each mode number the line that belongs to it.

    Parameters
    ----------
    lines : Lines
        Peaks of the ring spectrum.
    spacing : float
        f_0. [Hz]
    dispersion : float
        Inharmonicity over spacing squared. [s^2]

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
    n = np.maximum(np.rint(unstiffened(f, dispersion) / spacing), 1.0)
    predicted = n * spacing * np.sqrt(1.0 + dispersion * (n * spacing) ** 2)
    reach = np.minimum(3.0 * lines.uncertainties + 0.004 * f, 0.15 * spacing + 0.0 * f)
    near = (np.abs(f - predicted) < reach) & (lines.weights > 0.3)
    chosen: dict[int, int] = {}
    for k in np.flatnonzero(near):
        mode = int(n[k])
        if mode not in chosen or lines.levels[k] > lines.levels[chosen[mode]]:
            chosen[mode] = int(k)
    modes = np.array(sorted(chosen), dtype=np.int64)
    used = np.array([chosen[int(mode)] for mode in modes], dtype=np.int64)
    return modes, used


def fit_string(
    lines: Lines, spacing: float, dispersion: float, rounds: int = 12
) -> StringFit | None:
    """Fit a stiff string to the lines that belong to a numbering.

    Parameters
    ----------
    lines : Lines
        Peaks of the ring spectrum.
    spacing : float
        f_0 to start from. [Hz]
    dispersion : float
        To start from. [s^2]
    rounds : int
        Rounds of reweighting.

    Returns
    -------
    StringFit or None
        None with fewer than two lines.

    Notes
    -----
    Student's t with the scatter about the string estimated from the residuals, and the
    covariance of a weighted fit scaled by it. (f_n/n)^2 = f_0^2 + f_0^4 kappa n^2.
    """
    modes, used = match_lines(lines, spacing, dispersion)
    if modes.size < 2:
        return None
    f = lines.frequencies[used]
    noise = lines.uncertainties[used] / f
    n = modes.astype(np.float64)
    scatter = 5e-4
    covariance = np.zeros((2, 2))
    for _ in range(rounds):
        b = dispersion * spacing**2
        predicted = n * spacing * np.sqrt(1.0 + b * n**2)
        residual = np.log(f / predicted)
        variance = noise**2 + scatter**2
        weight = (DEGREES + 1.0) / (DEGREES + residual**2 / variance) / variance
        # derivatives of ln f_n to ln f_0 and to the dispersion
        u2 = (n * spacing) ** 2
        design = np.stack(
            [
                1.0 + dispersion * u2 / (1.0 + dispersion * u2),
                0.5 * u2 / (1.0 + dispersion * u2),
            ],
            axis=1,
        )
        scale = np.array([1.0, 1.0 / np.mean(u2)])
        design = design * scale
        normal = design.T @ (weight[:, None] * design)
        # a weak restraint keeps two lines solvable: dispersion within its usual size
        normal[1, 1] += 1.0 / (2e-5 * np.mean(u2)) ** 2
        gradient = design.T @ (weight * residual)
        gradient[1] -= (dispersion * np.mean(u2)) / (2e-5 * np.mean(u2)) ** 2
        step = np.linalg.solve(normal, gradient)
        spacing *= float(np.exp(np.clip(step[0], -0.02, 0.02)))
        dispersion = max(dispersion + float(step[1]) * scale[1], 0.0)
        covariance = np.linalg.inv(normal) * np.outer(scale, scale)
        degrees = max(modes.size - 2.0, 0.5)
        excess = np.sum(weight * variance * (residual**2 - noise**2)) / degrees
        # a prior worth two partials at the scatter of mild polarisation
        total = (degrees * max(excess, 0.0) + 2.0 * (2e-4) ** 2) / (degrees + 2.0)
        scatter = float(np.sqrt(total + FLOOR_SCATTER**2))
    b = dispersion * spacing**2
    residual = np.log(f / (n * spacing * np.sqrt(1.0 + b * n**2)))
    return StringFit(
        spacing=spacing,
        dispersion=dispersion,
        covariance=covariance,
        modes=modes,
        lines=used,
        residuals=residual,
        scatter=scatter,
    )
