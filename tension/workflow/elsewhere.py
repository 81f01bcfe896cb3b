"""Files that stand in two series of one record: they can be of one of them at most."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from tension.files.decoded import DecodedSound
from tension.files.evidence import FileEvidence, hash_file
from tension.files.sound_alike import find_same_elsewhere
from tension.files.visit import Visit
from tension.measurement.readings import Exclusion, PluckReading
from tension.notes import NoteKind, Refusal
from tension.sound.recording import Recording

Read = tuple[Recording, FileEvidence | None]
Other = tuple[PluckReading, Path | DecodedSound]


def refuse_files_of_other_series(
    visit: Visit, readings: Sequence[PluckReading], read: Sequence[Read]
) -> list[Read]:
    """Refuse recordings whose bytes, or whose sound, stand in another series as well.

    Returns
    -------
    list of (Recording, FileEvidence or None)
        The same, with a reason at those that another series counts too.
    """
    if not readings:
        return []
    others = list(_counted_elsewhere(visit, readings[0].series))
    checked = [
        (_refused(recording, reading, file, others), file)
        for reading, (recording, file) in zip(readings, read, strict=True)
    ]
    return _with_sounds_refused(readings, checked, others)


def _with_sounds_refused(
    readings: Sequence[PluckReading],
    read: list[Read],
    others: Sequence[Other],
) -> list[Read]:
    """The same, with what another series holds as well, saved anew, refused."""
    if not others:
        return read
    alike = find_same_elsewhere(
        [recording for recording, _ in read], [sound for _, sound in others]
    )
    told = list(read)
    for i, j in alike.items():
        refused = _because(NoteKind.SAME_SOUND_ELSEWHERE, readings[i], others[j][0])
        told[i] = (replace(read[i][0], refusal=refused), read[i][1])
    return told


def _because(kind: NoteKind, reading: PluckReading, other: PluckReading) -> Refusal:
    """Why a recording counts in none of two series."""
    return kind.refusal(
        recording=reading.recording,
        series=reading.series,
        other=other.recording,
        other_series=other.series,
    )


def _counted_elsewhere(visit: Visit, series: str) -> Iterator[Other]:
    """Readings of the other series, and the files or the sound that they stand for."""
    folder = visit.path.parent if visit.path else Path()
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    for reading in visit.readings:
        if not isinstance(reading, PluckReading) or reading.series == series:
            continue
        own = [e for e in visit.exclusions if e.series == reading.series]
        if not is_left_out(own, reading):
            name = trimmed.get(reading.recording, reading.recording)
            yield reading, visit.sounds.get(reading.recording, folder / name)


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
    """Whether a sound has the same bytes; hashed only where its size is the same."""
    if isinstance(sound, DecodedSound):
        return sound.origin is not None and sound.origin.sha256 == file.sha256
    try:
        if sound.stat().st_size != file.n_bytes:
            return False
        return hash_file(sound).sha256 == file.sha256
    except OSError:
        return False


def is_left_out(exclusions: Sequence[Exclusion], reading: PluckReading) -> bool:
    """Tell whether a whole recording is left out: by name, by its only rope, or both.

    Returns
    -------
    bool
        True if nothing of it counts.
    """
    only = set(reading.ropes)
    return any(
        e.pluck is None
        and not e.reading
        and e.recording in {"", reading.recording}
        and (e.rope is None or only == {e.rope})
        for e in exclusions
    )
