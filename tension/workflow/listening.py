"""From recordings to what was heard of each rope: of one series, or of one file."""

import itertools
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tension.errors import FileFormatError
from tension.files import sound as sound_files
from tension.files.evidence import FileEvidence, hash_file, natural_key
from tension.files.sound_stream import LONGEST, DecodedSound
from tension.files.visit import Visit
from tension.installation import Ends, Span
from tension.measurement.readings import Exclusion, PluckReading, Series
from tension.measurement.rope_figures import find_free_lengths
from tension.measurement.rounds import HeardRound, merge_rounds
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.notes import Note, NoteKind
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.shown import Shown, plain
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, RopeSpan, SetHearing
from tension.sound.recording import Recording, Take
from tension.workflow.inputs import folder_of, has_same_bytes, plucks_of

MOST_ROUNDS = 8
"""Most recordings of one rope in a series: the whole set is heard with each. [1]"""
_CLAMPED_ENDS = {Ends.SOCKET_SHEAVE: 1, Ends.SOCKET_SOCKET: 2, Ends.SHEAVE_SHEAVE: 0}
_LARGE = 2_000_000
"""Size of a file from which on its reading is told. [bytes]"""
_LONG = 1_000_000
"""Length from which on listening is told. [samples]"""
_LEAVE_OUT = "leave some out with an exclusion"

Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """What was heard in the recordings of one series, and the files it rests on.

    Recordings stand as read, in the order of the record; there is evidence of every
    file that exists.
    """

    hearing: SetHearing
    recordings: tuple[Recording, ...]
    evidence: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Read:
    """A reading with its recording as read; no evidence of a file that is missing."""

    reading: PluckReading
    recording: Recording
    file: FileEvidence | None

    def refused(self, kind: NoteKind, other: PluckReading) -> "_Read":
        """The same, counting in none of two series: it is of one of them at most."""
        refusal = kind.refusal(
            recording=self.reading.recording,
            series=self.reading.series,
            other=other.recording,
            other_series=other.series,
        )
        return replace(self, recording=replace(self.recording, refusal=refusal))

    def is_file(self, sound: Path | DecodedSound) -> bool:
        """Whether a sound has the same bytes."""
        if self.file is None or self.recording.refusal is not None:
            return False
        if isinstance(sound, DecodedSound):
            return sound.origin is not None and sound.origin.sha256 == self.file.sha256
        return has_same_bytes(sound, self.file)


def listen_to_series(
    visit: Visit,
    series: Series,
    span: Span,
    progress: Progress | None = None,
    prior_factor: float = 1.0,
) -> Heard | None:
    """Read and hear every recording of one series; None if it holds none.

    A line is told of each file read; the factor is on every width of what is expected
    before listening [1].
    """
    named = [r for r in plucks_of(visit) if r.series == series.name]
    if not named:
        return None
    exclusions = [e for e in visit.exclusions if e.series == series.name]
    readings = sorted(named, key=_by_name)
    _require_few([r for r in readings if not _is_left_out(exclusions, r)])
    read = _of_this_series(visit, _read_all(visit, readings, progress))
    if progress and any(len(one.recording.samples) > _LONG for one in read):
        progress("listening")
    takes, notes = _without_copies(
        [
            Take(
                recording=one.recording,
                ropes=one.reading.ropes,
                plucks_each=one.reading.plucks_each,
                excluded_plucks=tuple(
                    e.pluck
                    for e in exclusions
                    if e.pluck is not None and e.recording == one.reading.recording
                ),
            )
            for one in read
            if not _is_left_out(exclusions, one.reading)
        ]
    )
    hearing = hear_rounds(
        takes, find_spans(visit, span), find_prior(visit, span, prior_factor)
    )
    recordings = {one.recording.name: one.recording for one in read}
    evidence = {one.file.path: one.file for one in read if one.file is not None}
    return Heard(
        hearing=replace(hearing, notes=(*hearing.notes, *notes)),
        recordings=tuple(recordings[reading.recording] for reading in named),
        evidence=tuple(evidence.values()),
    )


