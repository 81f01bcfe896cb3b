"""Numberings: rival combs fitted to the lines, each with a log-likelihood."""

from dataclasses import dataclass
from math import lgamma

import numpy as np
from numpy.typing import NDArray

from tension.sound.comb import Combs, unstiffened
from tension.sound.spectra import Lines

SCATTERS = (1.5e-4, 5e-4, 1.5e-3)
"""Relative scatter of partials about the string: none, polarisations, a hitch."""
SCATTER_WEIGHTS = (0.4, 0.4, 0.2)
DEGREES = 4.0
"""Of Student's t for the place of a partial: some are pulled by neighbours."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Numbering:
    """One way to number the lines of one rope.

    Attributes
    ----------
    spacing : float
        f_0. [Hz]
    dispersion : float
        Inharmonicity over spacing squared. [s^2]
    log_likelihood : float
        Against no comb at all. [1]
    n_hits : int
        Lines on the comb.
    pattern : int
        1 all partials, 2 odd ones only.
    covariance : ndarray, shape (2, 2)
        Of ln spacing and dispersion.
    """

    spacing: float
    dispersion: float
    log_likelihood: float
    n_hits: int
    pattern: int
    covariance: NDArray[np.float64]

    @property
    def fundamental_frequency(self) -> float:
        """First natural frequency, stiffness included. [Hz]."""
        return float(self.spacing * np.sqrt(1.0 + self.dispersion * self.spacing**2))


def fit_combs(
    lines: Lines,
    combs: Combs,
    numbers: NDArray[np.int64] | None = None,
    rounds: int = 7,
) -> Combs:
    """Refine combs by robust weighted straight lines of (f/n)^2 over n^2.

    Parameters
    ----------
    lines : Lines
        Peaks of the ring spectrum.
    combs : Combs
        Where to start.
    numbers : ndarray, shape (n_combs, n_lines), optional
        Mode numbers for the first round; nearest places if not given.
    rounds : int
        How often the gate is narrowed and the fit repeated.

    Returns
    -------
    Combs
        Refined, in the same order.

    Notes
    -----
    f_n = n f_0 sqrt(1 + B n^2) gives (f_n/n)^2 = f_0^2 + f_0^2 B n^2, exact and linear.
    """
    frequency = lines.frequencies[None, :]
    spacing = combs.spacings[:, None].copy()
    dispersion = combs.dispersions[:, None].copy()
    for turn in range(rounds):
        place = unstiffened(frequency, dispersion) / spacing
        if turn > 0 or numbers is None:
            n = np.maximum(np.rint(place), 1.0)
        else:
            n = np.maximum(numbers.astype(np.float64), 1.0)
        predicted = n * spacing * np.sqrt(1.0 + dispersion * (n * spacing) ** 2)
        residual = frequency - predicted
        gate = spacing * max(0.3 * 0.6**turn, 0.02)
        sigma = np.sqrt(
            lines.uncertainties**2 + (5e-4 * frequency) ** 2 + (0.3 * gate) ** 2
        )
        weight = lines.weights / sigma**2 / (1.0 + (residual / sigma) ** 2 / 4.0) ** 2
        if turn == 0 and numbers is not None:
            weight = lines.weights / sigma**2 * (numbers > 0)
        y = (frequency / n) ** 2
        # dy = 2 f df / n^2
        weight = weight * (n**2 / (2.0 * frequency)) ** 2 + 1e-30
        x = n**2
        s0 = weight.sum(axis=1, keepdims=True) + 1e-300
        mean_x = (weight * x).sum(axis=1, keepdims=True) / s0
        mean_y = (weight * y).sum(axis=1, keepdims=True) / s0
        sxx = (weight * (x - mean_x) ** 2).sum(axis=1, keepdims=True)
        sxy = (weight * (x - mean_x) * (y - mean_y)).sum(axis=1, keepdims=True)
        slope = np.maximum(sxy / (sxx + 1e-12 * s0 * mean_x**2 + 1e-300), 0.0)
        square = mean_y - slope * mean_x
        low = square < 0.2 * mean_y
        square = np.where(low, 0.2 * mean_y, square)
        slope = np.where(low, 0.8 * mean_y / mean_x, slope)
        spacing = np.sqrt(np.maximum(square, 1e-12))
        dispersion = slope / spacing**4
    return Combs(spacings=spacing[:, 0], dispersions=dispersion[:, 0])


def line_density(lines: Lines) -> NDArray[np.float64]:
    """Density of lines that belong to nothing, at each line.

    Parameters
    ----------
    lines : Lines
        Peaks of the ring spectrum.

    Returns
    -------
    ndarray, shape (n_lines,)
        A third of the local density of all lines, at least one in 100 Hz. [1/Hz]
    """
    reach = 40.0
    f = lines.frequencies
    n = np.searchsorted(f, f + reach) - np.searchsorted(f, f - reach)
    width = np.minimum(f + reach, f[-1] + 5.0) - np.maximum(f - reach, f[0] - 5.0)
    result: NDArray[np.float64] = np.maximum(0.3 * n / width, 0.01)
    return result


def _log_beta(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Logarithm of the beta function, by elements."""
    table = np.array([lgamma(k) for k in range(1, int((a + b).max()) + 2)])
    ai, bi = a.astype(int), b.astype(int)
    result: NDArray[np.float64] = table[ai - 1] + table[bi - 1] - table[ai + bi - 1]
    return result


