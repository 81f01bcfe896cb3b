"""How stiff each rope is seen from its nut, now and once the car has run."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.origins import (
    KnownFrom,
    LearnedStiffness,
    Origin,
    find_hitch,
    is_car_side,
    opposite_hitch,
    spring_rate_of,
)
from tension.catalogue.ropes import find_axial_rigidity
from tension.installation import Buffer, Drive, Hitch, RopeSet, Side, Span
from tension.notes import NoteKind, Refusal
from tension.quantity.units import Dimension

_TYPED_RIGIDITY = 0.10
"""Uncertainty of a data sheet's axial rigidity, which grows with load and age. [1]"""

FloatArray = NDArray[np.float64]

_LARGEST_KNOWN = 0.25
"""Above this the stiffness counts as assumed and the first round is a part. [1]"""

_LEARNED_NOW = 0.15
"""What a stiffness learned after running leaves open before it. [1]"""

_WEIGHTY = 0.10
"""An assumed number that moves the stiffness by more makes it assumed. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Compliance:
    """One part of the way from hitch to hitch that gives."""

    value: float  # stretch for unit tension [m/N]
    uncertainty: float  # relative standard uncertainty [1]
    origin: Origin  # what it was worked out from
    is_rope: bool = False  # whether it is rope, which shares one rigidity


@dataclass(frozen=True, kw_only=True, slots=True)
class Compliances:
    """All that gives between nut and nut, before and after running."""

    # buffer of the hitch whose nuts are turned; empty if it does not give
    here: tuple[Compliance, ...]
    far: tuple[Compliance, ...]  # buffer of the other hitch
    fall: Compliance  # rope between this hitch and the first sheave
    # rope that stretches once the car has run: hitch to hitch on a traction sheave,
    # else this fall
    whole: Compliance
    rigidity: Origin  # EA of one rope [N]

    @property
    def now(self) -> tuple[Compliance, ...]:
        """What gives while the car stands."""
        return (*self.here, self.fall)

    @property
    def run(self) -> tuple[Compliance, ...]:
        """What gives once the car has run."""
        return (*self.here, *self.far, self.whole)

    @property
    def stiffness_now(self) -> float:
        """Seen by the nut while the car stands [N/m]."""
        return 1.0 / sum(part.value for part in self.now)

    @property
    def stiffness_run(self) -> float:
        """Seen by the nut once the car has run [N/m]."""
        return 1.0 / sum(part.value for part in self.run)

    @property
    def origins(self) -> tuple[Origin, ...]:
        """Where every number comes from."""
        every = dict.fromkeys(part.origin for part in (*self.run, *self.now))
        return (*every, self.rigidity)

    def effects(self, chain: tuple[Compliance, ...]) -> list[tuple[float, Origin]]:
        """Relative standard uncertainty [1] of a chain's stiffness by each source."""
        found = []
        of_rope = 0.0
        stiffness = 1.0 / sum(part.value for part in chain)
        for part in chain:
            effect = stiffness * part.value * part.uncertainty
            if part.is_rope:
                of_rope += effect
            else:
                found.append((effect, part.origin))
        return [*found, (of_rope, self.rigidity)]


def find_compliances(
    rope_set: RopeSet,
    *,
    hitch: Hitch,
    span: Span,
    drive: Drive,
    learned: LearnedStiffness | None = None,
) -> Compliances | Refusal:
    """Find what gives between the nuts of one hitch and those of the other.

    On a traction sheave a turn spreads over the whole rope once the car has run. Where
    earlier turns have shown the stiffness, buffers of no known rate are no hindrance.
    """
    here = _buffer_compliance(rope_set, hitch, learned)
    if isinstance(here, Refusal):
        return here
    rigidity, fall = _rigidity(rope_set), _fall_length(rope_set, span)
    if rigidity is None:
        return NoteKind.ROPE_UNKNOWN.refusal()
    if fall is None:
        return NoteKind.FALL_UNKNOWN.refusal(span=span.name)
    far: tuple[Compliance, ...] = ()
    whole = fall
    if drive is Drive.TRACTION:
        if rope_set.rope_length is None:
            return NoteKind.ROPE_LENGTH_UNKNOWN.refusal()
        found = _other_end(rope_set, hitch, here, learned)
        if isinstance(found, Refusal):
            return found
        far = found
        whole = Origin.typed("rope [[hitch]] to [[hitch]]", rope_set.rope_length)
        if is_car_side(hitch.at) is not (span.side is Side.CAR):
            fall = _rest_of(whole, fall)
    return Compliances(
        here=here,
        far=far,
        fall=_rope_compliance(fall, rigidity),
        whole=_rope_compliance(whole, rigidity),
        rigidity=rigidity,
    )


