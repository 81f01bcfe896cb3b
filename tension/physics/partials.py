"""Where the partials of a stiff string lie, and what shifts them besides tension.

Sockets are clamped, sheaves pinned. Socket and rod are a mass on a spring at the rope's
end; a mass may hang on the rope itself.
"""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics.domain import (
    FloatArray,
    require_mode_number,
    require_not_negative,
    require_positive,
)

_HALVINGS = 64


def unstiffened(frequencies: FloatArray, dispersion: FloatArray | float) -> FloatArray:
    """Frequencies at which waves of the same length would be without stiffness.

    Parameters
    ----------
    frequencies : ndarray, shape (...)
        Measured. [Hz]
    dispersion : ndarray, shape (...) or float
        4 pi^2 (EI/m) / c^4, with c the wave speed without stiffness. [s^2]

    Returns
    -------
    ndarray, shape (...)
        u with f = u sqrt(1 + dispersion u^2). [Hz]
    """
    root = np.sqrt(1.0 + 4.0 * dispersion * np.square(frequencies))
    result: FloatArray = frequencies * np.sqrt(2.0 / (1.0 + root))
    return result


def end_phase(
    unstiff: FloatArray, dispersion: FloatArray | float, n_clamped_ends: int
) -> FloatArray:
    """What clamped ends add to the mode number.

    Parameters
    ----------
    unstiff : ndarray, shape (...)
        From `unstiffened`. [Hz]
    dispersion : ndarray, shape (...) or float
        As there. [s^2]
    n_clamped_ends : int
        0, 1 or 2.

    Returns
    -------
    ndarray, shape (...)
        e/pi atan(k_2/k_1), 0 to 1/4 per clamped end. [1]

    Notes
    -----
    A string with wave numbers k_2 (travelling) and k_1 (evanescent), k_1^2 - k_2^2 =
    T/EI, clamped at one end and pinned at the other, has k_1 tan(k_2 L) = k_2 tanh(k_1
    L); with tanh = 1 (error below 1e-10 for L sqrt(T/EI) over 10) k_2 L = n pi +
    atan(k_2/k_1).
    """
    slope = np.sqrt(dispersion) * unstiff
    result: FloatArray = (
        n_clamped_ends / np.pi * np.arctan(slope / np.sqrt(1.0 + slope**2))
    )
    return result


def mode_positions(
    frequencies: FloatArray,
    string_fundamental: FloatArray | float,
    dispersion: FloatArray | float,
    n_clamped_ends: int,
) -> FloatArray:
    """Mode numbers, not rounded, at which frequencies lie.

    Parameters
    ----------
    frequencies : ndarray, shape (...)
        Measured. [Hz]
    string_fundamental : ndarray, shape (...) or float
        c/2L, wave speed without stiffness over twice the length. [Hz]
    dispersion : ndarray, shape (...) or float
        As in `unstiffened`. [s^2]
    n_clamped_ends : int
        0, 1 or 2.

    Returns
    -------
    ndarray, shape (...)
        Mode numbers. [1]
    """
    unstiff = unstiffened(frequencies, dispersion)
    result: FloatArray = unstiff / string_fundamental - end_phase(
        unstiff, dispersion, n_clamped_ends
    )
    return result


def mode_frequencies(
    modes: FloatArray,
    string_fundamental: FloatArray | float,
    dispersion: FloatArray | float,
    n_clamped_ends: int,
) -> FloatArray:
    """Frequencies of modes.

    Parameters
    ----------
    modes : ndarray, shape (...)
        Mode numbers. [1]
    string_fundamental : ndarray, shape (...) or float
        As in `mode_positions`. [Hz]
    dispersion : ndarray, shape (...) or float
        As in `unstiffened`. [s^2]
    n_clamped_ends : int
        0, 1 or 2.

    Returns
    -------
    ndarray, shape (...)
        Frequencies. [Hz]

    Notes
    -----
    Fixed point of u = f_0 (n + end phase); each round shrinks the error by the bending
    length over the length, under a twentieth.
    """
    unstiff = modes * string_fundamental
    for _ in range(5 if n_clamped_ends else 0):
        phase = end_phase(unstiff, dispersion, n_clamped_ends)
        unstiff = (modes + phase) * string_fundamental
    result: FloatArray = unstiff * np.sqrt(1.0 + dispersion * unstiff**2)
    return result


def rod_lateral_stiffness(
    *, tension: ArrayLike, rod_free: ArrayLike, flexural_rigidity: ArrayLike
) -> FloatArray:
    """Compute the lateral stiffness that a rod in tension gives the socket at its tip.

    Parameters
    ----------
    tension : array_like
        Tension in rope and rod. [N]
    rod_free : array_like
        Length of the rod that is free to swing. [m]
    flexural_rigidity : array_like
        Flexural rigidity of the rod; 0 for a rod that swivels in its hole. [N m2]

    Returns
    -------
    ndarray
        Lateral force at the tip over its deflection. [N/m]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    Cantilever under tension: T/(h - tanh(k h)/k), k = sqrt(T/EI). A swivelling rod is a
    pendulum, T/h; a stiff one gives 3 EI/h^3 + (6/5) T/h. The socket at the tip is
    taken to turn freely.

    Examples
    --------
    A rod of 0.25 m that swivels, under 5000 N:

    >>> float(rod_lateral_stiffness(tension=5000.0, rod_free=0.25,
    ...     flexural_rigidity=0.0))
    20000.0
    """
    pull = require_positive("tension [N]", tension)
    length = require_positive("free rod length [m]", rod_free)
    rigidity = require_not_negative("flexural rigidity [N m2]", flexural_rigidity)
    with np.errstate(divide="ignore"):
        x = length * np.sqrt(pull / rigidity)
    # 1 - tanh(x)/x loses digits for small x, where its series serves.
    series = x**2 / 3.0 * (1.0 - 0.4 * x**2 * (1.0 - 17.0 / 42.0 * x**2))
    with np.errstate(invalid="ignore"):
        fall = np.where(x > 0.03, 1.0 - np.tanh(x) / x, series)
    return (pull / (length * fall))[()]


def hitch_resonance_frequency(
    *, lateral_stiffness: ArrayLike, end_mass: ArrayLike
) -> FloatArray:
    """Compute the frequency at which socket and rod swing by themselves.

    Parameters
    ----------
    lateral_stiffness : array_like
        Lateral stiffness of the end. [N/m]
    end_mass : array_like
        Mass of socket and clips. [kg]

    Returns
    -------
    ndarray
        Resonance, sqrt(K/M)/(2 pi). [Hz]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.
    """
    stiffness = require_positive("lateral stiffness [N/m]", lateral_stiffness)
    mass = require_positive("mass of the end [kg]", end_mass)
    return (np.sqrt(stiffness / mass) / (2.0 * np.pi))[()]


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
    is_rising = mode % 2 == 0
    low, high = (mode - 1.0) * np.pi, mode * np.pi
    for _ in range(_HALVINGS):
        z = 0.5 * (low + high)
        mismatch = np.sin(z) - ratio * z * np.sin(place * z) * np.sin((1 - place) * z)
        below = np.where(is_rising, mismatch, -mismatch) < 0
        low, high = np.where(below, z, low), np.where(below, high, z)
    return (0.5 * (low + high) / (mode * np.pi))[()]
