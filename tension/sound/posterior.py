"""The set decided together: one stiffness, one wave speed up to a spread."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tension.sound.hearing import HearingPrior
from tension.sound.recording import Array
from tension.sound.string_fit import Candidate, StringFit

TEMPER = 0.8
"""Exponent of the likelihood ratios: lines of one ring are not independent evidence. On
246 made ropes heard alone, one misjudged by 5.7 in ln likelihood had a claim of 99 %;
the others claimed at 95 % and above were right, but for a row of mains multiples."""
OWN_RANGE = 10.0
"""A rival worse than this in its own recording is none, whatever the set says."""
TAIL_DEGREES = 3.0
"""Of Student's t of what is expected: a slack rope is rare, not impossible. [1]"""
RIGIDITIES = (-6.0, 3.0, 109)
"""EI/m tried about that expected, in widths of its logarithm: from the thinnest wire
to a solid rod. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Posterior:
    """What the recordings of one rope and those of its set say of its candidates.

    Attributes
    ----------
    probabilities : ndarray, shape (n_candidates,)
        Of each candidate, that one of them is right taken for granted. [1]
    support : ndarray, shape (n_candidates,)
        ln of how much likelier the pitch and stiffness of each are with the other ropes
        heard than without; 0 for a rope alone. [1]
    """

    probabilities: Array
    support: Array


def weigh_candidates(
    candidates: Sequence[Sequence[Candidate]],
    lengths: Sequence[float | None],
    prior: HearingPrior,
    witnesses: Sequence[bool] | None = None,
) -> tuple[Posterior, ...]:
    """Weigh the candidates of each rope, the set heard together.

    `candidates`: rivals of each rope, likeliest first; may be empty; `lengths` [m]:
    free lengths; `witnesses`: ropes that the others are held against; all if not given.
    Several weak ropes on swinging sockets are miscounted alike, and would bear each
    other out.

    Notes
    -----
    Ropes are independent given the wave speed of the set and its EI/m; both are summed
    over a grid. The recording's own evidence bounds what the set may rank. Candidates
    weigh by their best fit, not by the width of it: a fit that has found no partials is
    wide, and its width would speak for it. Without lengths the bending, which does not
    depend on them, is still held against that of hoist ropes. A rope that agrees with
    the others gains, and so do they.
    """
    known = all(length is not None for length in lengths)
    scale = np.array([2.0 * (length or 0.5) for length in lengths])
    speeds, rigidities, log_grid = _grid(candidates, scale, prior, known=known)
    agreements: list[list[Array]] = []
    own: list[Array] = []
    for rivals, factor in zip(candidates, scale, strict=True):
        agreements.append(
            [
                _log_fit(one.fit, float(factor), speeds, rigidities, prior, known=known)
                for one in rivals
            ]
        )
        log_likelihoods = np.array([TEMPER * one.log_likelihood for one in rivals])
        log_likelihoods -= log_likelihoods.max(initial=-np.inf)
        own.append(np.where(log_likelihoods < -OWN_RANGE, -np.inf, log_likelihoods))
    counts = [True] * len(own) if witnesses is None else witnesses
    nothing = np.zeros_like(log_grid)
    told = [
        np.logaddexp.reduce([e + a for e, a in zip(ev, fits, strict=True)], axis=0)
        if fits and counts_here
        else nothing
        for ev, fits, counts_here in zip(own, agreements, counts, strict=True)
    ]
    joint = log_grid + sum(told)
    before = log_grid - np.logaddexp.reduce(log_grid, axis=None)
    return tuple(
        _of_rope(log_likelihoods, fits, joint - here, before)
        for log_likelihoods, fits, here in zip(own, agreements, told, strict=True)
    )


def _of_rope(
    log_likelihoods: Array,
    fits: Sequence[Array],
    others: Array,
    before: Array,
) -> Posterior:
    """Weigh the candidates of one rope by its own evidence and by the others."""
    if not fits:
        return Posterior(probabilities=np.empty(0), support=np.empty(0))
    others = others - np.logaddexp.reduce(others, axis=None)
    told = np.array([np.logaddexp.reduce(others + a, axis=None) for a in fits])
    alone = np.array([np.logaddexp.reduce(before + a, axis=None) for a in fits])
    value = log_likelihoods + told
    value = np.exp(value - np.logaddexp.reduce(value))
    return Posterior(probabilities=value, support=told - alone)


def _grid(
    candidates: Sequence[Sequence[Candidate]],
    scale: Array,
    prior: HearingPrior,
    *,
    known: bool,
) -> tuple[Array, Array, Array]:
    """Logarithms of wave speed and EI/m, and the prior over them."""
    values = [
        np.log(factor * one.fit.fundamental_frequency)
        for rivals, factor in zip(candidates, scale, strict=True)
        for one in rivals
    ]
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    # any rope may lie anywhere in the range searched, whatever this one could be
    reach = np.log(prior.highest_frequency / prior.lowest_frequency)
    more = 0.5 * max(reach - (high - low), 0.0)
    step = min(0.4 * prior.spread_width, 0.1)
    speeds = np.arange(low - more - step, high + more + 1.5 * step, step)
    if not known:
        return speeds, np.zeros(1), np.zeros((speeds.size, 1))
    width = prior.rigidity_width
    centre = np.log(prior.rigidity_per_density)
    rigidities = centre + width * np.linspace(*RIGIDITIES)
    log_rigidity = _log_t((rigidities - centre) / width)
    if prior.wave_speed is not None:
        middle, spread = np.log(prior.wave_speed), prior.wave_speed_width
    else:
        middle, spread = np.log(prior.usual_wave_speed), prior.usual_wave_speed_width
    log_speed = _log_t((speeds - middle) / spread)
    grid: Array = log_speed[:, None] + log_rigidity[None, :]
    return speeds, rigidities, grid


def _log_fit(
    fit: StringFit,
    factor: float,
    speeds: Array,
    rigidities: Array,
    prior: HearingPrior,
    *,
    known: bool,
) -> Array:
    """How well one assignment agrees with each wave speed and EI/m."""
    own = np.log(factor * fit.fundamental_frequency)
    width = prior.spread_width
    log_speed = _log_t((own - speeds) / width)
    if not known:
        alone: Array = log_speed[:, None] + _log_sqrt_dispersion(fit, prior)
        return alone
    # bending = 2 pi sqrt(EI/m) / c^2, c without stiffness
    speed = np.log(factor * fit.string_fundamental)
    expected = 2.0 * np.pi * np.exp(0.5 * rigidities - 2.0 * speed)
    own_sigma = np.sqrt(fit.covariance[1, 1])
    sigma = np.sqrt(own_sigma**2 + (0.05 * expected) ** 2)
    log_stiff = -2.5 * np.log1p(((fit.sqrt_dispersion - expected) / sigma) ** 2 / 4.0)
    both: Array = log_speed[:, None] + log_stiff[None, :]
    return both


def _log_t(away: Array) -> Array:
    """Student's t of `TAIL_DEGREES`, 0 at its centre: unusual is not impossible."""
    result: Array = -0.5 * (TAIL_DEGREES + 1.0) * np.log1p(away**2 / TAIL_DEGREES)
    return result


