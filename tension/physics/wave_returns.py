"""Tension from the time a blow takes to come back along the rope."""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics.domain import (
    FloatArray,
    require_not_negative,
    require_positive,
)
from tension.physics.own_weight import STANDARD_GRAVITY, travel_time
from tension.physics.taut_rope import EndCondition


def squared_wave_speed_from_returns(
    *,
    n_returns: ArrayLike,
    elapsed: ArrayLike,
    free_length: ArrayLike,
    rigidity_per_density: ArrayLike,
    ends: EndCondition,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute tension over linear density at mid-length from timed wave returns.

    Parameters
    ----------
    n_returns : array_like
        Full round trips counted: there and back is one. [1]
    elapsed : array_like
        Time of all of them. [s]
    free_length : array_like
        Free length. [m]
    rigidity_per_density : array_like
        Flexural rigidity over linear density; 0 if it is neglected. [m4/s2]
    ends : EndCondition
        How the ends are held.
    gravity : float
        Acceleration of free fall; 0 for a rope whose weight is neglected. [m/s2]

    Returns
    -------
    ndarray
        Tension over linear density at mid-length; nan if no tension explains the time.
        [m2/s2]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    A clamped end turns the main hump one bending length, sqrt(b)/c, in front of it, so
    c t/(2 n) = L - e sqrt(b)/c, a quadratic in c (e clamped ends). The mean speed v
    over a vertical rope and the squared speed at mid-length are tied by
    c_mid^2 = v^2 + (g L/2)^2/(4 v^2), exact. Valid for the slow main hump: bending
    sends a fast forerunner ahead of it, of group speed c (1 + 2 q)/sqrt(1 + q),
    q = b k^2/c^2 at wavenumber k. Relative uncertainty of the tension: twice that of
    the time.

    References
    ----------
    .. [1] Rural Utilities Service, U.S. Department of Agriculture, Bulletin 1726C-115
       (1998), sag by the return-wave method: the same relation, seen as sag.

    Examples
    --------
    Ten round trips of 2 x 20 m in 4 s: 100 m/s.

    >>> float(squared_wave_speed_from_returns(n_returns=10, elapsed=4.0,
    ...     free_length=20.0, rigidity_per_density=0.0,
    ...     ends=EndCondition.CLAMPED_PINNED, gravity=0.0))
    10000.0
    """
    count = require_positive("number of returns", n_returns)
    length = require_positive("free length [m]", free_length)
    one_way = require_positive("elapsed time [s]", elapsed) / (2.0 * count)
    rigidity = require_not_negative(
        "rigidity per density [m4/s2]", rigidity_per_density
    )
    discriminant = length**2 - 4.0 * ends.n_clamped * np.sqrt(rigidity) * one_way
    root = np.sqrt(np.where(discriminant >= 0, discriminant, np.nan))
    mean_speed = (length + root) / (2.0 * one_way)
    half = 0.5 * gravity * length
    return (mean_speed**2 + half**2 / (4.0 * mean_speed**2))[()]


def returns_time(
    *,
    n_returns: ArrayLike,
    squared_wave_speed: ArrayLike,
    free_length: ArrayLike,
    rigidity_per_density: ArrayLike,
    ends: EndCondition,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute the time of wave returns, the inverse of the function above.

    Parameters
    ----------
    n_returns : array_like
        Full round trips. [1]
    squared_wave_speed : array_like
        Tension over linear density at mid-length. [m2/s2]
    free_length : array_like
        Free length. [m]
    rigidity_per_density : array_like
        Flexural rigidity over linear density. [m4/s2]
    ends : EndCondition
        How the ends are held.
    gravity : float
        Acceleration of free fall. [m/s2]

    Returns
    -------
    ndarray
        Time of all round trips; nan if the lower end is slack. [s]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Examples
    --------
    Five round trips of 20 m at 100 m/s: 5 x 2 x 20/100 = 2 s.

    >>> from tension.physics.wavenumbers import EndCondition
    >>> time = returns_time(n_returns=5, squared_wave_speed=100.0**2, free_length=20.0,
    ...     rigidity_per_density=0.0, ends=EndCondition.PINNED_PINNED, gravity=0.0)
    >>> round(float(time), 6)
    2.0
    """
    count = require_positive("number of returns", n_returns)
    length = require_positive("free length [m]", free_length)
    rigidity = require_not_negative(
        "rigidity per density [m4/s2]", rigidity_per_density
    )
    once = travel_time(
        squared_wave_speed=squared_wave_speed, free_length=length, gravity=gravity
    )
    mean_speed = length / once
    shortened = length - ends.n_clamped * np.sqrt(rigidity) / mean_speed
    return (2.0 * count * shortened / mean_speed)[()]


def tension_from_returns(
    *,
    n_returns: ArrayLike,
    elapsed: ArrayLike,
    free_length: ArrayLike,
    linear_density: ArrayLike,
    flexural_rigidity: ArrayLike,
    ends: EndCondition,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute the tension at mid-length from timed wave returns.

    Parameters
    ----------
    n_returns : array_like
        Full round trips counted: there and back is one. [1]
    elapsed : array_like
        Time of all of them. [s]
    free_length : array_like
        Free length. [m]
    linear_density : array_like
        Mass per unit length. [kg/m]
    flexural_rigidity : array_like
        Flexural rigidity; 0 if it is neglected. [N m2]
    ends : EndCondition
        How the ends are held.
    gravity : float
        Acceleration of free fall; 0 for a rope whose weight is neglected. [m/s2]

    Returns
    -------
    ndarray
        Tension at mid-length. [N]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Examples
    --------
    Five round trips of 20 m in 2 s: 100 m/s, so 0.5 x 100^2 = 5000 N.

    >>> from tension.physics.wavenumbers import EndCondition
    >>> found = tension_from_returns(n_returns=5, elapsed=2.0, free_length=20.0,
    ...     linear_density=0.5, flexural_rigidity=0.0, ends=EndCondition.PINNED_PINNED,
    ...     gravity=0.0)
    >>> round(float(found), 3)
    5000.0
    """
    density = require_positive("linear density [kg/m]", linear_density)
    return density * squared_wave_speed_from_returns(
        n_returns=n_returns,
        elapsed=elapsed,
        free_length=free_length,
        rigidity_per_density=np.asarray(flexural_rigidity) / density,
        ends=ends,
        gravity=gravity,
    )
