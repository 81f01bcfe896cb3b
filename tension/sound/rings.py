"""Rings: which pluck of which recording belongs to which rope."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.cutting import SHORTEST_RING, cut_take
from tension.sound.hearing import Pluck
from tension.sound.hum import Ring
from tension.sound.recording import Take

SILENCE = 1e-5
"""Largest sample of a recording that holds nothing: under the last bit of 16. [1]"""


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
    """

    ring: Ring
    pluck: Pluck
    take: int


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
        wanted = [number for number in take.ropes if number in found]
        for number in dict.fromkeys(wanted):
            found[number].names.append(take.recording.name)
        refusal = take.recording.refusal or _nothing_in(take)
        if refusal is not None:
            for number in dict.fromkeys(wanted):
                found[number].refusal = found[number].refusal or refusal
            continue
        _share_out(index, take, found)
    return found


def _nothing_in(take: Take) -> Refusal | None:
    """Refuse what is too short or silent."""
    recording = take.recording
    seconds = recording.samples.size / recording.sampling_rate
    if seconds < SHORTEST_RING:
        return NoteKind.TOO_SHORT.refusal(recording=recording.name, seconds=seconds)
    if float(np.max(np.abs(recording.samples))) < SILENCE and recording.codec:
        return NoteKind.SILENT.refusal(recording=recording.name)
    return None


def _share_out(index: int, take: Take, found: dict[int, RopeRings]) -> None:
    """Give the rings of one recording to its ropes."""
    cut = cut_take(take)
    for number in dict.fromkeys(take.ropes):
        if number not in found:
            continue
        one = found[number]
        one.plucks += cut.plucks[number]
        one.notes += [note for note in cut.notes if number in note.ropes]
        refusal = cut.refusals.get(number)
        if refusal is not None:
            one.refusal = one.refusal or refusal
            continue
        one.rings += [
            RingOf(ring=ring.ring, pluck=ring.pluck, take=index)
            for ring in cut.rings[number]
        ]


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
