"""Sound files that lie beside those of a record and that no reading names."""

from pathlib import Path

from tension.errors import FileFormatError
from tension.files.natural_order import RECORDING_SUFFIXES, find_recordings
from tension.files.visit import Visit, named_files
from tension.measurement.readings import PluckReading
from tension.notes import Note, NoteKind

_MOST_TOLD = 6


def note_on_unnamed_files(visit: Visit) -> Note | None:
    """Tell of sound files in the folders of a record that it does not name.

    Returns
    -------
    Note or None
        None if there are none, or no record.
    """
    unnamed = unnamed_files(visit)
    if not unnamed:
        return None
    more = len(unnamed) - _MOST_TOLD
    names = ", ".join(unnamed[:_MOST_TOLD]) + (f" and {more} more" if more > 0 else "")
    return NoteKind.FILES_NOT_NAMED.note(names=names)


def unnamed_files(visit: Visit) -> tuple[str, ...]:
    """Find sound files in the folders of a record that no reading names.

    Returns
    -------
    tuple of str
        Paths below the record, those beside it first; none without a record.
    """
    if visit.path is None:
        return ()
    folder = visit.path.parent
    recordings = [r.recording for r in visit.readings if isinstance(r, PluckReading)]
    folders = dict.fromkeys((folder, *((folder / name).parent for name in recordings)))
    return tuple(name for one in folders for name in unnamed_in(visit, one))


def unnamed_in(visit: Visit, folder: Path) -> tuple[str, ...]:
    """Find sound files of one folder that no reading names."""
    if visit.path is None:
        return ()
    named = {
        *named_files(visit),
        *(trim.recording for trim in visit.trims),
        *(r.recording for r in visit.readings if isinstance(r, PluckReading)),
    }
    root = visit.path.parent
    found = (file.relative_to(root).as_posix() for file in _sound_files(folder))
    return tuple(name for name in found if name not in named)


def _sound_files(folder: Path) -> tuple[Path, ...]:
    """Sound files of a folder; none if it cannot be read, which its readings tell."""
    try:
        found = find_recordings(folder)
    except FileFormatError:
        return ()
    return tuple(file for file in found if file.suffix.lower() in RECORDING_SUFFIXES)
