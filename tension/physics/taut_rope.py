"""Frequencies of a taut rope with bending stiffness and the tension behind them.

Squared wave speed, T/m [m2/s2], and rigidity per density, EI/m [m4/s2], are the natural
variables: shares of a set need no linear density. Nothing is approximated.
All functions broadcast over arrays.
"""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics.domain import (
    FloatArray,
    require_finite,
    require_mode_number,
    require_not_negative,
    require_positive,
)
from tension.physics.wavenumbers import (
    EndCondition,
    wavenumber_from_frequency,
    wavenumber_from_tension,
)

__all__ = [
    "EndCondition",
    "natural_frequency",
    "natural_frequency_from_tension",
    "squared_wave_speed_from_frequency",
    "tension_from_frequency",
]


def natural_frequency(
    *,
    mode_number: ArrayLike,
    squared_wave_speed: ArrayLike,
    free_length: ArrayLike,
    rigidity_per_density: ArrayLike,
    ends: EndCondition,
) -> FloatArray:
    """Compute a natural frequency of a taut rope with bending stiffness.

    Parameters
    ----------
    mode_number : array_like
        Mode number, from 1 up. [1]
    squared_wave_speed : array_like
        Tension over linear density. [m2/s2] A rope has none below zero; a bar in
        compression has.
    free_length : array_like
        Free length. [m]
    rigidity_per_density : array_like
        Flexural rigidity over linear density; 0 is the ideal string. [m4/s2]
    ends : EndCondition
        How the ends are held.

    Returns
    -------
    ndarray
        Natural frequency, of the broadcast shape; nan for a bar beyond buckling. [Hz]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    m y_tt = T y_xx - EI y_xxxx has the frequency f = k2 sqrt(c2 + b k2^2/L^2)/(2 pi L),
    where c2 = T/m, b = EI/m and k2 solves the characteristic equation of the ends:
    sin k2 = 0 (pinned), k1 tan k2 = k2 tanh k1 (clamped-pinned), and for two clamped
    ends k2 tan(k2/2) = -k1 tanh(k1/2) (n odd), k1 tan(k2/2) = k2 tanh(k1/2) (n even),
    with k1^2 - k2^2 = c2 L^2/b. Solved without approximation. Neglected: rotary inertia
    and shear, own weight, amplitude.

    References
    ----------
    .. [1] J. Bono, "Straw natural frequency" (Mu2e straw tubes), StrawFrequency.tex:
       characteristic equation of the clamped stiff string in its two factors.
    .. [2] R. Beausoleil, classical-guitar, model.tex (source of a paper in J. Acoust.
       Soc. Am.): clamped-pinned characteristic equation.

    Examples
    --------
    100 m/s over 5 m without stiffness: one return takes 0.1 s.

    >>> float(natural_frequency(mode_number=1, squared_wave_speed=1e4, free_length=5.0,
    ...     rigidity_per_density=0.0, ends=EndCondition.CLAMPED_PINNED))
    10.0
    """
    length = require_positive("free length [m]", free_length)
    rigidity = require_not_negative(
        "rigidity per density [m4/s2]", rigidity_per_density
    )
    speed = require_finite("squared wave speed [m2/s2]", squared_wave_speed)
    wavenumber = wavenumber_from_tension(
        mode_number=require_mode_number(mode_number),
        squared_wave_speed=speed,
        free_length=length,
        rigidity_per_density=rigidity,
        ends=ends,
    )
    squared = speed + rigidity * (wavenumber / length) ** 2
    root = np.sqrt(np.where(squared >= 0, squared, np.nan))
    return (wavenumber * root / (2.0 * np.pi * length))[()]


