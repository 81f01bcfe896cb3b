"""Frequencies of a taut rope with bending stiffness and the tension behind them.

A mode of a rope under tension with bending stiffness is made of an oscillating part of
wavenumber k2/L and an evanescent part of wavenumber k1/L near the ends. The end
conditions tie both together; what is solved for is always the oscillating one. Nothing
is approximated, and all functions broadcast over arrays.

Squared wave speed, T/m [m2/s2], and rigidity over density, EI/m [m4/s2], are the
natural variables: shares of a set need no linear density. Where it is left at 1, they
are what stands for tension and flexural rigidity.
"""

from collections.abc import Callable
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from tension.installation import Ends
from tension.physics import (
    FloatArray,
    require_finite,
    require_mode_number,
    require_not_negative,
    require_positive,
)

_MAXIMUM_STEPS = 80  # most steps of the solution
_RELATIVE_STEP = 4.0 * float(np.finfo(np.float64).eps)
"""A root that moves less is found [1]"""


class EndCondition(Enum):
    """How the two ends of a span are held.

    A socket, a wedge or a thimble clamps the rope at its mouth. A rope that runs onto a
    sheave behaves as pinned at the geometric tangent point: the point of contact moves
    back by one bending length, and the clamping there takes the same length off again.
    """

    PINNED_PINNED = "pinned-pinned"
    CLAMPED_PINNED = "clamped-pinned"
    CLAMPED_CLAMPED = "clamped-clamped"

    @property
    def n_clamped(self) -> int:
        """Number of clamped ends: 0, 1 or 2."""
        return self.value.count("clamped")

    @classmethod
    def from_ends(cls, ends: Ends) -> "EndCondition":
        """Tell how ends are held: sockets clamped, tangent points pinned."""
        return cls(ends.replace("socket", "clamped").replace("sheave", "pinned"))


def _wavenumber(
    mode_number: FloatArray,
    n_clamped: int,
    ratio_at: Callable[[FloatArray], tuple[FloatArray, FloatArray]],
    between: tuple[FloatArray, FloatArray],
) -> FloatArray:
    # Oscillatory wavenumber times free length, k2 [1], between two bounds, by k2/k1 at
    # a k2 and its slope: k1 tan k2 = k2 tanh k1, and the two factors of the
    # clamped-clamped equation, are k2 = n pi + e atan(h k2/k1), h = tanh k1,
    # tanh k1/2 (n even), coth k1/2 (n odd). The Newton step takes h as constant: of a
    # slack rope it costs some steps more.
    root, is_turned = between[0], (mode_number % 2 == 1) & (n_clamped == 2)
    for _ in range(_MAXIMUM_STEPS):
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            ratio, ratio_slope = ratio_at(root)
            hyperbolic = np.tanh(root / ratio / n_clamped)
            factor = np.where(is_turned, 1.0 / hyperbolic, hyperbolic)
            tangent = ratio * factor
            excess = root - mode_number * np.pi - n_clamped * np.arctan(tangent)
            slope = 1.0 - n_clamped * factor * ratio_slope / (1.0 + tangent**2)
            following = np.clip(root - excess / slope, *between)
        has_moved = np.abs(following - root) > _RELATIVE_STEP * root
        root = following
        if not np.any(has_moved):
            break
    return root


def _wavenumber_from_tension(
    mode_number: FloatArray, speed: FloatArray, rigidity: FloatArray, n_clamped: int
) -> FloatArray:
    # By T L^2 and EI, both over m; nan beyond buckling.
    mode_number, speed, rigidity = np.broadcast_arrays(mode_number, speed, rigidity)
    harmonic = mode_number * np.pi
    if n_clamped == 0:
        return harmonic
    with np.errstate(divide="ignore", invalid="ignore"):
        compression = np.sqrt(np.fmax(-speed / rigidity, 0.0))
    upper = harmonic + n_clamped * np.pi / 2
    lower = np.clip(compression * (1.0 + 1e-12), harmonic, upper)

    def ratio_at(root: FloatArray) -> tuple[FloatArray, FloatArray]:
        ratio = root * np.sqrt(rigidity) / np.sqrt(speed + rigidity * root**2)
        ratio = np.where(rigidity == 0, 0.0, ratio)
        return ratio, (1.0 - ratio**2) * ratio / root

    root = _wavenumber(mode_number, n_clamped, ratio_at, (lower, upper))
    return np.where(compression >= upper, np.nan, root)


