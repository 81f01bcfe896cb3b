"""Spread: what its percentage is of, and the tensions nearest to readings with one.

Every spread used here is homogeneous, and the sets whose spread is at most a given one
fill a convex cone bounded by planes: readings outside are projected on the cone,
readings inside are moved to the nearest of its planes. Both are exact in coordinates in
which the spread is linear: logarithms for the ratio of highest to lowest, the tensions
themselves for spreads about the mean.
"""

from dataclasses import dataclass
from enum import Enum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tension.catalogue.rules import Metric

Array = NDArray[np.float64]

_SMALLEST_UNCERTAINTY = 1e-8
"""Relative uncertainty put under a covariance so that it can be inverted. [1]"""

_ROUNDING, _RIDGE = 1e-11, 1e-13
"""Part of the largest moment, and of the trace of a block, that is rounding. [1]"""


class SpreadShape(Enum):
    """The three spreads that differ in more than a change of scale."""

    LOG_RANGE = "logarithm of highest over lowest"
    OFF_MEAN = "largest distance from the mean over the mean"
    RANGE_OF_MEAN = "range over the mean"

    def of(self, sets: Array, axis: int = -1) -> Array:
        """Spread [1] from logarithms for the log range, else from tensions."""
        low, high = sets.min(axis=axis), sets.max(axis=axis)
        if self is SpreadShape.LOG_RANGE:
            return np.asarray(high - low)
        mean = sets.mean(axis=axis)
        is_range = self is SpreadShape.RANGE_OF_MEAN
        apart = high - low if is_range else np.maximum(high - mean, mean - low)
        return np.asarray(apart / mean)


SHAPES = {
    Metric.BELOW_HIGHEST: SpreadShape.LOG_RANGE,
    Metric.ABOVE_LOWEST: SpreadShape.LOG_RANGE,
    Metric.OFF_MEAN: SpreadShape.OFF_MEAN,
    Metric.RANGE_OF_MEAN: SpreadShape.RANGE_OF_MEAN,
}
"""Which spread each metric is, up to a change of scale."""


def spread_from_tensions(tensions: Array, metric: Metric) -> Array:
    """Spread [1] of one set or of many by one metric, shape (...).

    Tensions are positive [N], or relative, one set per row: shape (..., n_ropes).

    Examples
    --------
    >>> import numpy as np
    >>> float(spread_from_tensions(np.array([90.0, 100.0]), Metric.BELOW_HIGHEST))
    0.1
    """
    if SHAPES[metric] is not SpreadShape.LOG_RANGE:
        return SHAPES[metric].of(tensions)
    low, high = tensions.min(axis=-1), tensions.max(axis=-1)
    whole = high if metric is Metric.BELOW_HIGHEST else low
    return np.asarray((high - low) / whole)


@lru_cache(maxsize=64)
def _differences(shape: SpreadShape, n: int) -> Array:
    """Rows x_i - x_j of all ordered pairs, or of both signs of x_i - mean."""
    each = np.eye(n)
    if shape is SpreadShape.OFF_MEAN:
        rows = np.vstack([each - 1 / n, 1 / n - each])
    else:
        rows = (each[:, None] - each)[~each.astype(bool)]
    rows.setflags(write=False)
    return rows


def _planes(shape: SpreadShape, spread: float, n: int) -> tuple[Array, Array]:
    """Rows and right sides of ``rows @ x <= right``: sets of at most this spread."""
    rows = _differences(shape, n)
    if shape is SpreadShape.LOG_RANGE:
        return rows, np.full(len(rows), spread)
    return rows - spread / n, np.zeros(len(rows))


def _nonnegative_least_squares(gram: Array, moment: Array) -> Array:
    """Minimise u'Gu/2 - m'u over u >= 0, by active sets (Lawson and Hanson 1974)."""
    n = len(moment)
    solution = np.zeros(n)
    passive = np.zeros(n, dtype=bool)
    for _ in range(3 * n):
        gradient = np.where(passive, -np.inf, moment - gram @ solution)
        chosen = int(gradient.argmax())
        if gradient[chosen] <= _ROUNDING * moment.max():
            break
        passive[chosen] = True
        while passive.any():
            where = np.flatnonzero(passive)
            block = gram[np.ix_(where, where)]
            ridge = _RIDGE * float(np.trace(block))
            trial = np.linalg.solve(block + ridge * np.eye(len(where)), moment[where])
            old, falling = solution[where], trial <= 0
            if not falling.any():
                solution[where] = trial
                break
            # as far as the first that reaches zero, and on without it
            steps = np.full(len(where), np.inf)
            steps[falling] = old[falling] / (old[falling] - trial[falling])
            first = int(steps.argmin())
            solution[where] = old + steps[first] * (trial - old)
            solution[where[first]] = 0.0
            passive[where[first]] = False
    return solution


@dataclass(frozen=True, kw_only=True, slots=True)
class ClosestTensions:
    """Finds the tensions closest to given readings that have a wanted spread."""

    shape: SpreadShape  # which spread
    # readings in the coordinates of the spread, shape (n_ropes,): logarithms, or shares
    # of the mean
    reading: Array
    # in the same coordinates, shape (n_ropes, n_ropes); distance is by its inverse
    covariance: Array

    @property
    def observed(self) -> float:
        """Spread of the readings. [1]."""
        return float(self.shape.of(self.reading))

    def at(self, spread: float) -> Array:
        """Find the closest tensions with this spread [1], 0 or more.

        Logarithms, up to a common constant, shape (n_ropes,). [1]
        """
        if spread <= 0:
            return np.zeros(len(self.reading))
        rows, right = _planes(self.shape, spread, len(self.reading))
        excess = rows @ self.reading - right
        through = rows @ self.covariance
        if spread >= self.observed:
            squared = np.einsum("ij,ij->i", through, rows)
            nearest = int((excess**2 / squared).argmin())
            shift = through[nearest] * (excess[nearest] / squared[nearest])
        else:
            shift = through.T @ _nonnegative_least_squares(through @ rows.T, excess)
        moved: Array = self.reading - shift
        if self.shape is SpreadShape.LOG_RANGE:
            return moved
        return np.asarray(np.log(np.maximum(moved, 1e-6)))


def closest_from_readings(
    logarithms: Array, covariance: Array, shape: SpreadShape
) -> ClosestTensions:
    """Set up the search around one set of readings.

    Logarithms of the tensions read, shape (n_ropes,), and their covariance, shape
    (n_ropes, n_ropes). [1]
    """
    covariance = covariance + _SMALLEST_UNCERTAINTY**2 * np.eye(len(logarithms))
    centred = logarithms - logarithms.mean()
    if shape is SpreadShape.LOG_RANGE:
        return ClosestTensions(shape=shape, reading=centred, covariance=covariance)
    shares = np.exp(centred)
    shares = shares / shares.mean()
    return ClosestTensions(
        shape=shape, reading=shares, covariance=covariance * np.outer(shares, shares)
    )
