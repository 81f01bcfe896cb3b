"""The front of this room: recordings and spans in, what was heard of the set out."""

from collections.abc import Sequence
from dataclasses import replace

from tension.sound.apart import of_one_pitch, settle_repeats
from tension.sound.candidates import with_set_prior
from tension.sound.decays import find_decays
from tension.sound.decision import decide_set, refuse
from tension.sound.hearing import HearingPrior, RopeSpan, SetHearing
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
    refused, measured = [], []
    for span, one, decision in zip(spans, heard, decisions, strict=True):
        if decision is None or decision.reason is not None:
            own = [t.recording for t in takes if span.number in t.ropes]
            refused.append(refuse(span.number, one, decision, own))
        else:
            measured.append(measure_rope(span, one, decision))
    given = share_stiffness(measured, expected)
    ropes = {rope.number: rope for rope in (*refused, *given.ropes)}
    return replace(given, ropes=tuple(ropes[span.number] for span in spans))
