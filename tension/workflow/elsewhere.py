"""Files that stand in two series of one record: they can be of one of them at most."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from tension.files.evidence import FileEvidence, hash_file
from tension.files.visit import Visit
from tension.measurement.readings import Exclusion, PluckReading
from tension.notes import NoteKind
from tension.sound.recording import Recording

Read = tuple[Recording, FileEvidence | None]


def refuse_files_of_other_series(
    visit: Visit, readings: Sequence[PluckReading], read: Sequence[Read]
) -> list[Read]:
    """Refuse recordings whose bytes stand in another series as well.

    Returns
    -------
    list of (Recording, FileEvidence or None)
        The same, with a reason at those that another series counts too.
    """
    if not readings:
        return []
    others = list(_counted_elsewhere(visit, readings[0].series))
    return [
        (_refused(recording, reading, file, others), file)
        for reading, (recording, file) in zip(readings, read, strict=True)
    ]


def _counted_elsewhere(
    visit: Visit, series: str
) -> Iterator[tuple[PluckReading, Path]]:
    """Readings of the other series, and the files that are read for them."""
    folder = visit.path.parent if visit.path else Path()
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    for reading in visit.readings:
        if not isinstance(reading, PluckReading) or reading.series == series:
            continue
        own = [e for e in visit.exclusions if e.series == reading.series]
        if not is_left_out(own, reading):
            name = trimmed.get(reading.recording, reading.recording)
            yield reading, folder / name


def _refused(
    recording: Recording,
    reading: PluckReading,
    file: FileEvidence | None,
    others: Sequence[tuple[PluckReading, Path]],
) -> Recording:
    """A recording, refused if another series has the same bytes."""
    if file is None or recording.refusal is not None:
        return recording
    for other, path in others:
        if _is_same(file, path):
            refusal = NoteKind.SAME_FILE_ELSEWHERE.refusal(
                recording=reading.recording,
                series=reading.series,
                other=other.recording,
                other_series=other.series,
            )
            return replace(recording, refusal=refusal)
    return recording


def _is_same(file: FileEvidence, path: Path) -> bool:
    """Whether a file holds the same bytes; hashed only where its size is the same."""
    try:
        if path.stat().st_size != file.n_bytes:
            return False
        return hash_file(path).sha256 == file.sha256
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
