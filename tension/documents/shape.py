"""A document as a table of keys, which writes it and its page; and what all hold."""

import json
import math
import platform
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from typing import Any, TypeAlias

from tension import __version__
from tension.files.evidence import FileEvidence
from tension.notes import Note, NoteKind
from tension.shown import barred_rows

Document: TypeAlias = dict[str, Any]
Taker: TypeAlias = Callable[[Any], Any]


SCHEMA_VERSION = 1  # of the documents; raised when a key changes its meaning or goes

_NUMBER_OF = {kind.code: kind.number for kind in NoteKind}
TAKEN: Mapping[str, Taker] = {
    "note.number": lambda note: _NUMBER_OF.get(note.code),
    "envelope.schema_version": lambda _: SCHEMA_VERSION,
    "envelope.software": lambda _: software_versions(),
}
"""What is taken alike in every document."""


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
        value: Any = thing
        if self.take:
            value = self.take(thing)
        for name in filter(None, () if self.take else self.path.split(".")):
            if value is not None:
                value = value[int(name)] if name.isdigit() else getattr(value, name)
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


class Shape(tuple[Key, ...]):
    """The keys of an object, in order."""

    __slots__ = ()

    def of(self, thing: object) -> Document:
        """Write the object of a thing."""
        return {key.name: key.of(thing) for key in self}


@cache
def _sections() -> dict[str, str]:
    """The descriptions of all objects by their names, read once."""
    text = files("tension.documents").joinpath("keys.txt").read_text("utf-8")
    parts = (part.split("]\n", 1) for part in text.split("\n[")[1:])
    return dict(parts)


def described(name: str, take: Mapping[str, Taker] | None = None) -> Shape:
    """Give the shape that an object has by ``keys.txt``.

    What no path leads to is taken by a function, under the names of object and key.
    """
    return shape(_sections()[name], f"{name}.", take or {})


def shape(table: str, name: str, take: Mapping[str, Taker]) -> Shape:
    """Read the description of an object: a line a key, as ``keys.txt`` tells."""
    return Shape(
        _key(written, path, meaning, name, take)
        for written, path, meaning in barred_rows(table, 3)
    )


def _key(
    written: str, path: str, meaning: str, within: str, take: Mapping[str, Taker]
) -> Key:
    """One key as described."""
    full, _, holds = written.partition(": ")
    name = full.removesuffix("[]")
    path, _, factor = path.partition(" x")
    holds = holds or f"{within}{name}"
    return Key(
        name=name,
        meaning=meaning,
        path=path or name,
        take=take.get(f"{within}{name}", TAKEN.get(f"{within}{name}")),
        factor=float(factor) if factor else None,
        shape=described(holds, take) if holds in _sections() else None,
        is_many=full.endswith("[]"),
    )


def to_json(document: Document) -> str:
    """Write a document as indented JSON with a final newline; never NaN.

    Marks that hide or move other text stand as escapes.
    """
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    lines = text.split("\n")
    for place, line in enumerate(lines):
        if not line.isprintable():
            shown = (c if c.isprintable() else json.dumps(c)[1:-1] for c in line)
            lines[place] = "".join(shown)
    return "\n".join(lines) + "\n"


def csv_text(text: str) -> str:
    """Make a text of a person fit for a cell that a spreadsheet opens.

    It is on one line, what does not show as escapes; with an apostrophe in front if it
    would be taken for a formula.
    """
    shown = "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode("ascii")
        for c in text
    )
    is_formula = shown.lstrip()[:1] in set("=+-@\\|")
    return f"'{shown}" if is_formula else shown


ENVELOPE = described("envelope")
REASON = described("reason")
"""Why there is no answer, or none of the kind asked for."""


def software_versions(*more: str) -> dict[str, str]:
    """Tell the versions of this program, of Python, of what reads sound, and more."""
    found = {"python": platform.python_version(), "tension": __version__}
    for name in ("numpy", "av", *more):
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
