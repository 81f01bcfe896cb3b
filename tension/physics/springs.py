"""Shackle springs: rate from wire and coil or from two loads, and solid length."""

from enum import Enum

from tension.errors import InvalidValueError
from tension.physics import require_positive


class SpringEnds(Enum):
    """How the ends of a compression spring are made."""

    PLAIN = "plain"
    SQUARED = "squared"
    SQUARED_GROUND = "squared and ground"


def spring_rate_from_wire(
    *,
    wire_diameter: float,
    mean_coil_diameter: float,
    n_active_coils: float,
    shear_modulus: float,
) -> float:
    """Rate of a close-coiled helical compression spring of round wire.

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

    Returns
    -------
    float
        Spring rate. [N/m]

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
    """Rate of a spring from two loads and the lengths under them.

    Parameters
    ----------
    loads : tuple of float
        Two loads. [N]
    lengths : tuple of float
        Length under each load. [m]

    Returns
    -------
    float
        Spring rate. [N/m]

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


def solid_length(
    *, wire_diameter: float, n_active_coils: float, ends: SpringEnds
) -> float:
    """Length with all coils touching [m], by wire diameter [m] and active coils [1].

    Raises
    ------
    InvalidValueError
        If a number is not above zero.

    Notes
    -----
    Squared and ground ends: two coils more than move, ``d (N + 2)``; squared and not
    ground one wire more, ``d (N + 3)``; plain ``d (N + 1)``. Squared and ground as in
    [1]_; the other two are common practice without a source seen.

    References
    ----------
    .. [1] V. B. Bhandari, Design of Machine Elements, chapter 10, as worked in the
       public code files FOSSEE/Scilab-TBC-Uploads 764/CH10.
    """
    require_positive("wire diameter [m]", wire_diameter)
    require_positive("number of active coils [1]", n_active_coils)
    dead = {
        SpringEnds.PLAIN: 1.0,
        SpringEnds.SQUARED: 3.0,
        SpringEnds.SQUARED_GROUND: 2.0,
    }[ends]
    return wire_diameter * (n_active_coils + dead)


def margin_to_solid(
    *, load: float, rate: float, free_length: float, solid: float
) -> float:
    """How much of the spring's way is left under a load [N] [1].

    ``(working length - solid) / (free length - solid)``, by rate [N/m] and the lengths
    without load and with the coils touching [m]; negative: the coils touch before the
    load is reached.

    Raises
    ------
    InvalidValueError
        If the rate is not above zero or the free length not above the solid length.
    """
    require_positive("spring rate [N/m]", rate)
    if free_length <= solid:
        raise InvalidValueError(
            "free length must be above the solid length, "
            f"got {free_length} m and {solid} m"
        )
    return (free_length - load / rate - solid) / (free_length - solid)
