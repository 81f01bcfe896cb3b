"""The 95 % interval of the true spread, by simulating readings from candidate sets.

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
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from tension.assessment.closest import (
    ClosestTensions,
    SpreadShape,
    closest_from_readings,
)
from tension.assessment.metrics import (
    RATIO_METRICS,
    log_range_from_spread,
    spread_from_log_range,
)
from tension.catalogue.rules import Metric

Array = NDArray[np.float64]

OUTER = 0.025
"""Share of simulated readings cut off on either side. [1]"""

ALIKE = 0.16
"""Readings more alike than this quantile of those of an equal set, such as those of a
coarse scale, are taken to be at it for the upper bound. [1]"""

_UNBOUNDED = 100.0
"""A spread beyond which nothing is looked for. [1]"""

_N_DRAWS = 4000
_SEED = 20240917
_HEAVIEST = 24
_STANDARD_NORMAL = NormalDist()


@lru_cache(maxsize=32)
def _standard_draws(n_ropes: int, n_draws: int) -> Array:
    """Antithetic standard normal draws, whitened; shape (n_ropes, n_draws)."""
    half = np.random.default_rng(_SEED).standard_normal((n_ropes, n_draws // 2))
    both = np.hstack([half, -half])
    factor = np.linalg.cholesky(both @ both.T / both.shape[1])
    draws: Array = np.linalg.solve(factor, both).astype(np.float64)
    draws.setflags(write=False)
    return draws


@dataclass(frozen=True, kw_only=True, slots=True)
class Tails:
    """How the observed spread lies among those simulated from a candidate.

    Attributes
    ----------
    at_or_below : float
        Probability of a spread no larger than the observed one. [1]
    at_or_above : float
        Probability of a spread no smaller than the observed one. [1]
    """

    at_or_below: float
    at_or_above: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """Interval of the true spread.

    Attributes
    ----------
    observed : float
        Spread of the readings under the heaviest hypothesis. [1]
    lower, upper : float
        The candidates kept; the upper is infinite where nothing bounds it. [1]
    """

    observed: float
    lower: float
    upper: float


class _Noise:
    """What readings of one covariance do to a spread."""

    def __init__(self, covariance: Array, shape: SpreadShape, n_draws: int) -> None:
        n_ropes = len(covariance)
        noise = _factor(covariance) @ _standard_draws(n_ropes, n_draws)
        self._shape = shape
        self._widest = float(np.ptp(noise, axis=0).max())
        self._noise = noise if shape is SpreadShape.LOG_RANGE else np.exp(noise)
        # the spread that even equal tensions would show, closest.at(0) being equal
        self.alike = float(np.quantile(self.spreads(np.zeros(n_ropes)), ALIKE))

    def spreads(self, logarithms: Array) -> Array:
        """Spreads of readings simulated from one set."""
        if self._shape is SpreadShape.LOG_RANGE:
            return np.asarray(np.ptp(logarithms[:, None] + self._noise, axis=0))
        tensions = np.exp(logarithms)[:, None] * self._noise
        mean = tensions.mean(axis=0)
        highest, lowest = tensions.max(axis=0), tensions.min(axis=0)
        if self._shape is SpreadShape.RANGE_OF_MEAN:
            return np.asarray((highest - lowest) / mean)
        return np.asarray(np.maximum(highest - mean, mean - lowest) / mean)

    def reach(self, spread: float) -> float:
        """How much noise can add to a spread at most, in any of the draws."""
        if self._shape is SpreadShape.LOG_RANGE:
            return self._widest
        return 2 * (1 + spread) * float(np.expm1(self._widest))


class SpreadSimulation:
    """Simulated readings of one measured set, by one spread.

    Parameters
    ----------
    logarithms : sequence of ndarray, shape (n_ropes,)
        Logarithms of the tensions under each joint hypothesis, heaviest first. [1]
    weights : sequence of float
        Their probabilities; what is missing to one is counted against both bounds. [1]
    covariances : sequence of ndarray, shape (n_ropes, n_ropes)
        Of the logarithms, under each. [1]
    shape : SpreadShape
        Which spread.
    n_draws : int
        Simulated readings per candidate.
    """

    def __init__(
        self,
        *,
        logarithms: Sequence[Array],
        weights: Sequence[float],
        covariances: Sequence[Array],
        shape: SpreadShape,
        n_draws: int = _N_DRAWS,
    ) -> None:
        self._weights = np.asarray(weights[:_HEAVIEST], dtype=float)
        self._shape = shape
        noises: dict[int, _Noise] = {}
        self._cases: list[tuple[ClosestTensions, _Noise]] = []
        for one, covariance in zip(
            logarithms[:_HEAVIEST], covariances[:_HEAVIEST], strict=True
        ):
            if id(covariance) not in noises:
                noises[id(covariance)] = _Noise(covariance, shape, n_draws)
            closest = closest_from_readings(one, covariance, shape)
            self._cases.append((closest, noises[id(covariance)]))
        self._alike = max(noise.alike for noise in noises.values())
        widest = max(float(np.diag(one).max()) for one in covariances)
        self.scale = float(np.sqrt(2 * widest)) + 1e-7

    @property
    def observed(self) -> float:
        """Spread of the readings under the heaviest hypothesis."""
        return self._cases[0][0].observed

    @property
    def largest_observed(self) -> float:
        """Largest spread of the readings under any hypothesis."""
        return max(closest.observed for closest, _ in self._cases)

    def tails(self, spread: float) -> Tails:
        """Simulate readings from the closest tensions that have this spread.

        Parameters
        ----------
        spread : float
            Candidate spread. [1]
        """
        below = above = max(0.0, 1 - float(self._weights.sum()))
        for weight, (closest, noise) in zip(self._weights, self._cases, strict=True):
            if closest.observed > spread + noise.reach(spread):
                below += weight  # no draw comes near: a rival far off
                continue
            simulated = noise.spreads(closest.at(spread))
            slack = 1e-9 * (1 + closest.observed)
            credible = max(closest.observed, noise.alike)
            below += weight * float((simulated <= credible + slack).mean())
            above += weight * float((simulated >= closest.observed - slack).mean())
        return Tails(at_or_below=float(below), at_or_above=float(above))

    def interval(self) -> Interval:
        """Find the candidates kept."""
        top = self.largest_observed + 3 * self.scale
        return Interval(
            observed=self.observed,
            lower=_crossing(
                lambda s: self.tails(s).at_or_above,
                (max(0.0, self.observed - 2.5 * self.scale), self.observed),
                top,
            ),
            upper=_crossing(
                lambda s: 1 - self.tails(s).at_or_below,
                (self.observed, self.observed + 2.5 * self.scale),
                top + self._alike,
                level=1 - OUTER,
            ),
        )


def _factor(covariance: Array) -> Array:
    """Square root of a covariance that may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 1e-16)))


