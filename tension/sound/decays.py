"""Decays: what all recordings hold of each rope, and whether it is of one pitch."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.cutting import SHORTEST_RING, Decay, cut_take
from tension.sound.event_features import STEP
from tension.sound.hearing import Pluck
from tension.sound.hum import remove_hum
from tension.sound.noise_class import overdriven_share, why_no_ring
from tension.sound.recording import Array, Recording, Take

FURTHEST = 0.16
"""Of the logarithm of frequency: neighbours differ by no more. [1]"""
CLEAR_PEAK = 0.45
"""Likeness at the best shift that shows the same series. [1]"""
OVER_UNSHIFTED = 0.15
"""By which it must exceed the likeness unshifted. [1]"""
UNLIKE = 0.3
"""Likeness of rings of one rope in any noise is more. [1]"""
CROSSWISE = 0.55
"""Likeness of two rounds of one rope, mostly more. [1]"""
LEAST_SHIFT = 0.012
"""Of the logarithm of frequency: 2.4 % of tension, more than repeats differ by. [1]"""


def shift_between(one: Array, other: Array) -> float:
    """Find by how much one ring is higher than another.

    `one`, `other` (n_log_frequencies,): images of two rings, see
    `tension.sound.event_features.EventFeatures`. Gives: logarithm of the ratio of
    frequencies, one over other; 0 unless a shift makes them clearly more alike.
    """
    reach = round(FURTHEST / STEP)
    table = np.correlate(np.pad(one, reach), other, mode="valid")
    best = int(np.argmax(table))
    shift = (best - reach) * STEP
    is_clear = table[best] > max(CLEAR_PEAK, float(table[reach]) + OVER_UNSHIFTED)
    return shift if is_clear and abs(shift) >= LEAST_SHIFT else 0.0


def is_apart(one: Array, other: Array) -> bool:
    """Tell two rings that are not of one pitch.

    `one`, `other` (n_log_frequencies,): images of two rings. Gives: whether a shift
    makes them clearly more alike, or they are not alike at all.
    """
    return shift_between(one, other) != 0.0 or float(one @ other) < UNLIKE


def mean_log_spectrum(log_spectra: Sequence[Array]) -> Array:
    """Average the images of one round.

    `log_spectra` (n_log_frequencies,): of rings of one pitch. Gives shape
    (n_log_frequencies,): of length 1.
    """
    total: Array = np.sum(log_spectra, axis=0)
    size = float(np.sqrt(np.sum(total**2)))
    return total / size if size > 0.0 else total


def find_swaps(rounds: Mapping[int, tuple[Array, Array]]) -> list[tuple[int, int]]:
    """Find ropes whose numbers were changed over between two rounds.

    `rounds`: by rope, images of its first and last round, for ropes whose rounds are
    apart.
    """
    return [
        (one, other)
        for one, other in combinations(sorted(rounds), 2)
        if all(
            float(a @ b) > CROSSWISE and not is_apart(a, b)
            for a, b in (
                (rounds[one][0], rounds[other][1]),
                (rounds[one][1], rounds[other][0]),
            )
        )
    ]


OVERDRIVEN = 0.5
"""Share of the time at full scale from which nothing is believed. [1]"""
SILENCE = 4e-5
"""Largest sample of a recording that holds nothing: the last bit of 16. [1]"""
LONGEST_WHOLE = 40.0
"""Looked at of a recording of one rope, from its first ring on. [s]"""
MOST_TOLD = 6
"""Plucks of another pitch told by their time; the others are counted. [1]"""
MOST_REGROUPED = 12
"""Rings listened to of one rope, over all recordings: the clearest. [1]"""


@dataclass(kw_only=True, slots=True)
class RopeDecays:
    """All that was found of one rope before listening closely.

    Attributes
    ----------
    rings : list of Decay
        Those to listen to.
    unlike : list of Decay
        Those left out because they sound like none of the others.
    spare : list of (Pluck, ndarray)
        Those not listened to, as there are enough clearer ones, with their images.
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

    rings: list[Decay] = field(default_factory=list)
    unlike: list[Decay] = field(default_factory=list)
    spare: list[tuple[Pluck, Array]] = field(default_factory=list)
    plucks: list[Pluck] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    refusal: Refusal | None = None
    names: list[str] = field(default_factory=list)
    hum: list[tuple[float, float]] = field(default_factory=list)
    whole: list[NDArray[np.float32]] = field(default_factory=list)


