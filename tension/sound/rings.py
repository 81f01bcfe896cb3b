"""Rings: what all recordings hold of each rope."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.cutting import SHORTEST_RING, cut_take
from tension.sound.faults import overdriven_share, why_no_ring
from tension.sound.hearing import Pluck
from tension.sound.hum import Ring
from tension.sound.recording import Take
from tension.sound.repeats import (
    find_swaps,
    is_apart,
    mean_image,
    odd_ones,
)

OVERDRIVEN = 0.5
"""Share of the time at full scale from which nothing is believed. [1]"""
LEAST_AGREEING = 3
"""Rings, the odd one among them, that must be more for the others to be right. [1]"""
WEAKER = 8.0
"""Level over what stood before, under that of the clearest ring, from which an odd ring
is no pluck of a hand but a sound beside it: plucks of one rope lie closer. [dB]"""
SILENCE = 4e-5
"""Largest sample of a recording that holds nothing: the last bit of 16. [1]"""
MOST_REGROUPED = 12
"""Rings listened to of one rope, over all recordings: the clearest. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class RingOf:
    """A ring, its pluck, and the recording it is in.

    Attributes
    ----------
    ring : Ring
        Samples.
    pluck : Pluck
        When.
    take : int
        Which of the takes.
    entry : int
        Which place in the order of that take: the round.
    image : ndarray, shape (n_log_frequencies,)
        Of its spectrum; empty if not made.
    """

    ring: Ring
    pluck: Pluck
    take: int
    entry: int = 0
    image: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))


@dataclass(kw_only=True, slots=True)
class RopeRings:
    """All that was found of one rope before listening closely.

    Attributes
    ----------
    rings : list of RingOf
        Those to listen to.
    plucks : list of Pluck
        All found in its recordings.
    notes : list of Note
        On the counting.
    refusal : Refusal or None
        If its recordings cannot be used.
    names : list of str
        Of its recordings.
    """

    rings: list[RingOf] = field(default_factory=list)
    plucks: list[Pluck] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    refusal: Refusal | None = None
    names: list[str] = field(default_factory=list)


def find_rings(takes: Sequence[Take], numbers: Sequence[int]) -> dict[int, RopeRings]:
    """Cut all recordings into rings and give them to the ropes.

    Parameters
    ----------
    takes : sequence of Take
        Recordings and the ropes plucked in them.
    numbers : sequence of int
        Rope numbers wanted.

    Returns
    -------
    dict of int to RopeRings
        One for every number.
    """
    found = {number: RopeRings() for number in numbers}
    for index, take in enumerate(takes):
        wanted = [number for number in dict.fromkeys(take.ropes) if number in found]
        for number in wanted:
            found[number].names.append(take.recording.name)
        refusal = take.recording.refusal or _nothing_in(take)
        if refusal is not None:
            for number in wanted:
                found[number].refusal = found[number].refusal or refusal
            continue
        cut = cut_take(take)
        for number in wanted:
            rope = found[number]
            rope.plucks += cut.plucks.get(number, ())
            rope.notes += [note for note in cut.notes if number in note.ropes]
            rope.refusal = rope.refusal or cut.refusals.get(number)
            if number not in cut.refusals:
                rope.rings += [
                    RingOf(
                        ring=one.ring,
                        pluck=one.pluck,
                        take=index,
                        entry=one.entry,
                        image=one.image,
                    )
                    for one in cut.rings.get(number, ())
                ]
    for rope in found.values():
        clearest = sorted(rope.rings, key=lambda one: -_strength(one))[:MOST_REGROUPED]
        kept = {id(one) for one in clearest}
        rope.rings = [one for one in rope.rings if id(one) in kept]
    for number, rope in found.items():
        if rope.refusal is None and not rope.rings and rope.names:
            of = [take for take in takes if number in take.ropes]
            rope.refusal = _why_none(of[-1], rope, number)
    settle_repeats(found)
    return found


