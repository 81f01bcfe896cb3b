"""Decays: what all recordings hold of each rope after its plucks."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from itertools import groupby
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.events import SKIP, TOO_SHORT, Event, find_rings
from tension.sound.grouping import SOUNDS_UNLIKE, group_rings
from tension.sound.hearing import Array, HumLine, Pluck, Recording, RopeSpan, Take
from tension.sound.noise_class import doubts_of, why_no_ring, why_unusable
from tension.sound.spectra import Lines, remove_hum
from tension.sound.string_fit import Candidate

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

    def told(self, pitch: float | None = None) -> str:
        """Say when it was, and its pitch [Hz]."""
        heard = f", about {pitch:.1f} Hz" if pitch is not None else ""
        return f"{self.pluck.start:.1f} s ({self.pluck.recording}{heard})"


@dataclass(kw_only=True, slots=True)
class FoundRope:
    """All that was found of one rope, until a string is decided on."""

    span: RopeSpan
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
    lines: Lines | None = None  # of its decays together
    candidates: tuple[Candidate, ...] = ()  # strings they could be, likeliest first

    def add(self, part: Self) -> None:
        """Add what another recording holds of the rope."""
        for each in fields(self):
            own = getattr(self, each.name)
            if isinstance(own, list):
                own += getattr(part, each.name)
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

    def refuse_apart(self, times: str) -> None:
        """Refuse it for plucks of several pitches, told by their times."""
        self.refuse(NoteKind.PLUCKS_APART.refusal(rope=self.span.number, times=times))


def find_decays(
    takes: Sequence[Take], spans: Sequence[RopeSpan]
) -> dict[int, FoundRope]:
    """Cut all recordings into decays and give them to the ropes."""
    found = {span.number: FoundRope(span=span) for span in spans}
    for index, take in enumerate(takes):
        parts = cut_take(take, index)
        for number in found.keys() & set(take.ropes):
            found[number].add(parts[number])
    for number, rope in found.items():
        last = next((take for take in reversed(takes) if number in take.ropes), None)
        if last is None:
            rope.refusal = NoteKind.NOT_RECORDED.refusal(rope=number)
        elif rope.refusal is None and not rope.decays:
            name = last.recording.name
            plucks = [pluck for pluck in rope.plucks if pluck.recording == name]
            rope.refusal = (
                NoteKind.NO_PLUCK.refusal(recording=name)
                if any(pluck.index in last.excluded_plucks for pluck in plucks)
                else why_no_ring(last.recording, plucks, number)
            )
    return found


def cut_take(take: Take, index: int) -> dict[int, FoundRope]:
    """Find the plucks of a recording and give them to its ropes.

    `take`: the recording, and the order of its ropes. Gives what was found of each.
    """
    rate = take.recording.sampling_rate
    found = {rope: FoundRope(span=RopeSpan(number=rope)) for rope in take.ropes}
    refusal = why_unusable(take.recording, SHORTEST_RING)
    if refusal is not None:
        return {rope: replace(part, refusal=refusal) for rope, part in found.items()}
    samples, hum = remove_hum(take.recording.samples, rate)
    take = replace(take, recording=replace(take.recording, samples=samples))
    events = find_rings(samples, rate)
    rings = [one for one in events if not one.reason]
    plucks_each = group_rings(take, rings)
    _give_plucks(take, index, events, found)
    starts = sorted(one.pluck.start for part in found.values() for one in part.decays)
    if rings:
        _hold_counts(take, plucks_each, rings, found)
    doubts = doubts_of(take.recording, take.ropes, starts)
    for part in found.values():
        part.hum += hum
        part.notes += doubts
        part.choose()
        part.decays = [_cut(one, take.recording) for one in part.decays]
        part.unlike = [_cut(one, take.recording) for one in part.unlike]
        if len(found) == 1 and part.decays:
            first, length = round(starts[0] * rate), round(LONGEST_WHOLE * rate)
            # a copy: a view would keep an hour in memory
            part.whole.append(samples[first : first + length].copy())
    return found


def _give_plucks(
    take: Take, index: int, events: Sequence[Event], found: dict[int, FoundRope]
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


def _hold_counts(
    take: Take, wanted: int, rings: Sequence[Event], found: dict[int, FoundRope]
) -> None:
    """Refuse ropes whose plucks are not clear; tell counts that differ."""
    ropes = take.ropes
    counts = [sum(one.entry == k for one in rings) for k in range(len(ropes))]
    clear = {rope for rope, count in zip(ropes, counts, strict=True) if count}
    if len(found) == 1:
        counts, wanted = [sum(counts)], wanted * len(ropes)
        clear = set(ropes)
    clear -= {ropes[one.entry] for one in rings if one.entry >= 0 and not one.is_sure}
    odd = {ropes[k] for k, count in enumerate(counts) if wanted and count != wanted}
    times = []
    for entry, of in groupby(rings, key=lambda one: one.entry):
        who = "none" if entry < 0 else f"rope {ropes[entry]}"
        times.append(f"{who} at {', '.join(f'{one.start:.1f}' for one in of)} s")
    expected = f"{wanted * len(counts)}" if take.plucks_each else f"{len(ropes)} ropes"
    places = {
        "recording": take.recording.name,
        "found": len(rings),
        "expected": expected,
        "times": "; ".join(times),
    }
    for rope, part in found.items():
        if rope in odd:
            part.notes.append(
                NoteKind.COUNT_DIFFERS.note(ropes=tuple(sorted(odd)), **places)
            )
        if rope not in clear:
            part.refuse(NoteKind.COUNT_UNCLEAR.refusal(**places))
