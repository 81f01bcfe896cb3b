"""What the tables of a record refer to: ropes, spans, series, hitches, files."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, ValidationInfo

from tension.errors import InvalidValueError
from tension.files.written import Form, Whole, Wholes, listed
from tension.installation import HitchPlace

MOST_ROPES = 12
_LONGEST_PATH = 500


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What a record describes and its other tables may refer to.

    Attributes
    ----------
    folder : Path
        Where the record lies.
    n_ropes : int or None
        Number of ropes; None if it is not written or wrong. [1]
    names : mapping of str to tuple of str
        Names of spans, series and hitches, by their table.
    """

    folder: Path
    n_ropes: int | None = None
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


NAMING_KEYS = {"span": "name", "series": "name", "hitch": "at", "rope": "number"}
"""By which key other tables name a table; each value stands once."""

COMPLETED = frozenset({"span", "hitch", "rope"})
"""Tables that a later one of the same name may complete, key by key."""


def known_from(document: Mapping[str, Any], folder: Path) -> Known:
    """Gather what a record describes, right or wrong in the rest.

    Returns
    -------
    Known
        What its tables may refer to.
    """
    rope_set = document.get("set")
    n_ropes = rope_set.get("ropes") if isinstance(rope_set, dict) else None
    is_number = type(n_ropes) is int and 1 <= n_ropes <= MOST_ROPES
    return Known(
        folder=folder,
        n_ropes=n_ropes if is_number else None,
        names={
            table: tuple(
                dict.fromkeys(
                    one[name]
                    for one in tables_of(document, table)
                    if isinstance(one.get(name), str)
                )
            )
            for table, name in NAMING_KEYS.items()
        },
    )


def tables_of(document: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    """Give the tables of one name, in double brackets or single ones.

    Returns
    -------
    list of mapping
        As the TOML parser gives them; what is no table is left out.
    """
    raw = document.get(name, [])
    return [one for one in listed(raw) if isinstance(one, dict)]


def _known(info: ValidationInfo) -> Known:
    """What the record describes."""
    return info.context if isinstance(info.context, Known) else Known(folder=Path())


def _rope(number: int, info: ValidationInfo) -> int:
    """A rope of the set, or of any if their number is not known."""
    most = _known(info).n_ropes or MOST_ROPES
    if number <= most:
        return number
    raise InvalidValueError(f"must be 1 to {most}, not {number}")


def _ropes(numbers: tuple[int, ...], info: ValidationInfo) -> tuple[int, ...]:
    """Ropes of the set."""
    return tuple(_rope(number, info) for number in numbers)


def _rows(value: object, info: ValidationInfo) -> tuple[tuple[int, ...], ...]:
    """Rows of rope numbers, each rope of the set once."""
    rows = listed(value)
    if not all(isinstance(row, list) and row for row in rows) or not all(
        type(number) is int and number >= 1
        for row in rows
        if isinstance(row, list)
        for number in row
    ):
        raise InvalidValueError("must be like [[1, 3, 5], [2, 4, 6]], row by row")
    read = tuple(tuple(row) for row in rows if isinstance(row, list))
    numbers = [number for row in read for number in row]
    n_ropes = _known(info).n_ropes
    wanted = range(1, n_ropes + 1) if n_ropes else numbers
    if foreign := [number for number in numbers if number not in wanted]:
        raise InvalidValueError(f"ropes must be 1 to {n_ropes}, not {foreign[0]}")
    if twice := [number for number in numbers if numbers.count(number) > 1]:
        raise InvalidValueError(f"names rope {twice[0]} twice; each rope stands once")
    if missing := [str(number) for number in wanted if number not in numbers]:
        raise InvalidValueError(
            f"leaves out rope {', '.join(missing)}; name every rope once"
        )
    return read


@dataclass(frozen=True, slots=True)
class _NameOf:
    """Reads the name of a table of the record; if left out, that of the only one."""

    table: str

    def __call__(self, value: object, info: ValidationInfo) -> object:
        """The name, or why it cannot be one."""
        names = _known(info).names.get(self.table, ())
        if not isinstance(value, str | None) or value in names:
            return value
        if not value and len(names) == 1:
            return names[0]
        there = f"there are {_quoted(names)}" if names else f"add a [[{self.table}]]"
        if not value:
            raise InvalidValueError(f"is missing; {there}")
        if self.table == "hitch" and value in list(HitchPlace):
            raise InvalidValueError(
                f'no hitch at "{value}" is described; add [[hitch]] at = "{value}"'
            )
        if self.table == "hitch":
            return value  # told as none of the words
        raise InvalidValueError(f'there is no {self.table} "{value}"; {there}')


def _quoted(names: tuple[str, ...]) -> str:
    """Names in quotes, not too many."""
    shown = ", ".join(f'"{name}"' for name in names[:6])
    return shown + (", ..." if len(names) > 6 else "")


def _path(text: str, info: ValidationInfo) -> str:
    """A path beside or below the record; empty if left out."""
    if fault := path_fault(text, _known(info).folder):
        raise InvalidValueError(fault)
    return text


def path_fault(text: str, folder: Path) -> str:
    """Say why a path may not stand in a record.

    Returns
    -------
    str
        The reason and what to write; empty if there is none.
    """
    shown = text if len(text) <= 60 else text[:57] + "..."
    if not text or len(text) > _LONGEST_PATH or not text.isprintable():
        return "is no path; write one beside or below the record, like rope-1.m4a"
    parts = PurePosixPath(text.replace("\\", "/")).parts
    is_below = parts and parts[0] != "/" and ":" not in parts[0] and ".." not in parts
    if not is_below:
        return f'must lie beside or below the record, not "{shown}"'
    if "\\" in text:
        return f'write "/" between folders, not "\\": {shown}'
    try:
        place = (folder / text).resolve()
        if not place.is_relative_to(folder.resolve()):
            return (
                f'"{shown}" is a link that leads out of the record\'s folder; copy it'
            )
    except (OSError, RuntimeError, ValueError):
        return f'"{shown}" cannot be followed; check the name'
    return ""


RopeNumber = Annotated[Whole, AfterValidator(_rope)]
RopeNumbers = Annotated[Wholes, AfterValidator(_ropes)]
Rows = Annotated[tuple[tuple[int, ...], ...], BeforeValidator(_rows), Form.ROWS]
SpanName = Annotated[str, BeforeValidator(_NameOf("span"))]
SeriesName = Annotated[str, BeforeValidator(_NameOf("series"))]
hitch_name = _NameOf("hitch")
HitchName = Annotated[HitchPlace, BeforeValidator(hitch_name)]
RecordPath = Annotated[str, AfterValidator(_path), Form.PATH]
RecordPaths = Annotated[
    tuple[Annotated[str, AfterValidator(_path)], ...],
    BeforeValidator(listed),
    Form.PATHS,
]