def _wavenumber_from_frequency(
    mode_number: FloatArray, rate: FloatArray, slackness: FloatArray, n_clamped: int
) -> FloatArray:
    # By 2 pi f L^2 and sqrt(EI/m); nan where the frequency is not above that of the
    # span without tension.
    mode_number, rate, slackness = np.broadcast_arrays(mode_number, rate, slackness)
    harmonic = mode_number * np.pi
    slack = _wavenumber_from_tension(mode_number, np.zeros(()), np.ones(()), n_clamped)
    taut_rate = np.where(rate > slackness * slack**2, rate, np.nan)

    def ratio_at(root: FloatArray) -> tuple[FloatArray, FloatArray]:
        ratio = root**2 * slackness / taut_rate
        return ratio, 2.0 * ratio / root

    if n_clamped:
        root = _wavenumber(mode_number, n_clamped, ratio_at, (harmonic, slack))
    else:
        root = harmonic
    return np.where(np.isnan(taut_rate), np.nan, root)


def natural_frequency_from_tension(
    *,
    mode_number: ArrayLike,
    tension: ArrayLike,
    free_length: ArrayLike,
    flexural_rigidity: ArrayLike,
    ends: EndCondition,
    linear_density: ArrayLike = 1.0,
) -> FloatArray:
    """Compute a natural frequency of a taut rope with bending stiffness.

    Parameters
    ----------
    mode_number : array_like
        Mode number, from 1 up. [1]
    tension : array_like
        Tension at mid-length. A rope has none below zero; a bar in compression has.
        [N]
    free_length : array_like
        Free length. [m]
    flexural_rigidity : array_like
        Flexural rigidity; 0 is the ideal string. [N m2]
    ends : EndCondition
        How the ends are held.
    linear_density : array_like
        Mass per unit length; where it is left at 1, tension and rigidity are those over
        density. [kg/m]

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

    >>> float(natural_frequency_from_tension(mode_number=2, tension=5000.0,
    ...     linear_density=0.5, free_length=5.0, flexural_rigidity=0.0,
    ...     ends=EndCondition.CLAMPED_PINNED))
    20.0
    """
    density = require_positive("linear density [kg/m]", linear_density)
    length = require_positive("free length [m]", free_length)
    bending = require_not_negative("flexural rigidity [N m2]", flexural_rigidity)
    rigidity = bending / density
    speed = require_finite("tension [N]", tension) / density
    wavenumber = _wavenumber_from_tension(
        require_mode_number(mode_number), speed * length**2, rigidity, ends.n_clamped
    )
    squared = speed + rigidity * (wavenumber / length) ** 2
    root = np.sqrt(np.where(squared >= 0, squared, np.nan))
    return (wavenumber * root / (2.0 * np.pi * length))[()]


def tension_from_frequency(
    *,
    frequency: ArrayLike,
    mode_number: ArrayLike,
    free_length: ArrayLike,
    flexural_rigidity: ArrayLike,
    ends: EndCondition,
    linear_density: ArrayLike = 1.0,
) -> FloatArray:
    """Compute the tension at mid-length from a measured frequency.

    Parameters
    ----------
    frequency : array_like
        Frequency of the partial. [Hz]
    mode_number : array_like
        Mode number of the partial, from 1 up. [1]
    free_length : array_like
        Free length. [m]
    flexural_rigidity : array_like
        Flexural rigidity; 0 is the ideal string. [N m2]
    ends : EndCondition
        How the ends are held.
    linear_density : array_like
        Mass per unit length; where it is left at 1, tension and rigidity are those over
        density. [kg/m]

    Returns
    -------
    ndarray
        Tension at mid-length, of the broadcast shape. [N] It is nan where the frequency
        is not above that of the slack span: so stiff a rope would be in compression,
        and a rope cannot be.

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.

    Notes
    -----
    The frequency fixes k1 k2 = Om = 2 pi f L^2/sqrt(b), so k2 alone is unknown:
    k2 = n pi + e atan((k2^2/Om) h), e the number of clamped ends and h a hyperbolic
    tangent (or its inverse) that is 1 up to terms exp(-k1). It is kept, so the result
    is exact at every stiffness. Then c2 = (2 pi f L/k2)^2 - b (k2/L)^2, T = m c2.

    Examples
    --------
    >>> float(tension_from_frequency(frequency=20.0, mode_number=2, linear_density=0.5,
    ...     free_length=5.0, flexural_rigidity=0.0, ends=EndCondition.CLAMPED_PINNED))
    5000.0
    """
    density = require_positive("linear density [kg/m]", linear_density)
    length = require_positive("free length [m]", free_length)
    bending = require_not_negative("flexural rigidity [N m2]", flexural_rigidity)
    rigidity = bending / density
    measured = require_positive("frequency [Hz]", frequency)
    wavenumber = _wavenumber_from_frequency(
        require_mode_number(mode_number),
        2.0 * np.pi * measured * length**2,
        np.sqrt(rigidity),
        ends.n_clamped,
    )
    apparent = (2.0 * np.pi * measured * length / wavenumber) ** 2
    return (density * (apparent - rigidity * (wavenumber / length) ** 2))[()]
