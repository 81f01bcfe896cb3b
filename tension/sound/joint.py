"""The set decided together: one stiffness, one wave speed up to a spread."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.hearing import HearingPrior
from tension.sound.partials import StringFit

TEMPER = 0.8
"""Exponent of the likelihood ratios: lines of one ring are not independent evidence. On
246 made ropes heard alone, one misjudged by 5.7 in ln likelihood had a claim of 99 %;
the others claimed at 95 % and above were right, but for a row of mains multiples."""
OWN_RANGE = 10.0
"""A rival worse than this in its own recording is none, whatever the set says."""
SURE = 0.93
"""Probability from which a numbering is taken for right. [1]"""
WEAK_EVIDENCE = 11.0
"""Evidence that needs the other ropes to bear it out. [1]"""
ALIKE = 0.3
"""Of ln EI/m between ropes of one type, their fits included. [1]"""
TAIL_DEGREES = 3.0
"""Student's t of the spread in a set: a slack rope is rare, not impossible."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """One numbering of one rope, fitted.

    Attributes
    ----------
    fit : StringFit
        The string.
    log_likelihood : float
        From its own recording. [1]
    node_order : int
        Every so-many-th partial is missing; 0 if none is.
    """

    fit: StringFit
    log_likelihood: float
    node_order: int = 0


def weigh_readings(
    readings: Sequence[Sequence[Reading]],
    lengths: Sequence[float | None],
    prior: HearingPrior,
) -> tuple[NDArray[np.float64], ...]:
    """Probability of each numbering of each rope, the set heard together.

    Parameters
    ----------
    readings : sequence of sequence of Reading
        Rivals of each rope, likeliest first; may be empty.
    lengths : sequence of float or None
        Free lengths. [m]
    prior : HearingPrior
        What is expected.

    Returns
    -------
    tuple of ndarray, shape (n_rivals,)
        Probabilities, one array per rope.

    Notes
    -----
    Ropes are independent given the wave speed of the set and its EI/m; both are summed
    over a grid. The recording's own evidence bounds what the set may rank. Numberings
    weigh by their best fit, not by the width of it: a fit that has found no partials is
    wide, and its width would speak for it. Without lengths the bending, which does not
    depend on them, is still held against that of hoist ropes.
    """
    known = all(length is not None for length in lengths)
    scale = np.array([2.0 * (length or 0.5) for length in lengths])
    speeds, rigidities, log_grid = _grid(readings, scale, prior, known=known)
    marginals = []
    for rivals, factor in zip(readings, scale, strict=True):
        table = np.full((len(rivals), speeds.size, rigidities.size), -np.inf)
        for k, one in enumerate(rivals):
            own = TEMPER * (one.log_likelihood - rivals[0].log_likelihood)
            if own < -OWN_RANGE:
                continue
            table[k] = own + _log_fit(
                one.fit, float(factor), speeds, rigidities, prior, known=known
            )
        marginals.append(table)
    sums = [np.logaddexp.reduce(table, axis=0) for table in marginals if len(table)]
    joint = log_grid + sum(sums) if sums else log_grid
    result = []
    for table in marginals:
        if not len(table):
            result.append(np.empty(0))
            continue
        others = joint - np.logaddexp.reduce(table, axis=0)
        value = np.array([np.logaddexp.reduce((others + t).ravel()) for t in table])
        value -= np.logaddexp.reduce(value)
        result.append(np.exp(value))
    return tuple(result)


def _grid(
    readings: Sequence[Sequence[Reading]],
    scale: NDArray[np.float64],
    prior: HearingPrior,
    *,
    known: bool,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Logarithms of wave speed and EI/m, and the prior over them."""
    values = [
        np.log(factor * one.fit.fundamental_frequency)
        for rivals, factor in zip(readings, scale, strict=True)
        for one in rivals
    ]
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    step = min(0.4 * prior.spread_width, 0.1)
    speeds = np.arange(low - step, high + 1.5 * step, step)
    if not known:
        return speeds, np.zeros(1), np.zeros((speeds.size, 1))
    width = prior.rigidity_width
    centre = np.log(prior.rigidity_per_density)
    rigidities = centre + width * np.linspace(-2.5, 2.5, 61)
    log_rigidity = -0.5 * ((rigidities - centre) / width) ** 2
    if prior.wave_speed is not None:
        middle, spread = np.log(prior.wave_speed), prior.wave_speed_width
    else:
        middle, spread = np.log(prior.usual_wave_speed), prior.usual_wave_speed_width
    log_speed = -0.5 * ((speeds - middle) / spread) ** 2
    grid: NDArray[np.float64] = log_speed[:, None] + log_rigidity[None, :]
    return speeds, rigidities, grid


