"""New sound files of a visit: beside its recordings, or in a folder of their own."""

from dataclasses import dataclass

from tension.errors import FileFormatError
from tension.files.visit import Visit
from tension.workflow.record_files import folder_of, folders_with_sound
from tension.workflow.unnamed import unnamed_files, unnamed_in


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


def find_new_sound(visit: Visit) -> tuple[NewSound, ...]:
    """Find sound files that no reading names, and folders of them.

    Returns
    -------
    tuple of NewSound
        Folder by folder; folders right below the record that no reading names yet are
        looked into too.
    """
    if visit.path is None:
        return ()
    by_folder: dict[str, list[str]] = {}
    for name in unnamed_files(visit):
        folder = name.rpartition("/")[0]
        by_folder.setdefault(folder, []).append(name)
    root = folder_of(visit)
    try:
        below = folders_with_sound(root)
    except (OSError, FileFormatError):
        below = ()
    for one in below:
        if one.name not in by_folder and (found := unnamed_in(visit, one)):
            by_folder[one.name] = list(found)
    named = {str(r).rpartition("/")[0] for r in _recordings(visit)}
    return tuple(
        NewSound(
            folder=folder,
            names=tuple(names),
            is_whole_folder=bool(folder) and folder not in named,
        )
        for folder, names in by_folder.items()
    )


def _recordings(visit: Visit) -> list[str]:
    """Recordings that readings name."""
    return [getattr(r, "recording", "") for r in visit.readings]
