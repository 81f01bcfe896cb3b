"""Own weight of a vertical rope: tension at the hitch from tension elsewhere, and back.

Tension grows upward by m g per metre; divided by the linear density, the squared wave
speed grows by g per metre, whatever the rope. So shares need no linear density here.
"""

import numpy as np
from numpy.typing import ArrayLike

from tension.installation import HitchEnd
from tension.physics.domain import (
    FloatArray,
    require_finite,
    require_mode_number,
    require_not_negative,
    require_positive,
)

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall. [m/s2]"""


def _to_hitch(hitch_end: HitchEnd) -> float:
    # Going to a lower hitch loses weight, going to an upper one gains it.
    return -1.0 if hitch_end is HitchEnd.LOWER else 1.0


def hitch_squared_wave_speed(
    *,
    squared_wave_speed: ArrayLike,
    distance: ArrayLike,
    hitch_end: HitchEnd,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute tension over linear density at the hitch from that at a distance of it.

    A frequency or a wave return tells the tension at mid-length: the distance is half
    the free length. A side pull tells it at the pulled point, to first order.

    Parameters
    ----------
    squared_wave_speed : array_like
        Tension over linear density at the distance. [m2/s2]
    distance : array_like
        Distance along the rope from the hitch. [m]
    hitch_end : HitchEnd
        Whether the hitch is at the lower or at the upper end.
    gravity : float
        Acceleration of free fall. [m/s2]

    Returns
    -------
    ndarray
        Tension over linear density at the hitch; may be below zero if the rope is
        lighter loaded than it weighs. [m2/s2]

    Raises
    ------
    InvalidValueError
        If a distance is below zero.

    Examples
    --------
    >>> float(hitch_squared_wave_speed(squared_wave_speed=1000.0, distance=2.0,
    ...     hitch_end=HitchEnd.LOWER, gravity=10.0))
    980.0
    """
    away = require_not_negative("distance from the hitch [m]", distance)
    speed = require_finite("squared wave speed [m2/s2]", squared_wave_speed)
    return (speed + _to_hitch(hitch_end) * gravity * away)[()]


def squared_wave_speed_from_hitch(
    *,
    squared_wave_speed: ArrayLike,
    distance: ArrayLike,
    hitch_end: HitchEnd,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute tension over linear density at a distance of the hitch from that at it.

    Parameters
    ----------
    squared_wave_speed : array_like
        Tension over linear density at the hitch. [m2/s2]
    distance : array_like
        Distance along the rope from the hitch. [m]
    hitch_end : HitchEnd
        Whether the hitch is at the lower or at the upper end.
    gravity : float
        Acceleration of free fall. [m/s2]

    Returns
    -------
    ndarray
        Tension over linear density at the distance. [m2/s2]

    Raises
    ------
    InvalidValueError
        If a distance is below zero.
    """
    away = require_not_negative("distance from the hitch [m]", distance)
    speed = require_finite("squared wave speed [m2/s2]", squared_wave_speed)
    return (speed - _to_hitch(hitch_end) * gravity * away)[()]


def hitch_tension(
    *,
    tension: ArrayLike,
    linear_density: ArrayLike,
    distance: ArrayLike,
    hitch_end: HitchEnd,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute the tension at the hitch from the tension at a distance of it.

    Parameters
    ----------
    tension : array_like
        Tension at the distance; at mid-length for a frequency. [N]
    linear_density : array_like
        Mass per unit length. [kg/m]
    distance : array_like
        Distance along the rope from the hitch. [m]
    hitch_end : HitchEnd
        Whether the hitch is at the lower or at the upper end.
    gravity : float
        Acceleration of free fall. [m/s2]

    Returns
    -------
    ndarray
        Tension at the hitch. [N]

    Raises
    ------
    InvalidValueError
        If a linear density is not above zero or a distance is below zero.

    Examples
    --------
    A 10 m span of 0.5 kg/m weighs 50 N; half of it hangs below the middle.

    >>> float(hitch_tension(tension=3000.0, linear_density=0.5, distance=5.0,
    ...     hitch_end=HitchEnd.LOWER, gravity=10.0))
    2975.0
    """
    density = require_positive("linear density [kg/m]", linear_density)
    return density * hitch_squared_wave_speed(
        squared_wave_speed=np.asarray(tension) / density,
        distance=distance,
        hitch_end=hitch_end,
        gravity=gravity,
    )


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

    Parameters
    ----------
    squared_wave_speed : array_like
        Tension over linear density at mid-length. [m2/s2]
    mode_number : array_like
        Mode number, from 1 up. [1]
    free_length : array_like
        Free length. [m]
    gravity : float
        Acceleration of free fall. [m/s2]

    Returns
    -------
    ndarray
        Tension over linear density of the rope without weight that sounds alike.
        [m2/s2]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    c_eff^2 = c_mid^2 (1 - (1/4)(1 + 1/(n pi)^2) eps^2), eps = g L/(2 c_mid^2). The
    first order vanishes, because the weight is odd about the middle; the neglected
    term is of
    order eps^4, 6e-8 of the tension for 50 m of 0.5 kg/m at 4 kN. Derived by
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

    Parameters
    ----------
    squared_wave_speed : array_like
        Tension over linear density of the rope without weight that sounds alike.
        [m2/s2]
    mode_number : array_like
        Mode number, from 1 up. [1]
    free_length : array_like
        Free length. [m]
    gravity : float
        Acceleration of free fall. [m/s2]

    Returns
    -------
    ndarray
        Tension over linear density at mid-length: the exact inverse of
        `effective_squared_wave_speed`. [m2/s2]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.
    """
    speed = require_positive("squared wave speed [m2/s2]", squared_wave_speed)
    lost = _second_order(mode_number, free_length, gravity)
    return (0.5 * (speed + np.sqrt(speed**2 + 4.0 * lost)))[()]


def travel_time(
    *,
    squared_wave_speed: ArrayLike,
    free_length: ArrayLike,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute the time a wave takes once along a vertical rope, exact.

    Parameters
    ----------
    squared_wave_speed : array_like
        Tension over linear density at mid-length. [m2/s2]
    free_length : array_like
        Length travelled. [m]
    gravity : float
        Acceleration of free fall. [m/s2]

    Returns
    -------
    ndarray
        Time; nan if the lower end is slack. [s]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    The integral of dx/c(x) with c^2 linear in x is 2 L/(c_lower + c_upper), the stable
    form of 2 (sqrt(T_upper) - sqrt(T_lower))/(g sqrt(m)).
    """
    length = require_positive("free length [m]", free_length)
    speed = require_positive("squared wave speed [m2/s2]", squared_wave_speed)
    half = 0.5 * gravity * length
    lower = np.sqrt(np.where(speed >= half, speed - half, np.nan))
    once: FloatArray = 2.0 * length / (lower + np.sqrt(speed + half))
    return once[()]
