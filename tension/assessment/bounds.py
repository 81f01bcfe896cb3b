"""Bounds of the true spread, the verdict they give, and what would settle it.

Ropes without a number, lengths in doubt and doubts about the set widen the bounds or
leave none. Some readings are explained under different premises, such as springs at the
hitch or none: the set is judged under all of them together; where that does not decide,
under each alone, to see whether the answer to one question would, and with each rope
measured again, to see whose repeat would.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import expm1, isfinite, log1p, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from tension.assessment.interval import OUTER, Interval, SetSimulation
from tension.assessment.outcome import Spread, Verdict
from tension.catalogue.rules import Metric, Rule
from tension.measurement.outcome import (
    LengthKnowledge,
    Premise,
    SetMeasurement,
    TensionHypothesis,
)
from tension.notes import Note, NoteKind
from tension.quantity.comparison import exceeds

Array = NDArray[np.float64]

SOCKET_STAGGER = 0.15
"""How far apart sockets in a row commonly stand; common practice, no source. [m]"""

_HAIR = 1e-6
"""Spread taken as being on the limit, which counts as equal. [1]"""

_N_DRAWS = 1000
_HEAVIEST = 5
_NODES = tuple(NormalDist().inv_cdf(p) for p in (0.1, 0.3, 0.5, 0.7, 0.9))
_SAME_NUMBERING = 0.02


def find_bounds(
    measurement: SetMeasurement, simulation: SetSimulation, metric: Metric
) -> Spread:
    """Bound the true spread of the whole set by one metric.

    A rope without a number leaves no upper bound, a doubtful length widens both, a
    doubt about the set leaves none.
    """
    found = simulation.interval(metric)
    if measurement.doubts:
        return Spread(metric=metric, observed=found.observed)
    ratio = simulation.interval(Metric.BELOW_HIGHEST)
    is_bounded = isfinite(found.upper) and isfinite(
        simulation.interval(Metric.ABOVE_LOWEST).upper
    )
    lower: float | None = found.lower
    upper: float | None = found.upper
    below_highest = ratio.lower
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        effect = measurement.effect_of_stagger(SOCKET_STAGGER)
        below_highest = _shrunk_ratio(below_highest, effect)
        lower, upper = _with_lengths_in_doubt(
            found, log_factor=effect, metric=metric, ratio=ratio
        )
    if measurement.missing:
        upper = None
        # Wherever the tensions of the missing ropes lie: the largest distance from any
        # mean is at least half the range over the middle of the range; the range over
        # any mean is at least the range over the highest.
        if metric is Metric.OFF_MEAN and lower is not None:
            lower = below_highest / (2 - below_highest)
        if metric is Metric.RANGE_OF_MEAN and lower is not None:
            lower = below_highest
    return Spread(
        metric=metric,
        observed=found.observed,
        lower=lower,
        upper=upper if is_bounded else None,
    )


def _shrunk_ratio(below_highest: float, log_factor: float) -> float:
    """Below-highest after the ratio of the extremes is brought nearer to one."""
    log_range = -log1p(-below_highest) - log_factor
    return max(0.0, -expm1(-log_range))


def _with_lengths_in_doubt(
    found: Interval, *, log_factor: float, metric: Metric, ratio: Interval
) -> tuple[float | None, float | None]:
    """Widen by any stagger up to `SOCKET_STAGGER` on any of the ropes."""
    if not isfinite(log_factor):
        return None, None
    factor = 1 + expm1(log_factor)
    if metric is Metric.BELOW_HIGHEST:
        return (
            _shrunk_ratio(found.lower, log_factor),
            1 - (1 - found.upper) / factor,
        )
    if metric is Metric.ABOVE_LOWEST:
        return max(0.0, (1 + found.lower) / factor - 1), (1 + found.upper) * factor - 1
    shrunk = _shrunk_ratio(ratio.lower, log_factor)
    widest = factor / (1 - ratio.upper) - 1
    if metric is Metric.RANGE_OF_MEAN:
        return shrunk, widest
    lowest = min((1 + found.lower) / factor - 1, 1 - (1 - found.lower) * factor)
    return (
        max(0.0, lowest, shrunk / (2 - shrunk)),
        min(widest, (1 + found.upper) * factor - 1),
    )


def verdict_of(spread: Spread, limit: float) -> Verdict:
    """Hold bounds against a limit [1]: equal at or under it, unequal over it."""
    if spread.lower is not None and exceeds(spread.lower, limit, hair=_HAIR):
        return Verdict.UNEQUAL
    if spread.upper is not None and not exceeds(spread.upper, limit, hair=_HAIR):
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
        whole = sum(h.weight for h in found)
        alone = [replace(h, weight=h.weight / whole) for h in found]
        simulation = SetSimulation(alone, measurement.covariance)
        spread = find_bounds(measurement, simulation, rule.metric)
        answers.append(verdict_of(spread, rule.limit))
    if set(answers) == {Verdict.CANNOT_TELL}:
        return None
    return NoteKind.SPRINGS_QUESTION.note(
        with_springs=answers[0].words, without=answers[1].words
    )


def rank_repeats(measurement: SetMeasurement, rule: Rule) -> tuple[int, ...]:
    """Rank the ropes of a set that is not decided by how much a repeat would help.

    Ropes without a number come first, then the most useful; those whose repeat would
    not help are left out, but one is always named. A repeat of one rope halves the
    variance of its reading, moves it as repeats do, and settles how its partials are
    numbered; the decision is then made anew.
    """
    given, missing = measurement.given, measurement.missing
    hypotheses = measurement.hypotheses[:_HEAVIEST]
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
    useful = [given[i] for i in order if scores[i] < 0.98 * now]
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
    step = sqrt(after[index, index])
    for group in _grouped(hypotheses, index):
        weight = sum(h.weight for h in group)
        for node in _NODES:
            factor = np.ones(len(scale))
            factor[index] = np.exp(step * node)
            known = [
                replace(h, weight=h.weight / weight, tensions=h.tensions * factor)
                for h in group
            ]
            yield weight / len(_NODES), known, after


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
    simulation = SetSimulation(hypotheses, covariance, n_draws=_N_DRAWS)
    over = simulation.probability_over(rule.limit, rule.metric)
    nearest = min(over, 1 - over)
    return nearest + (1.0 if nearest >= OUTER else 0.0)
