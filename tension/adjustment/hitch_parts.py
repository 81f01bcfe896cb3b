"""Parts of a hitch: which one, its springs' rate and solid length, and how known."""

from math import hypot

from tension.adjustment.origins import KnownFrom, Origin
from tension.installation import Hitch, HitchPlace, RopeSet
from tension.measurement.springs import RateFrom, find_spring_rate
from tension.physics.springs import SpringEnds, solid_length
from tension.quantity.units import Dimension

_KNOWN_FROM = {
    RateFrom.TYPED: KnownFrom.TYPED,
    RateFrom.TWO_LOADS: KnownFrom.MEASURED,
    RateFrom.WIRE: KnownFrom.TABLE,
}


def opposite_hitch(place: HitchPlace) -> HitchPlace:
    """Name the hitch at the other end of the same ropes."""
    return {
        HitchPlace.CAR: HitchPlace.COUNTERWEIGHT,
        HitchPlace.COUNTERWEIGHT: HitchPlace.CAR,
        HitchPlace.DEAD_END_CAR: HitchPlace.DEAD_END_COUNTERWEIGHT,
        HitchPlace.DEAD_END_COUNTERWEIGHT: HitchPlace.DEAD_END_CAR,
    }[place]


def is_car_side(place: HitchPlace) -> bool:
    """Tell whether a hitch is on the car side of the drive sheave.

    Returns
    -------
    bool
        True for the car hitch and the dead end of the car side.
    """
    return place in {HitchPlace.CAR, HitchPlace.DEAD_END_CAR}


def find_hitch(rope_set: RopeSet, place: HitchPlace) -> Hitch | None:
    """Find a hitch of the record.

    Returns
    -------
    Hitch or None
        The hitch, None if the record does not have it.
    """
    return next((hitch for hitch in rope_set.hitches if hitch.at is place), None)


def pitches_of(rope_set: RopeSet) -> dict[HitchPlace, float]:
    """Give the travel of a nut in one turn at each hitch whose thread is known.

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
    """Find the rate of the springs of a hitch, typed, from two loads or from the wire.

    Returns
    -------
    Origin or None
        The rate [N/m] and where it comes from; None if the record does not tell.
    """
    found = find_spring_rate(hitch)
    if found is None:
        return None
    between = rope_set.uncertainties.spring_rate
    is_typed = found.rate_from is RateFrom.TYPED
    return Origin(
        name="spring rate",
        value=found.value,
        dimension=Dimension.STIFFNESS,
        known_from=_KNOWN_FROM[found.rate_from],
        source=found.source,
        relative_uncertainty=between
        if is_typed
        else hypot(found.relative_uncertainty, between),
    )


def find_solid_length(hitch: Hitch) -> Origin | None:
    """Find the solid length of the springs of a hitch, typed or from the wire.

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
