"""How stiff each rope is seen from its nut, and where every number of it comes from."""

from dataclasses import dataclass
from enum import StrEnum
from math import hypot, sqrt

import numpy as np

from tension.installation import (
    Buffer,
    Drive,
    Hitch,
    HitchPlace,
    RopeSet,
    Roping,
    Side,
    Span,
)
from tension.measurement.rope_figures import axial_rigidity_of
from tension.measurement.stiffness import HITCHES_OF_SIDE, RateFrom, find_spring_rate
from tension.notes import NoteKind, Refusal
from tension.physics import FloatArray
from tension.physics.hitch_statics import (
    solid_length,
    stiffness_in_series,
    tension_changes,
)
from tension.quantity.units import Dimension, Quantity

# above this the stiffness counts as assumed and the first round is a part [1]
_LARGEST_KNOWN = 0.25
_LEARNED_NOW = 0.15  # what a stiffness learned after running leaves open before it [1]
# an assumed number that moves the stiffness by more makes it assumed [1]
_WEIGHTY = 0.10


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
    dimension: Dimension  # what it measures
    known_from: KnownFrom  # how it is known
    source: str  # as typed, or which table, turns or assumption
    relative_uncertainty: float = 0.0  # relative standard uncertainty [1]

    @classmethod
    def typed(cls, name: str, quantity: Quantity) -> "Origin":
        """A number as a person typed it."""
        return cls(
            name=name,
            value=quantity.value,
            dimension=quantity.dimension,
            known_from=KnownFrom.TYPED,
            source=quantity.text,
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

    def origin(self, name: str) -> Origin:
        """The stiffness of the set, under a name."""
        return Origin(
            name=name,
            value=self.set_stiffness,
            dimension=Dimension.STIFFNESS,
            known_from=KnownFrom.LEARNED,
            source=self.source,
            relative_uncertainty=self.set_uncertainty,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Setting:
    """What the nuts work on, as far as it is known."""

    rope_set: RopeSet  # what hangs in the hoistway
    drive: Drive = Drive.TRACTION  # what moves the car
    roping: Roping = Roping.ONE_TO_ONE  # roping ratio
    travel: Quantity | None = None  # of the car [m]
    # all that hangs on the side measured, for shares without newtons [kg]
    hanging_mass: Quantity | None = None
    learned: LearnedStiffness | None = None  # what earlier turns have shown

    @property
    def pitches(self) -> dict[HitchPlace, float]:
        """Travel of a nut in one turn [m] at each hitch whose thread is known."""
        return {
            hitch.at: hitch.thread.pitch
            for hitch in self.rope_set.hitches
            if hitch.thread is not None
        }


def opposite_hitch(place: HitchPlace) -> HitchPlace:
    """Name the hitch at the other end of the same ropes."""
    car, other = HITCHES_OF_SIDE[Side.CAR], HITCHES_OF_SIDE[Side.COUNTERWEIGHT]
    return dict(zip(car + other, other + car, strict=True))[place]


def find_hitch(rope_set: RopeSet, place: HitchPlace) -> Hitch | None:
    """Find a hitch of the record."""
    return next((hitch for hitch in rope_set.hitches if hitch.at is place), None)


def spring_rate_of(hitch: Hitch, rope_set: RopeSet) -> Origin | None:
    """Find the rate of a hitch's springs: typed, of two loads or of the wire."""
    found = find_spring_rate(hitch)
    if found is None:
        return None
    known_from, own = {
        RateFrom.TYPED: (KnownFrom.TYPED, 0.0),
        RateFrom.TWO_LOADS: (KnownFrom.MEASURED, found.relative_uncertainty),
        RateFrom.WIRE: (KnownFrom.TABLE, found.relative_uncertainty),
    }[found.rate_from]
    return Origin(
        name="spring rate",
        value=found.value,
        dimension=Dimension.STIFFNESS,
        known_from=known_from,
        source=found.source,
        relative_uncertainty=hypot(own, rope_set.uncertainties.spring_rate),
    )


def spring_lengths_of(hitch: Hitch) -> tuple[Origin | None, Origin | None]:
    """Find the free and the solid length of a hitch's springs, typed or of the wire."""
    free, solid = (
        None if length is None else Origin.typed(name, length)
        for name, length in (
            ("spring free length", hitch.spring_free_length),
            ("spring solid length", hitch.spring_solid_length),
        )
    )
    wire, n_coils = hitch.spring_wire, hitch.spring_active_coils
    if solid is not None or wire is None or n_coils is None:
        return free, solid
    return free, Origin(
        name="spring solid length",
        value=solid_length(wire_diameter=wire.value, n_active_coils=n_coils),
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.ASSUMED,
        source=f"wire {wire.text}, {n_coils:g} active coils, ends squared and ground "
        "assumed",
    )


def pitch_of(hitch: Hitch) -> Origin | None:
    """Find the travel of a hitch's nuts in one turn [m]."""
    if hitch.thread is None:
        return None
    length, name = Dimension.LENGTH, hitch.thread.name
    typed = Quantity(value=hitch.thread.pitch, dimension=length, text=name)
    return Origin.typed("thread pitch", typed)


def solid_load_of(hitch: Hitch, rope_set: RopeSet) -> tuple[float, tuple[Origin, ...]]:
    """Find the load at which a hitch's springs go solid [N], and what it comes from.

    Infinity where that is not known, or where there are no springs.
    """
    rate = spring_rate_of(hitch, rope_set)
    free, solid = spring_lengths_of(hitch)
    if rate is None or free is None or solid is None or free.value <= solid.value:
        return np.inf, ()
    return rate.value * (free.value - solid.value), (free, solid)


@dataclass(frozen=True, kw_only=True, slots=True)
class Chain:
    """What gives under a nut: springs, and rope of one axial rigidity."""

    springs: tuple[Origin, ...]  # rate of each; empty if none gives [N/m]
    rope: Origin  # length of it [m]
    rigidity: Origin  # EA of one rope [N]

    @property
    def stiffness(self) -> float:
        """Seen by the nut [N/m]."""
        return stiffness_in_series(
            free_length=self.rope.value,
            axial_rigidity=self.rigidity.value,
            spring_rates=[spring.value for spring in self.springs],
        )

    @property
    def effects(self) -> tuple[tuple[float, Origin], ...]:
        """Relative standard uncertainty [1] of the stiffness by each source."""
        k = self.stiffness
        of_rope = k * self.rope.value / self.rigidity.value
        return (
            *((k / s.value * s.relative_uncertainty, s) for s in self.springs),
            (of_rope * self.rigidity.relative_uncertainty, self.rigidity),
        )

    @property
    def uncertainty(self) -> float:
        """Relative standard uncertainty of the stiffness by all sources [1]."""
        return hypot(*(effect for effect, _ in self.effects))


def find_chains(
    setting: Setting, hitch: Hitch, span: Span
) -> tuple[Chain, Chain] | Refusal:
    """Find what gives under a nut while the car stands, and once it has run.

    While it stands, the springs of this hitch and this fall. On a traction sheave a
    turn spreads over the whole rope once the car has run: this hitch's springs first,
    those of the other, and the rope between. Where earlier turns have shown the
    stiffness, buffers of no known rate are no hindrance.
    """
    here = _springs_at(setting, hitch)
    if here is None:
        is_rubber = hitch.buffer is Buffer.RUBBER
        return (NoteKind.RUBBER if is_rubber else NoteKind.SPRING_UNKNOWN).refusal()
    if isinstance(here, Refusal):
        return here
    rope = _rope_between(setting, hitch, span)
    if isinstance(rope, Refusal):
        return rope
    other = find_hitch(setting.rope_set, opposite_hitch(hitch.at))
    far = _springs_at(setting, other)
    if setting.drive is not Drive.TRACTION:
        far = ()  # a turn does not spread
    elif far is None:
        far = _springs_assumed(here)
    if isinstance(far, Refusal):
        return far
    rigidity, fall, whole = rope
    return (
        Chain(springs=here, rope=fall, rigidity=rigidity),
        Chain(springs=(*here, *far), rope=whole, rigidity=rigidity),
    )


def find_chains_of_fall(setting: Setting, span: Span) -> tuple[Chain, Chain] | Refusal:
    """Find the same for the hitch next to a fall, or one of nothing known there."""
    places = HITCHES_OF_SIDE[span.side]
    told = (find_hitch(setting.rope_set, place) for place in places)
    hitch = next((one for one in told if one), Hitch(at=places[0]))
    return find_chains(setting, hitch, span)


def _rope_between(
    setting: Setting, hitch: Hitch, span: Span
) -> tuple[Origin, Origin, Origin] | Refusal:
    """Axial rigidity, this hitch's fall, and the rope a turn spreads over at last."""
    rope_set = setting.rope_set
    found, fall = axial_rigidity_of(rope_set), _fall_length(rope_set, span)
    if found is None:
        return NoteKind.ROPE_UNKNOWN.refusal()
    by_table = KnownFrom.TABLE if found.construction else KnownFrom.ASSUMED
    rigidity = Origin(
        name="axial rigidity",
        value=found.value,
        dimension=Dimension.FORCE,
        known_from=KnownFrom.TYPED if found.is_typed else by_table,
        source=found.source,
        relative_uncertainty=found.relative_uncertainty,
    )
    if fall is None:
        return NoteKind.FALL_UNKNOWN.refusal(span=span.name)
    if setting.drive is not Drive.TRACTION:
        return rigidity, fall, fall
    if rope_set.rope_length is None:
        return NoteKind.ROPE_LENGTH_UNKNOWN.refusal()
    whole = Origin.typed("rope [[hitch]] to [[hitch]]", rope_set.rope_length)
    if hitch.at.side is not span.side:
        fall = Origin(
            name="free length of this fall",
            value=max(whole.value - fall.value, 0.05 * whole.value),
            dimension=Dimension.LENGTH,
            known_from=KnownFrom.ASSUMED,
            source="what the fall measured leaves of the rope",
        )
    return rigidity, fall, whole


def _springs_at(
    setting: Setting, hitch: Hitch | None
) -> tuple[Origin, ...] | Refusal | None:
    """Springs of a hitch; none without buffers, or where turns have shown them.

    None where the record does not tell.
    """
    buffer = None if hitch is None else hitch.buffer
    if buffer is Buffer.BEAM:
        return NoteKind.BEAM.refusal()
    rate = None if hitch is None else spring_rate_of(hitch, setting.rope_set)
    if rate is not None:
        return (rate,)
    is_settled = buffer is Buffer.NONE or setting.learned is not None
    return () if is_settled else None


def _springs_assumed(here: tuple[Origin, ...]) -> tuple[Origin, ...]:
    """Springs of the far hitch of which the record does not tell: half of these.

    From no spring to one like this, equally likely: the middle, and 1/sqrt(3) of it.
    """
    return tuple(
        Origin(
            name="spring at the far [[hitch]]",
            value=2.0 * one.value,
            dimension=Dimension.STIFFNESS,
            known_from=KnownFrom.ASSUMED,
            source="the record does not tell: half as soft as here, which stands "
            "between no spring and one like this",
            relative_uncertainty=1.0 / sqrt(3.0),
        )
        for one in here
    )


def _fall_length(rope_set: RopeSet, span: Span) -> Origin | None:
    """Length of a fall: the free length, or the mean of those typed."""
    name = "free length of this fall"
    if span.free_length is not None:
        return Origin.typed(name, span.free_length)
    read = [
        length.value
        for rope in rope_set.ropes
        for of_span, length in rope.free_lengths
        if of_span == span.name
    ]
    if not read:
        return None
    return Origin(
        name=name,
        value=sum(read) / len(read),
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source="mean of the lengths of the ropes",
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class NutStiffness:
    """Stiffness of each rope seen from its nut at one hitch."""

    # before the car has run: this hitch's spring and this fall [N/m], shape (n_ropes,)
    now: FloatArray
    # once it has run: both springs and the whole rope; the same as `now` on a drum or a
    # roped jack [N/m], shape (n_ropes,)
    after_running: FloatArray
    # relative standard uncertainty of all alike, after running [1]
    common_uncertainty: float
    # relative standard uncertainty of one rope against the others [1]
    own_uncertainty: float
    # relative standard uncertainty of all alike, before the car has run [1]
    now_uncertainty: float
    origins: tuple[Origin, ...]  # what it was worked out from
    is_assumed: bool  # whether it rests on an assumption that matters

    @property
    def effects_now(self) -> FloatArray:
        """Change of every tension by unit travel of every nut, before a run [N/m].

        Shape (n_ropes, n_ropes), one row a nut.
        """
        return tension_changes(np.eye(len(self.now)), self.now)

    @property
    def effects_after_running(self) -> FloatArray:
        """The same once the car has run."""
        return tension_changes(np.eye(len(self.now)), self.after_running)


def stiffness_at_hitch(
    setting: Setting, hitch: Hitch, span: Span | None
) -> NutStiffness | Refusal:
    """Work out the stiffness seen by the nuts of one hitch, the fall read given.

    From what the record tells, or by what earlier turns have shown, if anything: of
    the set once the car has run, which the stiffness before follows.
    """
    if span is None:
        return NoteKind.FALL_UNKNOWN.refusal(span="")
    chains = find_chains(setting, hitch, span)
    if isinstance(chains, Refusal):
        return chains
    now, run = chains
    rope_set, learned = setting.rope_set, setting.learned
    every = (*run.springs, run.rope, now.rope, run.rigidity)
    k, k_now, assumed = run.stiffness, now.stiffness, [0.0]
    if learned is None:
        each, common = np.ones(rope_set.n_ropes), run.uncertainty
        doubt_now = now.uncertainty
        of_springs = hypot(*(k / spring.value for spring in run.springs))
        own = of_springs * rope_set.uncertainties.spring_rate
        assumed += [e for e, o in run.effects if o.known_from is KnownFrom.ASSUMED]
    else:
        whole, common = learned.set_stiffness, learned.set_uncertainty
        own, doubt_now = learned.own_uncertainty, hypot(common, _LEARNED_NOW)
        every = (learned.origin("stiffness after running"), *every)
        if now.springs or hitch.buffer is Buffer.NONE:
            k_now *= min(1.5, max(0.67, whole / k))
        else:  # what the rope alone does not give is shared between the two ends
            k_now = 1.0 / (1.0 / k_now + 0.5 * max(0.0, 1.0 / whole - 1.0 / k))
        k, each = whole, np.array(learned.stiffnesses) / whole
    return NutStiffness(
        now=k_now * each,
        after_running=k * each,
        common_uncertainty=common,
        own_uncertainty=own,
        now_uncertainty=doubt_now,
        origins=tuple(dict.fromkeys(every)),
        is_assumed=common > _LARGEST_KNOWN or max(assumed) > _WEIGHTY,
    )
