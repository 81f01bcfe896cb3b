"""A string that hangs under its own weight, exact by Bessel functions."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import j0, y0

STANDARD_GRAVITY = 9.80665

FloatArray = NDArray[np.float64]


def natural_frequency_with_own_weight(
    *,
    mode_number: ArrayLike,
    squared_wave_speed: float,
    free_length: float,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute a natural frequency of a vertical rope without stiffness, exact.

    Parameters
    ----------
    mode_number : array_like
        Mode number, from 1 up. [1]
    squared_wave_speed : float
        Tension over linear density at mid-length. [m2/s2]
    free_length : float
        Free length. [m]
    gravity : float
        Acceleration of free fall. [m/s2]

    Returns
    -------
    ndarray
        Natural frequencies, of the shape of the mode numbers. [Hz]

    Notes
    -----
    (T y')' + m w^2 y = 0 with T linear in x is Bessel's equation in
    z = (2 w/g) sqrt(T/m): J0(z_lower) Y0(z_upper) = J0(z_upper) Y0(z_lower).
    """
    modes = np.asarray(mode_number, dtype=float)
    length = float(np.asarray(free_length, dtype=float))
    half = 0.5 * float(np.asarray(gravity, dtype=float)) * length
    lower = float(np.asarray(squared_wave_speed - half, dtype=float))
    slow, fast = np.sqrt(lower), np.sqrt(lower + 2.0 * half)
    travel = 2.0 * length / (slow + fast)

    def mismatch(rate: float) -> float:
        down, up = 2.0 * rate * slow / gravity, 2.0 * rate * fast / gravity
        return float(j0(down) * y0(up) - j0(up) * y0(down))

    rates: list[float] = [
        brentq(
            mismatch,
            (mode - 0.5) * np.pi / travel,
            (mode + 0.5) * np.pi / travel,
            xtol=1e-14,
            rtol=1e-14,
        )
        for mode in modes.flat
    ]
    shaped = np.array(rates, dtype=np.float64).reshape(modes.shape)
    return (shaped / (2.0 * np.pi))[()]
