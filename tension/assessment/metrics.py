"""Metrics of spread: what the percentage is of, for one set or for many at once."""

from math import expm1, inf, log

import numpy as np
from numpy.typing import NDArray

from tension.catalogue.rules import Metric

Array = NDArray[np.float64]

RATIO_METRICS = (Metric.BELOW_HIGHEST, Metric.ABOVE_LOWEST)
"""Metrics that depend on the ratio of the highest to the lowest tension alone."""


def below_highest(tensions: Array) -> Array:
    """Difference of the highest and the lowest tension over the highest.

    Parameters
    ----------
    tensions : ndarray, shape (..., n_ropes)
        One set per row, positive. [N] or relative

    Returns
    -------
    ndarray, shape (...)
        Spread. [1]

    Examples
    --------
    >>> import numpy as np
    >>> float(below_highest(np.array([90.0, 100.0])))
    0.1
    """
    highest = tensions.max(axis=-1)
    return np.asarray((highest - tensions.min(axis=-1)) / highest)


def above_lowest(tensions: Array) -> Array:
    """Difference of the highest and the lowest tension over the lowest.

    Parameters
    ----------
    tensions : ndarray, shape (..., n_ropes)
        One set per row, positive. [N] or relative

    Returns
    -------
    ndarray, shape (...)
        Spread. [1]

    Examples
    --------
    >>> import numpy as np
    >>> float(above_lowest(np.array([100.0, 110.0])))
    0.1
    """
    lowest = tensions.min(axis=-1)
    return np.asarray((tensions.max(axis=-1) - lowest) / lowest)


def off_mean(tensions: Array) -> Array:
    """Largest distance of a tension from the mean, over the mean.

    Parameters
    ----------
    tensions : ndarray, shape (..., n_ropes)
        One set per row, positive. [N] or relative

    Returns
    -------
    ndarray, shape (...)
        Spread. [1]

    Examples
    --------
    >>> import numpy as np
    >>> float(off_mean(np.array([95.0, 100.0, 105.0])))
    0.05
    """
    mean = tensions.mean(axis=-1)
    return np.asarray(
        np.maximum(tensions.max(axis=-1) - mean, mean - tensions.min(axis=-1)) / mean
    )


def range_of_mean(tensions: Array) -> Array:
    """Difference of the highest and the lowest tension over the mean.

    Parameters
    ----------
    tensions : ndarray, shape (..., n_ropes)
        One set per row, positive. [N] or relative

    Returns
    -------
    ndarray, shape (...)
        Spread. [1]

    Examples
    --------
    >>> import numpy as np
    >>> float(range_of_mean(np.array([95.0, 100.0, 105.0])))
    0.1
    """
    return np.asarray(np.ptp(tensions, axis=-1) / tensions.mean(axis=-1))


_BY_METRIC = {
    Metric.BELOW_HIGHEST: below_highest,
    Metric.ABOVE_LOWEST: above_lowest,
    Metric.OFF_MEAN: off_mean,
    Metric.RANGE_OF_MEAN: range_of_mean,
}


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
    """
    return _BY_METRIC[metric](tensions)


def spread_from_log_range(log_range: float, metric: Metric) -> float:
    """Turn the logarithm of highest over lowest into a metric that depends on it alone.

    Parameters
    ----------
    log_range : float
        ln(highest / lowest). [1]
    metric : Metric
        Below-highest or above-lowest.

    Returns
    -------
    float
        Spread. [1]
    """
    if metric is Metric.BELOW_HIGHEST:
        return -expm1(-log_range)
    return inf if log_range > 700 else expm1(log_range)


def log_range_from_spread(spread: float, metric: Metric) -> float:
    """Turn below-highest or above-lowest into the logarithm of highest over lowest.

    Parameters
    ----------
    spread : float
        Spread, under 1 for below-highest. [1]
    metric : Metric
        Below-highest or above-lowest.

    Returns
    -------
    float
        ln(highest / lowest). [1]
    """
    if metric is Metric.BELOW_HIGHEST:
        return inf if spread >= 1 else -log(1 - spread)
    return log(1 + spread)
