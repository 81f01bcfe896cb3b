"""Plucks of another rope among those of one: left out and told, or the rope refused."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from tension.notes import NoteKind
from tension.sound.candidates import RopeCandidates, candidates_of
from tension.sound.decays import Decay, RopeDecays
from tension.sound.decision import decide, weigh_candidates
from tension.sound.events import STEP
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.recording import Array
from tension.sound.statistics import OWN_PITCHES, other_pitches, pitch_likelihoods
from tension.sound.string_fit import StringFit

FURTHEST = 0.16  # of the logarithm of frequency: neighbours differ by no more [1]
CLEAR_PEAK = 0.45  # likeness at the best shift that shows the same series [1]
OVER_UNSHIFTED = 0.15  # by which it must exceed the likeness unshifted [1]
UNLIKE = 0.3  # likeness of rings of one rope in any noise is more [1]
CROSSWISE = 0.55  # likeness of two rounds of one rope, mostly more [1]
LEAST_SHIFT = 0.012
"""Of the logarithm of frequency: 2.4 % of tension, more than repeats differ by. [1]"""
MOST_TOLD = 6
"""Plucks of another pitch told by their time; the others are counted. [1]"""
FURTHEST_PITCH, PITCH_STEP = 1.7, 0.004
"""Pitches of other ropes looked for: so many times higher or lower, steps of ln. [1]"""


def shift_between(one: Array, other: Array) -> float:
    """Find by how much one ring is higher than another.

    `one`, `other` (n_log_frequencies,): log spectra of `tension.sound.events.Event`.
    Gives: logarithm of the ratio of frequencies, one over other; 0 unless a shift makes
    them clearly more alike.
    """
    reach = round(FURTHEST / STEP)
    table = np.correlate(np.pad(one, reach), other, mode="valid")
    best = int(np.argmax(table))
    shift = (best - reach) * STEP
    is_clear = table[best] > max(CLEAR_PEAK, float(table[reach]) + OVER_UNSHIFTED)
    return shift if is_clear and abs(shift) >= LEAST_SHIFT else 0.0


def is_apart(one: Array, other: Array) -> bool:
    """Tell two rings that are not of one pitch, or not alike at all.

    `one`, `other` (n_log_frequencies,): as in `shift_between`.
    """
    return shift_between(one, other) != 0.0 or float(one @ other) < UNLIKE


def mean_log_spectrum(log_spectra: Sequence[Array]) -> Array:
    """Average those of one round, each (n_log_frequencies,), to length 1."""
    total: Array = np.sum(log_spectra, axis=0)
    size = float(np.sqrt(np.sum(total**2)))
    return total / size if size > 0.0 else total


def find_swaps(rounds: Mapping[int, Sequence[Array]]) -> list[tuple[int, int]]:
    """Find ropes whose numbers were changed over between two rounds.

    `rounds`: by rope, of two or more rounds, each (n_log_frequencies,).
    """
    return [
        (one, other)
        for one, other in combinations(sorted(rounds), 2)
        if all(
            float(a @ b) > CROSSWISE and not is_apart(a, b)
            for a, b in (
                (rounds[one][0], rounds[other][-1]),
                (rounds[one][-1], rounds[other][0]),
            )
        )
    ]


def settle_repeats(found: Mapping[int, RopeDecays]) -> None:
    """Refuse ropes whose rounds differ in pitch, by name if two were swapped."""
    rounds = {number: _rounds(rope.decays) for number, rope in found.items()}
    apart = {
        number
        for number, log_spectra in rounds.items()
        if any(shift_between(*pair) for pair in combinations(log_spectra, 2))
    }
    for pair in find_swaps({k: of for k, of in rounds.items() if len(of) > 1}):
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
        times = ", ".join(_told(one) for one in found[number].decays)
        found[number].refuse(NoteKind.PLUCKS_APART.refusal(rope=number, times=times))


def _rounds(decays: Sequence[Decay]) -> list[Array]:
    """Mean of each round of one rope, in order."""
    log_spectra: dict[tuple[int, int], list[Array]] = {}
    for one in sorted(decays, key=lambda one: (one.take, one.pluck.start)):
        log_spectra.setdefault((one.take, one.entry), []).append(one.log_spectrum)
    return [mean_log_spectrum(of) for of in log_spectra.values()]


def _hold_against_spare(rope: RopeDecays, number: int) -> None:
    """Refuse a rope where as many plucks have another pitch as are like the clearest.

    The clearest of a long memo may all be of one of several ropes. Where fewer have
    another pitch this is told.
    """
    if not rope.decays or not rope.spare:
        return
    own = mean_log_spectrum([one.log_spectrum for one in rope.decays])
    other = [one for one in rope.spare if shift_between(one.log_spectrum, own) != 0.0]
    if not other:
        return
    times = ", ".join(_told(one) for one in other[:MOST_TOLD])
    if len(other) > MOST_TOLD:
        times += f" and {len(other) - MOST_TOLD} more"
    n_alike = sum(not is_apart(one.log_spectrum, own) for one in rope.spare)
    if len(other) >= len(rope.decays) + n_alike:
        rope.refuse(NoteKind.PLUCKS_APART.refusal(rope=number, times=times))
        return
    rope.notes.append(
        NoteKind.OTHER_PLUCK.note(ropes=(number,), rope=number, times=times)
    )


def of_one_pitch(
    found: RopeDecays, span: RopeSpan, prior: HearingPrior
) -> RopeCandidates:
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
    _hold_against_spare(found, span.number)
    heard = candidates_of(found, span, prior)
    if not heard.candidates:
        return heard
    decays = (*found.decays, *found.unlike)
    pitches = pitches_apart(decays, heard.candidates[0].fit)
    odd = [
        (one, pitch)
        for k, (one, pitch) in enumerate(zip(decays, pitches, strict=True))
        if pitch is not None or k >= len(found.decays)
    ]
    out = [one.pluck for one, pitch in odd if pitch is not None]
    kept = [one for one in found.decays if one.pluck not in out]
    if not odd:
        return heard
    times = ", ".join(_told(*one) for one in odd)
    if len(out) >= len(kept):
        # what is no rope anyhow is told as what it is
        posterior = weigh_candidates([heard.candidates], [span.free_length], prior)[0]
        decision = decide(heard, posterior)
        if decision is None or decision.reason is not None:
            return heard
        found.refuse(NoteKind.PLUCKS_APART.refusal(rope=span.number, times=times))
        return candidates_of(found, span, prior)
    if len(kept) < len(found.decays):
        plucks = [
            replace(one, is_used=False, reason="has another pitch")
            if one in out
            else one
            for one in found.plucks
        ]
        found = replace(found, decays=kept, plucks=plucks)
        heard = candidates_of(found, span, prior)
    told = NoteKind.OTHER_PLUCK.note(
        ropes=(span.number,), rope=span.number, times=times
    )
    return replace(heard, found=replace(found, notes=[*found.notes, told]))


def pitches_apart(decays: Sequence[Decay], fit: StringFit) -> list[float | None]:
    """Find the pitch [Hz] of each decay that another string explains better.

    None where the string explains it at least as well.
    """
    if fit.hitch is not None:  # its partials are those of no plain string
        return [None] * len(decays)
    strings = other_pitches(fit, FURTHEST_PITCH, PITCH_STEP)
    ratios = strings.string_fundamentals / fit.string_fundamental
    told = pitch_likelihoods(
        [one.samples for one in decays], decays[0].sampling_rate, strings
    )
    best = [int(np.argmax(values)) for values in told]
    return [
        fit.fundamental_frequency * float(ratios[k]) if k >= OWN_PITCHES.size else None
        for k in best
    ]


def _told(one: Decay, pitch: float | None = None) -> str:
    """When a pluck was, and its pitch."""
    heard = f", about {pitch:.1f} Hz" if pitch is not None else ""
    return f"{one.pluck.start:.1f} s ({one.pluck.recording}{heard})"
