"""How stiff each rope is seen from its nut, now and once the car has run."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.compliance import Compliances, find_compliances
from tension.adjustment.learned import LearnedStiffness
from tension.adjustment.origins import KnownFrom, Origin
from tension.installation import Buffer, Drive, Hitch, RopeSet, Span
from tension.notes import Refusal
from tension.quantity.units import Dimension

FloatArray = NDArray[np.float64]

_LARGEST_KNOWN = 0.25
"""Above this the stiffness counts as assumed and the first round is a part. [1]"""

_LEARNED_NOW = 0.15
"""What a stiffness learned after running leaves open before it. [1]"""

_WEIGHTY = 0.10
"""An assumed number that moves the stiffness by more makes it assumed. [1]"""


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
    """Work out the stiffness seen by the nuts of one hitch.

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
        What earlier turns on this set have shown.
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
