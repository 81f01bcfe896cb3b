"""What a person points the program at: a record, a folder, sound files."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tension.catalogue.rules import find_rule
from tension.errors import FileFormatError, InvalidValueError
from tension.files.evidence import find_recordings, natural_key
from tension.files.visit import Visit
from tension.installation import Ends, Lift, Rope, RopeSet, Span
from tension.measurement.readings import PluckReading, Series
from tension.quantity.units import Quantity

RECORD_NAME = "visit.toml"
SPAN_NAME = "as given"
MOST_ROPES = 12


@dataclass(frozen=True, kw_only=True, slots=True)
class Given:
    """What the command line says of the ropes.

    Attributes
    ----------
    free_lengths : tuple of Quantity
        None, one for all, or one per rope. [m]
    linear_density : Quantity or None
        Of one rope. [kg/m]
    diameter : Quantity or None
        Nominal. [m]
    construction : str
        Such as "8x19 FC".
    ends : Ends
        What holds the two ends.
    has_sockets_at_one_height : bool
        Whether the sockets stand at one height.
    order : tuple of int
        Ropes in the order plucked: of one memo, or one for each file.
    plucks_each : int or None
        How many plucks each rope got in that memo.
    """

    free_lengths: tuple[Quantity, ...] = ()
    linear_density: Quantity | None = None
    diameter: Quantity | None = None
    construction: str = ""
    ends: Ends = Ends.SOCKET_SHEAVE
    has_sockets_at_one_height: bool = False
    order: tuple[int, ...] = ()
    plucks_each: int | None = None


def find_record(path: Path) -> Path:
    """Find the record that a path means.

    Raises
    ------
    FileFormatError
        If there is none.
    """
    if path.is_dir():
        record = path / RECORD_NAME
        if record.is_file():
            return record
        raise FileFormatError(
            f"{path}: this folder holds no {RECORD_NAME}; "
            f"make one with 'tension start {path}'"
        )
    if not path.exists():
        raise FileFormatError(f"{path}: there is no such file; check the name")
    return path


def is_record(path: Path) -> bool:
    """Tell whether a path means a record: a TOML file, or a folder that holds one."""
    if path.is_dir():
        return (path / RECORD_NAME).is_file()
    return path.suffix.lower() == ".toml"


def in_rope_order(paths: Sequence[Path]) -> tuple[Path, ...]:
    """Put sound files in the order of the ropes, rope 1 first.

    A folder's files come in natural order. Files that arrive in plain alphabetical
    order were most likely listed by the shell, so they are put in natural order too
    (memo 2 before memo 10); any other order was somebody's choice and stays.

    Raises
    ------
    FileFormatError
        If a folder stands beside other paths or holds no sound file.
    """
    folders = [path for path in paths if path.is_dir()]
    if folders and len(paths) > 1:
        raise FileFormatError(
            f"{folders[0]}: give one folder, or the sound files, but not both"
        )
    if folders:
        found = find_recordings(folders[0])
        if not found:
            raise FileFormatError(
                f"{folders[0]}: this folder holds no {RECORD_NAME} and no sound file; "
                "copy the recordings into it"
            )
        return found
    if list(paths) == sorted(paths):
        return tuple(sorted(paths, key=natural_key))
    return tuple(paths)


def visit_from_recordings(paths: Sequence[Path], given: Given) -> Visit:
    """Put together what a record would say of sound files alone.

    Parameters
    ----------
    paths : sequence of Path
        One folder, or files: one per rope, or one memo with `given.order`.
    given : Given
        What is known of the ropes.

    Raises
    ------
    FileFormatError
        If the files, the order and the lengths do not fit each other.
    """
    files = in_rope_order(paths)
    n_ropes = max(given.order) if given.order else len(files)
    _require_fitting(given, n_ropes)
    series = Series(name="as given", span=SPAN_NAME)
    readings = tuple(
        PluckReading(
            series=series.name,
            recording=str(file),
            ropes=ropes,
            plucks_each=given.plucks_each if len(ropes) > 1 else None,
        )
        for file, ropes in zip(
            files, ropes_of_files(len(files), given.order), strict=True
        )
    )
    return Visit(
        path=None,
        lift=Lift(),
        rule=find_rule(None),
        rope_set=_rope_set(given, n_ropes),
        series=(series,),
        readings=readings,
    )


def ropes_of_files(n_files: int, order: Sequence[int]) -> list[tuple[int, ...]]:
    """Tell which ropes were plucked in each of several files.

    One rope in each if there are as many files as places in the order plucked, or no
    order; else every file holds the whole order.
    """
    if not order:
        return [(number,) for number in range(1, n_files + 1)]
    if n_files == len(order):
        return [(number,) for number in order]
    return [tuple(order)] * n_files


def _require_fitting(given: Given, n_ropes: int) -> None:
    """Refuse counts that contradict each other."""
    if n_ropes > MOST_ROPES:
        raise FileFormatError(
            f"{n_ropes} ropes: a set has at most {MOST_ROPES}; if a rope has several "
            'files, say which rope each file is of, like --order "1 2 3 1 2 3"'
        )
    n_lengths = len(given.free_lengths)
    if n_lengths not in {0, 1, n_ropes}:
        raise FileFormatError(
            f"--free-length was given {n_lengths} times for {n_ropes} ropes; "
            "give it once, or once per rope in rope order"
        )
    if given.order and set(given.order) != set(range(1, n_ropes + 1)):
        missing = sorted(set(range(1, n_ropes + 1)) - set(given.order))
        raise FileFormatError(
            f"--order leaves out rope {missing[0]}; "
            "name every rope from 1 up, in the order plucked"
        )


def _rope_set(given: Given, n_ropes: int) -> RopeSet:
    """Ropes and span as the command line tells them."""
    per_rope = len(given.free_lengths) > 1
    span = Span(
        name=SPAN_NAME,
        free_length=given.free_lengths[0] if len(given.free_lengths) == 1 else None,
        ends=given.ends,
    )
    ropes = tuple(
        Rope(
            number=number,
            free_lengths=(
                ((SPAN_NAME, given.free_lengths[number - 1]),) if per_rope else ()
            ),
        )
        for number in range(1, n_ropes + 1)
    )
    return RopeSet(
        n_ropes=n_ropes,
        ropes=ropes,
        spans=(span,),
        diameter=given.diameter,
        construction=given.construction,
        linear_density=given.linear_density,
        has_sockets_at_one_height=given.has_sockets_at_one_height,
    )


def split_rope_type(text: str) -> tuple[str, str]:
    """Split "13 mm 8x19 FC" or "1/2 in 8x19 FC" into size and construction.

    Raises
    ------
    InvalidValueError
        If there is no size with a unit before the construction.
    """
    found = re.match(r'\s*(.+?\s*(?:mm|cm|in|inch|"|″))\s+(\S.*)$', text)
    if found is None:
        raise InvalidValueError(
            f'write diameter and construction, like "13 mm 8x19 FC", got "{text}"'
        )
    return found.group(1), found.group(2).strip()
