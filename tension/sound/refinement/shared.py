"""What the ropes of a set share: one stiffness per rope type, neighbours that sound."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.hearing import HearingPrior

Array = NDArray[np.float64]

TYPE_SCATTER = 0.02
"""Relative scatter of sqrt(EI/m) between ropes of one reel. [1]"""
OUTLYING = 3.0
"""A rope whose bending is off by so many standard deviations keeps its own. [1]"""
NEIGHBOUR_SHARE = 0.1
"""Amplitude at which a rope is set going by the one plucked beside it. [1]"""
RING_CYCLES = 80.0
"""Cycles in which a partial dies, 1/(2 pi 0.002). [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Measured:
    """One rope measured by itself.

    Attributes
    ----------
    number : int
        Rope number.
    length : float or None
        Free length. [m]
    fundamental_frequency : float
        First natural frequency. [Hz]
    spacing : float
        Spacing of its partials without stiffness. [Hz]
    bending : float
        Square root of its dispersion. [s]
    covariance : ndarray, shape (2, 2)
        Of the logarithm of the fundamental and the bending.
    """

    number: int
    length: float | None
    fundamental_frequency: float
    spacing: float
    bending: float
    covariance: Array


@dataclass(frozen=True, kw_only=True, slots=True)
class Shared:
    """Ropes measured together.

    Attributes
    ----------
    changes : ndarray, shape (n_ropes,)
        Of the logarithms of the fundamentals. [1]
    covariance : ndarray, shape (n_ropes, n_ropes)
        Of those logarithms. [1]
    rigidity_per_density : float
        EI/m; nan if not determined. [m^4/s^2]
    rigidity_uncertainty : float
        Its relative standard uncertainty. [1]
    """

    changes: Array
    covariance: Array
    rigidity_per_density: float
    rigidity_uncertainty: float


def share_stiffness(ropes: Sequence[Measured], prior: HearingPrior) -> Shared:
    """Let the ropes of one type lend each other their stiffness.

    Notes
    -----
    bending = 2 pi g / c^2 with g = sqrt(EI/m) common to a rope type and c = 2 L
    spacing. Where the fundamental is not in the file it is extrapolated from above, and
    its error goes with that of the bending; a bending known from the other ropes takes
    it away. Each rope is told by the others only, so that nothing counts twice.
    """
    n_ropes = len(ropes)
    changes = np.zeros(n_ropes)
    covariance = np.diag([float(rope.covariance[0, 0]) for rope in ropes])
    covariance += np.diag(_neighbour_variances(ropes))
    nothing = Shared(
        changes=changes,
        covariance=covariance,
        rigidity_per_density=float("nan"),
        rigidity_uncertainty=float("nan"),
    )
    if not ropes or any(rope.length is None for rope in ropes):
        return nothing
    lengths = np.array([rope.length or np.nan for rope in ropes])
    speed2 = np.array([rope.spacing for rope in ropes]) ** 2 * 4.0 * lengths**2
    factor = speed2 / (2.0 * np.pi)
    own = np.array([rope.bending for rope in ropes]) * factor
    variance = np.array([rope.covariance[1, 1] for rope in ropes]) * factor**2
    centre = np.sqrt(prior.rigidity_per_density)
    wide = (0.5 * prior.rigidity_width * centre) ** 2
    keep = np.ones(n_ropes, dtype=bool)
    for _ in range(3):
        mean, spread = _combine(own[keep], variance[keep], centre, wide)
        off = np.abs(own - mean) / np.sqrt(
            variance + spread + (TYPE_SCATTER * mean) ** 2
        )
        keep = off < OUTLYING
        if not keep.any():
            return nothing
    mean, spread = _combine(own[keep], variance[keep], centre, wide)
    for k in np.flatnonzero(keep).tolist():
        others = keep.copy()
        others[k] = False
        told, trust = _combine(own[others], variance[others], centre, wide)
        trust += (TYPE_SCATTER * told) ** 2
        cross = ropes[k].covariance[0, 1] * factor[k]
        gain = cross / (variance[k] + trust)
        changes[k] = gain * (told - own[k])
        covariance[k, k] -= gain * cross
    return Shared(
        changes=changes,
        covariance=covariance,
        rigidity_per_density=float(mean**2),
        rigidity_uncertainty=float(2.0 * np.sqrt(spread) / mean),
    )


def _combine(
    own: Array, variance: Array, centre: float, wide: float
) -> tuple[float, float]:
    """Weighted mean of sqrt(EI/m), its prior included, and its variance."""
    scatter = (TYPE_SCATTER * centre) ** 2
    weight = np.concatenate([1.0 / (variance + scatter), [1.0 / wide]])
    mean = float(np.sum(weight * np.concatenate([own, [centre]])) / weight.sum())
    return mean, float(1.0 / weight.sum())


def _neighbour_variances(ropes: Sequence[Measured]) -> Array:
    """Variance that ropes beside a rope add, ringing unresolved at almost its pitch."""
    # share r at distance d shifts by r d while a ring of Q cycles does not resolve it
    result = np.zeros(len(ropes))
    for k, rope in enumerate(ropes):
        for beside in ropes:
            if abs(rope.number - beside.number) == 1:
                ratio = beside.fundamental_frequency / rope.fundamental_frequency
                distance = float(np.log(ratio))
                unresolved = 1.0 / (1.0 + (RING_CYCLES * distance) ** 2) ** 2
                result[k] += (NEIGHBOUR_SHARE * distance * unresolved) ** 2
    return result
