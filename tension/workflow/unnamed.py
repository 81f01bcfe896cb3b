"""Sound files that lie beside those of a record and that no reading names."""

from pathlib import Path

from tension.errors import FileFormatError
from tension.files.natural_order import RECORDING_SUFFIXES, find_recordings
from tension.files.seal import named_files
from tension.files.visit import Visit
from tension.measurement.readings import PluckReading
from tension.notes import Note, NoteKind

_MOST_TOLD = 6


def note_on_unnamed_files(visit: Visit) -> Note | None:
    """Tell of sound files in the folders of a record that it does not name.

    Parameters
    ----------
    visit : Visit
        The record.

    Returns
    -------
    Note or None
        None if there are none, or no record.
    """
    if visit.path is None:
        return None
    folder = visit.path.parent
    recordings = [r.recording for r in visit.readings if isinstance(r, PluckReading)]
    named = {
        *named_files(visit),
        *(trim.recording for trim in visit.trims),
        *recordings,
    }
    folders = dict.fromkeys((folder, *((folder / name).parent for name in recordings)))
    found = [
        file.relative_to(folder).as_posix()
        for one in folders
        for file in _sound_files(one)
    ]
    unnamed = [name for name in found if name not in named]
    if not unnamed:
        return None
    more = len(unnamed) - _MOST_TOLD
    names = ", ".join(unnamed[:_MOST_TOLD]) + (f" and {more} more" if more > 0 else "")
    return NoteKind.FILES_NOT_NAMED.note(names=names)


def _sound_files(folder: Path) -> tuple[Path, ...]:
    """Sound files of a folder; none if it cannot be read, which its readings tell."""
    try:
        found = find_recordings(folder)
    except FileFormatError:
        return ()
    return tuple(file for file in found if file.suffix.lower() in RECORDING_SUFFIXES)
