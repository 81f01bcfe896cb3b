"""Recordings of a series in rounds: of each rope one at a time, copies told."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from tension.errors import FileFormatError
from tension.files.sound_alike import find_same_sound
from tension.files.sound_stream import LONGEST
from tension.measurement.readings import PluckReading
from tension.measurement.rounds import HeardRound, merge_rounds
from tension.notes import Note, NoteKind
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, RopeSpan, SetHearing
from tension.sound.recording import Recording, Take

MOST_ROUNDS = 8
"""Most recordings of one rope in a series: the whole set is heard with each. [1]"""


def hear_rounds(
    takes: Sequence[Take], spans: Sequence[RopeSpan], prior: HearingPrior
) -> SetHearing:
    """Hear every recording of a rope for itself, amid one recording of each other rope.

    Returns
    -------
    SetHearing
        Of the set; a rope of several recordings by all of them, or refused if they
        contradict each other.
    """
    rounds = find_rounds(takes)
    filled = [_filled(own, takes) for own in rounds]
    _require_bearable(filled)
    return merge_rounds(
        [
            HeardRound(
                hearing=hear_set(full, spans, prior),
                recordings={
                    rope: take.recording.name for take in own for rope in take.ropes
                },
            )
            for own, full in zip(rounds, filled, strict=True)
        ]
    )


def duration_of(recording: Recording) -> float:
    """Tell how long a recording lasts.

    Returns
    -------
    float
        Nought for one that could not be read. [s]
    """
    return len(recording.samples) / (recording.sampling_rate or 1.0)


def _require_bearable(rounds: Sequence[Sequence[Take]]) -> None:
    """Refuse rounds that are heard in more than a bearable time."""
    seconds = sum(duration_of(take.recording) for own in rounds for take in own)
    if len(rounds) > 1 and seconds > LONGEST:
        raise FileFormatError(
            f"with {len(rounds)} recordings of one rope the whole set is heard "
            f"{len(rounds)} times, more than {LONGEST / 60:.0f} min of sound; cut out "
            "the parts with the plucks, or leave some recordings out with an exclusion"
        )


def require_few(readings: Sequence[PluckReading]) -> None:
    """Refuse more recordings of one rope than are heard in a bearable time.

    Raises
    ------
    FileFormatError
        If a rope is in too many of them.
    """
    counts = Counter(rope for reading in readings for rope in set(reading.ropes))
    for rope, count in counts.most_common(1):
        if count > MOST_ROUNDS:
            raise FileFormatError(
                f"rope {rope} has {count} recordings in one series; at most "
                f"{MOST_ROUNDS} are heard: leave some out with an exclusion"
            )


def find_rounds(takes: Sequence[Take]) -> list[list[Take]]:
    """Share recordings out to rounds that hold each rope once at most."""
    rounds: list[list[Take]] = [[]]
    for take in takes:
        for own in rounds:
            if not any(set(take.ropes) & set(other.ropes) for other in own):
                own.append(take)
                break
        else:
            rounds.append([take])
    return rounds


def _filled(own: Sequence[Take], takes: Sequence[Take]) -> list[Take]:
    """A round with recordings of the ropes it lacks, as far as there are any."""
    filled = list(own)
    for take in takes:
        is_usable = take.recording.refusal is None
        if is_usable and not any(set(take.ropes) & set(o.ropes) for o in filled):
            filled.append(take)
    return filled


def without_copies(takes: Sequence[Take]) -> tuple[list[Take], tuple[Note, ...]]:
    """Take out recordings that are one sound under several names.

    Returns
    -------
    takes : list of Take
        One sound given for several ropes refused each time, for it can be of one of
        them at most; of one given for the same ropes again the first is kept.
    notes : tuple of Note
        Which were taken out.
    """
    kept = dict(enumerate(takes))
    notes = []
    for group in find_same_sound([take.recording for take in takes]):
        names = ", ".join(dict.fromkeys(takes[i].recording.name for i in group))
        ropes = sorted({takes[i].ropes for i in group})
        if len(ropes) == 1:
            for i in group[1:]:
                del kept[i]
            numbers = tuple(sorted(set(ropes[0])))
            notes.append(
                NoteKind.SAME_SOUND_AGAIN.note(ropes=numbers, recordings=names)
            )
            continue
        refusal = NoteKind.SAME_SOUND.refusal(
            ropes=f"Ropes {', '.join(str(n) for n in sorted({*sum(ropes, ())}))}",
            recordings=names,
        )
        for i in group:
            recording = replace(takes[i].recording, refusal=refusal)
            kept[i] = replace(takes[i], recording=recording)
    return list(kept.values()), tuple(notes)