# which readings count


def _by_name(reading: PluckReading) -> tuple[object, ...]:
    """The order in which readings are heard: by name, not as they stand."""
    path = Path(reading.recording)
    return (path.parent.as_posix(), natural_key(path), reading.ropes)


def _is_left_out(exclusions: Sequence[Exclusion], reading: PluckReading) -> bool:
    """Whether a whole recording is left out: by name, by its only rope, or both."""
    only = set(reading.ropes)
    return any(
        e.pluck is None
        and not e.reading
        and e.recording in {"", reading.recording}
        and (e.rope is None or only == {e.rope})
        for e in exclusions
    )


def _require_few(readings: Sequence[PluckReading]) -> None:
    """Refuse more recordings of one rope than are heard in a bearable time."""
    counts = Counter(rope for reading in readings for rope in set(reading.ropes))
    for rope, count in counts.most_common(1):
        if count > MOST_ROUNDS:
            raise FileFormatError(
                f"rope {rope} has {count} recordings in one series; at most "
                f"{MOST_ROUNDS} are heard: {_LEAVE_OUT}"
            )


def _of_this_series(visit: Visit, read: Sequence[_Read]) -> list[_Read]:
    """Recordings refused where another series counts the same bytes or sound."""
    others = list(_counted_elsewhere(visit, read[0].reading.series))
    checked = []
    for one in read:
        same = next((other for other, sound in others if one.is_file(sound)), None)
        kind = NoteKind.SAME_FILE_ELSEWHERE
        checked.append(one if same is None else one.refused(kind, same))
    if others:
        sounds = [sound for _, sound in others]
        alike = sound_files.find_same_elsewhere(
            [one.recording for one in checked], sounds
        )
        for i, j in alike.items():
            kind = NoteKind.SAME_SOUND_ELSEWHERE
            checked[i] = checked[i].refused(kind, others[j][0])
    return checked


def _counted_elsewhere(
    visit: Visit, series: str
) -> Iterator[tuple[PluckReading, Path | DecodedSound]]:
    """Readings of the other series, and the files or the sound that they stand for."""
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    for reading in plucks_of(visit):
        own = [e for e in visit.exclusions if e.series == reading.series]
        if reading.series != series and not _is_left_out(own, reading):
            name = trimmed.get(reading.recording, reading.recording)
            file = folder_of(visit) / name
            yield reading, visit.sounds.get(reading.recording, file)


# reading the files


def _read_all(
    visit: Visit, readings: Sequence[PluckReading], progress: Progress | None
) -> list[_Read]:
    """Read every file once, or take the sound that is decoded already.

    A trimmed file stands in for its original.
    """
    folder = folder_of(visit)
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    files = [trimmed.get(r.recording, r.recording) for r in readings]
    unique = dict(zip(files, (r.recording for r in readings), strict=True))
    seconds = [0.0]

    def read(file: str) -> tuple[Recording, FileEvidence | None]:
        if sound := visit.sounds.get(unique[file]):
            recording = sound_files.recording_of(sound, unique[file])
            seconds.append(duration_of(recording))
            return recording, sound.origin
        path = folder / file
        if progress and _is_large(path):
            progress(f"reading {file}")
        _require_not_longer(sum(seconds), "one series last", _LEAVE_OUT)
        recording = sound_files.read_recording(path, name=unique[file])
        seconds.append(duration_of(recording))
        try:
            return recording, hash_file(path, file)
        except OSError:
            return recording, None

    found = dict(zip(unique, sound_files.read_two_at_a_time(read, unique), strict=True))
    _require_not_longer(sum(seconds), "one series last", _LEAVE_OUT)
    return [
        _Read(reading=reading, recording=found[file][0], file=found[file][1])
        for reading, file in zip(readings, files, strict=True)
    ]


def _is_large(path: Path) -> bool:
    """Whether reading a file takes long enough to be told: over 2 MB."""
    try:
        return path.stat().st_size > _LARGE
    except OSError:
        return False