def _rest_of(whole: Origin, fall: Origin) -> Origin:
    """The fall at a hitch on the other side than the one measured."""
    return Origin(
        name="free length of this fall",
        value=max(whole.value - fall.value, 0.05 * whole.value),
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.ASSUMED,
        source="what the fall measured leaves of the rope",
    )


def _buffer_compliance(
    rope_set: RopeSet, hitch: Hitch, learned: LearnedStiffness | None
) -> tuple[Compliance, ...] | Refusal:
    """What the buffers of this hitch give; nothing without buffers."""
    if hitch.buffer is Buffer.BEAM:
        return NoteKind.BEAM.refusal()
    if hitch.buffer is Buffer.NONE:
        return ()
    if hitch.buffer is Buffer.RUBBER:
        if learned is None:
            return NoteKind.RUBBER.refusal()
        return ()
    origin = spring_rate_of(hitch, rope_set)
    if origin is None:
        return () if learned is not None else NoteKind.SPRING_UNKNOWN.refusal()
    return (_from_rate(origin),)


def _from_rate(origin: Origin) -> Compliance:
    """Compliance of one spring from its rate."""
    return Compliance(
        value=1.0 / origin.value,
        uncertainty=origin.relative_uncertainty,
        origin=origin,
    )


def _other_end(
    rope_set: RopeSet,
    hitch: Hitch,
    spring: tuple[Compliance, ...],
    learned: LearnedStiffness | None,
) -> tuple[Compliance, ...] | Refusal:
    """What the far hitch gives; if the record does not tell, half of this hitch."""
    far = find_hitch(rope_set, opposite_hitch(hitch.at))
    if far is not None and far.buffer is Buffer.BEAM:
        return NoteKind.BEAM.refusal()
    if far is not None and far.buffer is Buffer.NONE:
        return ()
    rate = None if far is None else spring_rate_of(far, rope_set)
    if far is not None and far.buffer is Buffer.SPRING and rate is not None:
        return (_from_rate(rate),)
    if not spring or learned is not None:
        return ()
    # from no spring to one like this, equally likely: the middle, and 1/sqrt(3) of it
    here = spring[0]
    return (
        Compliance(
            value=0.5 * here.value,
            uncertainty=1.0 / sqrt(3.0),
            origin=Origin(
                name="spring at the far [[hitch]]",
                value=2.0 / here.value,
                dimension=Dimension.STIFFNESS,
                known_from=KnownFrom.ASSUMED,
                source="the record does not tell: half as soft as here, which stands "
                "between no spring and one like this",
                relative_uncertainty=1.0 / sqrt(3.0),
            ),
        ),
    )


def _rigidity(rope_set: RopeSet) -> Origin | None:
    """Axial rigidity of one rope, typed or from the table."""
    if rope_set.axial_rigidity is not None:
        typed = rope_set.axial_rigidity
        return Origin.typed("axial rigidity", typed, _TYPED_RIGIDITY)
    if rope_set.diameter is None:
        return None
    found = find_axial_rigidity(
        diameter=rope_set.diameter.value, construction=rope_set.construction
    )
    return Origin(
        name="axial rigidity",
        value=found.value,
        dimension=Dimension.FORCE,
        known_from=KnownFrom.TABLE if found.construction else KnownFrom.ASSUMED,
        source=found.source,
        relative_uncertainty=found.relative_uncertainty,
    )


