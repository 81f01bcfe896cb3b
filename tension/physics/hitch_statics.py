"""Statics of a rope set at its hitch: springs, and what a nut does to every rope.

Each rope is a spring: shackle spring and free rope in series. The hitch is rigid and
the load that hangs on it stays what it is, so what one rope gains the others lose.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from tension.errors import InvalidValueError
from tension.physics import FloatArray, require_positive


def spring_rate_from_wire(
    *,
    wire_diameter: float,
    mean_coil_diameter: float,
    n_active_coils: float,
    shear_modulus: float,
) -> float:
    """Rate of a close-coiled helical compression spring of round wire [N/m].

    Parameters
    ----------
    wire_diameter : float
        Of the bare wire, without paint or rust. [m]
    mean_coil_diameter : float
        Outside diameter less one wire diameter. [m]
    n_active_coils : float
        Coils that move; without the closed coils at the ends. [1]
    shear_modulus : float
        Of the spring steel. [Pa]

    Raises
    ------
    InvalidValueError
        If a number is not above zero, or the coil is not wider than its wire.

    Notes
    -----
    ``k = G d^4 / (8 D^3 N)``: twisting of the wire alone. The direct shear of the wire
    makes the spring softer by about ``1/(2 C^2)``, C = D/d: 1 % at C = 7, 2 % at C = 5.
    The rate goes with the fourth power of the wire: 1 % of wire is 4 % of rate.

    References
    ----------
    .. [1] V. B. Bhandari, Design of Machine Elements, chapter 10 (Springs), as
       worked in the public code files FOSSEE/Scilab-TBC-Uploads 764/CH10.

    Examples
    --------
    >>> k = spring_rate_from_wire(
    ...     wire_diameter=0.016,
    ...     mean_coil_diameter=0.056,
    ...     n_active_coils=8,
    ...     shear_modulus=79.3e9,
    ... )
    >>> round(k / 1000)
    462
    """
    require_positive("wire diameter [m]", wire_diameter)
    require_positive("mean coil diameter [m]", mean_coil_diameter)
    require_positive("number of active coils [1]", n_active_coils)
    require_positive("shear modulus [Pa]", shear_modulus)
    if mean_coil_diameter <= wire_diameter:
        raise InvalidValueError(
            "mean coil diameter must be larger than the wire diameter, "
            f"got {mean_coil_diameter} m and {wire_diameter} m"
        )
    return (
        shear_modulus
        * wire_diameter**4
        / (8.0 * mean_coil_diameter**3 * n_active_coils)
    )


def spring_rate_from_two_loads(
    *, loads: tuple[float, float], lengths: tuple[float, float]
) -> float:
    """Rate of a spring from two loads and the lengths under them [N/m].

    Parameters
    ----------
    loads : tuple of float
        Two loads. [N]
    lengths : tuple of float
        Length under each load. [m]

    Raises
    ------
    InvalidValueError
        If the loads or lengths are equal, or the spring gets longer under more load.

    Examples
    --------
    >>> round(
    ...     spring_rate_from_two_loads(loads=(2000.0, 5000.0), lengths=(0.147, 0.127))
    ... )
    150000
    """
    more, shorter = loads[1] - loads[0], lengths[0] - lengths[1]
    if more * shorter <= 0.0:
        raise InvalidValueError(
            "a spring must be shorter under the larger load, "
            f"got {loads} N at {lengths} m"
        )
    return more / shorter


def solid_length(*, wire_diameter: float, n_active_coils: float) -> float:
    """Length with all coils touching [m], by wire diameter [m] and active coils [1].

    Of a spring with squared and ground ends: two coils more than move, ``d (N + 2)``
    [1]_.

    Raises
    ------
    InvalidValueError
        If a number is not above zero.

    References
    ----------
    .. [1] V. B. Bhandari, Design of Machine Elements, chapter 10, as worked in the
       public code files FOSSEE/Scilab-TBC-Uploads 764/CH10.
    """
    require_positive("wire diameter [m]", wire_diameter)
    require_positive("number of active coils [1]", n_active_coils)
    return wire_diameter * (n_active_coils + 2.0)


def stiffness_in_series(
    *, free_length: float, axial_rigidity: float, spring_rates: Sequence[float] = ()
) -> float:
    """Stiffness of a rope with the springs at its ends, seen by the nut [N/m].

    Parameters
    ----------
    free_length : float
        Rope that stretches: this fall before the car has run, hitch to hitch after. [m]
    axial_rigidity : float
        EA of one rope. [N]
    spring_rates : sequence of float
        Rate of each spring in the line; none for a rope without springs. [N/m]

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


def tension_changes(nut_travels: ArrayLike, stiffnesses: ArrayLike) -> FloatArray:
    """Change of every tension [N] when the nuts travel: ``k_i (d_i - x)``.

    They sum to zero; of shape (..., n_ropes).

    Parameters
    ----------
    nut_travels : array_like, shape (..., n_ropes)
        Positive towards the plate. [m]
    stiffnesses : array_like, shape (..., n_ropes)
        Stiffness of each rope. [N/m]

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
