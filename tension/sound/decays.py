"""Decays: what all recordings hold of each rope after its plucks."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from itertools import groupby
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.events import SKIP, TOO_SHORT, Event, find_rings
from tension.sound.grouping import SOUNDS_UNLIKE, SURE, Grouping, group_rings
from tension.sound.hearing import HumLine, Pluck
from tension.sound.noise_class import doubts_of, why_no_ring, why_unusable
from tension.sound.recording import Array, Recording, Take
from tension.sound.spectra import remove_hum

SHORTEST_RING = 0.35  # a shorter ring does not resolve the partials of a usual rope [s]
LONGEST_RING = 8.0  # what follows is noise; an hour of it would only cost memory [s]
LONGEST_WHOLE = 40.0  # looked at of a recording of one rope, from its first ring on [s]
MOST_HEARD = 12  # decays listened to of one rope, over all recordings: the clearest [1]
NOTHING_BEFORE = 20.0
"""Counted for level over what stood before a pluck where nothing did. [dB]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Decay:
    """A ring and the pluck it belongs to."""

    # from shortly after the release until the next event; empty where there are enough
    # clearer ones [1], shape (n_samples,)
    samples: Array
    sampling_rate: float  # of the samples [Hz]
    pluck: Pluck  # when
    take: int  # which of the recordings
    entry: int  # which place in the order of that recording: the round
    log_spectrum: Array  # of its `Event`, shape (n_log_frequencies,)


@dataclass(kw_only=True, slots=True)
class RopeDecays:
    """All that was found of one rope before listening closely."""

    # all found in them; what was no pluck stands with the rope plucked before it
    plucks: list[Pluck] = field(default_factory=list)
    decays: list[Decay] = field(default_factory=list)  # those to listen to
    # those left out because they sound like none of the others
    unlike: list[Decay] = field(default_factory=list)
    # those not listened to, as there are enough clearer ones
    spare: list[Decay] = field(default_factory=list)
    hum: list[HumLine] = field(default_factory=list)  # taken out
    # from the first ring on, its recordings of no other rope [1], shape (n_samples,)
    whole: list[NDArray[np.float32]] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)  # on the counting
    refusal: Refusal | None = None  # if its recordings cannot be used

    def add(self, part: Self) -> None:
        """Add what another recording holds of the rope."""
        for each in fields(self)[:-1]:
            getattr(self, each.name).extend(getattr(part, each.name))
        self.hum.sort(key=lambda line: (line.frequency, line.level))
        self.refusal = self.refusal or part.refusal
        self.choose()

    def choose(self) -> None:
        """Keep the clearest decays; the others are spare."""
        over = [one.pluck.signal_to_noise for one in self.decays]
        clearest = np.argsort(-np.nan_to_num(over, nan=NOTHING_BEFORE), kind="stable")
        left = set(clearest[MOST_HEARD:].tolist())
        self.spare += [self.decays[k] for k in sorted(left)]
        self.decays = [one for k, one in enumerate(self.decays) if k not in left]

    def refuse(self, refusal: Refusal) -> None:
        """Listen to none of it."""
        self.decays, self.refusal = [], refusal


def find_decays(takes: Sequence[Take], numbers: Sequence[int]) -> dict[int, RopeDecays]:
    """Cut all recordings into decays and give them to the ropes."""
    found = {number: RopeDecays() for number in numbers}
    for index, take in enumerate(takes):
        parts = cut_take(take, index)
        for number in found.keys() & set(take.ropes):
            found[number].add(parts[number])
    for number, rope in found.items():
        last = [take for take in takes if number in take.ropes][-1:]
        if not last:
            rope.refusal = NoteKind.NOT_RECORDED.refusal(rope=number)
        elif rope.refusal is None and not rope.decays:
            rope.refusal = _why_none(last[0], rope, number)
    return found


def cut_take(take: Take, index: int) -> dict[int, RopeDecays]:
    """Find the plucks of a recording and give them to its ropes.

    `take`: the recording, and the order of its ropes. Gives what was found of each.
    """
    rate = take.recording.sampling_rate
    found = {rope: RopeDecays() for rope in take.ropes}
    refusal = why_unusable(take.recording, SHORTEST_RING)
    if refusal is not None:
        return {rope: replace(part, refusal=refusal) for rope, part in found.items()}
    samples, hum = remove_hum(take.recording.samples, rate)
    take = replace(take, recording=replace(take.recording, samples=samples))
    events = find_rings(samples, rate)
    rings = [one for one in events if not one.reason]
    grouping = group_rings(take, rings)
    _give_plucks(take, index, events, found)
    starts = sorted(one.pluck.start for part in found.values() for one in part.decays)
    refusals, notes = _doubts(take, grouping, rings)
    notes = (*notes, *doubts_of(take.recording, take.ropes, starts))
    for rope, part in found.items():
        part.hum += hum
        part.notes += [note for note in notes if rope in note.ropes]
        if rope in refusals:
            part.refuse(refusals[rope])
        part.choose()
        part.decays = [_cut(one, take.recording) for one in part.decays]
        part.unlike = [_cut(one, take.recording) for one in part.unlike]
        if len(found) == 1 and part.decays:
            first = round(starts[0] * rate)
            part.whole.append(samples[first : first + round(LONGEST_WHOLE * rate)])
    return found