def squared_wave_speed_from_frequency(
    *,
    frequency: ArrayLike,
    mode_number: ArrayLike,
    free_length: ArrayLike,
    rigidity_per_density: ArrayLike,
    ends: EndCondition,
) -> FloatArray:
    """Compute tension over linear density from a measured frequency.

    Parameters
    ----------
    frequency : array_like
        Frequency of the partial. [Hz]
    mode_number : array_like
        Mode number of the partial, from 1 up. [1]
    free_length : array_like
        Free length. [m]
    rigidity_per_density : array_like
        Flexural rigidity over linear density; 0 is the ideal string. [m4/s2]
    ends : EndCondition
        How the ends are held.

    Returns
    -------
    ndarray
        Squared wave speed, of the broadcast shape. [m2/s2] It is nan where the
        frequency is not above that of the slack span: so stiff a rope would be in
        compression, and a rope cannot be.

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    The frequency fixes k1 k2 = Om = 2 pi f L^2/sqrt(b), so k2 alone is unknown:
    k2 = n pi + e atan((k2^2/Om) h), e the number of clamped ends and h a hyperbolic
    tangent (or its inverse) that is 1 up to terms exp(-k1). It is kept, so the result
    is exact at every stiffness. Then c2 = (2 pi f L/k2)^2 - b (k2/L)^2.

    Examples
    --------
    >>> float(squared_wave_speed_from_frequency(frequency=10.0, mode_number=1,
    ...     free_length=5.0, rigidity_per_density=0.0,
    ...     ends=EndCondition.CLAMPED_PINNED))
    10000.0
    """
    length = require_positive("free length [m]", free_length)
    rigidity = require_not_negative(
        "rigidity per density [m4/s2]", rigidity_per_density
    )
    measured = require_positive("frequency [Hz]", frequency)
    wavenumber = wavenumber_from_frequency(
        mode_number=require_mode_number(mode_number),
        frequency=measured,
        free_length=length,
        rigidity_per_density=rigidity,
        ends=ends,
    )
    apparent = (2.0 * np.pi * measured * length / wavenumber) ** 2
    return (apparent - rigidity * (wavenumber / length) ** 2)[()]


def natural_frequency_from_tension(
    *,
    mode_number: ArrayLike,
    tension: ArrayLike,
    linear_density: ArrayLike,
    free_length: ArrayLike,
    flexural_rigidity: ArrayLike,
    ends: EndCondition,
) -> FloatArray:
    """Compute a natural frequency from tension and linear density.

    Parameters
    ----------
    mode_number : array_like
        Mode number, from 1 up. [1]
    tension : array_like
        Tension at mid-length; below zero for a bar in compression. [N]
    linear_density : array_like
        Mass per unit length. [kg/m]
    free_length : array_like
        Free length. [m]
    flexural_rigidity : array_like
        Flexural rigidity; 0 is the ideal string. [N m2]
    ends : EndCondition
        How the ends are held.

    Returns
    -------
    ndarray
        Natural frequency, of the broadcast shape; nan for a bar beyond buckling. [Hz]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Examples
    --------
    >>> float(natural_frequency_from_tension(mode_number=2, tension=5000.0,
    ...     linear_density=0.5, free_length=5.0, flexural_rigidity=0.0,
    ...     ends=EndCondition.CLAMPED_PINNED))
    20.0
    """
    density = require_positive("linear density [kg/m]", linear_density)
    return natural_frequency(
        mode_number=mode_number,
        squared_wave_speed=np.asarray(tension) / density,
        free_length=free_length,
        rigidity_per_density=np.asarray(flexural_rigidity) / density,
        ends=ends,
    )


def tension_from_frequency(
    *,
    frequency: ArrayLike,
    mode_number: ArrayLike,
    linear_density: ArrayLike,
    free_length: ArrayLike,
    flexural_rigidity: ArrayLike,
    ends: EndCondition,
) -> FloatArray:
    """Compute the tension at mid-length from a measured frequency.

    Parameters
    ----------
    frequency : array_like
        Frequency of the partial. [Hz]
    mode_number : array_like
        Mode number of the partial, from 1 up. [1]
    linear_density : array_like
        Mass per unit length. [kg/m]
    free_length : array_like
        Free length. [m]
    flexural_rigidity : array_like
        Flexural rigidity; 0 is the ideal string. [N m2]
    ends : EndCondition
        How the ends are held.

    Returns
    -------
    ndarray
        Tension at mid-length, of the broadcast shape; nan where the frequency is not
        above that of the same span without tension. [N]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Examples
    --------
    >>> float(tension_from_frequency(frequency=20.0, mode_number=2, linear_density=0.5,
    ...     free_length=5.0, flexural_rigidity=0.0, ends=EndCondition.CLAMPED_PINNED))
    5000.0
    """
    density = require_positive("linear density [kg/m]", linear_density)
    squared_wave_speed = squared_wave_speed_from_frequency(
        frequency=frequency,
        mode_number=mode_number,
        free_length=free_length,
        rigidity_per_density=np.asarray(flexural_rigidity) / density,
        ends=ends,
    )
    return density * squared_wave_speed
