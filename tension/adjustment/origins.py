"""What a plan rests on: where numbers come from, parts of a hitch, what was learned."""

from dataclasses import dataclass
from enum import StrEnum
from math import hypot

from tension.installation import Hitch, HitchPlace, RopeSet
from tension.measurement.stiffness import RateFrom, find_spring_rate
from tension.physics.springs import SpringEnds, solid_length
from tension.quantity.units import Dimension, Quantity


class KnownFrom(StrEnum):
    """How a number came to be known, the surest first."""

    MEASURED = "measured"
    TYPED = "typed"
    LEARNED = "learned"
    TABLE = "table"
    ASSUMED = "assumed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Origin:
    """One number that a result rests on."""

    name: str  # what it is, in trade words
    value: float  # in the SI unit of its dimension
    dimension: Dimension | None  # what it measures; None for a plain number
    known_from: KnownFrom  # how it is known
    source: str  # as typed, or which table, turns or assumption
    relative_uncertainty: float = 0.0  # relative standard uncertainty [1]

    @classmethod
    def typed(
        cls, name: str, quantity: Quantity, relative_uncertainty: float = 0.0
    ) -> "Origin":
        """A number as a person typed it; relative standard uncertainty [1]."""
        return cls(
            name=name,
            value=quantity.value,
            dimension=quantity.dimension,
            known_from=KnownFrom.TYPED,
            source=quantity.text,
            relative_uncertainty=relative_uncertainty,
        )


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
    """Tell whether a hitch, dead ends too, is on the car side of the drive sheave."""
    return place in {HitchPlace.CAR, HitchPlace.DEAD_END_CAR}


def find_hitch(rope_set: RopeSet, place: HitchPlace) -> Hitch | None:
    """Find a hitch of the record."""
    return next((hitch for hitch in rope_set.hitches if hitch.at is place), None)


def pitches_of(rope_set: RopeSet) -> dict[HitchPlace, float]:
    """Travel of a nut in one turn [m] at each hitch whose thread is known."""
    return {
        hitch.at: hitch.thread.pitch
        for hitch in rope_set.hitches
        if hitch.thread is not None
    }


def spring_rate_of(hitch: Hitch, rope_set: RopeSet) -> Origin | None:
    """Find the rate of a hitch's springs: typed, of two loads or of the wire."""
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


def find_free_length(hitch: Hitch) -> Origin | None:
    """Free length of a hitch's springs, as typed."""
    if hitch.spring_free_length is None:
        return None
    return Origin.typed("spring free length", hitch.spring_free_length)


def find_solid_length(hitch: Hitch) -> Origin | None:
    """Find the solid length of a hitch's springs, typed or of the wire."""
    if hitch.spring_solid_length is not None:
        return Origin.typed("spring solid length", hitch.spring_solid_length)
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


@dataclass(frozen=True, kw_only=True, slots=True)
class LearnedStiffness:
    """Stiffness of a set once the car has run, learned from turns and their effect."""

    hitch: HitchPlace  # where the nuts were turned
    set_stiffness: float  # of the set as a whole [N/m]
    set_uncertainty: float  # its relative standard uncertainty [1]
    stiffnesses: tuple[float, ...]  # of each rope, in order of number [N/m]
    # relative standard uncertainty of one rope against the set [1]
    own_uncertainty: float
    source: str  # which turns between which series
