"""Statics of a rope set at its hitch: what one turn of one nut does to every rope.

Each rope is a spring: shackle spring and free rope in series. The hitch is rigid and
the load that hangs on it stays what it is, so what one rope gains the others lose.
"""

from collections.abc import Sequence
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from tension.errors import InvalidValueError
from tension.physics import FloatArray, require_positive


class FamilyMember(Enum):
    """Which of the equivalent sets of nut travels to take.

    All nuts turned alike move the car, not the shares, so a travel common to all nuts
    may be added to any solution.
    """

    KEEP_HEIGHT = "keep height"
    TAKE_UP_ONLY = "take up only"
    EASE_ONLY = "ease only"
    LEAST_TRAVEL = "least travel"


def stiffness_in_series(
    *, free_length: float, axial_rigidity: float, spring_rates: Sequence[float] = ()
) -> float:
    """Stiffness of a rope with the springs at its ends.

    Parameters
    ----------
    free_length : float
        Rope that stretches: this fall before the car has run, hitch to hitch after. [m]
    axial_rigidity : float
        EA of one rope. [N]
    spring_rates : sequence of float
        Rate of each spring in the line; none for a rope without springs. [N/m]

    Returns
    -------
    float
        Stiffness seen by the nut. [N/m]

    Raises
    ------
    InvalidValueError
        If a length, rigidity or rate is not above zero.

    Notes
    -----
    ``1/k = L/EA + sum(1/k_s)``. Before the car has run: this hitch's spring and this
    fall (`k_now`). Once it has run on a traction sheave, each rope has left either side
    at its own tension until both sides are alike: both springs and the whole rope
    (`k_run`), see `tension.physics.sheave`.

    Examples
    --------
    Four metres of rope of 4.6 MN on a spring of 150 N/mm:

    >>> k = stiffness_in_series(
    ...     free_length=4.0, axial_rigidity=4.6e6, spring_rates=[150e3]
    ... )
    >>> round(k / 1000)
    133
    """
    length = float(require_positive("free length [m]", free_length))
    rigidity = float(require_positive("axial rigidity [N]", axial_rigidity))
    compliance = length / rigidity
    for rate in spring_rates:
        compliance += 1.0 / float(require_positive("spring rate [N/m]", rate))
    return 1.0 / compliance


def hitch_rise(nut_travels: ArrayLike, stiffnesses: ArrayLike) -> float:
    """How far the hitch rises [m] when the nuts travel [m].

    Travels are positive towards the plate, stiffnesses [N/m] those of each rope; shape
    (n_ropes,) each. Positive: the ropes are shorter, the car hangs higher.

    Raises
    ------
    InvalidValueError
        If a stiffness is not above zero.
    """
    k = require_positive("stiffness [N/m]", stiffnesses)
    d = np.asarray(nut_travels, dtype=float)
    return float(k @ d / k.sum())


def tension_changes(nut_travels: ArrayLike, stiffnesses: ArrayLike) -> FloatArray:
    """Change of every tension when the nuts travel.

    Parameters
    ----------
    nut_travels : array_like, shape (..., n_ropes)
        Positive towards the plate. [m]
    stiffnesses : array_like, shape (..., n_ropes)
        Stiffness of each rope. [N/m]

    Returns
    -------
    ndarray, shape (..., n_ropes)
        ``k_i (d_i - x)``; they sum to zero. [N]

    Raises
    ------
    InvalidValueError
        If a stiffness is not above zero.

    Examples
    --------
    >>> tension_changes([0.001, 0.0], [100e3, 100e3]).tolist()
    [50.0, -50.0]
    """
    k = require_positive("stiffness [N/m]", stiffnesses)
    d = np.asarray(nut_travels, dtype=float)
    rise = (k * d).sum(axis=-1, keepdims=True) / k.sum(axis=-1, keepdims=True)
    return np.asarray(k * (d - rise))


def nut_travels_for_changes(
    changes: ArrayLike,
    stiffnesses: ArrayLike,
    *,
    member: FamilyMember = FamilyMember.KEEP_HEIGHT,
) -> FloatArray:
    """Nut travels [m] that bring wanted changes of tension, before any rounding.

    Changes [N] and stiffnesses [N/m] of each rope, shape (n_ropes,), as the travels
    are; these are positive towards the plate. ``d_i = change_i / k_i + c``: c = 0 keeps
    the hitch where it is, c = -min takes up only, c = -max eases only, c = -median
    leaves at least one nut untouched and turns the least in sum.

    Raises
    ------
    InvalidValueError
        If a stiffness is not above zero or the changes do not sum to zero, for the load
        stays.
    """
    k = require_positive("stiffness [N/m]", stiffnesses)
    wanted = np.asarray(changes, dtype=float)
    if abs(wanted.sum()) > 1e-6 * max(1.0, float(np.abs(wanted).sum())):
        raise InvalidValueError(
            f"changes of tension must sum to 0 N, got {wanted.sum():g} N"
        )
    travels: FloatArray = wanted / k
    shift = {
        FamilyMember.KEEP_HEIGHT: 0.0,
        FamilyMember.TAKE_UP_ONLY: -float(travels.min()),
        FamilyMember.EASE_ONLY: -float(travels.max()),
        FamilyMember.LEAST_TRAVEL: -float(np.sort(travels)[(len(travels) - 1) // 2]),
    }[member]
    return travels + shift


def added_load_shares(stiffnesses: ArrayLike) -> FloatArray:
    """Compute the share of an added load that each rope takes while the car stands.

    By the stiffness of each rope as it stands, its spring and this fall in series
    [N/m]; shape (n_ropes,), as the shares are. These are ``k_i / sum(k)``: the rigid
    hitch sinks by ``x = load/sum(k)`` and stretches every rope by x. Ropes alike take
    ``1/n`` each; a rope whose spring is bound has the stiffness of its fall alone,
    ``EA/L``, against ``1/(1/k_s + L/EA)`` of the others.

    Raises
    ------
    InvalidValueError
        If a stiffness is not above zero.

    Examples
    --------
    Springs of 150 N/mm on 4 m of 4.6 MN, the first one bound:

    >>> free, bound = 1 / (1 / 150e3 + 4 / 4.6e6), 4.6e6 / 4
    >>> [round(float(s), 2) for s in added_load_shares([bound, free, free, free])]
    [0.74, 0.09, 0.09, 0.09]
    """
    k = require_positive("stiffness [N/m]", stiffnesses)
    return np.asarray(k / k.sum())
