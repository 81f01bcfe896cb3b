"""Own weight of a vertical rope: tension at the hitch from elsewhere, waves along it.

Tension grows upward by m g per metre; divided by the linear density, the squared wave
speed grows by g per metre, whatever the rope. So shares need no linear density here.
"""

import numpy as np
from numpy.typing import ArrayLike

from tension.installation import HitchEnd
from tension.physics import (
    FloatArray,
    require_mode_number,
    require_not_negative,
    require_positive,
)
from tension.physics.taut_rope import EndCondition

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall. [m/s2]"""


def weight_to_hitch(
    *,
    distance: ArrayLike,
    hitch_end: HitchEnd,
    linear_density: ArrayLike = 1.0,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute what own weight adds to the tension on the way to the hitch [N].

    Tension at the hitch less that at a distance from it [m]; below zero for a lower
    hitch. A frequency or a wave return tells the tension at mid-length: the distance is
    half the free length. A side pull tells it at the pulled point, to first order.
    Where the linear density [kg/m] is left at 1, the result is added to tension over
    density.

    Raises
    ------
    InvalidValueError
        If a linear density is not above zero or a distance is below zero.

    Examples
    --------
    A 10 m span of 0.5 kg/m weighs 50 N; half of it hangs below the middle.

    >>> float(weight_to_hitch(distance=5.0, hitch_end=HitchEnd.LOWER,
    ...     linear_density=0.5, gravity=10.0))
    -25.0
    """
    away = require_not_negative("distance from the hitch [m]", distance)
    density = require_positive("linear density [kg/m]", linear_density)
    sign = -1.0 if hitch_end is HitchEnd.LOWER else 1.0
    return (sign * density * gravity * away)[()]


def _second_order(
    mode_number: ArrayLike, free_length: ArrayLike, gravity: float
) -> FloatArray:
    # (1/4)(1 + 1/(n pi)^2)(g L/2)^2: loss of squared speed times squared speed
    mode = require_mode_number(mode_number)
    length = require_positive("free length [m]", free_length)
    half = 0.5 * gravity * length
    return 0.25 * (1.0 + 1.0 / (mode * np.pi) ** 2) * half**2


def effective_squared_wave_speed(
    *,
    squared_wave_speed: ArrayLike,
    mode_number: ArrayLike,
    free_length: ArrayLike,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute what a frequency shows, from tension over linear density at mid-length.

    Both are squared wave speeds [m2/s2], the result that of the rope without weight
    that sounds alike at this mode number, from 1 up [1], and free length [m].

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    c_eff^2 = c_mid^2 (1 - (1/4)(1 + 1/(n pi)^2) eps^2), eps = g L/(2 c_mid^2). The
    first order vanishes, because the weight is odd about the middle; the neglected term
    is of order eps^4, 6e-8 of the tension for 50 m of 0.5 kg/m at 4 kN. Derived by
    second-order perturbation; held against Bessel functions.
    """
    speed = require_positive("squared wave speed [m2/s2]", squared_wave_speed)
    return (speed - _second_order(mode_number, free_length, gravity) / speed)[()]


def mid_length_squared_wave_speed(
    *,
    squared_wave_speed: ArrayLike,
    mode_number: ArrayLike,
    free_length: ArrayLike,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute tension over linear density at mid-length from what a frequency shows.

    The exact inverse of `effective_squared_wave_speed`, with the same units: squared
    wave speeds [m2/s2], free length [m].

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named there.
    """
    speed = require_positive("squared wave speed [m2/s2]", squared_wave_speed)
    lost = _second_order(mode_number, free_length, gravity)
    return (0.5 * (speed + np.sqrt(speed**2 + 4.0 * lost)))[()]


def tension_from_returns(
    *,
    return_time: ArrayLike,
    free_length: ArrayLike,
    flexural_rigidity: ArrayLike,
    ends: EndCondition,
    linear_density: ArrayLike = 1.0,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute the tension at mid-length from timed wave returns.

    Parameters
    ----------
    return_time : array_like
        Time of one round trip, there and back: time of all over their number. [s]
    free_length : array_like
        Free length. [m]
    flexural_rigidity : array_like
        Flexural rigidity; 0 if it is neglected. [N m2]
    ends : EndCondition
        How the ends are held.
    linear_density : array_like
        Mass per unit length; where it is left at 1, tension and rigidity are those over
        density. [kg/m]
    gravity : float
        Acceleration of free fall; 0 for a rope whose weight is neglected. [m/s2]

    Returns
    -------
    ndarray
        Tension at mid-length; nan if no tension explains the time. [N]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    A clamped end turns the main hump one bending length, sqrt(b)/c, b = EI/m, in front
    of it, so c t/2 = L - e sqrt(b)/c, a quadratic in c (e clamped ends). The mean speed
    v over a vertical rope and the squared speed at mid-length are tied by
    c_mid^2 = v^2 + (g L/2)^2/(4 v^2), exact, and T = m c_mid^2. Valid for the slow main
    hump: bending sends a fast forerunner ahead of it, of group speed
    c (1 + 2 q)/sqrt(1 + q), q = b k^2/c^2 at wavenumber k. Relative uncertainty of the
    tension: twice that of the time.

    References
    ----------
    .. [1] Rural Utilities Service, U.S. Department of Agriculture, Bulletin 1726C-115
       (1998), sag by the return-wave method: the same relation, seen as sag.

    Examples
    --------
    Five round trips of 2 x 20 m in 2 s: 100 m/s, so 0.5 x 100^2 = 5000 N.

    >>> found = tension_from_returns(return_time=2.0 / 5, free_length=20.0,
    ...     linear_density=0.5, flexural_rigidity=0.0, ends=EndCondition.PINNED_PINNED,
    ...     gravity=0.0)
    >>> round(float(found), 3)
    5000.0
    """
    density = require_positive("linear density [kg/m]", linear_density)
    length = require_positive("free length [m]", free_length)
    one_way = require_positive("time of one return [s]", return_time) / 2.0
    bending = require_not_negative("flexural rigidity [N m2]", flexural_rigidity)
    root_rigidity = np.sqrt(bending / density)
    discriminant = length**2 - 4.0 * ends.n_clamped * root_rigidity * one_way
    root = np.sqrt(np.where(discriminant >= 0, discriminant, np.nan))
    mean_speed = (length + root) / (2.0 * one_way)
    half = 0.5 * gravity * length
    return (density * (mean_speed**2 + half**2 / (4.0 * mean_speed**2)))[()]
