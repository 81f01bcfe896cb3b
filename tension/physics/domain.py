"""Types and checks shared by the formulas: what a number must be before it is used."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tension.errors import InvalidValueError

FloatArray = NDArray[np.float64]
"""Result of a formula: an array, or a float64 scalar for scalar arguments."""


def _require(
    *, name: str, array: FloatArray, wrong: NDArray[np.bool_], allowed: str
) -> None:
    if np.any(wrong):
        first = float(array[wrong].flat[0]) if array.ndim else float(array)
        message = f"{name} must be {allowed}, got {first:g}; give a value in that range"
        raise InvalidValueError(message)


def require_positive(name: str, values: ArrayLike) -> FloatArray:
    """Return the values as float64, all of them above zero or not a number.

    The name with its unit is for the message; nan is let through and stays nan in the
    result, here and below.

    Raises
    ------
    InvalidValueError
        If a value is zero, negative or infinite.
    """
    array = np.asarray(values, dtype=np.float64)
    wrong = (array <= 0) | np.isinf(array)
    _require(name=name, array=array, wrong=wrong, allowed="above 0 and finite")
    return array


def require_not_negative(name: str, values: ArrayLike) -> FloatArray:
    """Return the values as float64, all of them zero, above zero or not a number.

    Raises
    ------
    InvalidValueError
        If a value is negative or infinite.
    """
    array = np.asarray(values, dtype=np.float64)
    wrong = (array < 0) | np.isinf(array)
    _require(name=name, array=array, wrong=wrong, allowed="0 or above and finite")
    return array


def require_finite(name: str, values: ArrayLike) -> FloatArray:
    """Return the values as float64, none of them infinite.

    Raises
    ------
    InvalidValueError
        If a value is infinite.
    """
    array = np.asarray(values, dtype=np.float64)
    _require(name=name, array=array, wrong=np.isinf(array), allowed="finite")
    return array


def require_mode_number(values: ArrayLike) -> FloatArray:
    """Return mode numbers [1] as float64, all of them whole and from 1 up.

    Raises
    ------
    InvalidValueError
        If one is below 1 or not whole.
    """
    array = np.asarray(values, dtype=np.float64)
    wrong = ~((array >= 1) & (array == np.floor(array)))
    _require(
        name="mode number", array=array, wrong=wrong, allowed="whole and from 1 up"
    )
    return array
