"""Metrics of spread: what the percentage is of, for one set or for many at once."""

from math import expm1, inf, log

import numpy as np
from numpy.typing import NDArray

from tension.catalogue.rules import Metric

Array = NDArray[np.float64]

RATIO_METRICS = (Metric.BELOW_HIGHEST, Metric.ABOVE_LOWEST)
"""Metrics that depend on the ratio of the highest to the lowest tension alone."""


def spread_from_tensions(tensions: Array, metric: Metric) -> Array:
    """Spread of one set or of many, by one metric.

    Parameters
    ----------
    tensions : ndarray, shape (..., n_ropes)
        One set per row, positive. [N] or relative
    metric : Metric
        What the percentage is of.

    Returns
    -------
    ndarray, shape (...)
        Spread. [1]

    Examples
    --------
    >>> import numpy as np
    >>> float(spread_from_tensions(np.array([90.0, 100.0]), Metric.BELOW_HIGHEST))
    0.1
    """
    low, high = tensions.min(axis=-1), tensions.max(axis=-1)
    if metric in RATIO_METRICS:
        return np.asarray(
            (high - low) / (high if metric is Metric.BELOW_HIGHEST else low)
        )
    mean = tensions.mean(axis=-1)
    is_range = metric is Metric.RANGE_OF_MEAN
    apart = high - low if is_range else np.maximum(high - mean, mean - low)
    return np.asarray(apart / mean)


def spread_from_log_range(log_range: float, metric: Metric) -> float:
    """Turn ln(highest / lowest) [1] into a metric that depends on it alone [1]."""
    if metric is Metric.BELOW_HIGHEST:
        return -expm1(-log_range)
    return inf if log_range > 700 else expm1(log_range)


def log_range_from_spread(spread: float, metric: Metric) -> float:
    """Turn below-highest or above-lowest [1] into ln(highest / lowest) [1]."""
    if metric is Metric.BELOW_HIGHEST:
        return inf if spread >= 1 else -log(1 - spread)
    return log(1 + spread)
