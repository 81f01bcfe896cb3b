"""Physics: mechanics of taut ropes on plain floats and arrays, SI.

Here what the formulas share: a type, and checks of what a number must be before it is
used. The name with its unit is for the message. What is not a number is let through and
stays so in the result.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tension.errors import InvalidValueError

FloatArray = NDArray[np.float64]
"""Result of a formula: an array, or a float64 scalar for scalar arguments."""


def _require(
    name: str, array: FloatArray, wrong: NDArray[np.bool_], allowed: str
) -> FloatArray:
    if np.any(wrong):
        first = array[wrong].flat[0] if array.ndim else array
        message = f"{name} must be {allowed}, got {first:g}; give a value in that range"
        raise InvalidValueError(message)
    return array


def require_positive(name: str, values: ArrayLike) -> FloatArray:
    """Give float64 above zero and finite; else raise an `InvalidValueError`."""
    array = np.asarray(values, dtype=np.float64)
    return _require(name, array, (array <= 0) | np.isinf(array), "above 0 and finite")


def require_not_negative(name: str, values: ArrayLike) -> FloatArray:
    """Give float64 from zero up and finite; else raise an `InvalidValueError`."""
    array = np.asarray(values, dtype=np.float64)
    wrong = (array < 0) | np.isinf(array)
    return _require(name, array, wrong, "0 or above and finite")


def require_finite(name: str, values: ArrayLike) -> FloatArray:
    """Give float64, none infinite; else raise an `InvalidValueError`."""
    array = np.asarray(values, dtype=np.float64)
    return _require(name, array, np.isinf(array), "finite")


def require_mode_number(values: ArrayLike) -> FloatArray:
    """Give whole float64 [1] from 1 up; else raise an `InvalidValueError`."""
    array = np.asarray(values, dtype=np.float64)
    wrong = ~((array >= 1) & (array == np.floor(array)))
    return _require("mode number", array, wrong, "whole and from 1 up")