def duration_of(recording: Recording) -> float:
    """Tell how long a recording lasts; nought for one that could not be read. [s]."""
    return len(recording.samples) / (recording.sampling_rate or 1.0)


def _require_not_longer(seconds: float, what: str, way_out: str) -> None:
    """Refuse more sound than is heard in a bearable time."""
    if seconds > LONGEST:
        raise FileFormatError(
            f"the recordings of {what} more than {LONGEST / 60:.0f} min together; cut "
            f"out the parts with the plucks, or {way_out}"
        )


def require_bearable(series: Iterable[Sequence[Recording]]) -> None:
    """Refuse more sound in several series than is heard in a bearable time.

    Raises
    ------
    FileFormatError
        If they last longer together than one series may.
    """
    seconds = sum(duration_of(one) for own in series for one in own)
    _require_not_longer(seconds, "all series last", "keep a record per visit")


# hearing them in rounds: of each rope one at a time


def hear_rounds(
    takes: Sequence[Take], spans: Sequence[RopeSpan], prior: HearingPrior
) -> SetHearing:
    """Hear every recording of a rope for itself, amid one recording of each other rope.

    Recordings of one rope that contradict each other refuse it.

    Raises
    ------
    FileFormatError
        If it would take more than a bearable time.
    """
    rounds: list[list[Take]] = [[]]
    for take in takes:  # each rope once at most in a round
        free = next((own for own in rounds if not _has_any(own, take)), None)
        if free is None:
            rounds.append(free := [])
        free.append(take)
    filled = [list(own) for own in rounds]
    for full, take in itertools.product(filled, takes):
        if take.recording.refusal is None and not _has_any(full, take):
            full.append(take)
    seconds = sum(duration_of(take.recording) for own in filled for take in own)
    if len(rounds) > 1 and seconds > LONGEST:
        raise FileFormatError(
            f"with {len(rounds)} recordings of one rope the whole set is heard "
            f"{len(rounds)} times, more than {LONGEST / 60:.0f} min of sound; cut out "
            "the parts with the plucks, or leave some recordings out with an exclusion"
        )
    heard = [hear_set(full, spans, prior) for full in filled]
    names = [
        {n: take.recording.name for take in own for n in take.ropes} for own in rounds
    ]
    both = zip(heard, names, strict=True)
    return merge_rounds([HeardRound(hearing=h, recordings=n) for h, n in both])


def _has_any(own: Sequence[Take], take: Take) -> bool:
    """Whether a rope of a recording is in a round."""
    return any(set(take.ropes) & set(other.ropes) for other in own)


def _without_copies(takes: Sequence[Take]) -> tuple[list[Take], list[Note]]:
    """Take out recordings that are one sound under several names.

    One sound given for several ropes is refused each time, for it can be of one of them
    at most; of one given for the same ropes again the first is kept.
    """
    kept = dict(enumerate(takes))
    notes = []
    for group in sound_files.find_same_sound([take.recording for take in takes]):
        names = ", ".join(dict.fromkeys(takes[i].recording.name for i in group))
        ropes = sorted({takes[i].ropes for i in group})
        numbers = tuple(sorted(set(sum(ropes, ()))))
        if len(ropes) == 1:
            again = NoteKind.SAME_SOUND_AGAIN
            notes.append(again.note(ropes=numbers, recordings=names))
            for i in group[1:]:
                del kept[i]
            continue
        told = f"Ropes {', '.join(map(str, numbers))}"
        refusal = NoteKind.SAME_SOUND.refusal(ropes=told, recordings=names)
        for i in group:
            recording = replace(takes[i].recording, refusal=refusal)
            kept[i] = replace(takes[i], recording=recording)
    return list(kept.values()), notes


# what is known before listening


