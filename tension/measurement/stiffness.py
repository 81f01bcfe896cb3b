"""Springs: what one carries by its length, and how a rope with its springs stretches.

What the record does not say is kept open as cases: springs of which only the usual
range is known, and no springs at all. Each case is a handful of stiffnesses, equally
likely, so that shares and verdict can be worked out under every one of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from math import exp, hypot, log, sqrt
from statistics import NormalDist

import numpy as np

from tension.catalogue.ropes import (
    AxialRigidity,
    find_axial_rigidity,
    find_shear_modulus,
)
from tension.errors import InvalidValueError
from tension.installation import (
    Buffer,
    Hitch,
    HitchPlace,
    RopeSet,
    Side,
    Span,
    Uncertainties,
)
from tension.measurement.combine import Premise, SetEvidence
from tension.measurement.readings import Method, SpringReading
from tension.measurement.repeats import rope_by_rope, settle_repeats
from tension.measurement.rope_figures import USUAL_DIAMETER, axial_rigidity_of
from tension.notes import Note, NoteKind, Refusal
from tension.physics.hitch_statics import (
    spring_rate_from_two_loads,
    spring_rate_from_wire,
    stiffness_in_series,
)
from tension.quantity.estimate import Estimate, Sharing, budget
from tension.quantity.units import exceeds

_WIRE_READING = 0.01
"""Uncertainty of a wire or coil diameter read with a caliper. [1]"""

_LOAD_READING = 0.02
"""Of a load laid on a spring by hand; the program's own figure. [1]"""

_LENGTH_READING = 0.0005
"""Of a spring length read with a caliper; the program's own figure. [m]"""

