"""The 95 % interval of the true spread, the verdict by it, and what would settle it.

For each candidate spread the tensions closest to the readings that have it are found,
readings are simulated from them, and the candidate is kept unless the spread observed
lies in the outer 2.5 % of the simulated ones on either side. Noise inflates the spread
of simulated readings just as it inflated the observed one, so nothing else is needed to
correct for it. Readings more alike than even equal tensions would give them are luck or
a coarse scale, not knowledge, and do not narrow the upper bound. Where the numbering of
partials is in doubt, the tails are those of the mixture: a rival with a chance over
2.5 % alone keeps a candidate alive.

Ropes without a number, lengths in doubt and doubts about the set widen the bounds or
leave none. Some readings are explained under different premises, such as springs at the
hitch or none: the set is judged under all of them together; where that does not decide,
under each alone, to see whether the answer to one question would, and with each rope
measured again, to see whose repeat would.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from math import exp, expm1, inf, isfinite, log, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from tension.assessment.metrics import (
    SHAPES,
    SpreadShape,
    closest_from_readings,
)
from tension.assessment.outcome import Spread, Verdict
from tension.catalogue.rules import Metric, Rule
from tension.measurement.outcome import (
    LengthKnowledge,
    Premise,
    SetMeasurement,
    TensionHypothesis,
)
from tension.notes import Note, NoteKind

Array = NDArray[np.float64]

OUTER = 0.025
"""Share of simulated readings cut off on either side. [1]"""

ALIKE = 0.16
"""Readings more alike than this quantile of those of an equal set, such as those of a
coarse scale, are taken to be at it for the upper bound. [1]"""

SOCKET_STAGGER = 0.15
"""How far apart sockets in a row commonly stand; common practice, no source. [m]"""

_UNBOUNDED = 100.0
"""A spread beyond which nothing is looked for. [1]"""

_HAIR = 1e-6
"""Spread taken as being on the limit, which counts as equal. [1]"""

_N_DRAWS = 4000  # simulated sets for a bound
_SEED = 20240917  # simulated sets are the same each time
_HEAVIEST = 24  # numberings that are simulated, the likeliest
_NORMAL = NormalDist()

_N_DRAWS_RANKED, _HEAVIEST_RANKED = 1000, 5
_NODES = tuple(_NORMAL.inv_cdf(p) for p in (0.1, 0.3, 0.5, 0.7, 0.9))
"""Quantiles that stand for all a repeat may read, standard [1]"""
_SAME_NUMBERING = 0.02  # tensions of one rope nearer than this are of one numbering [1]

_USEFUL = 0.98
"""Part of the doubt to which a repeat must bring it to be asked for. [1]"""


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
class Interval:
    """Interval of the true spread."""

    observed: float  # spread of the readings under the heaviest hypothesis [1]
    lower: float  # least of the candidates kept [1]
    upper: float  # largest of the candidates kept; infinite where unbounded [1]


class _Case:
    """One hypothesis by one spread, and readings simulated under it."""

    def __init__(
        self,
        one: TensionHypothesis,
        covariance: Array,
        shape: SpreadShape,
        n_draws: int,
    ) -> None:
        noise = square_root(covariance) @ _standard_draws(len(covariance), n_draws)
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
        found = asdict(self._found[shape])
        return Interval(
            **{end: spread_from_log_range(found[end], metric) for end in found}
        )

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


def find_bounds(
    measurement: SetMeasurement, simulation: SetSimulation, metric: Metric
) -> Spread:
    """Bound the true spread of the whole set by one metric.

    A rope without a number leaves no upper bound, a doubtful length widens both, a
    doubt about the set leaves none.
    """
    found = simulation.interval(metric)
    unbounded = Spread(metric=metric, observed=found.observed)
    is_unknown = measurement.lengths is LengthKnowledge.UNKNOWN
    stagger = measurement.effect_of_stagger(SOCKET_STAGGER) if is_unknown else 0.0
    if measurement.doubts or not isfinite(stagger):
        return unbounded
    ratio = simulation.interval(Metric.BELOW_HIGHEST)
    lower, upper = found.lower, found.upper
    if is_unknown:
        lower, upper = _with_any_stagger(found, exp(stagger), metric, ratio)
    if measurement.missing:
        # Wherever the tensions of the missing ropes lie: the largest distance from any
        # mean is at least half the range over the middle of the range; the range over
        # any mean is at least the range over the highest.
        below_highest = _nearer(ratio.lower, exp(stagger))
        if metric is Metric.OFF_MEAN:
            lower = below_highest / (2 - below_highest)
        if metric is Metric.RANGE_OF_MEAN:
            lower = below_highest
    is_bounded = not measurement.missing and isfinite(
        found.upper + simulation.interval(Metric.ABOVE_LOWEST).upper
    )
    return replace(unbounded, lower=lower, upper=upper if is_bounded else None)


def _nearer(below_highest: float, factor: float) -> float:
    """Below-highest after the extremes are brought nearer by a factor."""
    return max(0.0, 1 - (1 - below_highest) * factor)


def _with_any_stagger(
    found: Interval, factor: float, metric: Metric, ratio: Interval
) -> tuple[float, float]:
    """Widen by any stagger up to `SOCKET_STAGGER`, a factor, on any of the ropes."""
    if metric is Metric.BELOW_HIGHEST:
        return _nearer(found.lower, factor), 1 - (1 - found.upper) / factor
    lower, upper = (1 + found.lower) / factor - 1, (1 + found.upper) * factor - 1
    if metric is Metric.ABOVE_LOWEST:
        return max(0.0, lower), upper
    shrunk, widest = _nearer(ratio.lower, factor), factor / (1 - ratio.upper) - 1
    if metric is Metric.RANGE_OF_MEAN:
        return shrunk, widest
    return max(0.0, lower, shrunk / (2 - shrunk)), min(widest, upper)


def verdict_of(spread: Spread, limit: float) -> Verdict:
    """Hold bounds against a limit [1]: equal at or under it, unequal over it."""
    if spread.lower is not None and spread.lower > limit + _HAIR:
        return Verdict.UNEQUAL
    if spread.upper is not None and spread.upper <= limit + _HAIR:
        return Verdict.EQUAL
    return Verdict.CANNOT_TELL


def springs_question(measurement: SetMeasurement, rule: Rule) -> Note | None:
    """Find whether the answer to "are there springs?" would settle the result.

    The question with the result by each answer; None if neither would decide, or
    nothing is open.
    """
    answers: list[Verdict] = []
    for premise in (Premise.SPRINGS, Premise.NO_SPRINGS):
        found = [h for h in measurement.hypotheses if h.premise is premise]
        if not found:
            return None
        simulation = SetSimulation(_weighed(found), measurement.covariance)
        spread = find_bounds(measurement, simulation, rule.metric)
        answers.append(verdict_of(spread, rule.limit))
    if set(answers) == {Verdict.CANNOT_TELL}:
        return None
    return NoteKind.SPRINGS_QUESTION.note(
        with_springs=answers[0].words, without=answers[1].words
    )


def _weighed(hypotheses: Sequence[TensionHypothesis]) -> list[TensionHypothesis]:
    """Some hypotheses, if one of them is so."""
    whole = sum(h.weight for h in hypotheses)
    return [replace(h, weight=h.weight / whole) for h in hypotheses]


def rank_repeats(measurement: SetMeasurement, rule: Rule) -> tuple[int, ...]:
    """Rank the ropes of a set that is not decided by how much a repeat would help.

    Ropes without a number come first, then the most useful; those whose repeat would
    not help are left out, but one is always named. A repeat of one rope halves the
    variance of its reading, moves it as repeats do, and settles how its partials are
    numbered; the decision is then made anew.
    """
    given, missing = measurement.given, measurement.missing
    hypotheses = measurement.hypotheses[:_HEAVIEST_RANKED]
    if any(h.covariance is not None for h in hypotheses):
        # cases that no repeat settles: the covariance holds all of them
        hypotheses = (replace(hypotheses[0], weight=1.0, covariance=None),)
    now = _doubt(hypotheses, measurement.covariance, rule)
    scores = [
        sum(
            weight * _doubt(known, covariance, rule)
            for weight, known, covariance in _after_repeat(
                measurement.covariance, hypotheses, index
            )
        )
        for index in range(len(given))
    ]
    order = sorted(range(len(given)), key=lambda i: (scores[i], given[i]))
    useful = [given[i] for i in order if scores[i] < _USEFUL * now]
    if not missing and not useful:
        useful = [given[order[0]]]
    return missing + tuple(useful)


def _after_repeat(
    covariance: Array, hypotheses: Sequence[TensionHypothesis], index: int
) -> Iterator[tuple[float, list[TensionHypothesis], Array]]:
    """What may be known, and its chance, after one rope has been measured again."""
    scale = np.ones(len(covariance))
    scale[index] = sqrt(0.5)
    after = covariance * np.outer(scale, scale)
    for group in _grouped(hypotheses, index):
        weight = sum(h.weight for h in group)
        for node in _NODES:
            factor = np.ones(len(scale))
            factor[index] = exp(sqrt(after[index, index]) * node)
            moved = [replace(h, tensions=h.tensions * factor) for h in group]
            yield weight / len(_NODES), _weighed(moved), after


def _grouped(
    hypotheses: Sequence[TensionHypothesis], index: int
) -> list[list[TensionHypothesis]]:
    """Group the hypotheses by the numbering of one rope."""
    groups: list[list[TensionHypothesis]] = []
    for hypothesis in hypotheses:
        for group in groups:
            ratio = hypothesis.tensions[index] / group[0].tensions[index]
            if abs(ratio - 1) < _SAME_NUMBERING:
                group.append(hypothesis)
                break
        else:
            groups.append([hypothesis])
    return groups


def _doubt(
    hypotheses: Sequence[TensionHypothesis], covariance: Array, rule: Rule
) -> float:
    """Chance that nothing is decided, plus a little for how far from it."""
    simulation = SetSimulation(hypotheses, covariance, n_draws=_N_DRAWS_RANKED)
    over = simulation.probability_over(rule.limit, rule.metric)
    nearest = min(over, 1 - over)
    return nearest + float(nearest >= OUTER)
