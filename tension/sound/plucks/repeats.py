"""Repeats: whether the rings given to one rope are of one pitch."""

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from tension.sound.plucks.portraits import STEP

Array = NDArray[np.float64]

FURTHEST = 0.16
"""Of the logarithm of frequency: neighbours differ by no more. [1]"""
CLEAR_PEAK = 0.45
"""Likeness at the best shift that shows the same comb. [1]"""
OVER_UNSHIFTED = 0.15
"""By which it must exceed the likeness unshifted. [1]"""
UNLIKE = 0.3
"""Likeness of rings of one rope in any noise is more. [1]"""
CROSSWISE = 0.55
"""Likeness of two rounds of one rope, mostly more. [1]"""
LEAST_SHIFT = 0.012
"""Of the logarithm of frequency: 2.4 % of tension, more than repeats differ by. [1]"""


def shift_between(one: Array, other: Array) -> float:
    """Find by how much one ring is higher than another.

    Parameters
    ----------
    one, other : ndarray, shape (n_log_frequencies,)
        Images of two rings, see `tension.sound.plucks.portraits.Portrait`.

    Returns
    -------
    float
        Logarithm of the ratio of frequencies, one over other; 0 unless a shift makes
        them clearly more alike.
    """
    reach = round(FURTHEST / STEP)
    table = np.correlate(np.pad(one, reach), other, mode="valid")
    best = int(np.argmax(table))
    shift = (best - reach) * STEP
    is_clear = table[best] > max(CLEAR_PEAK, float(table[reach]) + OVER_UNSHIFTED)
    return shift if is_clear and abs(shift) >= LEAST_SHIFT else 0.0


def is_apart(one: Array, other: Array) -> bool:
    """Tell two rings that are not of one pitch.

    Parameters
    ----------
    one, other : ndarray, shape (n_log_frequencies,)
        Images of two rings.

    Returns
    -------
    bool
        Whether a shift makes them clearly more alike, or they are not alike at all.
    """
    return shift_between(one, other) != 0.0 or float(one @ other) < UNLIKE


def mean_image(images: Sequence[Array]) -> Array:
    """Average the images of one round.

    Parameters
    ----------
    images : sequence of ndarray, shape (n_log_frequencies,)
        Of rings of one pitch.

    Returns
    -------
    ndarray, shape (n_log_frequencies,)
        Of length 1.
    """
    total: Array = np.sum(images, axis=0)
    size = float(np.sqrt(np.sum(total**2)))
    return total / size if size > 0.0 else total


def find_swaps(rounds: Mapping[int, tuple[Array, Array]]) -> list[tuple[int, int]]:
    """Find ropes whose numbers were changed over between two rounds.

    Parameters
    ----------
    rounds : mapping of int to tuple of ndarray
        By rope, images of its first and last round, for ropes whose rounds are apart.
    """
    return [
        (one, other)
        for one, other in combinations(sorted(rounds), 2)
        if all(
            float(a @ b) > CROSSWISE and not is_apart(a, b)
            for a, b in (
                (rounds[one][0], rounds[other][1]),
                (rounds[one][1], rounds[other][0]),
            )
        )
    ]
