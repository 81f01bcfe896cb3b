"""What is known of the ropes: free lengths, masses, bounds of their stiffnesses."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum
from math import sqrt
from types import MappingProxyType

import numpy as np

from tension.catalogue.ropes import (
    AxialRigidity,
    find_axial_rigidity,
    find_rope_class,
    flexural_rigidity_bounds,
    linear_density_from_class,
)
from tension.installation import RopeSet, Span
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray as Array
from tension.physics.own_weight import weight_to_hitch
from tension.physics.taut_rope import EndCondition
from tension.quantity.estimate import Estimate, Sharing, Source, budget

USUAL_DIAMETER = 0.013
"""Of a rope of which none is told; common practice, no source. [m]"""

_USUAL_DIAMETERS = (0.006, 0.020)
"""Of lift ropes, where none is told; common practice, no source [m]"""

_TRIANGULAR = sqrt(24)
"""Width over standard deviation of a triangular distribution. Loose and bonded wires
are limits that no rope reaches, so what lies between is likelier in the middle. [1]"""

_DENSITY_PER_SQUARE = 3500.0
"""Linear density over diameter squared, about that of any stranded rope. [kg/m^3]"""

_SHORTEST_FOR_NEWTONS = 1.5
"""Below this free length bending hides the tension itself; common practice. [m]"""

_LEAST_AT_HITCH = 0.5
"""Part of the tension in the middle that the hitch must carry: ropes of which the most
that is heard is their own weight hold no car; the program's own figure. [1]"""

_TYPED_RIGIDITY = 0.10
"""Of an axial rigidity typed: one off a data sheet is of a new rope at one load, and it
grows with load and age; common practice, no source, taken wide. [1]"""


class LengthKnowledge(Enum):
    """What is known of the free lengths, rope against rope."""

    PER_ROPE = "per rope"
    ONE_HEIGHT = "sockets at one height"
    UNKNOWN = "one length, sockets not said to be at one height"
    NOT_NEEDED = "not needed"


@dataclass(frozen=True, kw_only=True, slots=True)
class RigidityRange:
    """Between what EI/m may lie."""

    # loose wires, a value between, bonded wires [m^4/s^2]
    lowest: float
    likely: float
    highest: float
    # of the likely value, where it was measured; 0 where only the range is known [1]
    relative_uncertainty: float = 0.0

    @property
    def ends(self) -> tuple[float, float, float]:
        """Two values [m^4/s^2], and how many standard deviations lie between them."""
        if self.relative_uncertainty > 0:
            width = self.likely * self.relative_uncertainty
            return max(self.likely - width, 0.0), self.likely + width, 2.0
        return self.lowest, self.highest, _TRIANGULAR


