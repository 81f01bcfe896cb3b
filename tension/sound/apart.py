"""Plucks of another rope among those of one: left out and told, or the rope refused."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tension.notes import NoteKind
from tension.sound.candidates import RopeCandidates, candidates_of
from tension.sound.cutting import Decay
from tension.sound.decays import RopeDecays
from tension.sound.decision import decide
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.posterior import weigh_candidates
from tension.sound.statistics import OWN_PITCHES, other_pitches, pitch_likelihoods
from tension.sound.string_fit import StringFit

FURTHEST, STEP = 1.7, 0.004
"""Pitches of other ropes looked for: so many times higher or lower, steps of ln. [1]"""


def of_one_pitch(
    found: RopeDecays, span: RopeSpan, prior: HearingPrior
) -> RopeCandidates:
    """Find the candidates of one rope from those of its plucks that have one pitch.

    Notes
    -----
    A pluck is of another rope where a string of another pitch explains its own lines
    better than the likeliest string of all plucks does. The fewer are left out, with a
    note; where they are as many as the others, nobody knows which of them is the rope.
    Of 179 real strings (building half, seeds 31 to 33: clean, phone, far) that were
    given rightly, one loses a pluck.
    """
    heard = candidates_of(found, span, prior)
    if not heard.candidates:
        return heard
    n_rings = len(heard.rings)
    rings = (*heard.rings, *found.unlike)
    pitches = pitches_apart(rings, heard.candidates[0].fit)
    times = ", ".join(
        _told(ring, pitch)
        for k, (ring, pitch) in enumerate(zip(rings, pitches, strict=True))
        if pitch is not None or k >= n_rings
    )
    if not times:
        return heard
    told = NoteKind.OTHER_PLUCK.note(
        ropes=(span.number,), rope=span.number, times=times
    )
    used = list(zip(heard.rings, pitches[:n_rings], strict=True))
    left = [ring for ring, pitch in used if pitch is None]
    if len(left) <= sum(pitch is not None for pitch in pitches):
        if not _is_rope(heard, span, prior):
            return replace(heard, notes=(*heard.notes, told))
        refusal = NoteKind.PLUCKS_APART.refusal(rope=span.number, times=times)
        return replace(heard, lines=None, candidates=(), refusal=refusal)
    if len(left) < n_rings:
        out = [ring.pluck for ring, pitch in used if pitch is not None]
        plucks = [
            replace(one, is_used=False, reason="has another pitch")
            if one in out
            else one
            for one in found.plucks
        ]
        heard = candidates_of(replace(found, rings=left, plucks=plucks), span, prior)
    return replace(heard, notes=(*heard.notes, told))


def _is_rope(heard: RopeCandidates, span: RopeSpan, prior: HearingPrior) -> bool:
    """Whether a rope would be given, had all plucks one pitch."""
    posterior = weigh_candidates([heard.candidates], [span.free_length], prior)[0]
    decision = decide(heard, posterior)
    return decision is not None and decision.reason is None


def pitches_apart(rings: Sequence[Decay], fit: StringFit) -> list[float | None]:
    """Pitch of each ring that another string explains better.

    Returns
    -------
    list of float or None
        Its fundamental; None where the string explains the ring at least as well. [Hz]
    """
    if fit.hitch is not None:  # its partials are those of no plain string
        return [None] * len(rings)
    strings = other_pitches(fit, FURTHEST, STEP)
    ratios = strings.string_fundamentals / fit.string_fundamental
    told = pitch_likelihoods(
        [ring.samples for ring in rings],
        rings[0].sampling_rate,
        strings,
        fit.n_clamped_ends,
    )
    best = [int(np.argmax(values)) for values in told]
    return [
        fit.fundamental_frequency * float(ratios[k]) if k >= OWN_PITCHES.size else None
        for k in best
    ]


def _told(ring: Decay, pitch: float | None) -> str:
    """When a pluck was, and its pitch."""
    heard = f", about {pitch:.1f} Hz" if pitch is not None else ""
    return f"{ring.pluck.start:.1f} s ({ring.pluck.recording}{heard})"
