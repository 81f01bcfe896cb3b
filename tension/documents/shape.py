"""A document as a table of keys, which writes it and its page; and what all hold."""

import json
import math
import platform
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from importlib.metadata import PackageNotFoundError, version
from typing import Any, TypeAlias, Union

from tension.files.evidence import FileEvidence
from tension.notes import Note, NoteKind
from tension.version import __version__

Document: TypeAlias = dict[str, Any]
Taker: TypeAlias = Callable[[Any], Any]
Within: TypeAlias = Union["Shape", Taker, tuple["Shape", Taker]]


def number(value: float | None) -> float | None:
    """Write a number of any unit to nine digits; None if it is not finite."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.9g}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Key:
    """One key of a document."""

    name: str  # as written
    meaning: str  # what it says; empty where the keys inside say it
    path: str = ""  # attributes that lead to the value; the first that is None ends it
    take: Taker | None = None  # takes the value instead
    # on the value, which is then written as a number [unit of the key]
    factor: float | None = None
    shape: "Shape | None" = None  # what it holds, if it is an object or a list of them
    is_many: bool = False  # whether it holds a list of objects

    def of(self, thing: object) -> Any:  # noqa: ANN401 - whatever JSON can hold
        """Take the value from a thing and write it."""
        value = self.take(thing) if self.take else _follow(thing, self.path)
        if value is None:
            return None
        if self.is_many or isinstance(value, tuple | list):
            return [self._written(one) for one in value]
        return self._written(value)

    def _written(self, value: Any) -> Any:  # noqa: ANN401 - as above
        """One value: objects by their shape, words as texts, numbers to nine digits."""
        if self.shape and not isinstance(value, dict):
            return self.shape.of(value)
        if self.factor is not None:
            return None if value is None else number(self.factor * value)
        if isinstance(value, Enum):
            return value.value
        if isinstance(value, date):
            return value.isoformat()
        return number(value) if isinstance(value, float) else value


def _follow(thing: Any, path: str) -> Any:  # noqa: ANN401 - as above
    """Follow a path of attributes as far as there is something."""
    for name in path.split("."):
        thing = getattr(thing, name) if thing is not None and name else thing
    return thing


class Shape(tuple[Key, ...]):
    """The keys of an object, in order."""

    __slots__ = ()

    def of(self, thing: object) -> Document:
        """Write the object of a thing."""
        return {key.name: key.of(thing) for key in self}

    def rows(self, path: str = "") -> Iterator[tuple[str, str]]:
        """Give every key by its path with its meaning."""
        for key in self:
            name = f"{path}{key.name}"
            if key.meaning or not key.shape:
                yield name, key.meaning
            else:
                yield from key.shape.rows(f"{name}{'[]' if key.is_many else ''}.")


def shape(table: str, **within: Within) -> Shape:
    """Read the description of an object.

    Parameters
    ----------
    table : str
        A line a key, parted by bars: its name, with ``[]`` for a list of objects; the
        path to its value, its own name if left out, with ``x100`` for a factor; its
        meaning, which goes on in lines without a bar.
    **within : Shape, callable or (Shape, callable)
        By the name of a key: what it holds, what takes it where no path does.
    """
    rows: list[list[str]] = []
    for line in filter(None, map(str.strip, table.splitlines())):
        if "|" in line:
            rows.append([cell.strip() for cell in line.split("|", 2)])
        else:
            rows[-1][2] += f" {line}"
    return Shape(_key(row, within.get(row[0].removesuffix("[]"))) for row in rows)


def _key(row: list[str], within: Within | None) -> Key:
    """One key as described."""
    name, (path, _, factor), meaning = row[0], row[1].partition(" x"), row[2]
    inner: Shape | None = None
    take: Taker | None = None
    if isinstance(within, Shape):
        inner = within
    elif isinstance(within, tuple):
        inner, take = within
    else:
        take = within
    return Key(
        name=name.removesuffix("[]"),
        meaning=meaning,
        path=path or name.removesuffix("[]"),
        take=take,
        factor=float(factor) if factor else None,
        shape=inner,
        is_many=name.endswith("[]"),
    )


def to_json(document: Document) -> str:
    """Write a document as JSON text.

    Returns
    -------
    str
        Indented JSON with a final newline; never NaN. Marks that hide or move other
        text stand as escapes.
    """
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    return "\n".join(map(_escaped, text.split("\n"))) + "\n"


def _escaped(line: str) -> str:
    """Write what does not show as JSON escapes."""
    if line.isprintable():
        return line
    return "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in line)


SCHEMA_VERSION = 1

_PACKAGES = ("numpy", "av")
_NUMBER_OF = {kind.code: kind.number for kind in NoteKind}

NOTE = shape(
    """
    code     | | stable name, see [notes.md](notes.md)
    number   | | number to quote
    text     | | what was found
    next_act | | what to do
    ropes    | | rope numbers concerned; empty for the set
    """,
    number=lambda note: _NUMBER_OF.get(note.code),
)

REASON = shape(
    """
    code     | | stable name, see [notes.md](notes.md)
    text     | | what was found
    next_act | | what to do
    """
)
"""Why there is no answer, or none of the kind asked for."""

RIVAL = shape(
    """
    fundamental_hz | fundamental_frequency | another way to count the partials
    probability    |                       | its probability
    """
)

ENVELOPE = shape(
    """
    schema_version | | 1
    command        | | the command that answered
    software       | | versions of `python`, `tension`, `numpy`, `av`
    inputs[]       | |
    notes[]        | |
    """,
    schema_version=lambda _: SCHEMA_VERSION,
    command=lambda told: told[0],
    software=lambda _: software_versions(),
    inputs=(
        shape(
            """
            path   |         | the file, as the record or the command line names it; a
                               record by its own name
            bytes  | n_bytes | its size
            sha256 |         | its checksum
            """
        ),
        lambda told: told[1],
    ),
    notes=(NOTE, lambda told: told[2]),
)


def software_versions() -> dict[str, str]:
    """Tell the versions of this program, of Python and of what reads sound."""
    found = {"python": platform.python_version(), "tension": __version__}
    for name in _PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def envelope(
    command: str, inputs: Sequence[FileEvidence] = (), notes: Sequence[Note] = ()
) -> Document:
    """Make the part that every document of a command has."""
    return ENVELOPE.of((command, inputs, notes))


def errors_document(command: str, lines: Sequence[str]) -> Document:
    """Tell why a command could not use its input."""
    document = envelope(command) | {"errors": list(lines)}
    if command in {"assess", "demo", "listen"}:
        document["verdict"] = "no-result"
    return document
