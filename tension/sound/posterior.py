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
BENDING_SCATTER = 0.05
"""Relative scatter of bendings about what EI/m and wave speed make of them. [1]"""


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
    scale = np.array([2.0 * (length or 0.5) for length in lengths])
    pitches = [
        float(np.log(factor * one.fit.fundamental_frequency))
        for rivals, factor in zip(candidates, scale, strict=True)
        for one in rivals
    ]
    grid = _Grid(pitches, prior, known=None not in lengths)
    own, agreements = [], []
    for rivals, factor in zip(candidates, scale.tolist(), strict=True):
        agreements.append([grid.log_fit(one.fit, factor) for one in rivals])
        log_likelihoods = np.array([TEMPER * one.log_likelihood for one in rivals])
        log_likelihoods -= log_likelihoods.max(initial=-np.inf)
        own.append(np.where(log_likelihoods < -OWN_RANGE, -np.inf, log_likelihoods))
    counts = [True] * len(own) if witnesses is None else witnesses
    told = [
        np.logaddexp.reduce([e + a for e, a in zip(ev, fits, strict=True)], axis=0)
        if fits and counts_here
        else np.zeros_like(grid.log_prior)
        for ev, fits, counts_here in zip(own, agreements, counts, strict=True)
    ]
    joint = grid.log_prior + sum(told)
    before = _normal(grid.log_prior)
    return tuple(
        _of_rope(log_likelihoods, fits, _normal(joint - here), before)
        for log_likelihoods, fits, here in zip(own, agreements, told, strict=True)
    )


def _normal(logs: Array) -> Array:
    """Logarithms of shares that sum to one."""
    normal: Array = logs - np.logaddexp.reduce(logs, axis=None)
    return normal


def _of_rope(
    log_likelihoods: Array, fits: Sequence[Array], others: Array, before: Array
) -> Posterior:
    """Weigh the candidates of one rope by its own evidence and by the others."""
    if not fits:
        return Posterior(probabilities=np.empty(0), support=np.empty(0))
    told = np.array([np.logaddexp.reduce(others + a, axis=None) for a in fits])
    alone = np.array([np.logaddexp.reduce(before + a, axis=None) for a in fits])
    shares = np.exp(_normal(log_likelihoods + told))
    return Posterior(probabilities=shares, support=told - alone)


class _Grid:
    """Logarithms of wave speed and EI/m of a set, and the prior over them.

    `pitches`: ln of twice the length times the fundamental of all candidates; EI/m has
    one value where lengths are not `known`.
    """

    def __init__(
        self, pitches: Sequence[float], prior: HearingPrior, *, known: bool
    ) -> None:
        self.prior, self.known = prior, known
        low, high = min(pitches, default=0.0), max(pitches, default=1.0)
        # any rope may lie anywhere in the range searched, whatever this one could be
        reach = np.log(prior.highest_frequency / prior.lowest_frequency)
        more = 0.5 * max(reach - (high - low), 0.0)
        step = min(0.4 * prior.spread_width, 0.1)
        self.speeds = np.arange(low - more - step, high + more + 1.5 * step, step)
        self.usual = prior.usual_wave_speed, prior.usual_wave_speed_width
        if prior.wave_speed is not None:
            self.usual = prior.wave_speed, prior.wave_speed_width
        if not known:
            self.log_prior = np.zeros((self.speeds.size, 1))
            return
        away = np.linspace(*RIGIDITIES)
        middle = np.log(prior.rigidity_per_density)
        self.rigidities = middle + prior.rigidity_width * away
        speed, width = self.usual
        log_speed = _log_t((self.speeds - np.log(speed)) / width)
        log_rigidity = _log_t((self.rigidities - middle) / prior.rigidity_width)
        self.log_prior = log_speed[:, None] + log_rigidity[None, :]

    def log_fit(self, fit: StringFit, factor: float) -> Array:
        """How well one assignment agrees with each wave speed and EI/m.

        `factor` [m]: twice the length.
        """
        own = np.log(factor * fit.fundamental_frequency)
        log_speed = _log_t((own - self.speeds) / self.prior.spread_width)[:, None]
        if not self.known:
            result: Array = log_speed + self._log_bending(fit)
            return result
        # bending = 2 pi sqrt(EI/m) / c^2, c without stiffness
        speed = np.log(factor * fit.string_fundamental)
        expected = 2.0 * np.pi * np.exp(0.5 * self.rigidities - 2.0 * speed)
        result = log_speed + _log_stiff(fit, expected)[None, :]
        return result

    def _log_bending(self, fit: StringFit) -> float:
        """How well the bending, which knows no length, agrees with hoist ropes."""
        speed, spread = self.usual
        rigidity = np.sqrt(self.prior.rigidity_per_density)
        centre = np.log(2.0 * np.pi * rigidity / speed**2)
        width = np.hypot(0.5 * self.prior.rigidity_width, 2.0 * spread)
        away = np.arange(-6.0, 6.02, 0.04)
        log_stiff = _log_stiff(fit, np.exp(centre + width * away))
        # a bending that is badly known agrees with many: the mean, not the sum
        spread = np.sqrt(fit.covariance[1, 1]) / fit.sqrt_dispersion
        reach = np.log(np.hypot(BENDING_SCATTER, spread))
        return float(np.logaddexp.reduce(log_stiff - 0.5 * away**2) - reach)


def _log_stiff(fit: StringFit, expected: Array) -> Array:
    """Student's t of four degrees of the bending about those expected. [s]."""
    sigma = np.sqrt(fit.covariance[1, 1] + (BENDING_SCATTER * expected) ** 2)
    off = (fit.sqrt_dispersion - expected) / sigma
    result: Array = -2.5 * np.log1p(off**2 / 4.0)
    return result


def _log_t(away: Array) -> Array:
    """Student's t of `TAIL_DEGREES`, 0 at its centre: unusual is not impossible."""
    result: Array = -0.5 * (TAIL_DEGREES + 1.0) * np.log1p(away**2 / TAIL_DEGREES)
    return result
