"""What shifts a frequency besides tension: a mass fixed to the rope."""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics.domain import (
    FloatArray,
    require_mode_number,
    require_not_negative,
)

_HALVINGS = 64


def point_mass_frequency_ratio(
    *, mode_number: ArrayLike, mass_ratio: ArrayLike, position_ratio: ArrayLike
) -> FloatArray:
    """Compute how a mass fixed to the rope lowers a frequency, exact for a string.

    Parameters
    ----------
    mode_number : array_like
        Mode number, from 1 up. [1]
    mass_ratio : array_like
        Point mass over the mass of the free rope. [1]
    position_ratio : array_like
        Distance of the mass from an end over the free length, 0 to 1. [1]

    Returns
    -------
    ndarray
        Frequency with the mass over frequency without. [1]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    With z = w L/c, r the mass ratio and s the position ratio:
    sin z = r z sin(s z) sin((1 - s) z), one root in ((n - 1) pi, n pi] each.
    """
    mode = require_mode_number(mode_number)
    ratio = require_not_negative("mass ratio", mass_ratio)
    place = require_not_negative("position ratio", position_ratio)
    require_not_negative("position ratio counted from the far end", 1.0 - place)
    mode, ratio, place = np.broadcast_arrays(mode, ratio, place)
    sign = np.where(mode % 2 == 0, 1.0, -1.0)
    low, high = (mode - 1.0) * np.pi, mode * np.pi
    for _ in range(_HALVINGS):
        z = 0.5 * (low + high)
        mismatch = np.sin(z) - ratio * z * np.sin(place * z) * np.sin((1 - place) * z)
        below = sign * mismatch < 0
        low, high = np.where(below, z, low), np.where(below, high, z)
    return (0.5 * (low + high) / (mode * np.pi))[()]
