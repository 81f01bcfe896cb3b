"""What gives between one nut and the other: buffers, this fall, the whole rope."""

from dataclasses import dataclass
from math import sqrt

from tension.adjustment.hitch_parts import (
    find_hitch,
    is_car_side,
    opposite_hitch,
    spring_rate_of,
)
from tension.adjustment.learned import LearnedStiffness
from tension.adjustment.origins import KnownFrom, Origin
from tension.catalogue.elasticity import find_axial_rigidity
from tension.installation import Buffer, Drive, Hitch, RopeSet, Side, Span
from tension.notes import NoteKind, Refusal
from tension.quantity.units import Dimension

_TYPED_RIGIDITY = 0.10
"""Uncertainty of a data sheet's axial rigidity, which grows with load and age. [1]"""


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
        """Tell how much each source moves the stiffness of a chain.

        Returns
        -------
        list of (float, Origin)
            Relative standard uncertainty by each source. [1]
        """
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

    Parameters
    ----------
    rope_set : RopeSet
        Springs, ropes and their lengths.
    hitch : Hitch
        Where the nuts are turned.
    span : Span
        The fall that was measured.
    drive : Drive
        On a traction sheave a turn spreads over the whole rope once the car has run.
    learned : LearnedStiffness, optional
        What earlier turns have shown; then buffers of no known rate are no hindrance.
    """
    here = _buffer_compliance(rope_set, hitch, learned)
    if isinstance(here, Refusal):
        return here
    rigidity, fall = _rigidity(rope_set), _fall_length(rope_set, span)
    if rigidity is None:
        return NoteKind.ROPE_UNKNOWN.refusal()
    if fall is None:
        return NoteKind.FALL_UNKNOWN.refusal(span=span.name)
    if drive is not Drive.TRACTION:
        rope = _rope_compliance(fall, rigidity)
        return Compliances(here=here, far=(), fall=rope, whole=rope, rigidity=rigidity)
    return _over_the_sheave(rope_set, hitch, span, here, fall, rigidity, learned)


def _over_the_sheave(
    rope_set: RopeSet,
    hitch: Hitch,
    span: Span,
    here: tuple[Compliance, ...],
    fall: Origin,
    rigidity: Origin,
    learned: LearnedStiffness | None,
) -> Compliances | Refusal:
    """What gives on a traction sheave, where the other hitch counts as well."""
    if rope_set.rope_length is None:
        return NoteKind.ROPE_LENGTH_UNKNOWN.refusal()
    far = _other_end(rope_set, hitch, here, learned)
    if isinstance(far, Refusal):
        return far
    whole = Origin(
        name="rope [[hitch]] to [[hitch]]",
        value=rope_set.rope_length.value,
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source=rope_set.rope_length.text,
    )
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
        return Origin(
            name="axial rigidity",
            value=rope_set.axial_rigidity.value,
            dimension=Dimension.FORCE,
            known_from=KnownFrom.TYPED,
            source=rope_set.axial_rigidity.text,
            relative_uncertainty=_TYPED_RIGIDITY,
        )
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
        value, text = span.free_length.value, span.free_length.text
    else:
        read = [
            length.value
            for rope in rope_set.ropes
            for name, length in rope.free_lengths
            if name == span.name
        ]
        if not read:
            return None
        value, text = sum(read) / len(read), "mean of the lengths of the ropes"
    return Origin(
        name="free length of this fall",
        value=value,
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source=text,
    )


def _rope_compliance(length: Origin, rigidity: Origin) -> Compliance:
    """What a length of rope gives."""
    return Compliance(
        value=length.value / rigidity.value,
        uncertainty=rigidity.relative_uncertainty,
        origin=length,
        is_rope=True,
    )
