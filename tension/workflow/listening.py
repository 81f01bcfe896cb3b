"""From recordings to what was heard of each rope: of one series, or of one file."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tension.errors import FileFormatError
from tension.files import sound as sound_files
from tension.files.evidence import FileEvidence, hash_file, natural_key
from tension.files.sound_stream import LONGEST, DecodedSound
from tension.files.visit import Visit
from tension.installation import Span
from tension.measurement.listening import (
    duration_of,
    find_prior,
    find_spans,
    hear_rounds,
)
from tension.measurement.readings import Exclusion, PluckReading, Series
from tension.notes import Note, NoteKind
from tension.shown import Shown, plain
from tension.sound.hear import hear_set
from tension.sound.hearing import RopeSpan, SetHearing
from tension.sound.recording import Recording, Take
from tension.workflow.inputs import folder_of, has_same_bytes, plucks_of, require

MOST_ROUNDS = 8  # recordings of one rope in a series: each hears the whole set [1]
_LARGE = 2_000_000  # size of a file from which on its reading is told [byte]
_LONG = 1_000_000  # length from which on listening is told [samples]
_LEAVE_OUT = "leave some out with an exclusion"

Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """What was heard in the recordings of one series, and the files it rests on."""

    hearing: SetHearing | None = None  # None without recordings
    recordings: tuple[Recording, ...] = ()  # as read, in the order of the record
    evidence: tuple[FileEvidence, ...] = ()  # of every file that exists


@dataclass(frozen=True, kw_only=True, slots=True)
class _Source:
    """A reading, and the file or the decoded sound that it stands for."""

    reading: PluckReading
    file: str  # below the record; a trimmed one stands in for its original
    sound: Path | DecodedSound


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
) -> Heard:
    """Read and hear every recording of one series.

    A line is told of each file read; the factor is on every width of what is expected
    before listening [1].
    """
    named = [r for r in plucks_of(visit) if r.series == series.name]
    if not named:
        return Heard()
    known = find_spans(visit.rope_set, span)
    prior = find_prior(visit.rope_set, visit.lift, span).widened(prior_factor)
    counted = [r for r in plucks_of(visit) if not is_left_out(visit.exclusions, r)]
    own = _sources(visit, sorted(named, key=_by_name))
    others = _sources(visit, [r for r in counted if r.series != series.name])
    counted = [one.reading for one in own if one.reading in counted]
    _require_few(counted)
    read = _of_this_series(_read_all(own, progress), others)
    if progress and any(len(one.recording.samples) > _LONG for one in read):
        progress("listening")
    takes = [_take(one, visit.exclusions) for one in read if one.reading in counted]
    kept, notes = _without_copies(takes)
    hearing = hear_rounds(kept, known, prior, LONGEST)
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


def is_left_out(exclusions: Sequence[Exclusion], reading: PluckReading) -> bool:
    """Tell whether a recording is left out: by name, by its only rope, or both."""
    only = set(reading.ropes)
    return any(
        e.series == reading.series
        and e.pluck is None
        and not e.reading
        and e.recording in {"", reading.recording}
        and (e.rope is None or only == {e.rope})
        for e in exclusions
    )


def _require_few(readings: Sequence[PluckReading]) -> None:
    """Refuse more recordings of one rope than are heard in a bearable time."""
    counts = Counter(rope for reading in readings for rope in set(reading.ropes))
    for rope, count in counts.most_common(1):
        require(
            count <= MOST_ROUNDS,
            f"rope {rope} has {count} recordings in one series; at most {MOST_ROUNDS} "
            f"are heard: {_LEAVE_OUT}",
        )


def _sources(visit: Visit, readings: Sequence[PluckReading]) -> list[_Source]:
    """What readings stand for: sound that is decoded already, or a file."""
    folder = folder_of(visit)
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    files = [trimmed.get(reading.recording, reading.recording) for reading in readings]
    return [
        _Source(
            reading=reading,
            file=file,
            sound=visit.sounds.get(reading.recording, folder / file),
        )
        for reading, file in zip(readings, files, strict=True)
    ]


def _of_this_series(read: Sequence[_Read], others: Sequence[_Source]) -> list[_Read]:
    """Recordings refused where another series counts the same bytes or sound."""
    checked = []
    for one in read:
        same = next((other for other in others if one.is_file(other.sound)), None)
        kind = NoteKind.SAME_FILE_ELSEWHERE
        checked.append(one if same is None else one.refused(kind, same.reading))
    if others:
        sounds = [other.sound for other in others]
        alike = sound_files.find_same_elsewhere(
            [one.recording for one in checked], sounds
        )
        for i, j in alike.items():
            kind = NoteKind.SAME_SOUND_ELSEWHERE
            checked[i] = checked[i].refused(kind, others[j].reading)
    return checked


def _take(one: _Read, exclusions: Sequence[Exclusion]) -> Take:
    """A recording as the ear takes it."""
    reading = one.reading
    return Take(
        recording=one.recording,
        ropes=reading.ropes,
        plucks_each=reading.plucks_each,
        excluded_plucks=excluded_plucks(exclusions, reading),
    )


def excluded_plucks(
    exclusions: Sequence[Exclusion], reading: PluckReading
) -> tuple[int, ...]:
    """Tell which plucks of a recording are left out, counted from 1 in it."""
    own = (reading.series, reading.recording)
    return tuple(
        e.pluck
        for e in exclusions
        if e.pluck is not None and (e.series, e.recording) == own
    )


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


# reading the files


def _read_all(sources: Sequence[_Source], progress: Progress | None) -> list[_Read]:
    """Read every file once, or take the sound that is decoded already."""
    seconds = [0.0]

    def read(one: _Source) -> tuple[Recording, FileEvidence | None]:
        name = one.reading.recording
        if isinstance(one.sound, DecodedSound):
            recording = sound_files.read_recording(one.sound, name=name)
            evidence = one.sound.origin
        else:
            if progress and _is_large(one.sound):
                progress(f"reading {one.file}")
            _require_not_longer(sum(seconds), "one series last", _LEAVE_OUT)
            recording = sound_files.read_recording(one.sound, name=name)
            evidence = _hashed(one.sound, one.file)
        seconds.append(duration_of(recording))
        return recording, evidence

    unique = {one.file: one for one in sources}
    read_once = sound_files.read_two_at_a_time(read, unique.values())
    found = dict(zip(unique, read_once, strict=True))
    _require_not_longer(sum(seconds), "one series last", _LEAVE_OUT)
    return [
        _Read(
            reading=one.reading, recording=found[one.file][0], file=found[one.file][1]
        )
        for one in sources
    ]


def _hashed(path: Path, name: str) -> FileEvidence | None:
    """Evidence of a file; none if it is missing."""
    try:
        return hash_file(path, name)
    except OSError:
        return None


def _is_large(path: Path) -> bool:
    """Whether reading a file takes long enough to be told: over 2 MB."""
    try:
        return path.stat().st_size > _LARGE
    except OSError:
        return False


def _require_not_longer(seconds: float, what: str, way_out: str) -> None:
    """Refuse more sound than is heard in a bearable time."""
    require(
        seconds <= LONGEST,
        f"the recordings of {what} more than {LONGEST / 60:.0f} min together; cut out "
        f"the parts with the plucks, or {way_out}",
    )


def require_bearable(series: Iterable[Sequence[Recording]]) -> None:
    """Refuse more sound in several series than is heard in a bearable time."""
    seconds = sum(duration_of(one) for own in series for one in own)
    _require_not_longer(seconds, "all series last", "keep a record per visit")


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