def _score(probability: float) -> float:
    """Normal quantile of a probability, kept finite."""
    return _STANDARD_NORMAL.inv_cdf(min(max(probability, 1e-4), 1 - 1e-4))


def _crossing(
    rising: Callable[[float], float],
    guess: tuple[float, float],
    top: float,
    *,
    level: float = OUTER,
) -> float:
    """Find where a rising probability passes a level, from 0 to infinity."""
    wanted = _score(level)

    def over(spread: float) -> float:
        return _score(rising(spread)) - wanted

    low, high = guess
    at_high = over(high)
    step = max(high - low, 1e-6)
    while at_high < 0:
        if high > _UNBOUNDED:
            return float("inf")
        low, high = high, (high + step if high < top else 2 * high)
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
    start = b - a
    last = 0
    for _ in range(12):
        if b - a < max(1e-6, 2e-3 * start):
            break
        middle = a + (b - a) * min(max(at_a / (at_a - at_b), 0.02), 0.98)
        value = over(middle)
        if abs(value) < 5e-3:
            return middle
        if value < 0:
            a, at_a = middle, value
            at_b = at_b / 2 if last < 0 else at_b
            last = -1
        else:
            b, at_b = middle, value
            at_a = at_a / 2 if last > 0 else at_a
            last = 1
    return (a * at_b - b * at_a) / (at_b - at_a)


_SHAPES = {
    Metric.BELOW_HIGHEST: SpreadShape.LOG_RANGE,
    Metric.ABOVE_LOWEST: SpreadShape.LOG_RANGE,
    Metric.OFF_MEAN: SpreadShape.OFF_MEAN,
    Metric.RANGE_OF_MEAN: SpreadShape.RANGE_OF_MEAN,
}


class SetSimulation:
    """Simulated readings of one measured set, by all four metrics.

    Parameters
    ----------
    tensions : sequence of ndarray, shape (n_ropes,)
        Tensions under each joint hypothesis, heaviest first. [N] or relative
    weights : sequence of float
        Their probabilities. [1]
    covariance : ndarray, shape (n_ropes, n_ropes)
        Of the logarithms of the tensions. [1]
    own_covariances : sequence of ndarray or None
        The same under each hypothesis, where it has one of its own. [1]
    n_draws : int
        Simulated readings per candidate.
    """

    def __init__(
        self,
        *,
        tensions: Sequence[Array],
        weights: Sequence[float],
        covariance: Array,
        own_covariances: Sequence[Array | None] = (),
        n_draws: int = _N_DRAWS,
    ) -> None:
        self._logarithms = [np.log(one) for one in tensions]
        self._weights = weights
        given = own_covariances or [None] * len(tensions)
        self._covariances = [covariance if own is None else own for own in given]
        self._n_draws = n_draws
        self._simulations: dict[SpreadShape, SpreadSimulation] = {}
        self._intervals: dict[SpreadShape, Interval] = {}

    def _simulation(self, metric: Metric) -> SpreadSimulation:
        """The simulation behind a metric, made once."""
        shape = _SHAPES[metric]
        if shape not in self._simulations:
            self._simulations[shape] = SpreadSimulation(
                logarithms=self._logarithms,
                weights=self._weights,
                covariances=self._covariances,
                shape=shape,
                n_draws=self._n_draws,
            )
        return self._simulations[shape]

    def interval(self, metric: Metric) -> Interval:
        """Interval of the true spread at 95 %.

        Returns
        -------
        Interval
            By that metric. [1]
        """
        shape = _SHAPES[metric]
        if shape not in self._intervals:
            self._intervals[shape] = self._simulation(metric).interval()
        found = self._intervals[shape]
        if metric not in RATIO_METRICS:
            return found
        return Interval(
            observed=spread_from_log_range(found.observed, metric),
            lower=spread_from_log_range(found.lower, metric),
            upper=spread_from_log_range(found.upper, metric),
        )

    def probability_over(self, limit: float, metric: Metric) -> float:
        """Probability that the true spread is over a limit.

        Of the readings simulated from the closest tensions whose spread is exactly
        the limit, the part that shows a spread no larger than the one observed. It
        is under 2.5 % exactly where the upper bound is under the limit.

        Parameters
        ----------
        limit : float
            Limit of the rule. [1]
        metric : Metric
            What the percentage is of.

        Returns
        -------
        float
            Probability. [1]
        """
        if metric in RATIO_METRICS:
            limit = log_range_from_spread(limit, metric)
        return self._simulation(metric).tails(limit).at_or_below
