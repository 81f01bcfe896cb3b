"""From recordings to what was heard of each rope: of one series, or of one file."""

import itertools
import math
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
from tension.installation import Ends, Lift, RopeSet, Span
from tension.measurement.readings import Exclusion, PluckReading, Series
from tension.measurement.repeats import merge_rounds
from tension.measurement.rope_figures import find_free_lengths
from tension.notes import Note, NoteKind
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.shown import Shown, plain
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, Recording, RopeSpan, SetHearing, Take
from tension.workflow.inputs import folder_of, has_same_bytes, plucks_of, require

MOST_ROUNDS = 8  # recordings of one rope in a series: each hears the whole set [1]
_LARGE = 2_000_000  # size of a file from which on its reading is told [byte]
_LONG = 1_000_000  # length from which on listening is told [samples]
_CLAMPED_ENDS = {Ends.SOCKET_SHEAVE: 1, Ends.SOCKET_SOCKET: 2, Ends.SHEAVE_SHEAVE: 0}
"""Ends of a span at which the rope is clamped."""
_LEAVE_OUT = "leave some out with an exclusion"

Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """What was heard in the recordings of one series, and the files it rests on."""

    hearing: SetHearing | None = None  # None without recordings
    recordings: tuple[Recording, ...] = ()  # as read, in the order of the record
    evidence: tuple[FileEvidence, ...] = ()  # of every file that exists


@dataclass(kw_only=True, slots=True)
class _File:
    """The sound that a recording stands for: as read, with evidence if it exists."""

    reading: PluckReading  # one that names it
    recording: Recording
    evidence: FileEvidence | None

    def refuse(self, kind: NoteKind, other: PluckReading) -> None:
        """Let it count in none of two series: it is of one of them at most."""
        refusal = kind.refusal(
            recording=self.reading.recording,
            series=self.reading.series,
            other=other.recording,
            other_series=other.series,
        )
        self.recording = replace(self.recording, refusal=refusal)

    def has_bytes_of(self, sound: Path | DecodedSound) -> bool:
        """Whether a sound has the same bytes."""
        if self.evidence is None or self.recording.refusal is not None:
            return False
        if isinstance(sound, DecodedSound):
            known = sound.origin
            return known is not None and known.sha256 == self.evidence.sha256
        return has_same_bytes(sound, self.evidence)


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
    plucks = plucks_of(visit)
    named = [reading for reading in plucks if reading.series == series.name]
    if not named:
        return Heard()
    counted = [r for r in plucks if not is_left_out(visit.exclusions, r)]
    own = sorted((r for r in counted if r.series == series.name), key=_by_name)
    others = [r for r in counted if r.series != series.name]
    counts = Counter(rope for reading in own for rope in set(reading.ropes))
    for rope, count in counts.most_common(1):
        require(
            count <= MOST_ROUNDS,
            f"rope {rope} has {count} recordings in one series; at most {MOST_ROUNDS} "
            f"are heard: {_LEAVE_OUT}",
        )
    files = _read_all(visit, sorted(named, key=_by_name), progress)
    _refuse_sound_of(others, visit, list(files.values()))
    if progress and any(len(f.recording.samples) > _LONG for f in files.values()):
        progress("listening")
    takes = [
        Take(
            recording=files[reading.recording].recording,
            ropes=reading.ropes,
            plucks_each=reading.plucks_each,
            excluded_plucks=excluded_plucks(visit.exclusions, reading),
        )
        for reading in own
    ]
    kept, notes = _without_copies(takes)
    prior = find_prior(visit.rope_set, visit.lift, span).widened(prior_factor)
    hearing = hear_rounds(kept, find_spans(visit.rope_set, span), prior)
    return Heard(
        hearing=replace(hearing, notes=(*hearing.notes, *notes)),
        recordings=tuple(files[reading.recording].recording for reading in named),
        evidence=tuple(f.evidence for f in files.values() if f.evidence is not None),
    )


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


def _sound_of(visit: Visit, name: str) -> tuple[str, Path | DecodedSound]:
    """What a recording stands for: its file, or sound that is decoded already.

    A trimmed file stands in for its original.
    """
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    file = trimmed.get(name, name)
    return file, visit.sounds.get(name, folder_of(visit) / file)


