"""Rings: which pluck of which recording belongs to which rope."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.hearing import Pluck
from tension.sound.hum import Ring, ring_belief
from tension.sound.plucks import Event, find_events
from tension.sound.recording import Take
from tension.sound.spectra import believed, find_lines, noise_at

SKIP = 0.03
"""The release itself is no free ring. [s]"""
SHORTEST_RING = 0.7
"""A shorter ring does not resolve the partials of a usual rope. [s]"""
LONGEST_RING = 8.0
"""What follows is noise; an hour of it would only cost memory. [s]"""
BEFORE = 3.0
"""Stretch before a pluck in which hum is looked for. [s]"""
CLEAR_GAP = 1.4
"""A gap between ropes is told from one between plucks if longer by this factor. [1]"""
TONAL_LEVEL = 15.0
"""Level of the lines that make an event a pluck. [dB]"""
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
    recording = take.recording
    events = find_events(recording.samples, recording.sampling_rate)
    if len(take.ropes) == 1:
        owners: dict[int, int] = dict.fromkeys(range(len(events)), take.ropes[0])
        reasons: dict[int, str] = {}
    else:
        reasons = {
            k: "no lines that ring on: a knock, talk or handling"
            for k, event in enumerate(events)
            if not _is_tonal(take, event, events[0].start)
        }
        plucked = [k for k in range(len(events)) if k not in reasons]
        owners = _assign(take, [events[k] for k in plucked], plucked)
    _tell_count(take, owners, events, reasons, found)
    for k, event in enumerate(events):
        number = owners.get(k)
        reason = reasons.get(k, "" if number is not None else "belongs to no rope")
        if k + 1 in take.excluded_plucks:
            reason = "left out by the record"
        elif not reason and event.end - event.start < SHORTEST_RING:
            reason = "too short to tell the partials apart"
        ring = _cut(take, event, events[0].start)
        pluck = Pluck(
            recording=recording.name,
            index=k + 1,
            start=event.start,
            end=event.end,
            is_used=not reason,
            reason=reason,
            signal_to_noise=_over_before(take, event),
        )
        for of in [number] if number is not None else set(take.ropes):
            if of in found:
                found[of].plucks.append(pluck)
        if not reason and number in found:
            found[number].rings.append(RingOf(ring=ring, pluck=pluck, take=index))


def _cut(take: Take, event: Event, first: float) -> Ring:
    """Samples of one ring and of what stood before the first."""
    rate = take.recording.sampling_rate
    samples = take.recording.samples
    start = int((event.start + SKIP) * rate)
    end = min(int((event.end - 0.02) * rate), start + int(LONGEST_RING * rate))
    quiet = int((first - 0.1) * rate)
    begin = max(0, quiet - int(BEFORE * rate))
    return Ring(
        samples=np.asarray(samples[start:end], dtype=np.float64),
        before=np.asarray(samples[begin : max(quiet, begin)], dtype=np.float64),
        sampling_rate=rate,
    )


def _over_before(take: Take, event: Event) -> float:
    """Level of half a second of ring over what stood just before it. [dB]."""
    rate = take.recording.sampling_rate
    samples = take.recording.samples

    def power(first: float, last: float) -> float:
        part = np.asarray(
            samples[max(0, int(first * rate)) : int(last * rate)], dtype=np.float64
        )
        return float(np.var(part)) if part.size > 2 else float("nan")

    ring = power(event.start + SKIP, min(event.start + 0.5, event.end))
    before = power(event.start - 0.4, event.start - 0.1)
    return float(10.0 * np.log10((ring + 1e-30) / (before + 1e-30)))


def _is_tonal(take: Take, event: Event, first: float) -> bool:
    """Whether an event leaves lines that ring on and did not stand before."""
    ring = _cut(take, replace(event, end=min(event.end, event.start + 2.5)), first)
    if ring.samples.size < 0.5 * ring.sampling_rate:
        return False
    # the first quarter second of a knock or a word is over
    late = replace(ring, samples=ring.samples[int(0.25 * ring.sampling_rate) :])
    lines = find_lines([late.samples], [late.before], late.sampling_rate, 10.0)
    density = noise_at(late.samples, late.before, late.sampling_rate, lines.frequencies)
    lines = believed(lines, ring_belief(lines, late, density))
    level = 10.0 * np.log10(lines.levels)
    good = (lines.weights > 0.5) & (lines.durations >= 0.5) & (level > TONAL_LEVEL)
    return int(np.count_nonzero(good)) >= 2


def _assign(take: Take, events: list[Event], places: list[int]) -> dict[int, int]:
    """Give plucks to the ropes announced; empty if it can be done in more ways."""
    n_ropes, n_events = len(take.ropes), len(events)
    if n_events < n_ropes:
        return {}
    each = take.plucks_each
    if n_events % n_ropes == 0 and each in {None, n_events // n_ropes}:
        each = n_events // n_ropes
        bounds = [each * k for k in range(n_ropes + 1)]
    else:
        starts = np.array([event.start for event in events])
        gaps = np.diff(starts)
        order = np.argsort(-gaps)
        cut = order[: n_ropes - 1]
        rest = order[n_ropes - 1 :]
        if rest.size and gaps[cut].min() < CLEAR_GAP * gaps[rest].max():
            return {}
        bounds = [0, *sorted(int(k) + 1 for k in cut), n_events]
    return {
        places[k]: number
        for number, first, last in zip(take.ropes, bounds[:-1], bounds[1:], strict=True)
        for k in range(first, last)
    }


def _tell_count(
    take: Take,
    owners: dict[int, int],
    events: tuple[Event, ...],
    reasons: dict[int, str],
    found: dict[int, RopeRings],
) -> None:
    """Say it when the count is not the one announced."""
    plucked = [k for k in range(len(events)) if k not in reasons]
    expected = None if take.plucks_each is None else take.plucks_each * len(take.ropes)
    right = expected is None or len(plucked) == expected
    if owners and right:
        return
    times = ", ".join(f"{events[k].start:.1f} s" for k in plucked[:40]) or "none"
    ropes = tuple(dict.fromkeys(number for number in take.ropes if number in found))
    places = {
        "recording": take.recording.name,
        "found": len(plucked),
        "expected": expected or len(take.ropes),
        "times": times,
    }
    if owners or len(take.ropes) == 1:
        for number in ropes:
            if events:
                found[number].notes.append(
                    NoteKind.COUNT_DIFFERS.note(ropes=(number,), **places)
                )
        return
    refusal = (
        NoteKind.NO_PLUCK.refusal(recording=take.recording.name)
        if not plucked
        else NoteKind.COUNT_UNCLEAR.refusal(**places)
    )
    for number in ropes:
        found[number].refusal = found[number].refusal or refusal


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