def _fall_length(rope_set: RopeSet, span: Span) -> Origin | None:
    """Length of a fall: the free length, or the mean of those typed."""
    if span.free_length is not None:
        return Origin.typed("free length of this fall", span.free_length)
    read = [
        length.value
        for rope in rope_set.ropes
        for name, length in rope.free_lengths
        if name == span.name
    ]
    if not read:
        return None
    return Origin(
        name="free length of this fall",
        value=sum(read) / len(read),
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source="mean of the lengths of the ropes",
    )


def _rope_compliance(length: Origin, rigidity: Origin) -> Compliance:
    """What a length of rope gives."""
    return Compliance(
        value=length.value / rigidity.value,
        uncertainty=rigidity.relative_uncertainty,
        origin=length,
        is_rope=True,
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
    # whether this hitch gives way, so that quarter turns are fine enough
    has_spring: bool


def stiffness_at_hitch(
    rope_set: RopeSet,
    *,
    hitch: Hitch,
    span: Span,
    drive: Drive,
    learned: LearnedStiffness | None = None,
) -> NutStiffness | Refusal:
    """Work out the stiffness seen by the nuts of one hitch, the fall read given.

    By what earlier turns have shown, if anything. On a traction sheave a turn spreads
    over the whole rope once the car has run.
    """
    parts = find_compliances(
        rope_set, hitch=hitch, span=span, drive=drive, learned=learned
    )
    if isinstance(parts, Refusal):
        return parts
    if learned is not None:
        return _as_learned(parts, learned, hitch)
    return _as_worked_out(parts, rope_set, hitch)


def _as_worked_out(parts: Compliances, rope_set: RopeSet, hitch: Hitch) -> NutStiffness:
    """Stiffness from what the record tells."""
    n = rope_set.n_ropes
    sources = parts.effects(parts.run)
    common = sqrt(sum(effect**2 for effect, _ in sources))
    now = sqrt(sum(effect**2 for effect, _ in parts.effects(parts.now)))
    assumed = max(
        (e for e, o in sources if o.known_from is KnownFrom.ASSUMED), default=0.0
    )
    of_springs = sum(
        (parts.stiffness_run * part.value) ** 2
        for part in parts.run
        if not part.is_rope
    )
    return NutStiffness(
        now=np.full(n, parts.stiffness_now),
        after_running=np.full(n, parts.stiffness_run),
        common_uncertainty=common,
        own_uncertainty=sqrt(of_springs) * rope_set.uncertainties.spring_rate,
        now_uncertainty=now,
        origins=parts.origins,
        is_assumed=common > _LARGEST_KNOWN or assumed > _WEIGHTY,
        has_spring=hitch.buffer is not Buffer.NONE,
    )


def _as_learned(
    parts: Compliances, learned: LearnedStiffness, hitch: Hitch
) -> NutStiffness:
    """Stiffness after running as learned; that before running follows it."""
    after = np.array(learned.stiffnesses, dtype=float)
    set_wide = learned.set_stiffness
    if any(not part.is_rope for part in parts.now) or hitch.buffer is Buffer.NONE:
        now = parts.stiffness_now * min(1.5, max(0.67, set_wide / parts.stiffness_run))
    else:  # what the rope alone does not give is shared between the two ends
        extra = max(0.0, 1.0 / set_wide - 1.0 / parts.stiffness_run)
        now = 1.0 / (1.0 / parts.stiffness_now + 0.5 * extra)
    origin = Origin(
        name="stiffness after running",
        value=set_wide,
        dimension=Dimension.STIFFNESS,
        known_from=KnownFrom.LEARNED,
        source=learned.source,
        relative_uncertainty=learned.set_uncertainty,
    )
    return NutStiffness(
        now=now * after / set_wide,
        after_running=after,
        common_uncertainty=learned.set_uncertainty,
        own_uncertainty=learned.own_uncertainty,
        now_uncertainty=sqrt(learned.set_uncertainty**2 + _LEARNED_NOW**2),
        origins=(origin, *parts.origins),
        is_assumed=learned.set_uncertainty > _LARGEST_KNOWN,
        has_spring=hitch.buffer is not Buffer.NONE,
    )