def weigh_comb(
    lines: Lines,
    density: NDArray[np.float64],
    noise_density: NDArray[np.float64],
    spacing: float,
    dispersion: float,
) -> tuple[float, int, int, NDArray[np.float64]]:
    """Log-likelihood of one comb against lines scattered at random.

    Parameters
    ----------
    lines : Lines
        Peaks of the ring spectrum.
    density : ndarray, shape (n_lines,)
        Density of stray lines. [1/Hz]
    noise_density : ndarray, shape (n_lines,)
        Density of noise peaks as high as each line. [1/Hz]
    spacing : float
        f_0. [Hz]
    dispersion : float
        Inharmonicity over spacing squared. [s^2]

    Returns
    -------
    log_likelihood : float
        Logarithm of the likelihood ratio. [1]
    n_hits : int
        Lines on the comb.
    pattern : int
        1 all partials, 2 odd ones only.
    residuals : ndarray, shape (n_lines,)
        Offsets of the lines from the nearest place. [Hz]
    """
    f = lines.frequencies
    n = np.maximum(np.rint(unstiffened(f, dispersion) / spacing), 1.0)
    predicted = n * spacing * np.sqrt(1.0 + dispersion * (n * spacing) ** 2)
    residual = f - predicted
    totals = []
    n_top = float(np.rint(unstiffened(f[-1:], dispersion)[0] / spacing))
    all_n = np.arange(1.0, max(n_top, 1.0) + 1.0)
    all_f = all_n * spacing * np.sqrt(1.0 + dispersion * (all_n * spacing) ** 2)
    bottom = f[0] - 0.5 * spacing
    all_n = all_n[all_f >= bottom]
    all_f = all_f[all_f >= bottom]
    band = np.floor(2.0 * np.log2(np.maximum(all_f, 8.0) / 8.0)).astype(int)
    best: tuple[float, int, int] = (-np.inf, 0, 1)
    for scatter, prior in zip(SCATTERS, SCATTER_WEIGHTS, strict=True):
        sigma = np.sqrt(lines.uncertainties**2 + (scatter * f) ** 2)
        t = residual / sigma
        log_t = -0.5 * (DEGREES + 1.0) * np.log1p(t**2 / DEGREES) + np.log(
            0.375 / sigma
        )
        gain = lines.weights * (log_t - np.log(density + noise_density))
        gain = np.minimum(gain, 8.0)
        # the best line of each place
        hit = gain > 0.0
        order = np.argsort(gain[hit])
        at = dict(zip(n[hit][order].tolist(), gain[hit][order].tolist(), strict=True))
        is_hit = np.array([k in at for k in all_n.tolist()], dtype=bool)
        value = float(sum(at.values())) + np.log(prior)
        for pattern in (1, 2):
            total = value + (0.0 if pattern == 1 else np.log(0.05))
            odd = np.ones(all_n.size, dtype=bool) if pattern == 1 else all_n % 2 == 1
            m = np.bincount(band[odd], minlength=32).astype(float)
            h = np.bincount(band[odd & is_hit], minlength=32).astype(float)
            total += float(np.sum(_log_beta(h + 1.0, m - h + 1.0)[m > 0]))
            n_even = int(np.count_nonzero(~odd))
            h_even = int(np.count_nonzero(~odd & is_hit))
            total += h_even * np.log(0.1) + (n_even - h_even) * np.log(0.9)
            totals.append(total)
            if total > best[0]:
                best = (total, int(is_hit.sum()), pattern)
    return float(np.logaddexp.reduce(totals)), best[1], best[2], residual


