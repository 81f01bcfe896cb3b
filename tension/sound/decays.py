"""Decays: what all recordings hold of each rope after its plucks."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from itertools import groupby
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.events import (
    TOO_SHORT,
    Event,
    EventFeatures,
    describe_events,
    find_events,
    likeness,
)
from tension.sound.grouping import SURE, Grouping, group_plucks
from tension.sound.hearing import HumLine, Pluck
from tension.sound.hum import remove_hum
from tension.sound.noise_class import doubts_of, overdriven_share, why_no_ring
from tension.sound.recording import Array, Recording, Take

SKIP = 0.03
"""The release itself is no free ring. [s]"""
SHORTEST_RING = 0.35
"""A shorter ring does not resolve the partials of a usual rope. [s]"""
LONGEST_RING = 8.0
"""What follows is noise; an hour of it would only cost memory. [s]"""
LONGEST_WHOLE = 40.0
"""Looked at of a recording of one rope, from its first ring on. [s]"""
MOST_HEARD = 12
"""Decays listened to of one rope, over all recordings: the clearest. [1]"""
NOTHING_BEFORE = 20.0
"""Counted for level over what stood before a pluck where nothing did. [dB]"""
FAINT = 2.5
"""Strength of one line that lasts, as in noise as loud as the ring. [1]"""
BEGINS = 0.5
"""Strength of what sounds at the start of a recording, over that of the clearest event,
from which it is a ring too. [1]"""
FAR_LOUDER = 2.5
"""ln of level of an event over that before it, beside which that is none. [1]"""
UNLIKE = 0.4
"""Likeness under which a ring is of something else than all the others. [1]"""
SOUNDS_UNLIKE = "does not sound like the other plucks"


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
    # mean rise of the logarithmic spectrum at the release; 0 where the recording begins
    # in the ring [1]
    rise: float
    # of its spectrum, see
    # `tension.sound.events.EventFeatures`, shape (n_log_frequencies,)
    log_spectrum: Array


@dataclass(kw_only=True, slots=True)
class RopeDecays:
    """All that was found of one rope before listening closely."""

    names: list[str] = field(default_factory=list)  # of its recordings
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


@dataclass(kw_only=True, slots=True)
class _Found:
    """An event, why it is none, and the place of its rope in the order; -1 if none."""

    event: Event
    features: EventFeatures
    reason: str
    entry: int = -1

    def pluck(self, take: Take, index: int) -> Pluck:
        """Tell it as a pluck, used or not and why; it is counted from 1."""
        start, end = self.event.start, self.event.end
        reason = self.reason
        if index in take.excluded_plucks:
            reason = "left out by the record"
        elif not reason and end - start < SHORTEST_RING:
            reason = TOO_SHORT
        recording = take.recording
        ring = _between(recording, start + SKIP, min(start + 0.5, end))
        before = _between(recording, start - 0.4, start - 0.1)
        over = float("nan")
        if min(ring.size, before.size) > 2:
            ratio = (ring.var() + 1e-30) / (before.var() + 1e-30)
            over = float(10.0 * np.log10(ratio))
        return Pluck(
            recording=recording.name,
            index=index,
            start=start,
            end=end,
            is_used=not reason,
            reason=reason,
            signal_to_noise=over,
        )


def cut_take(take: Take, index: int) -> dict[int, RopeDecays]:
    """Find the plucks of a recording and give them to its ropes.

    `take`: the recording, one that can be used, and the order of its ropes. Gives what
    was found of each of them.
    """
    samples, hum = remove_hum(take.recording.samples, take.recording.sampling_rate)
    recording = replace(take.recording, samples=samples)
    take = replace(take, recording=recording)
    events = _events_of(recording)
    rings = [one for one in events if not one.reason]
    grouping = _group(take, rings)
    found = _by_rope(take, index, events)
    starts = sorted(one.pluck.start for part in found.values() for one in part.decays)
    refusals, notes = _doubts(take, grouping, rings)
    notes = (*notes, *doubts_of(recording, take.ropes, starts))
    for rope, part in found.items():
        part.hum += hum
        part.notes += [note for note in notes if rope in note.ropes]
        if rope in refusals:
            part.refuse(refusals[rope])
        part.choose()
        part.decays = [_cut(one, recording) for one in part.decays]
        part.unlike = [_cut(one, recording) for one in part.unlike]
        if len(found) == 1 and part.decays:
            first = round(starts[0] * recording.sampling_rate)
            last = first + round(LONGEST_WHOLE * recording.sampling_rate)
            part.whole.append(recording.samples[first:last])
    return found


def _by_rope(take: Take, index: int, events: Sequence[_Found]) -> dict[int, RopeDecays]:
    """Plucks, and decays not yet cut, of each rope."""
    found = {rope: RopeDecays(names=[take.recording.name]) for rope in take.ropes}
    rope = take.ropes[0]
    for k, one in enumerate(events):
        rope = take.ropes[one.entry] if one.entry >= 0 else rope
        pluck = one.pluck(take, k + 1)
        found[rope].plucks.append(pluck)
        decay = Decay(
            samples=np.empty(0),
            sampling_rate=take.recording.sampling_rate,
            pluck=pluck,
            take=index,
            entry=one.entry,
            rise=one.event.rise,
            log_spectrum=one.features.log_spectrum,
        )
        if pluck.is_used:
            found[rope].decays.append(decay)
        elif pluck.reason == SOUNDS_UNLIKE:
            found[rope].unlike.append(decay)
    return found


def _events_of(recording: Recording) -> list[_Found]:
    """Events, and why they are no plucks; the clearest counts if there is no better."""
    events = find_events(recording.samples, recording.sampling_rate)
    features = describe_events(recording.samples, recording.sampling_rate, events)
    found = [
        _Found(event=event, features=one, reason=one.reason)
        for event, one in zip(events, features, strict=True)
    ]
    if len(found) > 1 and not found[0].event.rise and _is_quiet(*features):
        found = found[1:]
    if all(one.reason for one in found):
        strongest = max(one.features.strength for one in found)
        for one in found:
            if one.features.strength >= max(strongest, FAINT):
                one.reason = ""
    return found


def _is_quiet(first: EventFeatures, *later: EventFeatures) -> bool:
    """Whether the recording does not begin in a ring: a later one is far clearer."""
    strongest = max(one.strength for one in later)
    loudest = max(one.level for one in later)
    return bool(first.reason) or (
        first.strength < BEGINS * strongest or first.level < loudest - FAR_LOUDER
    )


def _group(take: Take, rings: Sequence[_Found]) -> Grouping:
    """Give the rings to the ropes of the take, or tell why they are of none."""
    alike = likeness([one.features for one in rings])
    if len(set(take.ropes)) > 1:
        starts = np.array([one.event.start for one in rings])
        grouping = group_plucks(starts, alike, take.ropes, take.plucks_each)
        for one, entry in zip(rings, grouping.entries, strict=True):
            one.entry = entry
            if entry < 0:
                one.reason = "fits no rope in the order announced"
        return grouping
    unlike = _unlike(alike)
    for k, one in enumerate(rings):
        one.entry = 0
        if k in unlike:
            one.reason = SOUNDS_UNLIKE
    return Grouping(
        entries=(0,) * len(rings),
        probabilities=np.ones(len(rings)),
        plucks_each=take.plucks_each or 0,
    )


def _unlike(alike: Array) -> list[int]:
    """Rings that sound like none of three or more others that sound alike."""
    if len(alike) < 3:
        return []
    nearest = np.max(alike - 2.0 * np.eye(len(alike)), axis=1)
    if float(np.median(nearest)) < UNLIKE + 0.2:
        return []
    return np.flatnonzero(nearest < UNLIKE).tolist()


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
    take: Take, grouping: Grouping, rings: Sequence[_Found]
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


def _time_line(take: Take, rings: Sequence[_Found]) -> str:
    """What was found at which second."""
    parts = []
    for entry, of in groupby(rings, key=lambda one: one.entry):
        who = "none" if entry < 0 else f"rope {take.ropes[entry]}"
        times = ", ".join(f"{one.event.start:.1f}" for one in of)
        parts.append(f"{who} at {times} s")
    return "; ".join(parts)


OVERDRIVEN = 0.5
"""Share of the time at full scale from which nothing is believed. [1]"""
SILENCE = 4e-5
"""Largest sample of a recording that holds nothing: the last bit of 16. [1]"""


def find_decays(takes: Sequence[Take], numbers: Sequence[int]) -> dict[int, RopeDecays]:
    """Cut all recordings into decays and give them to the ropes."""
    found = {number: RopeDecays() for number in numbers}
    for index, take in enumerate(takes):
        refusal = take.recording.refusal or _nothing_in(take.recording)
        unusable = RopeDecays(names=[take.recording.name], refusal=refusal)
        parts = cut_take(take, index) if refusal is None else {}
        for number in found.keys() & set(take.ropes):
            found[number].add(parts.get(number, unusable))
    for number, rope in found.items():
        if rope.refusal is None and not rope.decays and rope.names:
            last = [take for take in takes if number in take.ropes][-1]
            rope.refusal = _why_none(last, rope, number)
    return found


def _nothing_in(recording: Recording) -> Refusal | None:
    """Refuse what is too short or silent."""
    seconds = recording.samples.size / recording.sampling_rate
    if seconds < SHORTEST_RING:
        return NoteKind.TOO_SHORT.refusal(recording=recording.name, seconds=seconds)
    if float(np.max(np.abs(recording.samples))) < SILENCE and recording.codec:
        return NoteKind.SILENT.refusal(recording=recording.name)
    if overdriven_share(recording) > OVERDRIVEN:
        return NoteKind.OVERDRIVEN_THROUGHOUT.refusal(recording=recording.name)
    return None


def _why_none(take: Take, found: RopeDecays, number: int) -> Refusal:
    """Reason why none of the recordings of a rope holds a ring of it."""
    name = take.recording.name
    plucks = [pluck for pluck in found.plucks if pluck.recording == name]
    if any(pluck.index in take.excluded_plucks for pluck in plucks):
        return NoteKind.NO_PLUCK.refusal(recording=name)
    return why_no_ring(take.recording, plucks, number)
