"""Every choice of whole steps of the nuts, tried one after the other.

Imports nothing from the package.
"""

from itertools import product

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def spread_of(tensions: Array, metric: str) -> float:
    """Spread by the name of its metric."""
    high, low, mean = tensions.max(), tensions.min(), tensions.mean()
    return float(
        {
            "below-highest": (high - low) / high,
            "above-lowest": (high - low) / low,
            "off-mean": max(high - mean, mean - low) / mean,
            "range-of-mean": (high - low) / mean,
        }[metric]
    )


def tensions_after(tensions: Array, stiffnesses: Array, travels: Array) -> Array:
    """Tensions under a rigid hitch whose load stays, by solving for its height."""
    n = len(tensions)
    # unknowns: stretch added to each rope, height of the hitch
    a = np.zeros((n + 1, n + 1))
    b = np.zeros(n + 1)
    for i in range(n):
        a[i, i], a[i, n], b[i] = 1.0, 1.0, travels[i]
    a[n, :n] = stiffnesses
    stretch = np.linalg.solve(a, b)[:n]
    return tensions + stiffnesses * stretch


def smallest_spread(
    *,
    tensions: Array,
    stiffnesses: Array,
    step: float,
    lowest: list[int],
    highest: list[int],
    metric: str,
    keeps_sum: bool,
    touched: tuple[int, ...] | None = None,
) -> float:
    """Smallest spread of all allowed steps."""
    ranges = [
        range(lo, hi + 1) if touched is None or i in touched else range(1)
        for i, (lo, hi) in enumerate(zip(lowest, highest, strict=True))
    ]
    best = np.inf
    for steps in product(*ranges):
        if keeps_sum and sum(steps) != 0:
            continue
        after = tensions_after(tensions, stiffnesses, step * np.array(steps))
        if after.min() > 0:
            best = min(best, spread_of(after, metric))
    return float(best)