def _log_sqrt_dispersion(fit: StringFit, prior: HearingPrior) -> float:
    """How well the bending, which knows no length, agrees with that of hoist ropes."""
    speed, spread = prior.usual_wave_speed, prior.usual_wave_speed_width
    if prior.wave_speed is not None:
        speed, spread = prior.wave_speed, prior.wave_speed_width
    # bending = 2 pi sqrt(EI/m) / c^2
    centre = np.log(2.0 * np.pi * np.sqrt(prior.rigidity_per_density) / speed**2)
    width = np.hypot(0.5 * prior.rigidity_width, 2.0 * spread)
    away = np.arange(-6.0, 6.02, 0.04)
    expected = np.exp(centre + width * away)
    sigma = np.sqrt(fit.covariance[1, 1] + (0.05 * expected) ** 2)
    log_stiff = -2.5 * np.log1p(((fit.sqrt_dispersion - expected) / sigma) ** 2 / 4.0)
    # a bending that is badly known agrees with many: the mean, not the sum
    reach = np.log(np.hypot(0.05, np.sqrt(fit.covariance[1, 1]) / fit.sqrt_dispersion))
    return float(np.logaddexp.reduce(log_stiff - 0.5 * away**2) - reach)


def log_speed(fit: StringFit, length: float) -> float:
    """Give the logarithm of the wave speed of a string.

    `length` [m]: its free length. Gives: ln of 2 L f_0, that in m/s. [1]
    """
    return float(np.log(2.0 * length * fit.string_fundamental))


def rigidity_of(fit: StringFit, length: float) -> float:
    """Give the EI/m that a string shows, from bending = 2 pi sqrt(EI/m) / c^2.

    `length` [m]: its free length. Gives: EI/m, with c = 2 L f_0. [m^4/s^2]
    """
    speed = 2.0 * length * fit.string_fundamental
    return float((fit.sqrt_dispersion * speed**2 / (2.0 * np.pi)) ** 2)
