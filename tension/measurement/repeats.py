"""Repeated readings: their scatter, pooled over the set and widened for being few."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DECLARED_FREEDOM = 5.0
"""Degrees of freedom that the declared uncertainty of one reading counts for. [1]"""

_OUTLYING = 9.0
"""Variance ratio from which a rope's own scatter stands for it alone. [1]"""

_TWO_SIDED = 1.959964


def coverage_widening(degrees_of_freedom: float) -> float:
    """Ratio of Student's t to the normal quantile, two-sided 95 %.

    Parameters
    ----------
    degrees_of_freedom : float
        Of the estimated standard deviation, 3 or more. [1]

    Returns
    -------
    float
        By how much an estimated uncertainty is widened. [1]

    Notes
    -----
    Expansion of Cornish and Fisher to the third order; 0.4 % low at 4 degrees.
    """
    z, n = _TWO_SIDED, degrees_of_freedom
    quantile = (
        z
        + (z**3 + z) / (4 * n)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
    )
    return quantile / z


def uncertainty_of_means(
    logarithms: Sequence[Sequence[float]],
    declared: Sequence[float],
    *,
    declared_freedom: float = DECLARED_FREEDOM,
) -> Array:
    """Relative standard uncertainty of the mean of each rope's repeats.

    Parameters
    ----------
    logarithms : sequence of sequence of float
        Logarithms of the repeated tensions, rope by rope. [1]
    declared : sequence of float
        Declared relative uncertainty of one reading of each rope. [1]
    declared_freedom : float, optional
        Degrees of freedom that the declared uncertainty counts for. [1]

    Returns
    -------
    ndarray, shape (n_ropes,)
        Relative standard uncertainty of each mean. [1]

    Notes
    -----
    The scatter is pooled over the ropes and blended with the declared uncertainty,
    which counts for some degrees of freedom; the result is widened by Student's t. A
    reading that was not repeated shows no scatter and is widened all the more. A rope
    that scatters far more than the others stands for itself.
    """
    counts = np.array([len(one) for one in logarithms], dtype=float)
    wanted = np.asarray(declared, dtype=float)
    squares = np.array([float(np.var(one)) * len(one) for one in logarithms])
    freedom = counts - 1
    # in units of the declared variance of each rope, so that ropes can be pooled
    relative = squares / np.maximum(wanted, 1e-9) ** 2
    kept = _ordinary(relative, freedom, declared_freedom)
    result = np.empty(len(counts))
    for i in range(len(counts)):
        if kept[i]:
            pooled, degrees = _blend(
                relative[kept].sum(), freedom[kept].sum(), declared_freedom
            )
        else:
            pooled, degrees = relative[i] / freedom[i], max(freedom[i], 3.0)
        widening = coverage_widening(degrees)
        result[i] = wanted[i] * np.sqrt(pooled / counts[i]) * widening
    return result


def _blend(squares: float, freedom: float, declared: float) -> tuple[float, float]:
    """Variance in units of the declared one, and its degrees of freedom."""
    degrees = declared + freedom
    return float((declared + squares) / degrees), float(degrees)


def _ordinary(relative: Array, freedom: Array, declared: float) -> NDArray[np.bool_]:
    """Ropes whose scatter is like that of the others."""
    kept = np.ones(len(relative), dtype=bool)
    for i in range(len(relative)):
        others = np.arange(len(relative)) != i
        pooled, _ = _blend(relative[others].sum(), freedom[others].sum(), declared)
        kept[i] = freedom[i] == 0 or relative[i] / freedom[i] <= _OUTLYING * pooled
    return kept
