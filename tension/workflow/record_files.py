"""Where the files of a record are, what it calls them, and which it does not name."""

from dataclasses import dataclass
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.evidence import (
    RECORDING_SUFFIXES,
    FileEvidence,
    find_recordings,
    hash_file,
)
from tension.files.visit import Visit, named_files
from tension.measurement.readings import PluckReading
from tension.notes import Note, NoteKind

_MOST_TOLD = 6


@dataclass(frozen=True, kw_only=True, slots=True)
class NewSound:
    """New sound files of one folder.

    Attributes
    ----------
    folder : str
        Below the record; empty for that of the record itself.
    names : tuple of str
        Paths below the record, in natural order.
    is_whole_folder : bool
        Whether the folder holds no other recording.
    """

    folder: str
    names: tuple[str, ...]
    is_whole_folder: bool = False


def folder_of(visit: Visit) -> Path:
    """Tell the folder of a record."""
    return visit.path.parent if visit.path else Path()


def place_of(folder: Path, path: Path) -> Path:
    """Find a file or folder as typed, or below the record.

    Raises
    ------
    FileFormatError
        If it is in neither place.
    """
    for place in (path, folder / path):
        if place.exists():
            return place
    raise FileFormatError(f"{path}: there is no such file or folder; check the name")


def name_in_record(path: Path, folder: Path) -> str:
    """Name a recording as the record will.

    Raises
    ------
    FileFormatError
        If it lies elsewhere or is no file.
    """
    if path.is_dir():
        raise FileFormatError(f"{path}: is a folder; name the sound file in it")
    try:
        return path.resolve().relative_to(folder.resolve()).as_posix()
    except ValueError:
        raise FileFormatError(
            f"{path}: a record names only files beside or below it; copy the "
            f"recordings into {folder.resolve().name} first"
        ) from None


def has_same_bytes(path: Path, file: FileEvidence) -> bool:
    """Whether a file holds the same bytes; hashed only where its size is the same."""
    try:
        if path.stat().st_size != file.n_bytes:
            return False
        return hash_file(path).sha256 == file.sha256
    except OSError:
        return False


def folders_with_sound(folder: Path) -> tuple[Path, ...]:
    """Find the folders right below one that hold sound files."""
    below = sorted(p for p in folder.iterdir() if p.is_dir() and p.name[0] != ".")
    return tuple(one for one in below if find_recordings(one))


def note_on_unnamed_files(visit: Visit) -> Note | None:
    """Tell of sound files in the folders of a record that it does not name."""
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
    folders = dict.fromkeys(
        (folder, *((folder / n).parent for n in recordings_of(visit)))
    )
    return tuple(name for one in folders for name in _unnamed_in(visit, one))


def find_new_sound(visit: Visit) -> tuple[NewSound, ...]:
    """Find sound files that no reading names, folder by folder.

    Folders right below the record that no reading names yet are looked into too.
    """
    if visit.path is None:
        return ()
    by_folder: dict[str, list[str]] = {}
    for name in unnamed_files(visit):
        by_folder.setdefault(name.rpartition("/")[0], []).append(name)
    try:
        below = folders_with_sound(visit.path.parent)
    except (OSError, FileFormatError):
        below = ()
    for one in below:
        if one.name not in by_folder and (found := _unnamed_in(visit, one)):
            by_folder[one.name] = found
    named = {name.rpartition("/")[0] for name in recordings_of(visit)}
    return tuple(
        NewSound(
            folder=folder,
            names=tuple(names),
            is_whole_folder=bool(folder) and folder not in named,
        )
        for folder, names in by_folder.items()
    )


def recordings_of(visit: Visit) -> list[str]:
    """Tell the recordings that readings name."""
    return [r.recording for r in visit.readings if isinstance(r, PluckReading)]


def _unnamed_in(visit: Visit, folder: Path) -> list[str]:
    """Sound files of one folder that no reading names; none if it cannot be read."""
    named = {
        *named_files(visit),
        *(trim.recording for trim in visit.trims),
        *recordings_of(visit),
    }
    try:
        found = find_recordings(folder)
    except FileFormatError:
        return []  # its readings tell
    names = [
        file.relative_to(folder_of(visit)).as_posix()
        for file in found
        if file.suffix.lower() in RECORDING_SUFFIXES
    ]
    return [name for name in names if name not in named]