_TYPED_RATE_DOUBT = 0.15
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
            relative_uncertainty=_TYPED_RATE_DOUBT,
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
    except InvalidValueError:
        return None
    by_load = _LOAD_READING * max(loads) / (loads[1] - loads[0])
    by_length = _LENGTH_READING / (lengths[1] - lengths[0])
    pairs = zip(hitch.spring_loads, hitch.spring_lengths, strict=True)
    return SpringRate(
        value=rate,
        relative_uncertainty=sqrt(2.0) * hypot(by_load, by_length),
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
    # the rate goes with wire to the fourth, coil to the third; a quarter coil off
    by_figures = hypot(4 * _WIRE_READING, 3 * _WIRE_READING, 0.25 / n_coils)
    return SpringRate(
        value=rate,
        relative_uncertainty=hypot(by_figures, shear.relative_uncertainty),
        rate_from=RateFrom.WIRE,
        source=f"wire {wire.text}, coil {coil.text}, {n_coils:g} active coils; shear "
        f"modulus {shear.value / 1e9:.1f} GPa of {shear.material}, "
        f"{shear.standing.value}: {shear.source}",
    )


def evidence_from_springs(
    readings: Sequence[SpringReading], hitch: Hitch | None, uncertainties: Uncertainties
) -> SetEvidence:
    """Turn working lengths of the springs at one hitch into tensions, in newtons.

    Several readings of one rope are repeats. Springs differ from each other by their
    rates and free lengths, so this tells less than a pluck, whatever the calliper. No
    hitch where the record tells nothing of it.
    """
    loads, refusals, notes = rope_by_rope(
        readings, lambda number, repeats: _load(number, repeats, hitch, uncertainties)
    )
    place = readings[0].hitch.value.replace("-", " ")
    return SetEvidence(
        method=Method.SPRING,
        label=f"the springs at the {place} [[hitch]]",
        shared_sources=budget(
            {"spring rate of the set": uncertainties.spring_rate}, Sharing.KIND
        ),
        is_absolute=True,
        refusals=refusals,
        notes=tuple(notes),
    ).of_ropes(dict(loads))


def _load(
    number: int,
    repeats: Sequence[SpringReading],
    hitch: Hitch | None,
    uncertainties: Uncertainties,
) -> tuple[tuple[int, Estimate], Sequence[Note]] | Refusal:
    """Load on one spring with its own budget, or why its length tells nothing."""
    rate = find_spring_rate(hitch) if hitch else None
    if hitch is None or rate is None:
        name = hitch.at.value if hitch else "unknown"
        return NoteKind.SPRING_RATE_UNKNOWN.refusal(rope=number, hitch=name)
    free, solid = hitch.spring_free_length, hitch.spring_solid_length
    if free is None:
        return NoteKind.SPRING_FREE_LENGTH.refusal(rope=number)
    pressed = [free.value - one.value for reading in repeats for one in reading.lengths]
    notes: Sequence[Note] = ()
    if min(pressed) > 0:
        doubts = [uncertainties.spring_length / one for one in pressed]
        settled = settle_repeats(repeats, [log(one) for one in pressed], doubts)
        if settled.refusal is not None:
            return settled.refusal
        pressed, notes = [pressed[i] for i in settled.used], settled.notes
    compression = float(np.mean(pressed))
    working = free.value - compression
    if solid is not None and not exceeds(working, solid.value):
        return NoteKind.SPRING_SOLID.refusal(rope=number)
    if not exceeds(free.value, working):
        return NoteKind.SPRING_UNLOADED.refusal(rope=number)
    preload = hitch.spring_preload.value if hitch.spring_preload else 0.0
    load = preload + rate.value * compression
    moving = rate.value * compression / load  # a preload has no length to be misread
    # the free length of this spring is no better known than its working one
    length = moving * uncertainties.spring_length * sqrt(2.0) / compression
    parts = {"spring length": length, "spring rate": moving * uncertainties.spring_rate}
    return (number, Estimate(value=load, sources=budget(parts))), notes


_USUAL_RATES = (30e3, 500e3)
"""Between these lie the rates of shackle springs; common practice, no source. [N/m]"""

_BUFFER_RATES = (100e3, 5e6)
"""Rubber is stiffer, and of no one rate; common practice, no source. [N/m]"""

_USUAL_LENGTH = 40.0
"""Hitch to hitch, where it is not told; the program's own figure. [m]"""

_SPRINGS_LIKELY = 0.6
"""Chance of springs where nothing is said of them; the program's own figure, little
over one half so that the interval holds without springs as well. [1]"""

_QUANTILES = (0.5, 0.3, 0.7, 0.1, 0.9)
"""Where a distribution is looked at, the middle first. [1]"""

_NORMAL = NormalDist()

QUANTILE_VARIANCE = sum(_NORMAL.inv_cdf(q) ** 2 for q in _QUANTILES) / len(_QUANTILES)
"""Variance of a normal distribution as seen at its quantiles. [1]"""

HITCHES_OF_SIDE = {
    side: tuple(place for place in HitchPlace if place.side is side) for side in Side
}
"""Where the ropes of a side may be fastened."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StretchCase:
    """Stiffness against a side pull, if what is taken of the hitch is so."""

    premise: Premise  # what is taken of the hitch; nothing where the record says it
    weight: float  # chance of it [1]
    stiffnesses: tuple[float, ...]  # equally likely, the middle one first [N/m]
    # relative, of one rope against the others, by its spring [1]
    own_uncertainty: float


def find_stretch_cases(
    rope_set: RopeSet, span: Span, free_length: float
) -> tuple[StretchCase, ...]:
    """Find how stiff a rope of a free length [m] is against being pulled aside.

    One case where the record says what is at this hitch, likeliest first; two where it
    does not. While the rope grips the sheave this fall alone gives way; should it
    creep, the whole rope does: a pull is small against what traction holds, so the
    first is likelier, falling evenly to the second.
    """
    near = [hitch for hitch in rope_set.hitches if hitch.at.side is span.side]
    fall = _Fall(rope_set=rope_set, free_length=free_length, near=near)
    if not near:
        return (
            fall.usual(_USUAL_RATES, Premise.SPRINGS, _SPRINGS_LIKELY),
            fall.sprung([], Premise.NO_SPRINGS, 1 - _SPRINGS_LIKELY),
        )
    buffers, known = {hitch.buffer for hitch in near}, _rates(near)
    if known is not None and Buffer.BEAM not in buffers:
        return (fall.sprung(known, Premise.NOTHING, 1.0),)
    is_soft = not buffers & {Buffer.BEAM, Buffer.RUBBER}
    between = _USUAL_RATES if is_soft else _BUFFER_RATES
    return (fall.usual(between, Premise.RATE_UNKNOWN, 1.0),)


def _rates(hitches: Sequence[Hitch]) -> list[SpringRate] | None:
    """Rates of what gives way at some hitches; None where one is not known."""
    rates = [find_spring_rate(h) for h in hitches if h.buffer is not Buffer.NONE]
    known = [rate for rate in rates if rate is not None]
    return known if len(known) == len(rates) else None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Fall:
    """A fall of rope with the hitches at its end."""

    rope_set: RopeSet
    free_length: float
    near: list[Hitch]

    @property
    def rigidity(self) -> AxialRigidity:
        """EA of the rope, or of a usual one of its construction."""
        return axial_rigidity_of(self.rope_set) or find_axial_rigidity(
            diameter=USUAL_DIAMETER, construction=self.rope_set.construction
        )

    def _stiffness(self, rates: Sequence[float], length: float) -> float:
        return stiffness_in_series(
            free_length=length, axial_rigidity=self.rigidity.value, spring_rates=rates
        )

    def sprung(
        self, rates: Sequence[SpringRate], premise: Premise, weight: float
    ) -> StretchCase:
        """On springs of known rate; fastened to the plate without any."""
        near = [rate.value for rate in rates]
        typed = self.rope_set.rope_length
        whole = max(typed.value if typed else _USUAL_LENGTH, self.free_length)
        far = [h for h in self.rope_set.hitches if h not in self.near]
        others = _rates(far) if far else None
        # nothing told of the far hitch: it is taken to be like this one
        told = near if others is None else [rate.value for rate in others]
        held = self._stiffness(near, self.free_length)
        crept = self._stiffness([*near, *told], whole)
        in_rope = held * self.free_length / self.rigidity.value
        rope = held * in_rope * self.rigidity.relative_uncertainty
        # between held and crept, held likelier
        mean, width = held - (held - crept) / 3, hypot((held - crept) / sqrt(18), rope)
        parts = [(mean / rate.value, rate.relative_uncertainty) for rate in rates]
        width = hypot(width, mean * hypot(*(part * doubt for part, doubt in parts)))
        spring_rate = self.rope_set.uncertainties.spring_rate
        return StretchCase(
            premise=premise,
            weight=weight,
            stiffnesses=tuple(
                max(mean + width * _NORMAL.inv_cdf(q), 0.05 * mean) for q in _QUANTILES
            ),
            own_uncertainty=sum(part for part, _ in parts) * spring_rate,
        )

    def usual(
        self, between: tuple[float, float], premise: Premise, weight: float
    ) -> StretchCase:
        """On springs of a rate that is usual, even by its logarithm."""
        low, high = (log(rate) for rate in between)
        rates = [exp(low + q * (high - low)) for q in _QUANTILES]
        return StretchCase(
            premise=premise,
            weight=weight,
            stiffnesses=tuple(self._stiffness([k], self.free_length) for k in rates),
            own_uncertainty=self.rope_set.uncertainties.spring_rate,
        )
