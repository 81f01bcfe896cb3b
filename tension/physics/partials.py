"""Where the partials of a stiff string lie, and what shifts them besides tension.

Sockets are clamped, sheaves pinned. Socket and rod are a mass on a spring at the rope's
end; a mass may hang on the rope itself.

A string is told by its string fundamental c/2L [Hz], c the wave speed without
stiffness, its dispersion 4 pi^2 (EI/m)/c^4 [s^2] and how many of its ends are clamped,
0 to 2. Arrays broadcast, shape (...).
"""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics import (
    FloatArray,
    require_mode_number,
    require_not_negative,
    require_positive,
)

_HALVINGS = 64  # of the interval: down to the last digit


def unstiffened(frequencies: FloatArray, dispersion: FloatArray | float) -> FloatArray:
    """Frequencies at which waves of the same length would be without stiffness [Hz].

    The u with f = u sqrt(1 + dispersion u^2), of the shape of the frequencies f [Hz].
    """
    root = np.sqrt(1.0 + 4.0 * dispersion * np.square(frequencies))
    return (frequencies * np.sqrt(2.0 / (1.0 + root)))[()]


def end_phase(
    unstiff: FloatArray, dispersion: FloatArray | float, n_clamped_ends: int
) -> FloatArray:
    """What clamped ends add to the mode number: e/pi atan(k_2/k_1), of 0 to 2 ends e.

    At frequencies from `unstiffened` [Hz]; 0 to 1/4 per clamped end. [1]

    Notes
    -----
    A string with wave numbers k_2 (travelling) and k_1 (evanescent), k_1^2 - k_2^2 =
    T/EI, clamped at one end and pinned at the other, has k_1 tan(k_2 L) = k_2 tanh(k_1
    L); with tanh = 1 (error below 1e-10 for L sqrt(T/EI) over 10) k_2 L = n pi +
    atan(k_2/k_1).
    """
    slope = np.sqrt(dispersion) * unstiff
    angle = np.arctan(slope / np.sqrt(1.0 + slope**2))
    return (n_clamped_ends / np.pi * angle)[()]


def mode_positions(
    frequencies: FloatArray,
    string_fundamental: FloatArray | float,
    dispersion: FloatArray | float,
    n_clamped_ends: int,
) -> FloatArray:
    """Mode numbers [1], not rounded, at which measured frequencies [Hz] lie."""
    unstiff = unstiffened(frequencies, dispersion)
    phase = end_phase(unstiff, dispersion, n_clamped_ends)
    return (unstiff / string_fundamental - phase)[()]


def mode_frequencies(
    modes: FloatArray,
    string_fundamental: FloatArray | float,
    dispersion: FloatArray | float,
    n_clamped_ends: int,
) -> FloatArray:
    """Frequencies [Hz] of modes, by their numbers [1]; the inverse of `mode_positions`.

    Fixed point of u = f_0 (n + end phase); each round shrinks the error by the bending
    length over the length, under a twentieth.
    """
    unstiff = modes * string_fundamental
    for _ in range(5 if n_clamped_ends else 0):
        phase = end_phase(unstiff, dispersion, n_clamped_ends)
        unstiff = (modes + phase) * string_fundamental
    return (unstiff * np.sqrt(1.0 + dispersion * unstiff**2))[()]


def rod_lateral_stiffness(
    *, tension: ArrayLike, rod_free: ArrayLike, flexural_rigidity: ArrayLike
) -> FloatArray:
    """Compute the lateral stiffness that a rod in tension gives the socket at its tip.

    Lateral force at the tip over its deflection [N/m], by the tension in rope and rod
    [N], the length of the rod that is free to swing [m] and its flexural rigidity, 0
    for a rod that swivels in its hole [N m2].

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
    """Compute the frequency sqrt(K/M)/(2 pi) [Hz] at which socket and rod swing alone.

    By the lateral stiffness of the end [N/m] and the mass of socket and clips [kg].

    Raises
    ------
    InvalidValueError
        If an argument is not above zero.
    """
    stiffness = require_positive("lateral stiffness [N/m]", lateral_stiffness)
    mass = require_positive("mass of the end [kg]", end_mass)
    return (np.sqrt(stiffness / mass) / (2.0 * np.pi))[()]


def point_mass_frequency_ratio(
    *, mode_number: ArrayLike, mass_ratio: ArrayLike, position_ratio: ArrayLike
) -> FloatArray:
    """Compute how a mass fixed to the rope lowers a frequency, exact for a string.

    Frequency with the mass over frequency without [1], by the mode number, from 1 up
    [1], the mass over that of the free rope [1] and its distance from an end over the
    free length, 0 to 1 [1].

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