def find_decays(takes: Sequence[Take], numbers: Sequence[int]) -> dict[int, RopeDecays]:
    """Cut all recordings into rings and give them to the ropes."""
    found = {number: RopeDecays() for number in numbers}
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
        rope.spare += [
            (one.pluck, one.log_spectrum) for one in rope.rings if id(one) not in kept
        ]
        rope.rings = [one for one in rope.rings if id(one) in kept]
    for number, rope in found.items():
        if rope.refusal is None and not rope.rings and rope.names:
            of = [take for take in takes if number in take.ropes]
            rope.refusal = _why_none(of[-1], rope, number)
    settle_repeats(found)
    for number, rope in found.items():
        _hold_against_spare(rope, number)
    return found


def _add_take(
    found: dict[int, RopeDecays], take: Take, index: int, wanted: Sequence[int]
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
        rope.spare += () if number in cut.refusals else cut.spare.get(number, ())
        if rings and len(wanted) == 1:
            rope.whole.append(_from_first(cleaned, rings))
        rope.hum += zip(hum.frequencies.tolist(), hum.levels.tolist(), strict=True)


def _from_first(recording: Recording, rings: Sequence[Decay]) -> NDArray[np.float32]:
    """Samples of a recording from its first ring on, at most so many."""
    rate = recording.sampling_rate
    first = round(min(one.pluck.start for one in rings) * rate)
    return recording.samples[first : first + round(LONGEST_WHOLE * rate)]


def settle_repeats(found: dict[int, RopeDecays]) -> None:
    """Refuse ropes whose rounds differ in pitch, by name if two were swapped."""
    rounds = {number: _rounds(rope.rings) for number, rope in found.items()}
    apart = {
        number for number, log_spectra in rounds.items() if _are_shifted(log_spectra)
    }
    several = {
        number: (log_spectra[0], log_spectra[-1])
        for number, log_spectra in rounds.items()
        if len(log_spectra) > 1
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


def _hold_against_spare(rope: RopeDecays, number: int) -> None:
    """Refuse a rope where as many plucks have another pitch as are like the clearest.

    The clearest of a long memo may all be of one of several ropes. Where fewer have
    another pitch this is told.
    """
    if not rope.rings or not rope.spare:
        return
    image = mean_log_spectrum([one.log_spectrum for one in rope.rings])
    other = [one for one, ring in rope.spare if shift_between(ring, image) != 0.0]
    if not other:
        return
    n_alike = sum(not is_apart(ring, image) for _, ring in rope.spare)
    told = [f"{one.start:.1f} s ({one.recording})" for one in other]
    times = ", ".join(told[:MOST_TOLD])
    if len(told) > MOST_TOLD:
        times += f" and {len(told) - MOST_TOLD} more"
    if len(other) >= len(rope.rings) + n_alike:
        _refuse(rope, NoteKind.PLUCKS_APART.refusal(rope=number, times=times))
        return
    rope.notes.append(
        NoteKind.OTHER_PLUCK.note(ropes=(number,), rope=number, times=times)
    )


def _rounds(rings: Sequence[Decay]) -> list[Array]:
    """Mean image of each round of one rope, in order."""
    log_spectra: dict[tuple[int, int], list[Array]] = {}
    for one in sorted(rings, key=lambda one: (one.take, one.pluck.start)):
        log_spectra.setdefault((one.take, one.entry), []).append(one.log_spectrum)
    return [mean_log_spectrum(of) for of in log_spectra.values()]


def _are_shifted(log_spectra: Sequence[Array]) -> bool:
    """Whether a shift makes two rounds clearly more alike."""
    return any(
        shift_between(one, other) != 0.0 for one, other in combinations(log_spectra, 2)
    )


def _refuse(rope: RopeDecays, refusal: Refusal) -> None:
    """Refuse a rope whose rings cannot be told apart."""
    rope.rings = []
    rope.refusal = refusal


def _why_none(take: Take, found: RopeDecays, number: int) -> Refusal:
    """Reason why none of the recordings of a rope holds a ring of it."""
    name = take.recording.name
    plucks = [pluck for pluck in found.plucks if pluck.recording == name]
    if any(pluck.index in take.excluded_plucks for pluck in plucks):
        return NoteKind.NO_PLUCK.refusal(recording=name)
    return why_no_ring(take.recording, plucks, number)


def _strength(one: Decay) -> float:
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
