"""Words and sentences by their names, with places for the words of the trade.

Places ``[[word]]`` are filled by `tension.wording`.
"""

import json
from collections.abc import Mapping, Sequence
from enum import Enum
from functools import cache
from pathlib import Path

from tension.notes import Note, Told


@cache
def _words() -> Mapping[str, Mapping[str, str]]:
    """The words of one language: a table for each enumeration, one for each module."""
    path = Path(__file__).with_name("words.en.json")
    tables: Mapping[str, Mapping[str, str]] = json.loads(path.read_text("utf-8"))
    return tables


def word(one: Enum, of: str = "", otherwise: str | None = None) -> str:
    """Say what a member of an enumeration is, or something else of it, such as "act".

    What is not told of every member has something to say otherwise.
    """
    code = one.value if isinstance(one.value, str) else one.value[0]
    told = _words()[f"{type(one).__name__}.{of}".rstrip(".")]
    return told[code] if otherwise is None else told.get(code, otherwise)


def words_of(table: str) -> Mapping[str, str]:
    """Give a table of words whole, for what is not told of every name in it."""
    return _words()[table]


def told(key: str, **places: object) -> str:
    """Give a sentence by its table and name, its places filled: "causes.limits"."""
    table, name = key.split(".")
    return _words()[table][name].format(**places)


def _cautions(name: str) -> tuple[str, ...]:
    """Cautions for work that can hurt someone, one a line in the table of words."""
    return tuple(told(f"lines.{name}").split("\n"))


SHORT = _cautions("short")
ON_THE_CAR_TOP = (*SHORT, *_cautions("on-the-car-top"))
TURNING_NUTS = (*ON_THE_CAR_TOP, *_cautions("turning-nuts"))
WHAT_THE_RESULT_IS = _cautions("what-the-result-is")
SHOWN_ON_MADE_RECORDINGS = told("lines.shown-on-made-recordings")
ATTACHES = told("lines.attaches")


def joined(*parts: str | None, by: str = "; ") -> str:
    """Join the parts of a cell that say something; a dash where none does."""
    return by.join(part for part in parts if part) or "–"


def with_next_act(each: Told) -> str:
    """Write a reason or a note with what to do about it."""
    return f"{each.text} {each.next_act}".strip()


def notes_alike(notes: Sequence[Note]) -> list[list[Note]]:
    """Put notes together that differ by the number of their rope only."""
    groups: dict[object, list[Note]] = {}
    for note in notes:
        key: object = note
        if len(note.ropes) == 1:
            own = ("rope", note.ropes[0])
            key = (note.kind, tuple(place for place in note.places if place != own))
        groups.setdefault(key, []).append(note)
    return list(groups.values())
