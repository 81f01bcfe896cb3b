"""The hitch end swings: socket and rod are a mass on a spring at the rope's end."""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics.domain import (
    FloatArray,
    require_not_negative,
    require_positive,
)


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
