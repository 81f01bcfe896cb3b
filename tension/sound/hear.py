"""The front of this room: recordings and spans in, what was heard of the set out."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tension.sound.apart import of_one_pitch, settle_repeats
from tension.sound.candidates import RopeCandidates
from tension.sound.decays import find_decays
from tension.sound.decision import Decision, decide, why_refused
from tension.sound.hearing import (
    HearingPrior,
    RopeHearing,
    RopeSpan,
    SetHearing,
    joint_hypotheses,
)
from tension.sound.measure_rope import measure_rope
from tension.sound.posterior import weigh_candidates
from tension.sound.recording import Take
from tension.sound.set_prior import Measured, share_stiffness, with_set_prior


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
    decisions = _decide(heard, [span.free_length for span in spans], expected)
    concluded = [
        _measured_or_refused(span, one, decision, takes)
        for span, one, decision in zip(spans, heard, decisions, strict=True)
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
        hypotheses=joint_hypotheses([rope for rope in ropes if rope.number in changes]),
        covariance=shared.covariance,
        rigidity_per_density=shared.rigidity_per_density,
        rigidity_per_density_uncertainty=shared.rigidity_uncertainty,
    )


def _decide(
    heard: Sequence[RopeCandidates],
    lengths: Sequence[float | None],
    prior: HearingPrior,
) -> list[Decision | None]:
    """Decide each rope by itself, then with those that stand by themselves."""
    candidates = [one.candidates for one in heard]
    nobody = [False] * len(heard)
    by_itself = weigh_candidates(candidates, lengths, prior, nobody)
    alone = [decide(one, told) for one, told in zip(heard, by_itself, strict=True)]
    witnesses = [one is not None and one.reason is None for one in alone]
    together = weigh_candidates(candidates, lengths, prior, witnesses)
    return [
        decide(one, told, before)
        for one, told, before in zip(heard, together, alone, strict=True)
    ]


def _measured_or_refused(
    span: RopeSpan,
    heard: RopeCandidates,
    decision: Decision | None,
    takes: Sequence[Take],
) -> tuple[RopeHearing, Measured | None]:
    """Give a rope or refuse it."""
    if decision is not None and decision.reason is None:
        return measure_rope(span, heard, decision)
    refusal = heard.found.refusal
    if refusal is None:
        recording = next(t.recording for t in takes if span.number in t.ropes)
        refusal = why_refused(span, heard, decision, recording)
    nothing = float("nan")
    hearing = RopeHearing(
        number=span.number,
        fundamental_frequency=nothing,
        relative_uncertainty=nothing,
        inharmonicity=nothing,
        signal_to_noise=nothing,
        plucks=tuple(heard.found.plucks),
        hum=tuple(heard.found.hum),
        rivals=decision.rivals if decision else (),
        checks=decision.checks if decision else (),
        refusal=refusal,
        notes=tuple(heard.found.notes),
    )
    return hearing, None
