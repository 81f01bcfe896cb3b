"""The front of this room: recordings and spans in, what was heard of the set out."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tension.sound.apart import of_one_pitch, settle_repeats
from tension.sound.candidates import RopeCandidates, with_set_prior
from tension.sound.decays import find_decays
from tension.sound.decision import Decision, decide_set, why_refused
from tension.sound.hearing import (
    HearingPrior,
    RopeHearing,
    RopeSpan,
    SetHearing,
    joint_hypotheses,
)
from tension.sound.measure_rope import measure_rope, share_stiffness
from tension.sound.recording import Take


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
    Hum is taken out, rings are cut, and lines are found in the window that suits their
    decay; strings that they could be the partials of are fitted and weighed, the set
    together; the likeliest is held against two checks; the phases of its partials give
    the frequency that is left when glide has died.
    """
    expected = prior or HearingPrior()
    found = find_decays(takes, [span.number for span in spans])
    settle_repeats(found)
    heard = [of_one_pitch(found[span.number], span, expected) for span in spans]
    heard = with_set_prior(heard, spans)
    decisions = decide_set(heard, [span.free_length for span in spans], expected)
    ropes, measured = [], []
    for span, one, decision in zip(spans, heard, decisions, strict=True):
        if decision is None or decision.reason is not None:
            ropes.append(_refused(span, one, decision, takes))
            continue
        rope, number = measure_rope(span, one, decision)
        ropes.append(rope)
        measured.append(number)
    shared = share_stiffness(measured, expected)
    given = tuple(one.number for one in measured)
    spreads = np.sqrt(np.diag(shared.covariance))
    told = dict(zip(given, zip(shared.changes, spreads, strict=True), strict=True))
    ropes = [
        replace(
            rope,
            fundamental_frequency=float(
                rope.fundamental_frequency * np.exp(told[rope.number][0])
            ),
            relative_uncertainty=float(told[rope.number][1]),
        )
        if rope.number in told
        else rope
        for rope in ropes
    ]
    return SetHearing(
        ropes=tuple(ropes),
        given=given,
        hypotheses=joint_hypotheses([rope for rope in ropes if rope.number in told]),
        covariance=shared.covariance,
        rigidity_per_density=shared.rigidity_per_density,
        rigidity_per_density_uncertainty=shared.rigidity_uncertainty,
    )


def _refused(
    span: RopeSpan,
    heard: RopeCandidates,
    decision: Decision | None,
    takes: Sequence[Take],
) -> RopeHearing:
    """Tell of a rope that is not given."""
    found = heard.found
    refusal = found.refusal
    if refusal is None:
        recording = next(t.recording for t in takes if span.number in t.ropes)
        refusal = why_refused(span.number, heard, decision, recording)
    nothing = float("nan")
    return RopeHearing(
        number=span.number,
        fundamental_frequency=nothing,
        relative_uncertainty=nothing,
        inharmonicity=nothing,
        signal_to_noise=nothing,
        plucks=tuple(found.plucks),
        hum=tuple(found.hum),
        rivals=decision.rivals if decision else (),
        checks=decision.checks if decision else (),
        refusal=refusal,
        notes=tuple(found.notes),
    )
