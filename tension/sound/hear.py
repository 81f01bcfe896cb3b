"""The front of this room: recordings and spans in, what was heard of the set out.

Plucks of another rope among those of one are left out and told, or the rope refused.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from tension.notes import NoteKind
from tension.sound.candidates import find_own_candidates, lend_candidates
from tension.sound.decays import Decay, FoundRope, find_decays
from tension.sound.decision import decide, decide_set, refuse, weigh_candidates
from tension.sound.events import STEP, of_length_one
from tension.sound.hearing import Array, HearingPrior, RopeSpan, SetHearing, Take
from tension.sound.measure_rope import measure_rope, share_stiffness
from tension.sound.statistics import OWN_PITCHES, pitch_likelihoods
from tension.sound.string_fit import StringFit

FURTHEST = 0.16  # of the logarithm of frequency: neighbours differ by no more [1]
CLEAR_PEAK = 0.45  # likeness at the best shift that shows the same series [1]
OVER_UNSHIFTED = 0.15  # by which it must exceed the likeness unshifted [1]
UNLIKE = 0.3  # likeness of rings of one rope in any noise is more [1]
CROSSWISE = 0.55  # likeness of two rounds of one rope, mostly more [1]
LEAST_SHIFT = 0.012
"""Of the logarithm of frequency: 2.4 % of tension, more than repeats differ by. [1]"""
MOST_TOLD = 6  # plucks of another pitch told by their time; the others are counted [1]
FURTHEST_PITCH, PITCH_STEP = 1.7, 0.004
"""Pitches of other ropes looked for: so many times higher or lower, steps of ln. [1]"""


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
    found = find_decays(takes, spans)
    settle_repeats(found)
    ropes = list(found.values())
    for rope in ropes:
        keep_one_pitch(rope, expected)
    lend_candidates(ropes)
    heard, measured = {}, []
    for rope, decision in zip(ropes, decide_set(ropes, expected), strict=True):
        number = rope.span.number
        if decision is None or decision.reason is not None:
            own = [take.recording for take in takes if number in take.ropes]
            heard[number] = refuse(rope, decision, own)
        else:
            measured.append(measure_rope(rope, decision))
    given = share_stiffness(measured, expected)
    heard |= {rope.number: rope for rope in given.ropes}
    return replace(given, ropes=tuple(heard[number] for number in found))


def _shift_between(one: Array, other: Array) -> float:
    """Ln of frequencies of one ring over another, by their log spectra. [1].

    0 unless a shift makes them clearly more alike.
    """
    reach = round(FURTHEST / STEP)
    table = np.correlate(np.pad(one, reach), other, mode="valid")
    best = int(np.argmax(table))
    shift = (best - reach) * STEP
    is_clear = table[best] > max(CLEAR_PEAK, float(table[reach]) + OVER_UNSHIFTED)
    return shift if is_clear and abs(shift) >= LEAST_SHIFT else 0.0


def _is_apart(one: Array, other: Array) -> bool:
    """Whether two rings are not of one pitch, or not alike at all."""
    return _shift_between(one, other) != 0.0 or float(one @ other) < UNLIKE


def _find_swaps(rounds: Mapping[int, Sequence[Array]]) -> list[tuple[int, int]]:
    """Ropes whose numbers were changed over between two rounds of log spectra."""
    return [
        (one, other)
        for one, other in combinations(sorted(rounds), 2)
        if all(
            float(a @ b) > CROSSWISE and not _is_apart(a, b)
            for a, b in (
                (rounds[one][0], rounds[other][-1]),
                (rounds[one][-1], rounds[other][0]),
            )
        )
    ]


def settle_repeats(found: Mapping[int, FoundRope]) -> None:
    """Refuse ropes whose rounds differ in pitch, by name if two were swapped."""
    rounds: dict[int, list[Array]] = {}
    for number, rope in found.items():
        own: dict[tuple[int, int], list[Array]] = {}
        for one in sorted(rope.decays, key=lambda one: (one.take, one.pluck.start)):
            own.setdefault((one.take, one.entry), []).append(one.log_spectrum)
        rounds[number] = [of_length_one(np.sum(of, axis=0)) for of in own.values()]
    apart = {
        number
        for number, log_spectra in rounds.items()
        if any(_shift_between(*pair) for pair in combinations(log_spectra, 2))
    }
    for pair in _find_swaps({k: of for k, of in rounds.items() if len(of) > 1}):
        if apart.isdisjoint(pair):
            continue
        apart -= set(pair)
        for number in pair:
            found[number].notes.append(
                NoteKind.SWAPPED_ROPES.note(ropes=pair, one=pair[0], other=pair[1])
            )
            found[number].refuse(
                NoteKind.SWAPPED.refusal(first=pair[0], second=pair[1])
            )
    for number in apart:
        rope = found[number]
        rope.refuse_apart(", ".join(one.told() for one in rope.decays))


def keep_one_pitch(rope: FoundRope, prior: HearingPrior) -> None:
    """Find the candidates of one rope from those of its plucks that have one pitch.

    Notes
    -----
    A pluck is of another rope where a string of another pitch explains its own lines
    better than the likeliest string of all plucks does. The fewer are left out, with a
    note; where they are as many as the others, nobody knows which of them is the rope:
    held out, 3 of 300 recordings of no rope are refused by this alone, and of right
    ones 2 of 600 and, at mid-span, 6 of 1114. Of 179 real strings (building half, seeds
    31 to 33: clean, phone, far) that were given rightly, one loses a pluck.
    """
    if rope.decays and rope.spare:
        _hold_against_spare(rope)
    find_own_candidates(rope, prior)
    if not rope.candidates:
        return
    decays = (*rope.decays, *rope.unlike)
    pitches = _pitches_apart(decays, rope.candidates[0].fit)
    odd = [
        (one, pitch)
        for k, (one, pitch) in enumerate(zip(decays, pitches, strict=True))
        if pitch is not None or k >= len(rope.decays)
    ]
    if not odd:
        return
    out = [one.pluck for one, pitch in odd if pitch is not None]
    kept = [one for one in rope.decays if one.pluck not in out]
    times = ", ".join(one.told(pitch) for one, pitch in odd)
    if len(out) >= len(kept):
        # what is no rope anyhow is told as what it is
        decision = decide(rope, *weigh_candidates([rope], prior)[0])
        if decision is not None and decision.reason is None:
            rope.refuse_apart(times)
            find_own_candidates(rope, prior)
        return
    if len(kept) < len(rope.decays):
        rope.decays = kept
        rope.plucks = [
            replace(one, is_used=False, reason="has another pitch")
            if one in out
            else one
            for one in rope.plucks
        ]
        find_own_candidates(rope, prior)
    _note_others(rope, times)


def _hold_against_spare(rope: FoundRope) -> None:
    """Refuse a rope where as many plucks have another pitch as are like the clearest.

    The clearest of a long memo may all be of one of several ropes. Where fewer have
    another pitch this is told.
    """
    own = of_length_one(np.sum([one.log_spectrum for one in rope.decays], axis=0))
    other = [one for one in rope.spare if _shift_between(one.log_spectrum, own) != 0.0]
    if not other:
        return
    times = ", ".join(one.told() for one in other[:MOST_TOLD])
    if len(other) > MOST_TOLD:
        times += f" and {len(other) - MOST_TOLD} more"
    n_alike = sum(not _is_apart(one.log_spectrum, own) for one in rope.spare)
    if len(other) >= len(rope.decays) + n_alike:
        rope.refuse_apart(times)
    else:
        _note_others(rope, times)


def _note_others(rope: FoundRope, times: str) -> None:
    """Tell of plucks of another pitch."""
    number = rope.span.number
    rope.notes.append(
        NoteKind.OTHER_PLUCK.note(ropes=(number,), rope=number, times=times)
    )


def _pitches_apart(decays: Sequence[Decay], fit: StringFit) -> list[float | None]:
    """Pitch [Hz] of each decay that another string explains better; None of others."""
    if fit.hitch is not None:  # its partials are those of no plain string
        return [None] * len(decays)
    rate, parts = decays[0].sampling_rate, [one.samples for one in decays]
    ratios, told = pitch_likelihoods(parts, rate, fit, FURTHEST_PITCH, PITCH_STEP)
    best = [int(np.argmax(values)) for values in told]
    return [
        fit.fundamental_frequency * float(ratios[k]) if k >= OWN_PITCHES.size else None
        for k in best
    ]
