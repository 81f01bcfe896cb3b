"""The hitch end swings: socket and rod are a mass on a spring at the end of the rope.

It lowers the modes below its own resonance, raises those above, and adds one line that
is no partial of the rope, so that counting partials shifts by one above it. The rope is
clamped in the swinging socket and pinned at the other end, as at a sheave.
"""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics.domain import (
    FloatArray,
    require_mode_number,
    require_not_negative,
    require_positive,
)
from tension.physics.wavenumbers import EndCondition, wavenumber_from_tension

_HALVINGS = 64


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


def _fixed_wavenumber(mode: FloatArray, bending: FloatArray) -> FloatArray:
    # Of the rope on a fixed hitch, in units of the free length; 0 for mode 0.
    found = wavenumber_from_tension(
        mode_number=np.maximum(mode, 1.0),
        squared_wave_speed=np.ones(()),
        free_length=np.ones(()),
        rigidity_per_density=bending**2,
        ends=EndCondition.CLAMPED_PINNED,
    )
    return np.where(mode < 1, 0.0, found)


def _rate(wavenumber: FloatArray, bending: FloatArray) -> FloatArray:
    # z = w L/c of a wavenumber.
    return wavenumber * np.sqrt(1.0 + (bending * wavenumber) ** 2)


def _clamp_tangent(wavenumber: FloatArray, bending: FloatArray) -> FloatArray:
    # (k2/k1) tanh k1, what tan k2 is on a fixed hitch.
    slant = bending * wavenumber / np.sqrt(1.0 + (bending * wavenumber) ** 2)
    with np.errstate(divide="ignore"):
        evanescent = np.sqrt(1.0 / bending**2 + wavenumber**2)
    return slant * np.tanh(evanescent)


def _line(
    *,
    line: FloatArray,
    stiffness_ratio: FloatArray,
    mass_ratio: FloatArray,
    bending: FloatArray,
) -> FloatArray:
    # One root between two neighbouring modes of the rope on a fixed hitch, falling.
    low, high = _fixed_wavenumber(line - 1, bending), _fixed_wavenumber(line, bending)
    for _ in range(_HALVINGS):
        k2 = 0.5 * (low + high)
        with np.errstate(divide="ignore"):
            rope = k2 * (1.0 + 2.0 * (bending * k2) ** 2)
            rope = rope / (np.tan(k2) - _clamp_tangent(k2, bending))
        below = rope + stiffness_ratio - mass_ratio * _rate(k2, bending) ** 2 > 0
        low, high = np.where(below, k2, low), np.where(below, high, k2)
    return _rate(0.5 * (low + high), bending)


def _own_line(kappa: FloatArray, mu: FloatArray, bending: FloatArray) -> FloatArray:
    # Number of the interval that holds the resonance; infinite without mass.
    with np.errstate(divide="ignore"):
        rate = np.sqrt(kappa / mu)
    finite = np.minimum(rate, 1e9)
    k2 = finite * np.sqrt(2.0 / (1.0 + np.sqrt(1.0 + 4.0 * (bending * finite) ** 2)))
    phase = k2 - np.arctan(_clamp_tangent(k2, bending))
    return np.where(np.isinf(rate), np.inf, np.maximum(np.ceil(phase / np.pi), 1.0))


