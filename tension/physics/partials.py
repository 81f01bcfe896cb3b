"""Places of the partials of a stiff string, sockets clamped, sheaves pinned."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def unstiffened(frequencies: Array, dispersion: Array | float) -> Array:
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
    result: Array = frequencies * np.sqrt(2.0 / (1.0 + root))
    return result


def end_phase(unstiff: Array, dispersion: Array | float, n_clamped_ends: int) -> Array:
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
    result: Array = n_clamped_ends / np.pi * np.arctan(slope / np.sqrt(1.0 + slope**2))
    return result


def places(
    frequencies: Array,
    spacing: Array | float,
    dispersion: Array | float,
    n_clamped_ends: int,
) -> Array:
    """Mode numbers, not rounded, at which frequencies lie.

    Parameters
    ----------
    frequencies : ndarray, shape (...)
        Measured. [Hz]
    spacing : ndarray, shape (...) or float
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
    result: Array = unstiff / spacing - end_phase(unstiff, dispersion, n_clamped_ends)
    return result


def mode_frequencies(
    modes: Array,
    spacing: Array | float,
    dispersion: Array | float,
    n_clamped_ends: int,
) -> Array:
    """Frequencies of modes.

    Parameters
    ----------
    modes : ndarray, shape (...)
        Mode numbers. [1]
    spacing : ndarray, shape (...) or float
        As in `places`. [Hz]
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
    unstiff = modes * spacing
    for _ in range(5 if n_clamped_ends else 0):
        phase = end_phase(unstiff, dispersion, n_clamped_ends)
        unstiff = (modes + phase) * spacing
    result: Array = unstiff * np.sqrt(1.0 + dispersion * unstiff**2)
    return result
