"""Lines of a rope whose hitch end is a mass on a lateral spring.

The end lowers the modes below its own resonance, raises those above, and adds one line
that is no partial of the rope.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

_HALVINGS = 64


def _fixed_wavenumber(mode: FloatArray, bending: FloatArray) -> FloatArray:
    # Clamped and pinned, tan k2 = (k2/k1) tanh k1 with one root in [n pi, n pi + pi/2);
    # 0 for mode 0.
    mode, bending = np.broadcast_arrays(mode, bending)
    low, high = mode * np.pi, (mode + 0.5) * np.pi
    for _ in range(_HALVINGS):
        k2 = 0.5 * (low + high)
        below = np.tan(k2 - mode * np.pi) < _clamp_tangent(k2, bending)
        low, high = np.where(below, k2, low), np.where(below, high, k2)
    return np.where(mode < 1, 0.0, 0.5 * (low + high))


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
    mode = np.asarray(mode_number, dtype=float)
    kappa = np.asarray(stiffness_ratio, dtype=float)
    mu = np.asarray(mass_ratio, dtype=float)
    bending = np.asarray(bending_ratio, dtype=float)
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
    kappa = np.asarray(stiffness_ratio, dtype=float)
    mu = np.asarray(mass_ratio, dtype=float)
    bending = np.asarray(bending_ratio, dtype=float)
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
    kappa = np.asarray(stiffness_ratio, dtype=float)
    mu = np.asarray(mass_ratio, dtype=float)
    bending = np.asarray(bending_ratio, dtype=float)
    line = np.arange(1.0, n_lines + 1.0)
    root = _line(line=line, stiffness_ratio=kappa, mass_ratio=mu, bending=bending)
    return root / _rate(_fixed_wavenumber(np.ones(()), bending), bending)