def _give_plucks(
    take: Take, index: int, events: Sequence[Event], found: dict[int, RopeDecays]
) -> None:
    """Give plucks, and decays not yet cut, to their ropes."""
    rope = take.ropes[0]
    for k, one in enumerate(events):
        rope = take.ropes[one.entry] if one.entry >= 0 else rope
        pluck = _pluck_of(one, take, k + 1)
        found[rope].plucks.append(pluck)
        decay = Decay(
            samples=np.empty(0),
            sampling_rate=take.recording.sampling_rate,
            pluck=pluck,
            take=index,
            entry=one.entry,
            log_spectrum=one.log_spectrum,
        )
        if pluck.is_used:
            found[rope].decays.append(decay)
        elif pluck.reason == SOUNDS_UNLIKE:
            found[rope].unlike.append(decay)


def _pluck_of(event: Event, take: Take, index: int) -> Pluck:
    """Tell an event as a pluck, used or not and why; it is counted from 1."""
    start, end, reason = event.start, event.end, event.reason
    if index in take.excluded_plucks:
        reason = "left out by the record"
    elif not reason and end - start < SHORTEST_RING:
        reason = TOO_SHORT
    ring = _between(take.recording, start + SKIP, min(start + 0.5, end))
    before = _between(take.recording, start - 0.4, start - 0.1)
    over = float("nan")
    if min(ring.size, before.size) > 2:
        over = float(10.0 * np.log10((ring.var() + 1e-30) / (before.var() + 1e-30)))
    return Pluck(
        recording=take.recording.name,
        index=index,
        start=start,
        end=end,
        is_used=not reason,
        reason=reason,
        signal_to_noise=over,
    )


def _between(recording: Recording, start: float, end: float) -> Array:
    """Samples between two moments."""
    first = max(0, int(start * recording.sampling_rate))
    last = max(0, int(end * recording.sampling_rate))
    return np.asarray(recording.samples[first:last], dtype=np.float64)


def _cut(one: Decay, recording: Recording) -> Decay:
    """Give a decay its samples."""
    start = one.pluck.start + SKIP
    end = min(one.pluck.end - 0.02, start + LONGEST_RING)
    return replace(one, samples=_between(recording, start, end))


def _doubts(
    take: Take, grouping: Grouping, rings: Sequence[Event]
) -> tuple[dict[int, Refusal], tuple[Note, ...]]:
    """Refuse ropes whose plucks are not clear; tell counts that differ."""
    if not rings:
        return {}, ()
    wanted, ropes = grouping.plucks_each, take.ropes
    counts = [grouping.entries.count(entry) for entry in range(len(ropes))]
    heard = {rope for rope, count in zip(ropes, counts, strict=True) if count}
    if len(set(ropes)) == 1:
        counts, wanted = [sum(counts)], wanted * len(ropes)
        heard = set(ropes)
    places = {
        "recording": take.recording.name,
        "found": len(rings),
        "expected": f"{wanted * len(counts)}"
        if take.plucks_each
        else f"{len(ropes)} ropes",
        "times": _time_line(take, rings),
    }
    unsure = {
        ropes[entry]
        for entry, probability in zip(
            grouping.entries, grouping.probabilities, strict=True
        )
        if entry >= 0 and probability < SURE
    }
    refusals = {
        rope: NoteKind.COUNT_UNCLEAR.refusal(**places)
        for rope in set(ropes)
        if rope in unsure or rope not in heard
    }
    odd = {ropes[k] for k, count in enumerate(counts) if count != wanted}
    if not wanted or not odd:
        return refusals, ()
    told = NoteKind.COUNT_DIFFERS.note(ropes=tuple(sorted(odd)), **places)
    return refusals, (told,)


def _time_line(take: Take, rings: Sequence[Event]) -> str:
    """What was found at which second."""
    parts = []
    for entry, of in groupby(rings, key=lambda one: one.entry):
        who = "none" if entry < 0 else f"rope {take.ropes[entry]}"
        times = ", ".join(f"{one.start:.1f}" for one in of)
        parts.append(f"{who} at {times} s")
    return "; ".join(parts)


def _why_none(take: Take, found: RopeDecays, number: int) -> Refusal:
    """Reason why none of the recordings of a rope holds a ring of it."""
    name = take.recording.name
    plucks = [pluck for pluck in found.plucks if pluck.recording == name]
    if any(pluck.index in take.excluded_plucks for pluck in plucks):
        return NoteKind.NO_PLUCK.refusal(recording=name)
    return why_no_ring(take.recording, plucks, number)