def _log_fit(
    fit: StringFit,
    factor: float,
    speeds: NDArray[np.float64],
    rigidities: NDArray[np.float64],
    prior: HearingPrior,
    *,
    known: bool,
) -> NDArray[np.float64]:
    """How well one numbering agrees with each wave speed and EI/m."""
    own = np.log(factor * fit.fundamental_frequency)
    width = prior.spread_width
    t2 = ((own - speeds) / width) ** 2
    log_speed = -0.5 * (TAIL_DEGREES + 1.0) * np.log1p(t2 / TAIL_DEGREES)
    if not known:
        alone: NDArray[np.float64] = log_speed[:, None] + _log_bending(fit, prior)
        return alone
    # bending = 2 pi sqrt(EI/m) / c^2, c without stiffness
    speed = np.log(factor * fit.spacing)
    expected = 2.0 * np.pi * np.exp(0.5 * rigidities - 2.0 * speed)
    own_sigma = np.sqrt(fit.covariance[1, 1])
    sigma = np.sqrt(own_sigma**2 + (0.05 * expected) ** 2)
    log_stiff = -2.5 * np.log1p(((fit.bending - expected) / sigma) ** 2 / 4.0)
    both: NDArray[np.float64] = log_speed[:, None] + log_stiff[None, :]
    return both


def _log_bending(fit: StringFit, prior: HearingPrior) -> float:
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
    log_stiff = -2.5 * np.log1p(((fit.bending - expected) / sigma) ** 2 / 4.0)
    # a bending that is badly known agrees with many: the mean, not the sum
    reach = np.log(np.hypot(0.05, np.sqrt(fit.covariance[1, 1]) / fit.bending))
    return float(np.logaddexp.reduce(log_stiff - 0.5 * away**2) - reach)


def confirmed(
    reading: Reading,
    length: float | None,
    others: Sequence[tuple[StringFit, float | None]],
    prior: HearingPrior,
) -> bool:
    """Whether the other ropes bear out a reading that is weak by itself.

    Parameters
    ----------
    reading : Reading
        Likeliest of the rope.
    length : float or None
        Its free length. [m]
    others : sequence of tuple of StringFit and float or None
        Ropes heard beyond doubt, and their lengths [m].
    prior : HearingPrior
        What is expected.

    Returns
    -------
    bool
        True if at least two others are known, its wave speed lies within two spreads of
        their median and its EI/m within ``ALIKE`` of theirs.

    Notes
    -----
    A chance comb has its spacing anywhere in four units of ln and its EI/m anywhere in
    some five: both agreeing is worth some five more in ln likelihood.
    """
    if length is None or reading.log_likelihood < WEAK_EVIDENCE:
        return False
    known = [(fit, of) for fit, of in others if of is not None]
    if len(known) < 2:
        return False

    usual = float(np.median([log_speed(fit, of) for fit, of in known]))
    is_near = abs(log_speed(reading.fit, length) - usual) < 2.0 * prior.spread_width
    return is_near and as_stiff(reading.fit, length, known)


def log_speed(fit: StringFit, length: float) -> float:
    """Give the logarithm of the wave speed of a string.

    Parameters
    ----------
    fit : StringFit
        The string.
    length : float
        Its free length. [m]

    Returns
    -------
    float
        ln of 2 L f_0, that in m/s. [1]
    """
    return float(np.log(2.0 * length * fit.spacing))


def rigidity_of(fit: StringFit, length: float) -> float:
    """Give the EI/m that a string shows, from bending = 2 pi sqrt(EI/m) / c^2.

    Parameters
    ----------
    fit : StringFit
        The string.
    length : float
        Its free length. [m]

    Returns
    -------
    float
        EI/m, with c = 2 L f_0. [m^4/s^2]
    """
    speed = 2.0 * length * fit.spacing
    return float((fit.bending * speed**2 / (2.0 * np.pi)) ** 2)


def as_stiff(
    fit: StringFit, length: float, others: Sequence[tuple[StringFit, float]]
) -> bool:
    """Tell whether a string has the EI/m of others: a wrong count has another.

    Parameters
    ----------
    fit : StringFit
        The string.
    length : float
        Its free length. [m]
    others : sequence of tuple of StringFit and float
        At least one string, and their free lengths. [m]

    Returns
    -------
    bool
        Whether ln EI/m lies within ``ALIKE`` of their median, its own uncertainty
        added.
    """
    usual = float(np.median([rigidity_of(one, of) for one, of in others]))
    slack = ALIKE + 4.0 * float(np.sqrt(fit.covariance[1, 1])) / fit.bending
    away = abs(float(np.log(rigidity_of(fit, length) / usual)))
    return away < min(slack, 1.0)
