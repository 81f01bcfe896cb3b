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

from tension.assessment.metrics import (
    SHAPES,
    ClosestTensions,
    SpreadShape,
    closest_from_readings,
    log_range_from_spread,
    spread_from_log_range,
)
from tension.catalogue.rules import Metric
from tension.measurement.outcome import TensionHypothesis

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
    """How the observed spread lies among those simulated from a candidate."""

    at_or_below: float  # probability of a spread no larger than the observed one [1]
    at_or_above: float  # probability of a spread no smaller than the observed one [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """Interval of the true spread."""

    observed: float  # spread of the readings under the heaviest hypothesis [1]
    lower: float  # least of the candidates kept [1]
    upper: float  # largest of the candidates kept; infinite where unbounded [1]


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
            return self._shape.of(logarithms[:, None] + self._noise, axis=0)
        return self._shape.of(np.exp(logarithms)[:, None] * self._noise, axis=0)

    def reach(self, spread: float) -> float:
        """How much noise can add to a spread at most, in any of the draws."""
        if self._shape is SpreadShape.LOG_RANGE:
            return self._widest
        return 2 * (1 + spread) * float(np.expm1(self._widest))


class _SpreadSimulation:
    """Simulated readings of one measured set, by one spread."""

    def __init__(
        self,
        hypotheses: Sequence[TensionHypothesis],
        covariance: Array,
        shape: SpreadShape,
        n_draws: int,
    ) -> None:
        noises: dict[int, _Noise] = {}
        # probability, closest tensions and noise under each hypothesis
        self.cases: list[tuple[float, ClosestTensions, _Noise]] = []
        for one in hypotheses[:_HEAVIEST]:
            own = covariance if one.covariance is None else one.covariance
            if id(own) not in noises:
                noises[id(own)] = _Noise(own, shape, n_draws)
            closest = closest_from_readings(np.log(one.tensions), own, shape)
            self.cases.append((one.weight, closest, noises[id(own)]))
        widest = max(
            float(np.diag(covariance if h.covariance is None else h.covariance).max())
            for h in hypotheses
        )
        self._scale = float(np.sqrt(2 * widest)) + 1e-7

    def tails(self, spread: float) -> Tails:
        """Simulate readings from the closest tensions that have a spread [1]."""
        # what is missing to one is counted against both bounds
        missing = 1 - float(np.sum([weight for weight, _, _ in self.cases]))
        below = above = max(0.0, missing)
        for weight, closest, noise in self.cases:
            observed = closest.observed
            if observed > spread + noise.reach(spread):
                below += weight  # no draw comes near: a rival far off
                continue
            simulated = noise.spreads(closest.at(spread))
            slack = 1e-9 * (1 + observed)
            credible = max(observed, noise.alike)
            below += weight * float((simulated <= credible + slack).mean())
            above += weight * float((simulated >= observed - slack).mean())
        return Tails(at_or_below=float(below), at_or_above=float(above))

    def interval(self) -> Interval:
        """Find the candidates kept."""
        scale = self._scale
        every = [closest.observed for _, closest, _ in self.cases]
        observed, top = every[0], max(every) + 3 * scale
        return Interval(
            observed=observed,
            lower=_crossing(
                lambda s: self.tails(s).at_or_above,
                (max(0.0, observed - 2.5 * scale), observed),
                top,
            ),
            upper=_crossing(
                lambda s: 1 - self.tails(s).at_or_below,
                (observed, observed + 2.5 * scale),
                top + max(noise.alike for _, _, noise in self.cases),
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
        self._given = (hypotheses, covariance)
        self._n_draws = n_draws
        self._simulations: dict[SpreadShape, _SpreadSimulation] = {}
        self._intervals: dict[SpreadShape, Interval] = {}

    def _simulation(self, metric: Metric) -> _SpreadSimulation:
        """The simulation behind a metric, made once."""
        shape = SHAPES[metric]
        if shape not in self._simulations:
            made = _SpreadSimulation(*self._given, shape, self._n_draws)
            self._simulations[shape] = made
        return self._simulations[shape]

    def interval(self, metric: Metric) -> Interval:
        """Interval of the true spread at 95 %, by one metric."""
        shape = SHAPES[metric]
        if shape not in self._intervals:
            self._intervals[shape] = self._simulation(metric).interval()
        found = self._intervals[shape]
        return Interval(
            observed=spread_from_log_range(found.observed, metric),
            lower=spread_from_log_range(found.lower, metric),
            upper=spread_from_log_range(found.upper, metric),
        )

    def probability_over(self, limit: float, metric: Metric) -> float:
        """Probability that the true spread is over a limit. [1].

        Of the readings simulated from the closest tensions whose spread is exactly
        the limit, the part that shows a spread no larger than the one observed. It
        is under 2.5 % exactly where the upper bound is under the limit.
        """
        log_range = log_range_from_spread(limit, metric)
        return self._simulation(metric).tails(log_range).at_or_below