def settle_repeats(found: dict[int, RopeRings]) -> None:
    """Leave out odd rings that are weak or one; refuse ropes of different pitches.

    Parameters
    ----------
    found : dict of int to RopeRings
        By rope number; changed in place.
    """
    apart: dict[int, list[int]] = {}
    for number, rope in found.items():
        odd = odd_ones([one.image for one in rope.rings])
        if odd:
            apart[number] = odd
    swapped = find_swaps(
        {number: _first_and_last(found[number].rings) for number in apart}
    )
    for pair in swapped:
        note = NoteKind.SWAPPED_ROPES.note(ropes=pair, one=pair[0], other=pair[1])
        for number in pair:
            apart.pop(number, None)
            found[number].notes.append(note)
            _refuse(
                found[number], NoteKind.SWAPPED.refusal(first=pair[0], second=pair[1])
            )
    for number in apart:
        rope = found[number]
        weak = _weak_odd_ones(rope.rings)
        if weak:
            _leave_out(rope, weak, number, NoteKind.WEAK_SOUNDS)
        odd = odd_ones([one.image for one in rope.rings])
        if len(odd) == 1 and len(rope.rings) > LEAST_AGREEING:
            _leave_out(rope, odd, number, NoteKind.ODD_PLUCK)
        elif odd:
            times = _times([rope.rings[k] for k in odd])
            _refuse(rope, NoteKind.PLUCKS_APART.refusal(rope=number, times=times))


def _weak_odd_ones(rings: Sequence[RingOf]) -> list[int]:
    """Places of rings far weaker than the clearest one, and not of its pitch."""
    strengths = np.array([_strength(one) for one in rings])
    clearest = int(np.argmax(strengths))
    return [
        k
        for k in np.flatnonzero(strengths < strengths[clearest] - WEAKER).tolist()
        if is_apart(rings[k].image, rings[clearest].image)
    ]


def _times(rings: Sequence[RingOf]) -> str:
    """When they begin, told."""
    plucks = [one.pluck for one in rings]
    return ", ".join(f"{one.start:.1f} s ({one.recording})" for one in plucks)


def _refuse(rope: RopeRings, refusal: Refusal) -> None:
    """Refuse a rope whose rings cannot be told apart."""
    rope.rings = []
    rope.refusal = refusal


def _leave_out(
    rope: RopeRings, places: Sequence[int], number: int, kind: NoteKind
) -> None:
    """Take rings out, and tell of it."""
    odd = [rope.rings[k] for k in places]
    rope.notes.append(kind.note(ropes=(number,), rope=number, times=_times(odd)))
    for one in odd:
        rope.plucks[rope.plucks.index(one.pluck)] = replace(
            one.pluck, is_used=False, reason="not of the pitch of the other plucks"
        )
    left_out = {id(one) for one in odd}
    rope.rings = [one for one in rope.rings if id(one) not in left_out]


def _first_and_last(
    rings: Sequence[RingOf],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Images of the first and of the last round."""
    rounds: dict[tuple[int, int], list[NDArray[np.float64]]] = {}
    for one in sorted(rings, key=lambda one: (one.take, one.pluck.start)):
        rounds.setdefault((one.take, one.entry), []).append(one.image)
    images = [mean_image(images) for images in rounds.values()]
    return images[0], images[-1]


def _why_none(take: Take, found: RopeRings, number: int) -> Refusal:
    """Reason why none of the recordings of a rope holds a ring of it."""
    name = take.recording.name
    plucks = [pluck for pluck in found.plucks if pluck.recording == name]
    if any(pluck.index in take.excluded_plucks for pluck in plucks):
        return NoteKind.NO_PLUCK.refusal(recording=name)
    return why_no_ring(take.recording, plucks, number)


def _strength(one: RingOf) -> float:
    """Level over what stood before; nothing before counts as clear."""
    return float(np.nan_to_num(one.pluck.signal_to_noise, nan=20.0))


def _nothing_in(take: Take) -> Refusal | None:
    """Refuse what is too short or silent."""
    recording = take.recording
    seconds = recording.samples.size / recording.sampling_rate
    if seconds < SHORTEST_RING:
        return NoteKind.TOO_SHORT.refusal(recording=recording.name, seconds=seconds)
    if float(np.max(np.abs(recording.samples))) < SILENCE and recording.codec:
        return NoteKind.SILENT.refusal(recording=recording.name)
    if overdriven_share(recording) > OVERDRIVEN:
        return NoteKind.OVERDRIVEN_THROUGHOUT.refusal(recording=recording.name)
    return None


def samples_of(rings: Sequence[RingOf]) -> list[NDArray[np.float64]]:
    """Samples of the rings.

    Parameters
    ----------
    rings : sequence of RingOf
        Rings.

    Returns
    -------
    list of ndarray, shape (n_samples,)
        Of each.
    """
    return [one.ring.samples for one in rings]
