"""Phases of the partials over the ring: the frequency that glide and whirl leave."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import erfc, sqrt

import numpy as np
from numpy.typing import NDArray

from tension.sound.refinement.polarisations import (
    GLIDES,
    PhaseRows,
    level_evidence,
    plane_targets,
)
from tension.sound.refinement.tracks import FRAME_SCATTER, Track, trusted_tracks
from tension.sound.strings.string_fit import StringFit

Array = NDArray[np.float64]

GLIDE_WIDTHS = (3e-5, 3e-3)
"""Relative rise of pitch at the release: none to speak of, and that of a wide pluck;
each the part above zero of a normal of this deviation. It goes with the square of the
amplitude, which is seen to differ between plucks. [1]"""
UNLIKELY = -12.0
"""Logarithm of the prior odds below which a time of the glide is not tried. [1]"""
OWN_GLIDE = 0.25
"""What a ring's rise differs by from that law, of its width: gain control. [1]"""
CHANGE_WIDTH = 3e-3
"""Of the fundamental against the first fit, standard deviation. [1]"""
SCATTERS = (5e-5, 2e-4, 8e-4)
"""Scatter of single partials about the string: hitch, neighbours. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class PhaseFit:
    """What the phases say beyond a first fit.

    Attributes
    ----------
    change : float
        Of the logarithm of the fundamental. [1]
    bending_change : float
        Of the bending. [s]
    covariance : ndarray, shape (2, 2)
        Of both.
    glide : float
        Relative rise at the release, largest of the rings. [1]
    glide_uncertainty : float
        Standard uncertainty of that. [1]
    """

    change: float
    bending_change: float
    covariance: Array
    glide: float
    glide_uncertainty: float


def fit_phases(tracks: list[Track], fit: StringFit) -> PhaseFit | None:
    """Weigh all glides and whirls that the phases allow and average over them.

    Returns
    -------
    PhaseFit or None
        None with fewer than two tracks.

    Notes
    -----
    Phase of partial n: a constant, plus f_n t (change of ln f_1, of the bending, the
    partial's own offset), plus rise times f_n tau (1 - exp(-t/tau)), plus the argument
    of 1 + r exp(2 pi i delta f_n t) for a weaker plane. All but tau, delta and r are
    linear with Gaussian priors; those three are summed over a grid with the evidence of
    each. Pulled aside a rope is longer, so a rise is never negative: of its Gaussian
    only the positive part counts, with its share of the probability and its moments.
    """
    tracks = trusted_tracks(tracks)
    if len(tracks) < 2:
        return None
    rows = PhaseRows(tracks, fit)
    weights = 1.0 / (rows.variance + FRAME_SCATTER**2)
    best = None
    for _ in range(2):
        best = _marginalise(rows, weights)
        residual = best.residual
        scale2 = max(float(np.sum(weights * residual**2) / rows.degrees), 1.0)
        t2 = residual**2 / (rows.variance + FRAME_SCATTER**2) / scale2
        weights = 5.0 / (4.0 + t2) / (rows.variance + FRAME_SCATTER**2) / scale2
    return best.fit if best is not None else None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Marginal:
    """Average over the grid, and the residuals at its best point."""

    fit: PhaseFit
    residual: Array


@dataclass(frozen=True, kw_only=True, slots=True)
class _Point:
    """One glide time, scatter and width of the grid; n_pairs pairs of planes each."""

    log: Array
    mean: Array
    spread: Array
    leaning: Array
    loss: Array
    rise: Array
    rise_spread: float
    matrix: Array
    solution: Array


def _marginalise(rows: PhaseRows, weights: Array) -> _Marginal:
    """Sum over glide times, planes and scatters."""
    targets, levels, log_prior = plane_targets(rows)
    log_prior = log_prior + level_evidence(rows, levels, weights)
    targets = rows.centred(targets, weights)
    points = list(_points(rows, weights, targets, log_prior))
    table = np.array([point.log for point in points])
    posterior = np.exp(table - table.max())
    posterior /= posterior.sum()
    pairs = list(zip(posterior, points, strict=True))
    mean = sum(share @ point.mean.T for share, point in pairs)
    covariance = sum(
        share.sum() * point.spread
        - (share @ point.loss) * point.leaning
        + (point.mean - mean[:, None])
        @ (share[:, None] * (point.mean - mean[:, None]).T)
        for share, point in pairs
    )
    row, column = np.unravel_index(int(np.argmax(table)), table.shape)
    best = points[int(row)]
    return _Marginal(
        fit=PhaseFit(
            change=float(mean[0]),
            bending_change=float(mean[1]),
            covariance=np.asarray(covariance),
            glide=float(sum(share @ point.rise for share, point in pairs)),
            glide_uncertainty=best.rise_spread,
        ),
        residual=targets[:, column] - best.matrix @ best.solution[:, column],
    )


def _points(
    rows: PhaseRows, weights: Array, targets: Array, log_prior: Array
) -> Iterator[_Point]:
    """Solve the linear problem at each point of the grid that is not forbidden."""
    energy = weights @ targets**2
    steady = rows.centred(np.hstack([rows.common, rows.own]), weights)
    heavy = weights[:, None] * steady
    steady_normal, steady_right = heavy.T @ steady, heavy.T @ targets
    law = np.hstack([rows.squares[:, None], np.eye(rows.n_rings)])
    for tau, log_glide in zip(GLIDES, rows.log_glide, strict=True):
        if log_glide < rows.log_glide.max() + UNLIKELY:
            continue
        curve = (tau * (1.0 - np.exp(-rows.time / tau)))[:, None]
        rise = rows.centred(rows.in_ring * curve, weights) @ law
        cross = heavy.T @ rise
        own = rise.T @ (weights[:, None] * rise)
        normal = np.block([[steady_normal, cross], [cross.T, own]])
        right = np.vstack([steady_right, rise.T @ (weights[:, None] * targets)])
        matrix = np.hstack([steady, rise])
        for scatter, width in product(SCATTERS, GLIDE_WIDTHS):
            prior = _widths(rows, scatter, width)
            solved = _solve(normal, right, prior, 2 + rows.own.shape[1])
            log = solved.log - 0.5 * energy + log_prior + log_glide
            yield replace(solved, log=log, matrix=matrix)


def _widths(rows: PhaseRows, scatter: float, width: float) -> Array:
    """Standard deviations of the columns before listening."""
    return np.concatenate(
        [
            [CHANGE_WIDTH, rows.bending_width],
            np.full(rows.own.shape[1], scatter),
            [width],
            OWN_GLIDE * width * rows.squares,
        ]
    )


def _solve(normal: Array, right: Array, prior: Array, place: int) -> _Point:
    """Solve one point; the common rise, in its place, is not negative."""
    total = normal + np.diag(prior**-2.0)
    inverse = np.linalg.inv(total)
    solution = inverse @ right
    _, determinant = np.linalg.slogdet(total)
    log = 0.5 * np.sum(right * solution, axis=0)
    log -= 0.5 * determinant + np.sum(np.log(prior))
    spread = float(np.sqrt(inverse[place, place]))
    share, shift, loss = _positive(solution[place] / spread)
    lean = inverse[:2, place] / spread
    return _Point(
        log=log + np.log(share),
        mean=solution[:2] + lean[:, None] * shift,
        spread=np.asarray(inverse[:2, :2], dtype=np.float64),
        leaning=np.outer(lean, lean),
        loss=loss,
        rise=solution[place] + spread * shift,
        rise_spread=spread,
        matrix=np.empty(0),
        solution=solution,
    )


def _positive(ratio: Array) -> tuple[Array, Array, Array]:
    """Share above zero, shift of mean and loss of variance if only that share is kept.

    Parameters
    ----------
    ratio : ndarray, shape (n_pairs,)
        Mean over deviation of Gaussians. [1]

    Returns
    -------
    share : ndarray, shape (n_pairs,)
        Above zero. [1]
    shift : ndarray, shape (n_pairs,)
        Of the mean, in deviations. [1]
    loss : ndarray, shape (n_pairs,)
        Of the variance, in variances. [1]
    """
    kept = np.maximum(ratio, -30.0)
    share = np.array([0.5 * erfc(-one / sqrt(2.0)) for one in kept.tolist()])
    shift = np.exp(-0.5 * kept**2) / sqrt(2.0 * np.pi) / share
    return share, shift, shift * (kept + shift)
