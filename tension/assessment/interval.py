"""Spread by each metric, and the 95 % interval of the true one by simulated readings.

Every spread used here is homogeneous, and the sets whose spread is at most a given one
fill a convex cone bounded by planes: readings outside are projected on the cone,
readings inside are moved to the nearest of its planes. Both are exact in coordinates in
which the spread is linear: logarithms for the ratio of highest to lowest, the tensions
themselves for spreads about the mean.

For each candidate spread the tensions closest to the readings that have it are found,
readings are simulated from them, and the candidate is kept unless the spread observed
lies in the outer 2.5 % of the simulated ones on either side. Noise inflates the spread
of simulated readings just as it inflated the observed one, so nothing else is needed to
correct for it. Readings more alike than even equal tensions would give them are luck or
a coarse scale, not knowledge, and do not narrow the upper bound. Where the numbering of
partials is in doubt, the tails are those of the mixture: a rival with a chance over
2.5 % alone keeps a candidate alive.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from math import expm1, inf, log, sqrt
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from tension.catalogue.rules import Metric
from tension.measurement.combine import TensionHypothesis
from tension.physics import FloatArray as Array

OUTER = 0.025
"""Share of simulated readings cut off on either side. [1]"""

ALIKE = 0.16
"""Readings more alike than this quantile of those of an equal set, such as those of a
coarse scale, are taken to be at it for the upper bound. [1]"""

_SMALLEST_UNCERTAINTY = 1e-8
"""Relative uncertainty put under a covariance so that it can be inverted. [1]"""

_ROUNDING, _RIDGE = 1e-11, 1e-13
"""Part of the largest moment, and of the trace of a block, that is rounding. [1]"""

_UNBOUNDED = 100.0
"""A spread beyond which nothing is looked for. [1]"""

_N_DRAWS = 4000  # simulated sets for a bound
_SEED = 20240917  # simulated sets are the same each time
_HEAVIEST = 24  # numberings that are simulated, the likeliest
_NORMAL = NormalDist()


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


@lru_cache(maxsize=32)
def _standard_draws(n_ropes: int, n_draws: int) -> Array:
    """Antithetic standard normal draws, whitened; shape (n_ropes, n_draws)."""
    half = np.random.default_rng(_SEED).standard_normal((n_ropes, n_draws // 2))
    both = np.hstack([half, -half])
    factor = np.linalg.cholesky(both @ both.T / both.shape[1])
    draws: Array = np.linalg.solve(factor, both).astype(np.float64)
    draws.setflags(write=False)
    return draws


def square_root(covariance: Array) -> Array:
    """Symmetric square root of a covariance, which may be singular.

    The one that ropes alike and the last digit do not turn: `eigh` gives equal
    eigenvalues any axes, and draws mixed along these are others on another machine.
    """
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)


@dataclass(frozen=True, kw_only=True, slots=True)
class Spread:
    """One metric of spread with its 95 % interval."""

    metric: Metric  # which
    observed: float | None = None  # from the readings; None if no result [1]
    # the true spread lies between them at 95 %; None where not bounded [1]
    lower: float | None = None
    upper: float | None = None
    # only for the metric of the rule [1]
    probability_over_limit: float | None = None


class Interval(NamedTuple):
    """Interval of the true spread."""

    observed: float  # spread of the readings under the heaviest hypothesis [1]
    lower: float  # least of the candidates kept [1]
    upper: float  # largest of the candidates kept; infinite where unbounded [1]


class _Case:
    """One hypothesis by one spread, and readings simulated under it."""

    def __init__(
        self, one: TensionHypothesis, covariance: Array, shape: SpreadShape, n: int
    ) -> None:
        noise = square_root(covariance) @ _standard_draws(len(covariance), n)
        self._noise = noise if shape is SpreadShape.LOG_RANGE else np.exp(noise)
        self.weight = one.weight
        self.closest = closest_from_readings(np.log(one.tensions), covariance, shape)
        # the spread that even equal tensions would show
        self.alike = float(np.quantile(self.spreads(np.zeros(len(covariance))), ALIKE))

    def spreads(self, logarithms: Array) -> Array:
        """Spreads of readings simulated from one set."""
        shape = self.closest.shape
        if shape is SpreadShape.LOG_RANGE:
            return shape.of(logarithms[:, None] + self._noise, axis=0)
        return shape.of(np.exp(logarithms)[:, None] * self._noise, axis=0)


def _score(probability: float) -> float:
    """Normal quantile of a probability, kept finite."""
    return _NORMAL.inv_cdf(min(max(probability, 1e-4), 1 - 1e-4))


def _crossing(
    rising: Callable[[float], float],
    guess: tuple[float, float],
    *,
    level: float = OUTER,
) -> float:
    """Find where a rising probability passes a level, from 0 to infinity."""

    def over(spread: float) -> float:
        return _score(rising(spread)) - _score(level)

    low, high = guess
    step = max(high - low, 1e-6)
    at_high = over(high)
    while at_high < 0:
        if high > _UNBOUNDED:
            return inf
        low, high = high, high + step
        step *= 2
        at_high = over(high)
    at_low = over(low)
    while at_low >= 0:
        if low <= 0:
            return 0.0
        high, at_high = low, at_low
        low = max(0.0, low - step)
        step *= 2
        at_low = over(low)
    return _root(over, (low, at_low), (high, at_high))


def _root(
    over: Callable[[float], float], low: tuple[float, float], high: tuple[float, float]
) -> float:
    """Illinois method between a point below and a point above zero."""
    (a, at_a), (b, at_b) = low, high
    least = 2e-3 * (b - a)
    was_low: bool | None = None
    for _ in range(12):
        if b - a < least:
            break
        middle = a + (b - a) * min(max(at_a / (at_a - at_b), 0.02), 0.98)
        value = over(middle)
        if abs(value) < 5e-3:
            return middle
        is_low = value < 0
        # an end that stays for a second time counts half
        at_a, at_b = (at_a, at_b) if is_low is not was_low else (at_a / 2, at_b / 2)
        if is_low:
            a, at_a = middle, value
        else:
            b, at_b = middle, value
        was_low = is_low
    return (a * at_b - b * at_a) / (at_b - at_a)


class SetSimulation:
    """Simulated readings of one measured set, by all four metrics.

    Tensions under each joint hypothesis, the heaviest first, and the covariance of
    their logarithms [1], shape (n_ropes, n_ropes), for those that have none of their
    own; `n_draws` simulated readings per candidate. [1]
    """

    def __init__(
        self,
        hypotheses: Sequence[TensionHypothesis],
        covariance: Array,
        n_draws: int = _N_DRAWS,
    ) -> None:
        self._given = [
            (h, covariance if h.covariance is None else h.covariance)
            for h in hypotheses
        ]
        self._n_draws = n_draws
        self._cases: dict[SpreadShape, list[_Case]] = {}
        self._found: dict[SpreadShape, Interval] = {}

    def cases(self, shape: SpreadShape) -> list[_Case]:
        """Give the heaviest hypotheses by a spread, made once."""
        if shape not in self._cases:
            self._cases[shape] = [
                _Case(one, own, shape, self._n_draws)
                for one, own in self._given[:_HEAVIEST]
            ]
        return self._cases[shape]

    def _tails(self, spread: float, shape: SpreadShape) -> tuple[float, float]:
        """Simulate readings from the closest tensions that have a spread [1].

        Chance of a spread no larger than the observed one, and of one no smaller. [1]
        """
        cases = self.cases(shape)
        # what is missing to one is counted against both bounds
        missing = 1 - float(np.sum([case.weight for case in cases]))
        below = above = max(0.0, missing)
        for case in cases:
            observed = case.closest.observed
            simulated = case.spreads(case.closest.at(spread))
            credible = max(observed, case.alike)
            below += case.weight * float((simulated <= credible).mean())
            above += case.weight * float((simulated >= observed).mean())
        return below, above

    def interval(self, metric: Metric) -> Interval:
        """Interval of the true spread at 95 %, by one metric."""
        shape = SHAPES[metric]
        if shape not in self._found:
            observed = self.cases(shape)[0].closest.observed
            widest = max(float(np.diag(own).max()) for _, own in self._given)
            width = 2.5 * (sqrt(2 * widest) + 1e-7)
            self._found[shape] = Interval(
                observed=observed,
                lower=_crossing(
                    lambda s: self._tails(s, shape)[1],
                    (max(0.0, observed - width), observed),
                ),
                upper=_crossing(
                    lambda s: 1 - self._tails(s, shape)[0],
                    (observed, observed + width),
                    level=1 - OUTER,
                ),
            )
        return Interval(*(spread_from_log_range(e, metric) for e in self._found[shape]))

    def probability_over(self, limit: float, metric: Metric) -> float:
        """Probability that the true spread is over a limit. [1].

        Of the readings simulated from the closest tensions whose spread is exactly
        the limit, the part that shows a spread no larger than the one observed. It
        is under 2.5 % exactly where the upper bound is under the limit.
        """
        return self._tails(log_range_from_spread(limit, metric), SHAPES[metric])[0]


def spread_from_log_range(log_range: float, metric: Metric) -> float:
    """Turn ln(highest / lowest) [1] into a metric; the others are as they are."""
    if metric is Metric.BELOW_HIGHEST:
        return -expm1(-log_range)
    if metric is Metric.ABOVE_LOWEST:
        return inf if log_range > 700 else expm1(log_range)
    return log_range


def log_range_from_spread(spread: float, metric: Metric) -> float:
    """Turn a metric [1] into ln(highest / lowest); the others are as they are."""
    if metric is Metric.BELOW_HIGHEST:
        return inf if spread >= 1 else -log(1 - spread)
    return log(1 + spread) if metric is Metric.ABOVE_LOWEST else spread