@dataclass(frozen=True, kw_only=True, slots=True)
class FreeLengths:
    """Free lengths of a set at one span."""

    # free length by rope number; ropes without one are left out [m]
    lengths: Mapping[int, float]
    knowledge: LengthKnowledge  # what is known of them, rope against rope
    own_uncertainty: float  # standard uncertainty of each, not shared by the set [m]
    # standard uncertainty common to the set: of the one length read [m]
    shared_uncertainty: float

    def shared_source(self, relative_by_length: float) -> Source:
        """Budget of the set's one length, by what it does to a tension [1/m]."""
        return Source(
            name="free length of the set",
            relative=relative_by_length * self.shared_uncertainty,
            sharing=Sharing.SET,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Site:
    """Where readings are taken, and what is known of the ropes there."""

    rope_set: RopeSet
    span: Span
    lengths: FreeLengths
    # mass per length; None if neither typed nor to be had from a table [kg/m]
    linear_density: Estimate | None
    # that or about that of any rope of this diameter, for weight and bending [kg/m]
    density_or_usual: float
    rigidity_per_density: RigidityRange  # bounds of EI/m from the diameter
    notes: tuple[Note, ...] = ()  # where the figures come from

    @classmethod
    def of(cls, rope_set: RopeSet, span: Span) -> "Site":
        """Find what is known of a set at a span.

        The linear density as typed, else from the table, marked so; none for ropes that
        the table does not hold.
        """
        typed, diameter = rope_set.linear_density, rope_set.diameter
        relative = rope_set.uncertainties.linear_density
        found = find_rope_class(rope_set.construction)
        density: Estimate | None = None
        notes: tuple[Note, ...] = ()
        if typed is not None:
            sources = budget({"linear density": relative}, Sharing.SET)
            density = Estimate(value=typed.value, sources=sources)
        elif isinstance(found, Refusal):
            notes = (found.as_note(),) if rope_set.construction else ()
        elif diameter is not None:
            density = linear_density_from_class(found, diameter.value)
            if "linear_density" in rope_set.uncertainties.typed:
                sources = tuple(replace(s, relative=relative) for s in density.sources)
                density = replace(density, sources=sources)
            note = NoteKind.FROM_TABLE.note(
                density=f"{density.value:.3g}",
                source=found.source,
                diameter=f"{1000 * diameter.value:g}",
                construction=found.name,
            )
            notes = (note,)
        across = diameter.value if diameter else USUAL_DIAMETER
        usual = _DENSITY_PER_SQUARE * across**2
        return cls(
            rope_set=rope_set,
            span=span,
            lengths=find_free_lengths(rope_set, span),
            linear_density=density,
            density_or_usual=density.value if density else usual,
            rigidity_per_density=_rigidity_range(rope_set),
            notes=notes,
        )

    @property
    def ends(self) -> EndCondition:
        """How the ends of the span are held."""
        return EndCondition.from_ends(self.span.ends)

    def at_hitch(self, middle: Array, lengths: Array | float) -> Array:
        """T/m at the hitch from that in the middle of a length [m]; nan if slack."""
        hitch = middle + weight_to_hitch(
            distance=lengths / 2, hitch_end=self.span.hitch_end
        )
        return np.where(hitch > _LEAST_AT_HITCH * middle, hitch, np.nan)

    def density_of_newtons(self, shortest: float) -> Estimate | None:
        """Mass per length [kg/m]; None where the shortest length [m] hides newtons."""
        is_long = shortest >= _SHORTEST_FOR_NEWTONS
        return self.linear_density if is_long else None


def axial_rigidity_of(rope_set: RopeSet) -> AxialRigidity | None:
    """Find EA as typed, else by diameter and class; None where neither is told."""
    typed = rope_set.axial_rigidity
    if typed is not None:
        return AxialRigidity(
            value=typed.value,
            relative_uncertainty=_TYPED_RIGIDITY,
            construction=rope_set.construction,
            source=typed.text,
            is_typed=True,
        )
    if rope_set.diameter is None:
        return None
    return find_axial_rigidity(
        diameter=rope_set.diameter.value, construction=rope_set.construction
    )


def _rigidity_range(rope_set: RopeSet) -> RigidityRange:
    """Bounds of EI/m, by diameter and linear density."""
    diameter = rope_set.diameter
    ends = (diameter.value, diameter.value) if diameter else _USUAL_DIAMETERS
    lowest, highest = (
        _DENSITY_PER_SQUARE * end**2
        if rope_set.linear_density is None or diameter is None
        else rope_set.linear_density.value
        for end in ends
    )
    least = flexural_rigidity_bounds(ends[0])[0] / lowest
    most = flexural_rigidity_bounds(ends[1])[1] / highest
    return RigidityRange(lowest=least, likely=sqrt(least * most), highest=most)


def find_free_lengths(rope_set: RopeSet, span: Span) -> FreeLengths:
    """Find the free length of each rope at a span.

    A rope's own length at this span if it has one, else the span's length and the
    stagger; ropes not named have no stagger once any rope has one.
    """
    base = span.free_length.value if span.free_length else None
    own = {
        rope.number: length.value
        for rope in rope_set.ropes
        for name, length in rope.free_lengths
        if name == span.name
    }
    staggers = {r.number: r.stagger.value for r in rope_set.ropes if r.stagger}
    lengths = own
    if base is not None:
        lengths = {
            number: own.get(number, base + staggers.get(number, 0.0))
            for number in range(1, rope_set.n_ropes + 1)
        }
    if own or staggers or rope_set.n_ropes == 1:
        knowledge = LengthKnowledge.PER_ROPE
    elif rope_set.has_sockets_at_one_height:
        knowledge = LengthKnowledge.ONE_HEIGHT
    else:
        knowledge = LengthKnowledge.UNKNOWN
    uncertainty = rope_set.uncertainties.free_length
    return FreeLengths(
        lengths=MappingProxyType({n: v for n, v in sorted(lengths.items()) if v > 0}),
        knowledge=knowledge,
        own_uncertainty=uncertainty,
        shared_uncertainty=uncertainty if base is not None else 0.0,
    )