def hitch_end_frequency_ratio(
    *,
    mode_number: ArrayLike,
    stiffness_ratio: ArrayLike,
    mass_ratio: ArrayLike,
    bending_ratio: ArrayLike = 0.0,
) -> FloatArray:
    """Compute how a swinging hitch end shifts a mode of the rope, exact.

    Parameters
    ----------
    mode_number : array_like
        Mode number of the rope, the line of the end itself not counted. [1]
    stiffness_ratio : array_like
        Lateral stiffness of the end times free length over tension. [1]
    mass_ratio : array_like
        Mass of the end over mass of the free rope; 0 leaves a spring. [1]
    bending_ratio : array_like
        Bending length over free length; 0 is a string. [1]

    Returns
    -------
    ndarray
        Frequency over that with a fixed end: below 1 for modes under the resonance of
        the end, above 1 for those over it. [1]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    String: T k cot(k L) = -(K - M w^2); with z = k L, kappa = K L/T, mu = M/(m L) it is
    z cot z = -(kappa - mu z^2). Stiff, slope held by the socket and pinned at the other
    end: k2 (1 + 2 s^2 k2^2)/(tan k2 - (k2/k1) tanh k1) = -(kappa - mu z^2), with s the
    bending ratio and z = k2 sqrt(1 + s^2 k2^2). One root lies between each two modes of
    the rope on a fixed hitch. The resonance of the end is at z = sqrt(kappa/mu); the
    root in the interval that holds it is the line of the end, `hitch_end_line_ratio`,
    and mode numbers count past it. The nearer a mode is to the resonance, the less that
    naming means: weigh such partials little. Derived; no published source was found.
    """
    mode = require_mode_number(mode_number)
    kappa = require_positive("stiffness ratio", stiffness_ratio)
    mu = require_not_negative("mass ratio", mass_ratio)
    bending = require_not_negative("bending ratio", bending_ratio)
    mode, kappa, mu, bending = np.broadcast_arrays(mode, kappa, mu, bending)
    line = np.where(mode < _own_line(kappa, mu, bending), mode, mode + 1.0)
    root = _line(line=line, stiffness_ratio=kappa, mass_ratio=mu, bending=bending)
    return (root / _rate(_fixed_wavenumber(mode, bending), bending))[()]


def hitch_end_line_ratio(
    *,
    stiffness_ratio: ArrayLike,
    mass_ratio: ArrayLike,
    bending_ratio: ArrayLike = 0.0,
) -> FloatArray:
    """Compute where the extra line of a swinging hitch end stands.

    Parameters
    ----------
    stiffness_ratio : array_like
        Lateral stiffness of the end times free length over tension. [1]
    mass_ratio : array_like
        Mass of the end over mass of the free rope. [1]
    bending_ratio : array_like
        Bending length over free length; 0 is a string. [1]

    Returns
    -------
    ndarray
        Frequency of the extra line over the fundamental of the rope on a fixed end. [1]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.
    """
    kappa = require_positive("stiffness ratio", stiffness_ratio)
    mu = require_positive("mass ratio", mass_ratio)
    bending = require_not_negative("bending ratio", bending_ratio)
    kappa, mu, bending = np.broadcast_arrays(kappa, mu, bending)
    line = _own_line(kappa, mu, bending)
    root = _line(line=line, stiffness_ratio=kappa, mass_ratio=mu, bending=bending)
    return (root / _rate(_fixed_wavenumber(np.ones(()), bending), bending))[()]


def hitch_lines(
    *,
    n_lines: int,
    stiffness_ratio: float,
    mass_ratio: float,
    bending_ratio: float = 0.0,
) -> FloatArray:
    """Compute the lowest lines of a rope on a swinging hitch end, the extra one among.

    Parameters
    ----------
    n_lines : int
        How many.
    stiffness_ratio : float
        Lateral stiffness of the end times free length over tension. [1]
    mass_ratio : float
        Mass of the end over mass of the free rope. [1]
    bending_ratio : float
        Bending length over free length; 0 is a string. [1]

    Returns
    -------
    ndarray, shape (n_lines,)
        Frequencies over the fundamental of the rope on a fixed end, rising. [1]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.
    """
    kappa = require_positive("stiffness ratio", stiffness_ratio)
    mu = require_not_negative("mass ratio", mass_ratio)
    bending = require_not_negative("bending ratio", bending_ratio)
    line = np.arange(1.0, n_lines + 1.0)
    root = _line(line=line, stiffness_ratio=kappa, mass_ratio=mu, bending=bending)
    return root / _rate(_fixed_wavenumber(np.ones(()), bending), bending)