RELATIONS = (1.0 / 3.0, 0.5, 2.0 / 3.0, 1.5, 2.0, 3.0)
"""Rivals by counting every line as another multiple."""
SHIFTS = (-3, -2, -1, 1, 2, 3)
"""Rivals by counting on from another line."""


def find_numberings(
    lines: Lines,
    combs: Combs,
    lowest: float,
    highest: float,
    duration: float,
    n_rings: float,
) -> tuple[Numbering, ...]:
    """Fit the combs and their rivals and weigh them.

    Parameters
    ----------
    lines : Lines
        Peaks of the ring spectrum.
    combs : Combs
        From the search.
    lowest, highest : float
        Range of the fundamental. [Hz]
    duration : float
        Of the spectrum. [s]
    n_rings : float
        Rings averaged.

    Returns
    -------
    tuple of Numbering
        Likeliest first, no two alike.
    """
    density = line_density(lines)
    excess = np.minimum((lines.levels - 1.0) * n_rings, 300.0)
    noise_density = duration * lines.levels * n_rings * np.exp(-excess)

    def weigh(found: Combs) -> list[Numbering]:
        result = []
        for spacing, dispersion in zip(found.spacings, found.dispersions, strict=True):
            total, hits, pattern, _ = weigh_comb(
                lines, density, noise_density, float(spacing), float(dispersion)
            )
            result.append(
                Numbering(
                    spacing=float(spacing),
                    dispersion=float(dispersion),
                    log_likelihood=total,
                    n_hits=hits,
                    pattern=pattern,
                    covariance=np.zeros((2, 2)),
                )
            )
        return result

    found = weigh(fit_combs(lines, combs))
    found = _distinct(found, lowest, highest)[:10]
    for _ in range(2):
        starts = [
            (relation * one.spacing, one.dispersion)
            for one in found[:6]
            for relation in RELATIONS
        ]
        more = Combs(
            spacings=np.array([a for a, _ in starts]),
            dispersions=np.array([b for _, b in starts]),
        )
        found += weigh(fit_combs(lines, more, rounds=6))
        shifted = []
        numbers = []
        for one in found[:4]:
            place = unstiffened(lines.frequencies, one.dispersion) / one.spacing
            near = np.abs(place - np.rint(place)) < 0.1
            for shift in SHIFTS:
                k = np.rint(place).astype(np.int64) + shift
                numbers.append(np.where(near & (k > 0), k, 0))
                shifted.append(one)
        more = Combs(
            spacings=np.array([one.spacing for one in shifted]),
            dispersions=np.array([one.dispersion for one in shifted]),
        )
        found += weigh(fit_combs(lines, more, numbers=np.array(numbers)))
        found = _distinct(found, lowest, highest)[:12]
    return tuple(found)


def _distinct(found: list[Numbering], lowest: float, highest: float) -> list[Numbering]:
    """Best of each group of like numberings, in order."""
    kept: list[Numbering] = []
    for one in sorted(found, key=lambda each: -each.log_likelihood):
        f = one.fundamental_frequency
        if not lowest <= f <= highest:
            continue
        if all(abs(np.log(f / other.fundamental_frequency)) > 0.004 for other in kept):
            kept.append(one)
    return kept
