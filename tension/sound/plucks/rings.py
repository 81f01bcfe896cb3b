"""Rings: what all recordings hold of each rope."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.hearing import Pluck
from tension.sound.lines.hum import remove_hum
from tension.sound.plucks.cutting import SHORTEST_RING, cut_take
from tension.sound.plucks.faults import overdriven_share, why_no_ring
from tension.sound.plucks.repeats import find_swaps, mean_image, shift_between
from tension.sound.plucks.ring import Ring
from tension.sound.recording import Recording, Take

OVERDRIVEN = 0.5
"""Share of the time at full scale from which nothing is believed. [1]"""
SILENCE = 4e-5
"""Largest sample of a recording that holds nothing: the last bit of 16. [1]"""
LONGEST_WHOLE = 40.0
"""Looked at of a recording of one rope, from its first ring on. [s]"""
MOST_REGROUPED = 12
"""Rings listened to of one rope, over all recordings: the clearest. [1]"""


@dataclass(kw_only=True, slots=True)
class RopeRings:
    """All that was found of one rope before listening closely.

    Attributes
    ----------
    rings : list of Ring
        Those to listen to.
    unlike : list of Ring
        Those left out because they sound like none of the others.
    plucks : list of Pluck
        All found in its recordings.
    notes : list of Note
        On the counting.
    refusal : Refusal or None
        If its recordings cannot be used.
    names : list of str
        Of its recordings.
    hum : list of tuple of float
        Frequencies [Hz] and levels over noise [dB] of the hum taken out.
    whole : list of ndarray, shape (n_samples,)
        Its recordings that hold no other rope, from the first ring on. [1]
    """

    rings: list[Ring] = field(default_factory=list)
    unlike: list[Ring] = field(default_factory=list)
    plucks: list[Pluck] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    refusal: Refusal | None = None
    names: list[str] = field(default_factory=list)
    hum: list[tuple[float, float]] = field(default_factory=list)
    whole: list[NDArray[np.float32]] = field(default_factory=list)


def find_rings(takes: Sequence[Take], numbers: Sequence[int]) -> dict[int, RopeRings]:
    """Cut all recordings into rings and give them to the ropes."""
    found = {number: RopeRings() for number in numbers}
    for index, take in enumerate(takes):
        wanted = [number for number in dict.fromkeys(take.ropes) if number in found]
        for number in wanted:
            found[number].names.append(take.recording.name)
        refusal = take.recording.refusal or _nothing_in(take)
        if refusal is None:
            _add_take(found, take, index, wanted)
            continue
        for number in wanted:
            found[number].refusal = found[number].refusal or refusal
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


def _add_take(
    found: dict[int, RopeRings], take: Take, index: int, wanted: Sequence[int]
) -> None:
    """Cut one recording and give its rings to the ropes."""
    samples, hum = remove_hum(take.recording.samples, take.recording.sampling_rate)
    cleaned = replace(take.recording, samples=samples)
    cut = cut_take(replace(take, recording=cleaned), index)
    for number in wanted:
        rope = found[number]
        rope.plucks += cut.plucks.get(number, ())
        rope.notes += [note for note in cut.notes if number in note.ropes]
        rope.refusal = rope.refusal or cut.refusals.get(number)
        rings = () if number in cut.refusals else cut.rings.get(number, ())
        rope.rings += rings
        rope.unlike += cut.unlike.get(number, ())
        if rings and len(wanted) == 1:
            rope.whole.append(_from_first(cleaned, rings))
        rope.hum += zip(hum.frequencies.tolist(), hum.levels.tolist(), strict=True)


def _from_first(recording: Recording, rings: Sequence[Ring]) -> NDArray[np.float32]:
    """Samples of a recording from its first ring on, at most so many."""
    rate = recording.sampling_rate
    first = round(min(one.pluck.start for one in rings) * rate)
    return recording.samples[first : first + round(LONGEST_WHOLE * rate)]


def settle_repeats(found: dict[int, RopeRings]) -> None:
    """Refuse ropes whose rounds are of different pitches, by name if two were swapped.

    Parameters
    ----------
    found : dict of int to RopeRings
        By rope number; changed in place.
    """
    rounds = {number: _rounds(rope.rings) for number, rope in found.items()}
    apart = {number for number, images in rounds.items() if _are_shifted(images)}
    several = {
        number: (images[0], images[-1])
        for number, images in rounds.items()
        if len(images) > 1
    }
    for pair in find_swaps(several):
        if apart.isdisjoint(pair):
            continue
        note = NoteKind.SWAPPED_ROPES.note(ropes=pair, one=pair[0], other=pair[1])
        for number in pair:
            found[number].notes.append(note)
            _refuse(
                found[number], NoteKind.SWAPPED.refusal(first=pair[0], second=pair[1])
            )
        apart -= set(pair)
    for number in apart:
        rope = found[number]
        times = ", ".join(
            f"{one.pluck.start:.1f} s ({one.pluck.recording})" for one in rope.rings
        )
        _refuse(rope, NoteKind.PLUCKS_APART.refusal(rope=number, times=times))


def _rounds(rings: Sequence[Ring]) -> list[NDArray[np.float64]]:
    """Mean image of each round of one rope, in order."""
    images: dict[tuple[int, int], list[NDArray[np.float64]]] = {}
    for one in sorted(rings, key=lambda one: (one.take, one.pluck.start)):
        images.setdefault((one.take, one.entry), []).append(one.image)
    return [mean_image(of) for of in images.values()]


def _are_shifted(images: Sequence[NDArray[np.float64]]) -> bool:
    """Whether a shift makes two rounds clearly more alike."""
    return any(
        shift_between(one, other) != 0.0 for one, other in combinations(images, 2)
    )


def _refuse(rope: RopeRings, refusal: Refusal) -> None:
    """Refuse a rope whose rings cannot be told apart."""
    rope.rings = []
    rope.refusal = refusal


def _why_none(take: Take, found: RopeRings, number: int) -> Refusal:
    """Reason why none of the recordings of a rope holds a ring of it."""
    name = take.recording.name
    plucks = [pluck for pluck in found.plucks if pluck.recording == name]
    if any(pluck.index in take.excluded_plucks for pluck in plucks):
        return NoteKind.NO_PLUCK.refusal(recording=name)
    return why_no_ring(take.recording, plucks, number)


def _strength(one: Ring) -> float:
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