def find_spans(visit: Visit, span: Span) -> tuple[RopeSpan, ...]:
    """Tell what is known of each rope's span before listening."""
    rope_set = visit.rope_set
    lengths = find_free_lengths(rope_set, span)
    here = HITCHES_OF_SIDE[span.side]
    rods = [h.rod_free.value for h in rope_set.hitches if h.at in here and h.rod_free]
    return tuple(
        RopeSpan(
            number=number,
            free_length=lengths.lengths.get(number),
            rod_free=rods[0] if rods else None,
            n_clamped_ends=_CLAMPED_ENDS[span.ends],
        )
        for number in range(1, rope_set.n_ropes + 1)
    )


def find_prior(visit: Visit, span: Span, factor: float = 1.0) -> HearingPrior:
    """Expect the wave speed that the mass on that side would give, if it is known.

    The factor is on every width of what is expected [1].
    """
    lift, rope_set = visit.lift, visit.rope_set
    mass = lift.car_mass if span.side.value == "car" else lift.counterweight_mass
    density, speed = rope_set.linear_density, HearingPrior().wave_speed
    if mass is not None and density is not None:
        n_parts = rope_set.n_ropes * lift.roping.n_falls
        speed = math.sqrt(mass.value * STANDARD_GRAVITY / n_parts / density.value)
    return HearingPrior(wave_speed=speed).widened(factor)


# one file by itself


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class HeardFile(Shown):
    """One sound file as read, what was heard in it, and its checksum if it exists."""

    recording: Recording
    hearing: SetHearing
    evidence: tuple[FileEvidence, ...]

    def summary(self) -> str:
        """Say what was heard of each rope."""
        told = (
            one.refusal.code if one.refusal else f"{one.fundamental_frequency:.4g} Hz"
            for one in self.hearing.ropes
        )
        numbered = zip(self.hearing.ropes, told, strict=True)
        ropes = ", ".join(f"{one.number}: {words}" for one, words in numbered)
        return f"{self.recording.name!r}, {ropes}"

    def to_rows(self) -> list[dict[str, Any]]:
        """Turn it into one row per rope, all SI; or why there is no number."""
        return [
            {
                "rope": rope.number,
                "frequency": plain(rope.fundamental_frequency),
                "relative_uncertainty": plain(rope.relative_uncertainty),
                "reason": rope.refusal.text if rope.refusal else "",
            }
            for rope in self.hearing.ropes
        ]


def read_recording(path: Path | str) -> Recording:
    """Read the sound of one file: its samples, in one channel, decimated.

    Parameters
    ----------
    path : Path or str
        The file.

    Raises
    ------
    FileFormatError
        If it is a folder, missing, damaged, or no sound; the message says what to do.

    Examples
    --------
    >>> read_recording("recordings_demo")
    Traceback (most recent call last):
        ...
    tension.errors.FileFormatError: ...
    """
    found = sound_files.read_recording(Path(path), name=str(path))
    if found.refusal is not None:
        raise FileFormatError(f"{found.refusal.text} {found.refusal.next_act}".strip())
    return found


def hear_file(
    path: Path | str,
    *,
    free_length: float | None = None,
    order: Sequence[int] = (1,),
    plucks_each: int | None = None,
    progress: Progress | None = None,
) -> HeardFile:
    """Hear one sound file by itself.

    Parameters
    ----------
    path : Path or str
        The file; one that cannot be used is a refusal in what was heard.
    free_length : float, optional
        Free length of the ropes, if known. [m]
    order, plucks_each : sequence of int, int, optional
        Rope numbers in the order plucked; how many plucks each rope got.
    progress : callable, optional
        Called with one line before a long file is read.

    Examples
    --------
    What was heard in one file, by itself::

        print(hear_file("rope-1.m4a", free_length=3.4))
    """
    path = Path(path)
    if progress and _is_large(path):
        progress(f"reading and hearing {path}")
    recording = sound_files.read_recording(path, name=str(path))
    spans = [RopeSpan(number=n, free_length=free_length) for n in sorted(set(order))]
    take = Take(recording=recording, ropes=tuple(order), plucks_each=plucks_each)
    return HeardFile(
        recording=recording,
        hearing=hear_set([take], spans),
        evidence=(hash_file(path),) if path.is_file() else (),
    )
