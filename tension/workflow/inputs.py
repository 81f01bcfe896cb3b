"""What a person points the program at: records, folders, sound files, their names."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tension.catalogue.rules import find_rule
from tension.errors import FileFormatError, TensionError
from tension.files.evidence import (
    RECORDING_SUFFIXES,
    FileEvidence,
    find_recordings,
    hash_file,
    natural_key,
)
from tension.files.visit import RECORD_NAME, Visit, named_files
from tension.installation import MOST_ROPES, Ends, Lift, Rope, RopeSet, Span
from tension.measurement.readings import PluckReading, Series
from tension.notes import Note, NoteKind
from tension.quantity.units import Quantity

SPAN_NAME = "as given"
_MOST_TOLD = 6  # names that are listed, then their number


@dataclass(frozen=True, kw_only=True, slots=True)
class Given:
    """What the command line says of the ropes."""

    free_lengths: tuple[Quantity, ...] = ()  # none, one for all, or one per rope [m]
    linear_density: Quantity | None = None
    diameter: Quantity | None = None
    construction: str = ""
    ends: Ends = Ends.SOCKET_SHEAVE
    has_sockets_at_one_height: bool = False
    # ropes in the order plucked in one memo, each so often; or one for each file
    order: tuple[int, ...] = ()
    plucks_each: int | None = None


def require(
    holds: object, message: str, error: type[TensionError] = FileFormatError
) -> None:
    """Refuse what does not hold.

    Raises
    ------
    TensionError
        With the message, which says what to do.
    """
    if not holds:
        raise error(message)


def find_record(path: Path) -> Path:
    """Find the record that a path means."""
    require(path.exists(), f"{path}: there is no such file; check the name")
    if not path.is_dir():
        return path
    require(
        (path / RECORD_NAME).is_file(),
        f"{path}: this folder holds no {RECORD_NAME}; "
        f"make one with 'tension start {path}'",
    )
    return path / RECORD_NAME


def choose_series(visit: Visit, name: str | None = None) -> Series:
    """Choose a series by name, in any case, or the last."""
    where = visit.path.name if visit.path else "the files given"
    require(
        visit.series,
        f"{where}: there is no [[series]] with readings yet; add one, or give the "
        "sound files themselves",
    )
    if not name:
        return visit.series[-1]
    alike = [one for one in visit.series if one.name.casefold() == name.casefold()]
    names = ", ".join(f'"{series.name}"' for series in visit.series)
    require(alike, f'{where}: there is no series "{name}"; it has {names}')
    return next((one for one in alike if one.name == name), alike[0])


def is_record(path: Path) -> bool:
    """Tell whether a path means a record: a TOML file, or a folder that holds one."""
    if path.is_dir():
        return (path / RECORD_NAME).is_file()
    return path.suffix.lower() == ".toml"


def in_rope_order(paths: Sequence[Path]) -> tuple[Path, ...]:
    """Put sound files in the order of the ropes, rope 1 first.

    Files in plain alphabetical order were most likely listed by the shell, so they are
    put in natural order (memo 2 before memo 10); any other order was chosen and stays.
    """
    if folder := next(filter(Path.is_dir, paths), None):
        require(
            len(paths) == 1,
            f"{folder}: give one folder, or the sound files, but not both",
        )
        found = find_recordings(folder)
        require(
            found,
            f"{folder}: this folder holds no {RECORD_NAME} and no sound file; "
            "copy the recordings into it",
        )
        return found
    if list(paths) == sorted(paths):
        return tuple(sorted(paths, key=natural_key))
    return tuple(paths)


def visit_from_recordings(paths: Sequence[Path], given: Given) -> Visit:
    """Put together what a record would say of a folder of sound files, or of files."""
    files = in_rope_order(paths)
    rope_set = _rope_set(given, max(given.order, default=len(files)))
    of_files = zip(files, ropes_of_files(len(files), given.order), strict=True)
    return Visit(
        path=None,
        lift=Lift(),
        rule=find_rule(None),
        rope_set=rope_set,
        series=(Series(name=SPAN_NAME, span=SPAN_NAME),),
        readings=tuple(
            PluckReading(
                series=SPAN_NAME,
                recording=str(file),
                ropes=ropes,
                plucks_each=given.plucks_each if len(ropes) > 1 else None,
            )
            for file, ropes in of_files
        ),
    )


def ropes_of_files(n_files: int, order: Sequence[int]) -> list[tuple[int, ...]]:
    """Tell which ropes were plucked in each of several files.

    One in each, unless the order plucked has more or fewer: then all of it.
    """
    numbers = order or range(1, n_files + 1)
    if n_files == len(numbers):
        return [(number,) for number in numbers]
    return [tuple(order)] * n_files


def _require_fitting(given: Given, n_ropes: int) -> None:
    """Refuse counts that contradict each other."""
    require(
        n_ropes <= MOST_ROPES,
        f"{n_ropes} ropes: a set has at most {MOST_ROPES}; if a rope has several "
        'files, say which rope each file is of, like --order "1 2 3 1 2 3"',
    )
    n_lengths = len(given.free_lengths)
    require(
        n_lengths in {0, 1, n_ropes},
        f"--free-length was given {n_lengths} times for {n_ropes} ropes; "
        "give it once, or once per rope in rope order",
    )
    left_out = set(range(1, n_ropes + 1)) - set(given.order) if given.order else set()
    require(
        not left_out,
        f"--order leaves out rope {min(left_out, default=0)}; "
        "name every rope from 1 up, in the order plucked",
    )


def _rope_set(given: Given, n_ropes: int) -> RopeSet:
    """Ropes and span as the command line tells them."""
    _require_fitting(given, n_ropes)
    lengths = given.free_lengths
    each = lengths if len(lengths) > 1 else [None] * n_ropes
    return RopeSet(
        n_ropes=n_ropes,
        ropes=tuple(
            Rope(number=number, free_lengths=((SPAN_NAME, one),) if one else ())
            for number, one in enumerate(each, start=1)
        ),
        spans=(
            Span(
                name=SPAN_NAME,
                free_length=lengths[0] if len(lengths) == 1 else None,
                ends=given.ends,
            ),
        ),
        diameter=given.diameter,
        construction=given.construction,
        linear_density=given.linear_density,
        has_sockets_at_one_height=given.has_sockets_at_one_height,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class NewSound:
    """New sound files of one folder."""

    folder: str  # empty for that of the record itself
    names: tuple[str, ...]  # paths below the record, in natural order
    is_whole_folder: bool = False  # it holds no other recording


def folder_of(visit: Visit) -> Path:
    """Tell the folder of a record."""
    return visit.path.parent if visit.path else Path()


def place_of(folder: Path, path: Path) -> Path:
    """Find a file or folder as typed, or below the record."""
    there = [place for place in (path, folder / path) if place.exists()]
    require(there, f"{path}: there is no such file or folder; check the name")
    return there[0]


def name_in_record(path: Path, folder: Path) -> str:
    """Name a recording as the record will.

    Raises
    ------
    FileFormatError
        If it lies elsewhere or is no file.
    """
    require(not path.is_dir(), f"{path}: is a folder; name the sound file in it")
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
        is_as_large = path.stat().st_size == file.n_bytes
        return is_as_large and hash_file(path).sha256 == file.sha256
    except OSError:
        return False


def folders_with_sound(folder: Path) -> tuple[Path, ...]:
    """Find the folders right below one that hold sound files."""
    below = sorted(p for p in folder.iterdir() if p.is_dir() and p.name[0] != ".")
    return tuple(one for one in below if find_recordings(one))


def note_on_unnamed_files(visit: Visit) -> Note | None:
    """Tell of sound files in the folders of a record that it does not name."""
    if not (unnamed := unnamed_files(visit)):
        return None
    more = len(unnamed) - _MOST_TOLD
    names = ", ".join(unnamed[:_MOST_TOLD]) + (f" and {more} more" if more > 0 else "")
    return NoteKind.FILES_NOT_NAMED.note(names=names)


def note_on_number_left_out(files: Sequence[str]) -> Note | None:
    """Tell of a number that files numbered alike leave out, if they are counted."""
    found = [re.fullmatch(r"(.*?)([0-9]+)", Path(file).stem) for file in files]
    numbers = {int(one[2]) for one in found if one}
    if len({one[1].casefold() if one else None for one in found}) != 1 or not numbers:
        return None
    first, last = min(numbers), max(numbers)
    n_missing = last - first + 1 - len(numbers)
    if not 0 < n_missing <= len(numbers) / 2:  # else no count
        return None
    missing = ", ".join(str(n) for n in range(first, last) if n not in numbers)
    return NoteKind.NUMBER_LEFT_OUT.note(first=first, last=last, missing=missing)


def unnamed_files(visit: Visit) -> tuple[str, ...]:
    """Find sound files in the folders of a record that no reading names.

    Paths below the record, those beside it first; none without a record.
    """
    found = find_new_sound(visit)
    return tuple(name for one in found if not one.is_whole_folder for name in one.names)


def find_new_sound(visit: Visit) -> tuple[NewSound, ...]:
    """Find sound files that no reading names, folder by folder.

    Folders right below the record that no reading names yet are looked into too.
    """
    if visit.path is None:
        return ()
    beside, recordings = visit.path.parent, recordings_of(visit)
    try:
        below = folders_with_sound(beside)
    except (OSError, FileFormatError):
        below = ()
    named = {*named_files(visit), *recordings, *(t.recording for t in visit.trims)}
    of_readings = {beside: None} | {(beside / one).parent: None for one in recordings}
    new = []
    for folder in dict.fromkeys((*of_readings, *below)):
        try:
            found = find_recordings(folder)
        except FileFormatError:
            continue  # its readings tell
        sound = [file for file in found if file.suffix.lower() in RECORDING_SUFFIXES]
        paths = [file.relative_to(beside).as_posix() for file in sound]
        if names := tuple(n for n in paths if n not in named):
            is_new = folder not in of_readings
            place = names[0].rpartition("/")[0]
            new.append(NewSound(folder=place, names=names, is_whole_folder=is_new))
    return tuple(new)


def plucks_of(visit: Visit) -> list[PluckReading]:
    """Find the readings that name a recording."""
    return [r for r in visit.readings if isinstance(r, PluckReading)]


def recordings_of(visit: Visit) -> list[str]:
    """Tell the recordings that readings name."""
    return [reading.recording for reading in plucks_of(visit)]
