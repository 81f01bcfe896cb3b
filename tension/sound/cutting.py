"""One ring: samples from shortly after a pluck, and where they come from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tension.notes import Note, NoteKind, Refusal
from tension.sound.event_features import (
    NOTHING_BEGINS,
    TOO_SHORT,
    EventFeatures,
    describe_events,
    likeness,
)
from tension.sound.grouping import SURE, Grouping, group_plucks
from tension.sound.hearing import Pluck
from tension.sound.noise_class import doubts_of
from tension.sound.onsets import Event, find_events
from tension.sound.recording import Array, Recording, Take


@dataclass(frozen=True, kw_only=True, slots=True)
class Decay:
    """A ring and the pluck it belongs to.

    Attributes
    ----------
    samples : ndarray, shape (n_samples,)
        From shortly after the release until the next event. [1]
    sampling_rate : float
        Of the samples. [Hz]
    pluck : Pluck
        When.
    take : int
        Which of the recordings.
    entry : int
        Which place in the order of that recording: the round.
    rise : float
        Mean rise of the logarithmic spectrum at the release; 0 where the recording
        begins in the ring. [1]
    log_spectrum : ndarray, shape (n_log_frequencies,)
        Of its spectrum, see `tension.sound.event_features.EventFeatures`.
    """

    samples: Array
    sampling_rate: float
    pluck: Pluck
    take: int
    entry: int
    rise: float
    log_spectrum: Array


SKIP = 0.03
"""The release itself is no free ring. [s]"""
SHORTEST_RING = 0.35
"""A shorter ring does not resolve the partials of a usual rope; it goes on through a
knock, a longer one is cut there. [s]"""
KNOCK = 0.15
"""A knock into a ring is over then. [s]"""
LONGEST_RING = 8.0
"""What follows is noise; an hour of it would only cost memory. [s]"""
FAINT = 2.5
"""Strength of one line that lasts, as in noise as loud as the ring. [1]"""
MOST_RINGS = 40
"""Of one rope; more tell nothing new. [1]"""
BEGINS = 0.5
"""Strength of what sounds at the start of a recording, over that of the clearest event,
from which it is a ring too. [1]"""
FAR_LOUDER = 2.5
"""ln of level of an event over that before it, beside which that is none. [1]"""
UNLIKE = 0.4
"""Likeness under which a ring is of something else than all the others. [1]"""
SOUNDS_UNLIKE = "does not sound like the other plucks"
ENOUGH = "there are enough clearer plucks"


@dataclass(frozen=True, kw_only=True, slots=True)
class CutTake:
    """A recording, cut.

    Attributes
    ----------
    plucks : mapping of int to tuple of Pluck
        By rope; what was no pluck stands with the rope plucked before it.
    rings : mapping of int to tuple of Decay
        By rope: those to be used.
    unlike : mapping of int to tuple of Decay
        By rope: those that sound like none of the others.
    spare : mapping of int to tuple of (Pluck, ndarray)
        By rope: those of which there are enough clearer ones, with their images.
    refusals : mapping of int to Refusal
        Ropes of which it is not clear which plucks are theirs.
    notes : tuple of Note
        What was found otherwise than announced.
    """

    plucks: Mapping[int, tuple[Pluck, ...]]
    rings: Mapping[int, tuple[Decay, ...]]
    unlike: Mapping[int, tuple[Decay, ...]]
    spare: Mapping[int, tuple[tuple[Pluck, Array], ...]]
    refusals: Mapping[int, Refusal]
    notes: tuple[Note, ...] = ()


def cut_take(take: Take, index: int) -> CutTake:
    """Find the plucks of a recording and give them to its ropes.

    `take`: the recording, one that can be used, and the order of its ropes.
    """
    recording = take.recording
    events = find_events(recording.samples, recording.sampling_rate)
    features = describe_events(recording.samples, recording.sampling_rate, events)
    if len(events) > 1 and not events[0].rise and _is_quiet(features):
        events, features = events[1:], features[1:]
    cuts = events
    events, features = _rung_through(recording, events, features)
    alike = likeness(features)
    found = _Found(
        take=take,
        index=index,
        events=events,
        features=features,
        reasons=_reasons(features),
        entries={},
        cuts=cuts,
    )
    rings = [k for k, reason in enumerate(found.reasons) if not reason]
    grouping = _group(take, events, alike, rings)
    found.entries = dict(zip(rings, grouping.entries, strict=True))
    if len(set(take.ropes)) == 1:
        for k in _unlike(alike, rings):
            found.reasons[k] = SOUNDS_UNLIKE
    for k, entry in found.entries.items():
        if entry < 0:
            found.reasons[k] = found.reasons[k] or "fits no rope in the order announced"
    by_rope = found.by_rope()
    plucks = found.plucks(by_rope)
    rings_of = found.cut_of(by_rope, plucks, "")
    refusals, notes = _doubts(found, grouping, rings)
    starts = sorted(one.pluck.start for of in rings_of.values() for one in of)
    return CutTake(
        plucks={
            rope: tuple(plucks[k] for k in places) for rope, places in by_rope.items()
        },
        rings=rings_of,
        unlike=found.cut_of(by_rope, plucks, SOUNDS_UNLIKE),
        spare=found.spare(by_rope, plucks),
        refusals=refusals,
        notes=(*notes, *doubts_of(recording, take.ropes, starts)),
    )


@dataclass(kw_only=True, slots=True)
class _Found:
    """Events of a take, why some are none, and the entry of each ring."""

    take: Take
    index: int
    events: tuple[Event, ...]
    features: tuple[EventFeatures, ...]
    reasons: list[str]
    entries: dict[int, int]
    cuts: tuple[Event, ...] = ()

    def by_rope(self) -> dict[int, list[int]]:
        """Events by rope; what belongs to none stands with the rope before it."""
        found: dict[int, list[int]] = {rope: [] for rope in self.take.ropes}
        rope = self.take.ropes[0]
        for k in range(len(self.events)):
            entry = self.entries.get(k, -1)
            if entry >= 0:
                rope = self.take.ropes[entry]
            found[rope].append(k)
        return found

    def plucks(self, by_rope: Mapping[int, Sequence[int]]) -> list[Pluck]:
        """Every event as a pluck, used or not and why."""
        plucks = []
        for k, event in enumerate(self.events):
            reason = self.reasons[k]
            if k + 1 in self.take.excluded_plucks:
                reason = "left out by the record"
            elif not reason and np.ptp(self.longest_part(k)) < SHORTEST_RING:
                reason = TOO_SHORT
            plucks.append(
                Pluck(
                    recording=self.take.recording.name,
                    index=k + 1,
                    start=event.start,
                    end=event.end,
                    is_used=not reason,
                    reason=reason,
                    signal_to_noise=_over_before(self.take.recording, event),
                )
            )
        for places in by_rope.values():
            used = [k for k in places if plucks[k].is_used]
            for k in sorted(used, key=lambda k: -self.events[k].rise)[MOST_RINGS:]:
                plucks[k] = replace(plucks[k], is_used=False, reason=ENOUGH)
        return plucks

    def cut_of(
        self, by_rope: Mapping[int, Sequence[int]], plucks: Sequence[Pluck], reason: str
    ) -> dict[int, tuple[Decay, ...]]:
        """Cut the rings that are left out for one reason, or for none, by rope."""
        return {
            rope: tuple(
                self.cut(k, plucks[k]) for k in places if plucks[k].reason == reason
            )
            for rope, places in by_rope.items()
        }

    def spare(
        self, by_rope: Mapping[int, Sequence[int]], plucks: Sequence[Pluck]
    ) -> dict[int, tuple[tuple[Pluck, Array], ...]]:
        """Those of which there are enough clearer ones, with their images, by rope."""
        return {
            rope: tuple(
                (plucks[k], self.features[k].log_spectrum)
                for k in places
                if plucks[k].reason == ENOUGH
            )
            for rope, places in by_rope.items()
        }

    def longest_part(self, k: int) -> tuple[float, float]:
        """Longest part of a ring between knocks. [s]."""
        event = self.events[k]
        parts = [
            (one.start if one.start == event.start else one.start + KNOCK, one.end)
            for one in self.cuts
            if event.start <= one.start < event.end
        ]
        return max(parts, key=lambda part: part[1] - part[0])

    def cut(self, k: int, pluck: Pluck) -> Decay:
        """Cut one ring."""
        recording = self.take.recording
        start, end = self.longest_part(k)
        start += SKIP
        return Decay(
            samples=_between(recording, start, min(end - 0.02, start + LONGEST_RING)),
            sampling_rate=recording.sampling_rate,
            pluck=pluck,
            take=self.index,
            entry=self.entries[k],
            rise=self.events[k].rise,
            log_spectrum=self.features[k].log_spectrum,
        )


def _rung_through(
    recording: Recording, events: tuple[Event, ...], features: tuple[EventFeatures, ...]
) -> tuple[tuple[Event, ...], tuple[EventFeatures, ...]]:
    """Let short rings go on through a knock or a word that falls into them."""
    longer = list(events)
    for k in range(len(events) - 2, -1, -1):
        if (
            _seconds(events[k]) < SHORTEST_RING
            and features[k + 1].reason == NOTHING_BEGINS
        ):
            longer[k] = replace(events[k], end=longer[k + 1].end)
    merged = tuple(longer)
    if merged == events:
        return events, features
    rate = recording.sampling_rate
    again = describe_events(recording.samples, rate, merged)
    return merged, tuple(
        new if after.end != before.end else old
        for new, old, after, before in zip(again, features, merged, events, strict=True)
    )


def _is_quiet(features: tuple[EventFeatures, ...]) -> bool:
    """Whether the recording does not begin in a ring: a later one is far clearer."""
    first, *later = features
    strongest = max(one.strength for one in later)
    loudest = max(one.level for one in later)
    return bool(first.reason) or (
        first.strength < BEGINS * strongest or first.level < loudest - FAR_LOUDER
    )


def _seconds(event: Event) -> float:
    """Length of an event. [s]."""
    return event.end - event.start


def _reasons(features: tuple[EventFeatures, ...]) -> list[str]:
    """Why events are no plucks; the clearest counts where there is no better."""
    reasons = [each.reason for each in features]
    if all(reasons):
        strongest = max(each.strength for each in features)
        for k, each in enumerate(features):
            if each.strength >= max(strongest, FAINT):
                reasons[k] = ""
    return reasons


def _group(
    take: Take, events: tuple[Event, ...], alike: Array, rings: Sequence[int]
) -> Grouping:
    """Give the rings to the ropes of the take."""
    if len(set(take.ropes)) == 1:
        return Grouping(
            entries=(0,) * len(rings),
            probabilities=np.ones(len(rings)),
            plucks_each=take.plucks_each or 0,
        )
    chosen = np.array(rings, dtype=np.intp)
    return group_plucks(
        np.array([events[k].start for k in rings]),
        alike[np.ix_(chosen, chosen)],
        take.ropes,
        take.plucks_each,
    )


def _unlike(alike: Array, rings: Sequence[int]) -> list[int]:
    """Rings that sound like none of three or more others that sound alike."""
    if len(rings) < 3:
        return []
    chosen = np.array(rings, dtype=np.intp)
    table = alike[np.ix_(chosen, chosen)] - 2.0 * np.eye(chosen.size)
    nearest = table.max(axis=1)
    if float(np.median(nearest)) < UNLIKE + 0.2:
        return []
    return [k for k, best in zip(rings, nearest, strict=True) if best < UNLIKE]


def _between(recording: Recording, start: float, end: float) -> Array:
    """Samples between two moments."""
    first = max(0, int(start * recording.sampling_rate))
    last = max(0, int(end * recording.sampling_rate))
    return np.asarray(recording.samples[first:last], dtype=np.float64)


def _over_before(recording: Recording, event: Event) -> float:
    """Level of half a second of ring over what stood just before it. [dB]."""
    ring = _between(recording, event.start + SKIP, min(event.start + 0.5, event.end))
    before = _between(recording, event.start - 0.4, event.start - 0.1)
    if min(ring.size, before.size) < 3:
        return float("nan")
    return float(10.0 * np.log10((ring.var() + 1e-30) / (before.var() + 1e-30)))


def _doubts(
    found: _Found, grouping: Grouping, rings: Sequence[int]
) -> tuple[dict[int, Refusal], tuple[Note, ...]]:
    """Refuse ropes whose plucks are not clear; tell counts that differ."""
    take = found.take
    if not rings:
        return {}, ()
    wanted = grouping.plucks_each
    counts = [grouping.entries.count(entry) for entry in range(len(take.ropes))]
    single = len(set(take.ropes)) == 1
    if single:
        counts = [sum(counts)]
        wanted = wanted * len(take.ropes)
    announced = wanted * len(counts)
    told = f"{len(take.ropes)} ropes" if not take.plucks_each else f"{announced}"
    places = {
        "recording": take.recording.name,
        "found": len(rings),
        "expected": told,
        "times": _time_line(found, grouping, rings),
    }
    refusals = {}
    for place, entry in enumerate(grouping.entries):
        if entry >= 0 and grouping.probabilities[place] < SURE:
            refusals[take.ropes[entry]] = NoteKind.COUNT_UNCLEAR.refusal(**places)
    for rope in set(take.ropes):
        entries = [k for k, other in enumerate(take.ropes) if other == rope]
        if not single and not any(counts[k] for k in entries):
            refusals[rope] = NoteKind.COUNT_UNCLEAR.refusal(**places)
    notes: tuple[Note, ...] = ()
    if wanted and any(count != wanted for count in counts):
        odd = sorted(
            {take.ropes[k] for k, count in enumerate(counts) if count != wanted}
        )
        notes = (NoteKind.COUNT_DIFFERS.note(ropes=tuple(odd), **places),)
    return refusals, notes


def _time_line(found: _Found, grouping: Grouping, rings: Sequence[int]) -> str:
    """What was found at which second."""
    parts: list[str] = []
    last = -2
    for k, entry in zip(rings, grouping.entries, strict=True):
        moment = f"{found.events[k].start:.1f}"
        if entry == last and parts:
            parts[-1] += f", {moment}"
        elif entry < 0:
            parts.append(f"none at {moment}")
        else:
            parts.append(f"rope {found.take.ropes[entry]} at {moment}")
        last = entry
    return "; ".join(f"{part} s" for part in parts)
