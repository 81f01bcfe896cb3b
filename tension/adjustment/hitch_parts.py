"""Parts of a hitch: which one, its springs' rate and solid length, and how known."""

from math import sqrt

from tension.adjustment.origins import KnownFrom, Origin
from tension.catalogue.elasticity import find_shear_modulus
from tension.errors import InvalidValueError
from tension.installation import Hitch, HitchPlace, RopeSet
from tension.physics.springs import SpringEnds, solid_length, spring_rate_from_wire
from tension.quantity.units import Dimension

_WIRE_READING = 0.01
"""Uncertainty of a wire or coil diameter read with a caliper. [1]"""


def opposite_hitch(place: HitchPlace) -> HitchPlace:
    """Name the hitch at the other end of the same ropes.

    Parameters
    ----------
    place : HitchPlace
        One hitch.

    Returns
    -------
    HitchPlace
        The other.
    """
    return {
        HitchPlace.CAR: HitchPlace.COUNTERWEIGHT,
        HitchPlace.COUNTERWEIGHT: HitchPlace.CAR,
        HitchPlace.DEAD_END_CAR: HitchPlace.DEAD_END_COUNTERWEIGHT,
        HitchPlace.DEAD_END_COUNTERWEIGHT: HitchPlace.DEAD_END_CAR,
    }[place]


def is_car_side(place: HitchPlace) -> bool:
    """Tell whether a hitch is on the car side of the drive sheave.

    Parameters
    ----------
    place : HitchPlace
        The hitch.

    Returns
    -------
    bool
        True for the car hitch and the dead end of the car side.
    """
    return place in {HitchPlace.CAR, HitchPlace.DEAD_END_CAR}


def find_hitch(rope_set: RopeSet, place: HitchPlace) -> Hitch | None:
    """Find a hitch of the record.

    Parameters
    ----------
    rope_set : RopeSet
        The set.
    place : HitchPlace
        Which.

    Returns
    -------
    Hitch or None
        The hitch, None if the record does not have it.
    """
    return next((hitch for hitch in rope_set.hitches if hitch.at is place), None)


def pitches_of(rope_set: RopeSet) -> dict[HitchPlace, float]:
    """Give the travel of a nut in one turn at each hitch whose thread is known.

    Parameters
    ----------
    rope_set : RopeSet
        The set.

    Returns
    -------
    dict of HitchPlace to float
        Pitches. [m]
    """
    return {
        hitch.at: hitch.thread.pitch
        for hitch in rope_set.hitches
        if hitch.thread is not None
    }


def spring_rate_of(hitch: Hitch, rope_set: RopeSet) -> Origin | None:
    """Find the rate of the springs of a hitch, typed or from the wire.

    Parameters
    ----------
    hitch : Hitch
        The hitch.
    rope_set : RopeSet
        For the uncertainty between springs.

    Returns
    -------
    Origin or None
        The rate [N/m] and where it comes from; None if the record does not tell.
    """
    between = rope_set.uncertainties.spring_rate
    if hitch.spring_rate is not None:
        return Origin(
            name="spring rate",
            value=hitch.spring_rate.value,
            dimension=Dimension.STIFFNESS,
            known_from=KnownFrom.TYPED,
            source=hitch.spring_rate.text,
            relative_uncertainty=between,
        )
    wire, coil = hitch.spring_wire, hitch.spring_coil
    coils = hitch.spring_active_coils
    shear = find_shear_modulus(hitch.spring_material)
    if wire is None or coil is None or coils is None or shear is None:
        return None
    try:
        rate = spring_rate_from_wire(
            wire_diameter=wire.value,
            mean_coil_diameter=coil.value,
            n_active_coils=coils,
            shear_modulus=shear.value,
        )
    except InvalidValueError:
        return None
    uncertainty = sqrt(
        (4 * _WIRE_READING) ** 2
        + (3 * _WIRE_READING) ** 2
        + (0.25 / coils) ** 2
        + shear.relative_uncertainty**2
        + between**2
    )
    return Origin(
        name="spring rate",
        value=rate,
        dimension=Dimension.STIFFNESS,
        known_from=KnownFrom.TABLE,
        source=f"wire {wire.text}, coil {coil.text}, {coils:g} active coils; shear "
        f"modulus {shear.value / 1e9:.1f} GPa of {shear.material}, "
        f"{shear.standing.value}: {shear.source}",
        relative_uncertainty=uncertainty,
    )


def find_solid_length(hitch: Hitch) -> Origin | None:
    """Find the solid length of the springs of a hitch, typed or from the wire.

    Parameters
    ----------
    hitch : Hitch
        The hitch.

    Returns
    -------
    Origin or None
        The length [m] and where it comes from; None if the record does not tell.
    """
    typed = hitch.spring_solid_length
    if typed is not None:
        return Origin(
            name="spring solid length",
            value=typed.value,
            dimension=Dimension.LENGTH,
            known_from=KnownFrom.TYPED,
            source=typed.text,
        )
    if hitch.spring_wire is None or hitch.spring_active_coils is None:
        return None
    return Origin(
        name="spring solid length",
        value=solid_length(
            wire_diameter=hitch.spring_wire.value,
            n_active_coils=hitch.spring_active_coils,
            ends=SpringEnds.SQUARED_GROUND,
        ),
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.ASSUMED,
        source=f"wire {hitch.spring_wire.text}, {hitch.spring_active_coils:g} active "
        "coils, ends squared and ground assumed",
    )
