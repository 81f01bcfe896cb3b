"""The front of this room: recordings and spans in, what was heard of the set out."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tension.sound.conclude import conclude
from tension.sound.hearing import (
    HearingPrior,
    Hypothesis,
    RopeHearing,
    RopeSpan,
    SetHearing,
)
from tension.sound.joint import weigh_readings
from tension.sound.lending import lend
from tension.sound.recording import Take
from tension.sound.rings import find_rings
from tension.sound.rope import hear_rope
from tension.sound.shared import share_stiffness
from tension.sound.standing import stand_in_set

LEAST_WEIGHT = 1e-4
"""Joint numberings lighter than this are left out. [1]"""


def hear_set(
    takes: Sequence[Take],
    spans: Sequence[RopeSpan],
    prior: HearingPrior | None = None,
) -> SetHearing:
    """Hear the ropes of a set.

    Parameters
    ----------
    takes : sequence of Take
        Recordings and which ropes were plucked in them.
    spans : sequence of RopeSpan
        One per rope.
    prior : HearingPrior, optional
        What is expected before listening.

    Returns
    -------
    SetHearing
        One `RopeHearing` per span, in the same order.

    Notes
    -----
    Each rope is heard by itself: rings are cut, lines found in the window that suits
    their decay, hum told by standing before the pluck and not decaying, rival combs
    fitted and weighed. Then the set decides between the rivals that each recording
    allows, and the phases of the partials give the frequency that is left when glide
    has died.
    """
    expected = prior or HearingPrior()
    found = find_rings(takes, [span.number for span in spans])
    heard = [hear_rope(found[span.number], span, expected) for span in spans]
    heard = lend(heard, spans)
    readings = [one.readings if one.is_open else () for one in heard]
    lengths = [span.free_length for span in spans]
    probabilities = weigh_readings(readings, lengths, expected)
    heard = stand_in_set(heard, spans, probabilities, expected)
    concluded = [
        conclude(span, one, weights)
        for span, one, weights in zip(spans, heard, probabilities, strict=True)
    ]
    measured = [one for _, one in concluded if one is not None]
    shared = share_stiffness(measured, expected)
    changes = dict(zip([one.number for one in measured], shared.changes, strict=True))
    spreads = dict(
        zip(
            [one.number for one in measured],
            np.sqrt(np.diag(shared.covariance)),
            strict=True,
        )
    )
    ropes = tuple(
        replace(
            rope,
            fundamental_frequency=rope.fundamental_frequency
            * float(np.exp(changes[rope.number])),
            relative_uncertainty=float(spreads[rope.number]),
        )
        if rope.number in changes
        else rope
        for rope, _ in concluded
    )
    return SetHearing(
        ropes=ropes,
        given=tuple(one.number for one in measured),
        hypotheses=_hypotheses([rope for rope in ropes if rope.number in changes]),
        covariance=shared.covariance,
        rigidity_per_density=shared.rigidity_per_density,
        rigidity_per_density_uncertainty=shared.rigidity_uncertainty,
    )


def _hypotheses(ropes: Sequence[RopeHearing]) -> tuple[Hypothesis, ...]:
    """Joint numberings of the ropes given, heaviest first."""
    joint: list[tuple[float, tuple[float, ...]]] = [(1.0, ())]
    for rope in ropes:
        rest = sum(rival.probability for rival in rope.rivals)
        choices = [(1.0 - rest, rope.fundamental_frequency)]
        choices += [(r.probability, r.fundamental_frequency) for r in rope.rivals]
        joint = [
            (weight * share, (*values, value))
            for weight, values in joint
            for share, value in choices
            if weight * share > LEAST_WEIGHT
        ]
    total = sum(weight for weight, _ in joint)
    joint.sort(key=lambda one: -one[0])
    return tuple(
        Hypothesis(weight=weight / total, fundamental_frequencies=np.array(values))
        for weight, values in joint
        if values
    )