def _refuse_sound_of(
    others: Sequence[PluckReading], visit: Visit, files: Sequence[_File]
) -> None:
    """Refuse recordings whose bytes or sound another series counts."""
    sounds = [_sound_of(visit, other.recording)[1] for other in others]
    for one in files:
        both = zip(others, sounds, strict=True)
        same = next((other for other, sound in both if one.has_bytes_of(sound)), None)
        if same is not None:
            one.refuse(NoteKind.SAME_FILE_ELSEWHERE, same)
    if others:
        read = [one.recording for one in files]
        for i, j in sound_files.find_same_elsewhere(read, sounds).items():
            files[i].refuse(NoteKind.SAME_SOUND_ELSEWHERE, others[j])


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


def _read_all(
    visit: Visit, readings: Sequence[PluckReading], progress: Progress | None
) -> dict[str, _File]:
    """Read every recording once, or take the sound that is decoded already."""
    seconds = [0.0]

    def read(reading: PluckReading) -> _File:
        name = reading.recording
        file, sound = _sound_of(visit, name)
        if progress and isinstance(sound, Path) and _is_large(sound):
            progress(f"reading {file}")
        _require_not_longer(sum(seconds), "one series last", _LEAVE_OUT)
        recording = sound_files.read_recording(sound, name=name)
        seconds.append(recording.duration)
        evidence = _hashed(sound, file) if isinstance(sound, Path) else sound.origin
        return _File(reading=reading, recording=recording, evidence=evidence)

    once = {reading.recording: reading for reading in readings}
    files = sound_files.read_two_at_a_time(read, once.values())
    _require_not_longer(sum(seconds), "one series last", _LEAVE_OUT)
    return dict(zip(once, files, strict=True))


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
    seconds = sum(one.duration for own in series for one in own)
    _require_not_longer(seconds, "all series last", "keep a record per visit")


def find_spans(rope_set: RopeSet, span: Span) -> tuple[RopeSpan, ...]:
    """Tell what is known of each rope's span before listening."""
    lengths = find_free_lengths(rope_set, span)
    near = [hitch for hitch in rope_set.hitches if hitch.at.side is span.side]
    rods = [hitch.rod_free.value for hitch in near if hitch.rod_free]
    return tuple(
        RopeSpan(
            number=number,
            free_length=lengths.lengths.get(number),
            rod_free=rods[0] if rods else None,
            n_clamped_ends=_CLAMPED_ENDS[span.ends],
        )
        for number in range(1, rope_set.n_ropes + 1)
    )


def find_prior(rope_set: RopeSet, lift: Lift, span: Span) -> HearingPrior:
    """Expect the wave speed that the mass on that side would give, if it is known."""
    mass = lift.car_mass if span.side.value == "car" else lift.counterweight_mass
    density = rope_set.linear_density
    if mass is None or density is None:
        return HearingPrior()
    n_parts = rope_set.n_ropes * lift.roping.n_falls
    tension = mass.value * STANDARD_GRAVITY / n_parts
    return HearingPrior(wave_speed=math.sqrt(tension / density.value))


def hear_rounds(
    takes: Sequence[Take], spans: Sequence[RopeSpan], prior: HearingPrior
) -> SetHearing:
    """Hear every recording of a rope for itself, amid one recording of each other rope.

    Recordings of one rope that contradict each other refuse it.

    Raises
    ------
    FileFormatError
        If several rounds are longer together than what is heard in a bearable time [s].
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
    seconds = sum(take.recording.duration for own in filled for take in own)
    require(
        len(rounds) == 1 or seconds <= LONGEST,
        f"with {len(rounds)} recordings of one rope the whole set is heard "
        f"{len(rounds)} times, more than {LONGEST / 60:.0f} min of sound; cut out "
        "the parts with the plucks, or leave some recordings out with an exclusion",
    )
    names = [{n: t.recording.name for t in own for n in t.ropes} for own in rounds]
    heard = [hear_set(full, spans, prior) for full in filled]
    return merge_rounds(list(zip(heard, names, strict=True)))


def _has_any(own: Sequence[Take], take: Take) -> bool:
    """Whether a rope of a recording is in a round."""
    return any(set(take.ropes) & set(other.ropes) for other in own)


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class HeardFile(Shown):
    """One sound file as read, what was heard in it, and its checksum if it exists."""

    recording: Recording
    hearing: SetHearing
    evidence: tuple[FileEvidence, ...]

    def summary(self) -> str:
        """Say what was heard of each rope."""
        told = [
            f"{one.number}: {one.refusal.code}"
            if one.refusal
            else f"{one.number}: {one.fundamental_frequency:.4g} Hz"
            for one in self.hearing.ropes
        ]
        return f"{self.recording.name!r}, {', '.join(told)}"

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
