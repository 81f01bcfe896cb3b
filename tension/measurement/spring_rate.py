"""Rate of the springs at a hitch: typed, from two loads, or from wire and coil."""

from dataclasses import dataclass
from enum import Enum
from math import hypot, sqrt

from tension.catalogue.elasticity import ShearModulus, find_shear_modulus
from tension.errors import InvalidValueError
from tension.installation import Buffer, Hitch
from tension.physics.springs import (
    rate_uncertainty_from_two_loads,
    spring_rate_from_two_loads,
    spring_rate_from_wire,
)

_WIRE_READING = 0.01
"""Uncertainty of a wire or coil diameter read with a caliper. [1]"""

_LOAD_READING = 0.02
"""Of a load laid on a spring by hand; the program's own figure. [1]"""

_LENGTH_READING = 0.0005
"""Of a spring length read with a caliper; the program's own figure. [m]"""

TYPED_RATE_DOUBT = 0.15
"""Of a rate typed, common to the springs of a hitch: one read off a list may be that of
another spring; the program's own figure. [1]"""


class RateFrom(Enum):
    """What a spring rate was worked out from."""

    TYPED = "typed"
    TWO_LOADS = "two loads"
    WIRE = "wire and coil"


@dataclass(frozen=True, kw_only=True, slots=True)
class SpringRate:
    """Rate of one spring of a hitch.

    Attributes
    ----------
    value : float
        Rate. [N/m]
    relative_uncertainty : float
        Standard uncertainty common to the springs of the hitch. [1]
    rate_from : RateFrom
        What it was worked out from.
    source : str
        As typed, or the figures it was worked out from.
    """

    value: float
    relative_uncertainty: float
    rate_from: RateFrom
    source: str


def find_spring_rate(hitch: Hitch) -> SpringRate | None:
    """Find the rate of the springs at a hitch.

    Returns
    -------
    SpringRate or None
        As typed, else from two loads, else from wire and coil; None if there are no
        springs or nothing tells.
    """
    if hitch.buffer is not Buffer.SPRING:
        return None
    if hitch.spring_rate is not None:
        return SpringRate(
            value=hitch.spring_rate.value,
            relative_uncertainty=TYPED_RATE_DOUBT,
            rate_from=RateFrom.TYPED,
            source=hitch.spring_rate.text,
        )
    return _from_two_loads(hitch) or _from_wire(hitch)


def _from_two_loads(hitch: Hitch) -> SpringRate | None:
    """Of a spring that was pressed with two loads."""
    if len(hitch.spring_loads) != 2 or len(hitch.spring_lengths) != 2:
        return None
    loads = (hitch.spring_loads[0].value, hitch.spring_loads[1].value)
    lengths = (hitch.spring_lengths[0].value, hitch.spring_lengths[1].value)
    try:
        rate = spring_rate_from_two_loads(loads=loads, lengths=lengths)
        relative = rate_uncertainty_from_two_loads(
            loads=loads,
            lengths=lengths,
            load_uncertainty=_LOAD_READING * max(loads),
            length_uncertainty=_LENGTH_READING,
        )
    except InvalidValueError:
        return None
    pairs = zip(hitch.spring_loads, hitch.spring_lengths, strict=True)
    return SpringRate(
        value=rate,
        relative_uncertainty=relative,
        rate_from=RateFrom.TWO_LOADS,
        source=" and ".join(f"{load.text} at {at.text}" for load, at in pairs),
    )


def _from_wire(hitch: Hitch) -> SpringRate | None:
    """Of wire, coil and active coils."""
    wire, coil = hitch.spring_wire, hitch.spring_coil
    n_coils = hitch.spring_active_coils
    shear = find_shear_modulus(hitch.spring_material)
    if wire is None or coil is None or n_coils is None or shear is None:
        return None
    try:
        rate = spring_rate_from_wire(
            wire_diameter=wire.value,
            mean_coil_diameter=coil.value,
            n_active_coils=n_coils,
            shear_modulus=shear.value,
        )
    except InvalidValueError:
        return None
    return SpringRate(
        value=rate,
        relative_uncertainty=_wire_uncertainty(n_coils, shear),
        rate_from=RateFrom.WIRE,
        source=f"wire {wire.text}, coil {coil.text}, {n_coils:g} active coils; shear "
        f"modulus {shear.value / 1e9:.1f} GPa of {shear.material}, "
        f"{shear.standing.value}: {shear.source}",
    )


def _wire_uncertainty(n_coils: float, shear: ShearModulus) -> float:
    """The rate goes with wire to the fourth, coil to the third, a quarter coil off."""
    return sqrt(
        hypot(4 * _WIRE_READING, 3 * _WIRE_READING) ** 2
        + (0.25 / n_coils) ** 2
        + shear.relative_uncertainty**2
    )
