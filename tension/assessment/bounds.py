"""Bounds of the true spread, and the verdict they give under each premise.

Ropes without a number, lengths in doubt and doubts about the set widen the bounds or
leave none. Some readings are explained under different premises, such as springs at the
hitch or none: the set is judged under all of them together; where that does not decide,
under each alone, to see whether the answer to one question would.
"""

from collections.abc import Sequence
from math import expm1, inf, isfinite, log1p

from tension.assessment.interval import Interval, SetSimulation
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

SOCKET_STAGGER = 0.15
"""How far apart sockets in a row commonly stand; common practice, no source. [m]"""


def find_bounds(
    measurement: SetMeasurement, simulation: SetSimulation, metric: Metric
) -> Spread:
    """Bound the true spread of the whole set by one metric.

    A rope without a number leaves no upper bound, a doubtful length widens both, a
    doubt about the set leaves none.
    """
    found = simulation.interval(metric)
    if measurement.doubts:
        return Spread(metric=metric, observed=found.observed, lower=None, upper=None)
    lower: float | None = found.lower
    is_bounded = isfinite(found.upper) and isfinite(
        simulation.interval(Metric.ABOVE_LOWEST).upper
    )
    upper: float | None = found.upper if is_bounded else None
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        lower, widened = _with_lengths_in_doubt(
            found,
            log_factor=_largest_length_effect(measurement),
            metric=metric,
            ratio=simulation.interval(Metric.BELOW_HIGHEST),
        )
        upper = widened if is_bounded else None
    if len(measurement.given) < len(measurement.ropes):
        upper = None
        if metric in {Metric.OFF_MEAN, Metric.RANGE_OF_MEAN} and lower is not None:
            lower = _lower_of_whole_set(
                measurement, simulation.interval(Metric.BELOW_HIGHEST), metric
            )
    return Spread(metric=metric, observed=found.observed, lower=lower, upper=upper)


def _lower_of_whole_set(
    measurement: SetMeasurement, ratio: Interval, metric: Metric
) -> float:
    """Lower bound about the mean, wherever the tensions of the missing ropes lie."""
    # The largest distance from any mean is at least half the range over the middle of
    # the range; the range over any mean is at least the range over the highest.
    below_highest = ratio.lower
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        effect = _largest_length_effect(measurement)
        below_highest = _shrunk_ratio(below_highest, effect)
    if metric is Metric.OFF_MEAN:
        return below_highest / (2 - below_highest)
    return below_highest


def _largest_length_effect(measurement: SetMeasurement) -> float:
    """Largest change of ln(tension) between two ropes by the stagger of sockets."""
    lengths = [length for length in measurement.free_lengths if isfinite(length)]
    if not lengths or min(lengths) <= SOCKET_STAGGER:
        return inf
    return -2 * log1p(-SOCKET_STAGGER / min(lengths))


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


_HAIR = 1e-6
"""Spread taken as being on the limit, which counts as equal. [1]"""


def simulate(
    measurement: SetMeasurement, hypotheses: Sequence[TensionHypothesis] = ()
) -> SetSimulation:
    """Simulate readings of a set under its hypotheses.

    Parameters
    ----------
    measurement : SetMeasurement
        What was measured.
    hypotheses : sequence of TensionHypothesis, optional
        Some of its hypotheses, their weights to sum to one; all if left out.
    """
    taken = hypotheses or measurement.hypotheses
    return SetSimulation(
        tensions=[h.tensions for h in taken],
        weights=[h.weight for h in taken],
        covariance=measurement.covariance,
        own_covariances=[h.covariance for h in taken],
    )


def verdict_of(spread: Spread, limit: float) -> Verdict:
    """Hold bounds against a limit [1]: equal at or under it, unequal over it."""
    if spread.lower is not None and exceeds(spread.lower, limit, hair=_HAIR):
        return Verdict.UNEQUAL
    if spread.upper is not None and not exceeds(spread.upper, limit, hair=_HAIR):
        return Verdict.EQUAL
    return Verdict.CANNOT_TELL


def springs_question(
    measurement: SetMeasurement, rule: Rule, verdict: Verdict
) -> Note | None:
    """Find whether the answer to "are there springs?" would settle the result.

    The question with the result by each answer; None if neither would decide, or
    nothing is open.
    """
    if verdict is not Verdict.CANNOT_TELL:
        return None
    answers: dict[Premise, Verdict] = {}
    for premise in (Premise.SPRINGS, Premise.NO_SPRINGS):
        found = [h for h in measurement.hypotheses if h.premise is premise]
        if not found:
            return None
        whole = sum(h.weight for h in found)
        simulation = simulate(
            measurement,
            [
                TensionHypothesis(
                    weight=h.weight / whole,
                    tensions=h.tensions,
                    covariance=h.covariance,
                )
                for h in found
            ],
        )
        spread = find_bounds(measurement, simulation, rule.metric)
        answers[premise] = verdict_of(spread, rule.limit)
    if set(answers.values()) == {Verdict.CANNOT_TELL}:
        return None
    return NoteKind.SPRINGS_QUESTION.note(
        with_springs=answers[Premise.SPRINGS].words,
        without=answers[Premise.NO_SPRINGS].words,
    )
