"""From the recordings a record names to what was heard of each rope."""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.decoded import DecodedSound
from tension.files.evidence import FileEvidence, hash_file, natural_key
from tension.files.sound import read_recording, read_two_at_a_time, recording_of
from tension.files.sound_alike import find_same_elsewhere, find_same_sound
from tension.files.sound_stream import LONGEST
from tension.files.visit import Visit
from tension.installation import Ends, Span
from tension.measurement.readings import Exclusion, PluckReading, Series
from tension.measurement.rope_figures import find_free_lengths
from tension.measurement.rounds import HeardRound, merge_rounds
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, RopeSpan, SetHearing
from tension.sound.recording import Recording, Take
from tension.workflow.record_files import folder_of, has_same_bytes

MOST_ROUNDS = 8
"""Most recordings of one rope in a series: the whole set is heard with each. [1]"""
_CLAMPED_ENDS = {Ends.SOCKET_SHEAVE: 1, Ends.SOCKET_SOCKET: 2, Ends.SHEAVE_SHEAVE: 0}
_LARGE = 2_000_000
"""Size of a file from which on its reading is told. [bytes]"""
_LONG = 1_000_000
"""Length from which on listening is told. [samples]"""

Progress = Callable[[str], None]
Read = tuple[Recording, FileEvidence | None]
Other = tuple[PluckReading, Path | DecodedSound]


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """What was heard in the recordings of one series, and the files it rests on.

    Attributes
    ----------
    hearing : SetHearing
        All ropes of the set.
    recordings : tuple of Recording
        As read, in the order of the record.
    evidence : tuple of FileEvidence
        Size and checksum of every file that exists.
    """

    hearing: SetHearing
    recordings: tuple[Recording, ...]
    evidence: tuple[FileEvidence, ...]


def listen_to_series(
    visit: Visit,
    series: Series,
    span: Span,
    progress: Progress | None = None,
    prior_factor: float = 1.0,
) -> Heard | None:
    """Read and hear every recording of one series; None if it holds none.

    Parameters
    ----------
    visit : Visit
        The record.
    series : Series
        Which series.
    span : Span
        Where the ropes were plucked.
    progress : callable, optional
        Called with one line for each file read.
    prior_factor : float, optional
        On every width of what is expected before listening. [1]
    """
    named = [
        reading
        for reading in visit.readings
        if isinstance(reading, PluckReading) and reading.series == series.name
    ]
    if not named:
        return None
    exclusions = [e for e in visit.exclusions if e.series == series.name]
    readings = sorted(named, key=_by_name)
    counted = [r for r in readings if not _is_left_out(exclusions, r)]
    _require_few(counted)
    plucks_out: dict[str, list[int]] = {}
    for one in exclusions:
        if one.pluck is not None:
            plucks_out.setdefault(one.recording, []).append(one.pluck)
    read = _of_this_series(visit, readings, _read_all(visit, readings, progress))
    if progress and any(len(r.samples) > _LONG for r, _ in read):
        progress("listening")
    takes = [
        Take(
            recording=recording,
            ropes=reading.ropes,
            plucks_each=reading.plucks_each,
            excluded_plucks=tuple(plucks_out.get(reading.recording, ())),
        )
        for reading, (recording, _) in zip(readings, read, strict=True)
        if reading in counted
    ]
    takes, notes = _without_copies(takes)
    hearing = hear_rounds(
        takes, find_spans(visit, span), find_prior(visit, span, prior_factor)
    )
    recordings = {recording.name: recording for recording, _ in read}
    evidence = {file.path: file for _, file in read if file is not None}
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
                f"{MOST_ROUNDS} are heard: leave some out with an exclusion"
            )


def _of_this_series(
    visit: Visit, readings: Sequence[PluckReading], read: Sequence[Read]
) -> list[Read]:
    """Recordings refused where another series counts the same bytes or sound."""
    others = list(_counted_elsewhere(visit, readings[0].series))
    checked = [
        (_refused(recording, reading, file, others), file)
        for reading, (recording, file) in zip(readings, read, strict=True)
    ]
    if not others:
        return checked
    alike = find_same_elsewhere(
        [recording for recording, _ in checked], [sound for _, sound in others]
    )
    for i, j in alike.items():
        recording, file = checked[i]
        why = _because(NoteKind.SAME_SOUND_ELSEWHERE, readings[i], others[j][0])
        checked[i] = (replace(recording, refusal=why), file)
    return checked


def _counted_elsewhere(visit: Visit, series: str) -> Iterator[Other]:
    """Readings of the other series, and the files or the sound that they stand for."""
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    for reading in visit.readings:
        if not isinstance(reading, PluckReading) or reading.series == series:
            continue
        own = [e for e in visit.exclusions if e.series == reading.series]
        if not _is_left_out(own, reading):
            name = trimmed.get(reading.recording, reading.recording)
            file = folder_of(visit) / name
            yield reading, visit.sounds.get(reading.recording, file)


