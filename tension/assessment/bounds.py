"""Bounds of the true spread where ropes have no number or lengths are in doubt."""

from dataclasses import dataclass
from math import expm1, inf, isfinite, log1p

from tension.assessment.interval import Interval, SetSimulation
from tension.catalogue.rules import Metric
from tension.measurement.outcome import LengthKnowledge, SetMeasurement

SOCKET_STAGGER = 0.15
"""How far apart sockets in a row commonly stand; common practice, no source. [m]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Bounds:
    """What can be said of the true spread of the whole set.

    Attributes
    ----------
    observed : float
        Spread of the ropes given. [1]
    lower, upper : float or None
        The true spread of all ropes lies between them at 95 %; None if not bounded. [1]
    """

    observed: float
    lower: float | None
    upper: float | None


def find_bounds(
    measurement: SetMeasurement, simulation: SetSimulation, metric: Metric
) -> Bounds:
    """Bound the true spread of the whole set by one metric.

    Returns
    -------
    Bounds
        Of all ropes: one without a number leaves no upper bound, a doubtful length
        widens both, a doubt about the set leaves none.
    """
    found = simulation.interval(metric)
    if measurement.doubts:
        return Bounds(observed=found.observed, lower=None, upper=None)
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
    return Bounds(observed=found.observed, lower=lower, upper=upper)


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
