"""Phases of the partials over the ring: the frequency that glide and whirl leave."""

from collections.abc import Sequence
from dataclasses import dataclass
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
NEXT_TO_NOTHING = 40.0
"""ln of weight under the highest at which a point of the grid adds nothing. [1]"""
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
    planes = plane_targets(rows)
    weights = 1.0 / (rows.variance + FRAME_SCATTER**2)
    found = _marginalise(rows, weights, planes)
    scale2 = max(float(np.sum(weights * found.residual**2) / rows.degrees), 1.0)
    t2 = found.residual**2 * weights / scale2
    return _marginalise(rows, 5.0 / (4.0 + t2) * weights / scale2, planes).fit


@dataclass(frozen=True, kw_only=True, slots=True)
class _Marginal:
    """Average over the grid, and the residuals at its best point."""

    fit: PhaseFit
    residual: Array


def _marginalise(
    rows: PhaseRows, weights: Array, planes: tuple[Array, Array, Array]
) -> _Marginal:
    """Sum over glide times, planes and scatters."""
    targets, levels, log_prior = planes
    log_prior = log_prior + level_evidence(rows, levels, weights)
    targets = rows.centred(targets, weights)
    likely = np.flatnonzero(rows.log_glide >= rows.log_glide.max() + UNLIKELY)
    problems = _problems(rows, weights, targets, likely)
    grid = _solve(problems, _widths(rows), 2 + rows.own.shape[1])
    log = grid.log - 0.5 * (weights @ targets**2) + log_prior
    log += np.repeat(rows.log_glide[likely], len(SCATTERS) * len(GLIDE_WIDTHS))[:, None]
    share, shift, loss = _positive(grid.rise / grid.spread[:, None], log)
    posterior = np.exp(log + np.log(share) - (log + np.log(share)).max())
    row, column = np.unravel_index(int(np.argmax(posterior)), posterior.shape)
    posterior /= posterior.sum()
    means = grid.solution[:, :2] + grid.lean[:, :, None] * shift[:, None, :]
    mean = np.einsum("pk,pik->i", posterior, means)
    away = means - mean[:, None]
    covariance = (
        np.einsum("p,pij->ij", posterior.sum(axis=1), grid.covariance)
        - np.einsum("p,pi,pj->ij", np.sum(posterior * loss, 1), grid.lean, grid.lean)
        + np.einsum("pk,pik,pjk->ij", posterior, away, away)
    )
    matrix = problems[int(row) // (len(SCATTERS) * len(GLIDE_WIDTHS))].matrix
    rise = grid.rise + grid.spread[:, None] * shift
    return _Marginal(
        fit=PhaseFit(
            change=float(mean[0]),
            bending_change=float(mean[1]),
            covariance=covariance,
            glide=float(np.sum(posterior * rise)),
            glide_uncertainty=float(grid.spread[row]),
        ),
        residual=targets[:, column] - matrix @ grid.solution[row, :, column],
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Problem:
    """Linear problem of one glide time: columns, and their products."""

    matrix: Array
    normal: Array
    right: Array


def _problems(
    rows: PhaseRows, weights: Array, targets: Array, glides: NDArray[np.intp]
) -> list[_Problem]:
    """Set up the linear problem of each glide time, shape (n_glides,)."""
    steady = rows.centred(np.hstack([rows.common, rows.own]), weights)
    heavy = weights[:, None] * steady
    steady_normal, steady_right = heavy.T @ steady, heavy.T @ targets
    law = np.hstack([rows.squares[:, None], np.eye(rows.n_rings)])
    problems = []
    for tau in np.array(GLIDES)[glides].tolist():
        curve = (tau * (1.0 - np.exp(-rows.time / tau)))[:, None]
        rise = rows.centred(rows.in_ring * curve, weights) @ law
        cross = heavy.T @ rise
        risen = weights[:, None] * rise
        problems.append(
            _Problem(
                matrix=np.hstack([steady, rise]),
                normal=np.block([[steady_normal, cross], [cross.T, rise.T @ risen]]),
                right=np.vstack([steady_right, risen.T @ targets]),
            )
        )
    return problems


def _widths(rows: PhaseRows) -> Array:
    """Standard deviations of the columns before listening, (n_widths, n_columns)."""
    return np.array(
        [
            [
                CHANGE_WIDTH,
                rows.bending_width,
                *np.full(rows.own.shape[1], scatter),
                width,
                *(OWN_GLIDE * width * rows.squares),
            ]
            for scatter, width in product(SCATTERS, GLIDE_WIDTHS)
        ]
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Grid:
    """Solutions at each glide time, scatter and width; n_pairs pairs of planes each."""

    log: Array
    solution: Array
    covariance: Array
    rise: Array
    spread: Array
    lean: Array


def _solve(problems: Sequence[_Problem], widths: Array, place: int) -> _Grid:
    """Solve the problems with all widths; the common rise stands in its place."""
    normal = np.stack([one.normal for one in problems])[:, None]
    right = np.stack([one.right for one in problems])[:, None]
    total = normal + widths[:, :, None] ** -2.0 * np.eye(widths.shape[1])
    inverse: Array = np.asarray(np.linalg.inv(total), dtype=np.float64)
    solution = inverse @ right
    log = 0.5 * np.sum(right * solution, axis=2)
    log -= (0.5 * np.linalg.slogdet(total)[1] + np.sum(np.log(widths), 1))[..., None]
    spread = np.sqrt(inverse[..., place, place])
    return _Grid(
        log=log.reshape(-1, log.shape[-1]),
        solution=solution.reshape(-1, *solution.shape[2:]),
        covariance=inverse[..., :2, :2].reshape(-1, 2, 2),
        rise=solution[..., place, :].reshape(-1, log.shape[-1]),
        spread=spread.ravel(),
        lean=(inverse[..., :2, place] / spread[..., None]).reshape(-1, 2),
    )


def _positive(ratio: Array, log: Array) -> tuple[Array, Array, Array]:
    """Share above zero, shift of mean and loss of variance if only that share is kept.

    Parameters
    ----------
    ratio : ndarray, shape (n_points, n_pairs)
        Mean over deviation of Gaussians. [1]
    log : ndarray, shape (n_points, n_pairs)
        ln of their weights; what cannot count in the sum has a share of next to none.
        [1]

    Returns
    -------
    share : ndarray, shape (n_points, n_pairs)
        Above zero. [1]
    shift : ndarray, shape (n_points, n_pairs)
        Of the mean, in deviations. [1]
    loss : ndarray, shape (n_points, n_pairs)
        Of the variance, in variances. [1]
    """
    kept = np.maximum(ratio, -30.0)
    below = np.maximum(-kept, 0.0)
    # Birnbaum's bound of the tail of a Gaussian: enough to tell what counts
    least = log - 0.5 * below**2 - np.log(below + np.sqrt(4.0 + below**2))
    counts = log > least.max() - NEXT_TO_NOTHING
    share = np.full(ratio.shape, np.exp(-2.0 * NEXT_TO_NOTHING))
    share[counts] = [0.5 * erfc(-one / sqrt(2.0)) for one in kept[counts].tolist()]
    shift = np.zeros(ratio.shape)
    shift[counts] = np.exp(-0.5 * kept[counts] ** 2) / sqrt(2.0 * np.pi) / share[counts]
    return share, shift, shift * (kept + shift)
