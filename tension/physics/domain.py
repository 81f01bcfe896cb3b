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
    """Return the values as an array, all of them above zero or not a number.

    Parameters
    ----------
    name : str
        Name of the quantity with its unit, for the message.
    values : array_like
        Values in SI units; nan is let through and stays nan in the result.

    Returns
    -------
    ndarray
        The values as float64.

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
    """Return the values as an array, all of them zero, above zero or not a number.

    Parameters
    ----------
    name : str
        Name of the quantity with its unit, for the message.
    values : array_like
        Values in SI units; nan is let through and stays nan in the result.

    Returns
    -------
    ndarray
        The values as float64.

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
    """Return the values as an array, none of them infinite.

    Parameters
    ----------
    name : str
        Name of the quantity with its unit, for the message.
    values : array_like
        Values in SI units; nan is let through and stays nan in the result.

    Returns
    -------
    ndarray
        The values as float64.

    Raises
    ------
    InvalidValueError
        If a value is infinite.
    """
    array = np.asarray(values, dtype=np.float64)
    _require(name=name, array=array, wrong=np.isinf(array), allowed="finite")
    return array


def require_mode_number(values: ArrayLike) -> FloatArray:
    """Return mode numbers as a float array, all of them whole and from 1 up.

    Parameters
    ----------
    values : array_like
        Mode numbers. [1]

    Returns
    -------
    ndarray
        The mode numbers as float64.

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