def _refused(
    recording: Recording,
    reading: PluckReading,
    file: FileEvidence | None,
    others: Sequence[Other],
) -> Recording:
    """A recording, refused if another series has the same bytes."""
    if file is None or recording.refusal is not None:
        return recording
    for other, sound in others:
        if _is_same(file, sound):
            refusal = _because(NoteKind.SAME_FILE_ELSEWHERE, reading, other)
            return replace(recording, refusal=refusal)
    return recording


def _is_same(file: FileEvidence, sound: Path | DecodedSound) -> bool:
    """Whether a sound has the same bytes."""
    if isinstance(sound, DecodedSound):
        return sound.origin is not None and sound.origin.sha256 == file.sha256
    return has_same_bytes(sound, file)


def _because(kind: NoteKind, reading: PluckReading, other: PluckReading) -> Refusal:
    """Why a recording counts in none of two series: it is of one of them at most."""
    return kind.refusal(
        recording=reading.recording,
        series=reading.series,
        other=other.recording,
        other_series=other.series,
    )


# reading the files


def _read_all(
    visit: Visit, readings: Sequence[PluckReading], progress: Progress | None
) -> list[Read]:
    """Read every file once, or take the sound that is decoded already.

    A trimmed file stands in for its original; a file that is missing has no evidence.
    """
    folder = folder_of(visit)
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    files = [trimmed.get(r.recording, r.recording) for r in readings]
    unique = dict(zip(files, (r.recording for r in readings), strict=True))
    seconds = [0.0]

    def read(file: str) -> Read:
        if sound := visit.sounds.get(unique[file]):
            recording = recording_of(sound, unique[file])
            seconds.append(duration_of(recording))
            return recording, sound.origin
        path = folder / file
        if progress and is_large(path):
            progress(f"reading {file}")
        _require_not_longer(sum(seconds), "one series last", _LEAVE_OUT)
        recording = read_recording(path, name=unique[file])
        seconds.append(duration_of(recording))
        try:
            return recording, hash_file(path, file)
        except OSError:
            return recording, None

    found = dict(zip(unique, read_two_at_a_time(read, unique), strict=True))
    _require_not_longer(sum(seconds), "one series last", _LEAVE_OUT)
    return [found[file] for file in files]


def is_large(path: Path) -> bool:
    """Tell whether reading a file takes long enough to be told: over 2 MB."""
    try:
        return path.stat().st_size > _LARGE
    except OSError:
        return False


def duration_of(recording: Recording) -> float:
    """Tell how long a recording lasts; nought for one that could not be read. [s]."""
    return len(recording.samples) / (recording.sampling_rate or 1.0)


_LEAVE_OUT = "leave some out with an exclusion"


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

    A rope of several recordings is heard by all of them, or refused if they contradict
    each other.

    Raises
    ------
    FileFormatError
        If it would take more than a bearable time.
    """
    rounds = _rounds_of(takes)
    filled = [_filled(own, takes) for own in rounds]
    seconds = sum(duration_of(take.recording) for own in filled for take in own)
    if len(rounds) > 1 and seconds > LONGEST:
        raise FileFormatError(
            f"with {len(rounds)} recordings of one rope the whole set is heard "
            f"{len(rounds)} times, more than {LONGEST / 60:.0f} min of sound; cut out "
            "the parts with the plucks, or leave some recordings out with an exclusion"
        )
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


def _has_any(own: Sequence[Take], take: Take) -> bool:
    """Whether a rope of a recording is in a round."""
    return any(set(take.ropes) & set(other.ropes) for other in own)


def _rounds_of(takes: Sequence[Take]) -> list[list[Take]]:
    """Share recordings out to rounds that hold each rope once at most."""
    rounds: list[list[Take]] = [[]]
    for take in takes:
        free = next((own for own in rounds if not _has_any(own, take)), None)
        if free is None:
            rounds.append([take])
        else:
            free.append(take)
    return rounds


def _filled(own: Sequence[Take], takes: Sequence[Take]) -> list[Take]:
    """A round with recordings of the ropes it lacks, as far as there are any."""
    filled = list(own)
    for take in takes:
        if take.recording.refusal is None and not _has_any(filled, take):
            filled.append(take)
    return filled


def _without_copies(takes: Sequence[Take]) -> tuple[list[Take], list[Note]]:
    """Take out recordings that are one sound under several names.

    One sound given for several ropes is refused each time, for it can be of one of them
    at most; of one given for the same ropes again the first is kept.
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

    Parameters
    ----------
    visit : Visit
        The record.
    span : Span
        Where the ropes are plucked.
    factor : float, optional
        On every width of what is expected. [1]
    """
    lift, rope_set = visit.lift, visit.rope_set
    mass = lift.car_mass if span.side.value == "car" else lift.counterweight_mass
    density = rope_set.linear_density
    if mass is None or density is None:
        return HearingPrior().widened(factor)
    n_parts = rope_set.n_ropes * lift.roping.n_falls
    tension = mass.value * STANDARD_GRAVITY / n_parts
    speed = math.sqrt(tension / density.value)
    return HearingPrior(wave_speed=speed).widened(factor)
