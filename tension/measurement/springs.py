"""Spring lengths: rate of the springs, and from a working length to its tension."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from math import hypot, log, sqrt

import numpy as np

from tension.catalogue.ropes import ShearModulus, find_shear_modulus
from tension.errors import InvalidValueError
from tension.installation import Buffer, Hitch, RopeSet, Uncertainties
from tension.measurement.evidence import Evidence, covariance_of_own, single_hypothesis
from tension.measurement.readings import Method, SpringReading, in_fixed_order, names_of
from tension.measurement.repeats import Settled, settle_readings
from tension.notes import Note, NoteKind, Refusal
from tension.physics.springs import (
    rate_uncertainty_from_two_loads,
    spring_rate_from_two_loads,
    spring_rate_from_wire,
)
from tension.quantity.comparison import exceeds
from tension.quantity.estimate import Sharing, Source
from tension.quantity.units import Quantity

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
    """Rate of one spring of a hitch."""

    value: float  # rate [N/m]
    # standard uncertainty common to the springs of the hitch [1]
    relative_uncertainty: float
    rate_from: RateFrom  # what it was worked out from
    source: str  # as typed, or the figures it was worked out from


def find_spring_rate(hitch: Hitch) -> SpringRate | None:
    """Find the rate of the springs at a hitch.

    Typed, else of two loads, else of wire and coil; None if there are no springs or
    nothing tells.
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


def evidence_from_springs(
    readings: Sequence[SpringReading], *, rope_set: RopeSet
) -> Evidence:
    """Turn working lengths of the springs at one hitch into tensions, in newtons.

    Several readings of one rope are repeats. Springs differ from each other by their
    rates and free lengths, so this tells less than a pluck, whatever the calliper.
    """
    place = readings[0].hitch
    hitch = next((h for h in rope_set.hitches if h.at is place), None)
    uncertainties = rope_set.uncertainties
    refusals: dict[int, Refusal] = {}
    tensions: dict[int, tuple[float, tuple[Source, ...]]] = {}
    notes: list[Note] = []
    for number in sorted({r.rope for r in readings}):
        repeats = in_fixed_order([r for r in readings if r.rope == number])
        lengths = [q for reading in repeats for q in reading.lengths]
        settled = _settle(
            number,
            lengths,
            [name for reading in repeats for name in names_of(reading)],
            hitch=hitch,
            uncertainty=uncertainties.spring_length,
        )
        notes += [settled.note] if settled.note else []
        used = [lengths[i].value for i in settled.used]
        found = settled.refusal or _load(number, used, hitch, uncertainties)
        if isinstance(found, Refusal):
            refusals[number] = found
        else:
            tensions[number] = found
    own = [budget for _, budget in tensions.values()]
    return Evidence(
        method=Method.SPRING,
        label=f"the springs at the {place.value.replace('-', ' ')} [[hitch]]",
        numbers=tuple(tensions),
        hypotheses=single_hypothesis([load for load, _ in tensions.values()]),
        covariance=covariance_of_own(own),
        own_sources=tuple(own),
        shared_sources=(
            Source(
                name="spring rate of the set",
                relative=uncertainties.spring_rate,
                sharing=Sharing.KIND,
            ),
        ),
        is_absolute=True,
        refusals=refusals,
        notes=tuple(notes),
    )


def _load(
    number: int,
    lengths: Sequence[float],
    hitch: Hitch | None,
    uncertainties: Uncertainties,
) -> tuple[float, tuple[Source, ...]] | Refusal:
    """Load on one spring and its budget, or why its length tells nothing."""
    rate = find_spring_rate(hitch) if hitch is not None else None
    if hitch is None or rate is None:
        name = hitch.at.value if hitch else "unknown"
        return NoteKind.SPRING_RATE_UNKNOWN.refusal(rope=number, hitch=name)
    compression = _compression(number, lengths, hitch)
    if isinstance(compression, Refusal):
        return compression
    preload = hitch.spring_preload.value if hitch.spring_preload else 0.0
    load = preload + rate.value * compression
    moving = rate.value * compression / load  # a preload has no length to be misread
    # the free length of this spring is no better known than its working one
    length = moving * uncertainties.spring_length * np.sqrt(2.0) / compression
    return load, (
        Source(name="spring length", relative=length),
        Source(name="spring rate", relative=moving * uncertainties.spring_rate),
    )


def _settle(
    number: int,
    lengths: Sequence[Quantity],
    names: Sequence[str],
    *,
    hitch: Hitch | None,
    uncertainty: float,
) -> Settled:
    """Which readings of one spring count; all, where their tension is not known."""
    free = hitch.spring_free_length if hitch else None
    pressed = [free.value - q.value for q in lengths] if free else []
    if not pressed or min(pressed) <= 0:
        return Settled(used=tuple(range(len(lengths))))
    return settle_readings(
        number,
        [log(one) for one in pressed],
        [uncertainty / one for one in pressed],
        names,
    )


def _compression(
    number: int, lengths: Sequence[float], hitch: Hitch
) -> float | Refusal:
    """How far one spring is pressed together, or why that tells nothing."""
    if hitch.spring_free_length is None:
        return NoteKind.SPRING_FREE_LENGTH.refusal(rope=number)
    working = float(np.mean(lengths))
    solid = hitch.spring_solid_length
    if solid is not None and not exceeds(working, solid.value):
        return NoteKind.SPRING_SOLID.refusal(rope=number)
    if not exceeds(hitch.spring_free_length.value, working):
        return NoteKind.SPRING_UNLOADED.refusal(rope=number)
    return hitch.spring_free_length.value - working
