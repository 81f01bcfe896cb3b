"""Free length of each rope at a span, and what is known of it rope against rope."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from tension.installation import RopeSet, Span
from tension.measurement.outcome import LengthKnowledge

SHORTEST_FOR_NEWTONS = 1.5
"""Below this free length bending hides the tension itself; common practice. [m]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class FreeLengths:
    """Free lengths of a set at one span.

    Attributes
    ----------
    lengths : mapping of int to float
        Free length by rope number; ropes without one are left out. [m]
    knowledge : LengthKnowledge
        What is known of them, rope against rope.
    own_uncertainty : float
        Standard uncertainty of each, not shared by the set. [m]
    shared_uncertainty : float
        Standard uncertainty common to the set: of the one length read. [m]
    """

    lengths: Mapping[int, float]
    knowledge: LengthKnowledge
    own_uncertainty: float
    shared_uncertainty: float


def find_free_lengths(rope_set: RopeSet, span: Span) -> FreeLengths:
    """Find the free length of each rope at a span.

    Returns
    -------
    FreeLengths
        A rope's own length at this span if it has one, else the span's length and the
        stagger; ropes not named have no stagger once any rope has one.
    """
    by_number = {rope.number: rope for rope in rope_set.ropes}
    base = span.free_length.value if span.free_length else None
    lengths: dict[int, float] = {}
    is_per_rope = False
    for number in range(1, rope_set.n_ropes + 1):
        rope = by_number.get(number)
        own = dict(rope.free_lengths).get(span.name) if rope else None
        stagger = rope.stagger.value if rope and rope.stagger else None
        is_per_rope = is_per_rope or own is not None or stagger is not None
        if own is not None:
            lengths[number] = own.value
        elif base is not None:
            lengths[number] = base + (stagger or 0.0)
    if is_per_rope or rope_set.n_ropes == 1:
        knowledge = LengthKnowledge.PER_ROPE
    elif rope_set.has_sockets_at_one_height:
        knowledge = LengthKnowledge.ONE_HEIGHT
    else:
        knowledge = LengthKnowledge.UNKNOWN
    uncertainty = rope_set.uncertainties.free_length
    return FreeLengths(
        lengths=MappingProxyType({n: v for n, v in lengths.items() if v > 0}),
        knowledge=knowledge,
        own_uncertainty=uncertainty,
        shared_uncertainty=uncertainty if base is not None else 0.0,
    )
