"""TOML as the program writes it; texts of users are escaped."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tension.errors import InvalidValueError

Value = str | int | bool | dt.date | Sequence["Value"] | Mapping[str, "Value"]
"""What stands behind a key."""

_SHORT_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def text_value(text: str) -> str:
    r"""Write a text as a basic string of TOML, escaped (TOML 1.0.0, section String).

    Raises
    ------
    InvalidValueError
        If the text holds half a character, as names from other systems may.

    Examples
    --------
    >>> print(text_value('He said "slack"'))
    "He said \"slack\""
    """
    if any("\ud800" <= character <= "\udfff" for character in text):
        shown = text.encode("utf-8", "replace").decode()
        raise InvalidValueError(
            f"{shown!r} holds characters that cannot be written down; rename it"
        )
    return '"' + "".join(_escape(character) for character in text) + '"'


def _escape(character: str) -> str:
    """Escape one character where TOML asks for it."""
    if character in _SHORT_ESCAPES:
        return _SHORT_ESCAPES[character]
    if character < " " or character == "\x7f":
        return f"\\u{ord(character):04x}"
    return character


def toml_value(value: Value) -> str:
    """Write a value as TOML, lists and inline tables on one line.

    Raises
    ------
    InvalidValueError
        As `text_value` does.
    """
    if isinstance(value, str):
        return text_value(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Mapping):
        inner = (f"{text_value(k)} = {toml_value(v)}" for k, v in value.items())
        return "{ " + ", ".join(inner) + " }"
    return "[" + ", ".join(map(toml_value, value)) + "]"


ONCE = frozenset({"lift", "set"})
"""Tables that a record has once: what is added goes under the heading that is there."""


@dataclass(frozen=True, kw_only=True, slots=True)
class NewTable:
    """A table to add to a record."""

    name: str  # such as "reading"; it is written in double brackets, or once
    # in the order written; what is empty or None is left out
    keys: tuple[tuple[str, Value | None], ...]


def tables_text(tables: Sequence[NewTable]) -> str:
    """Write tables as they stand in a record, an empty line between two.

    Examples
    --------
    >>> print(tables_text([NewTable(name="rope", keys=(("number", 2),))]), end="")
    [[rope]]
    number = 2
    """
    return "\n".join(
        (f"[{table.name}]\n" if table.name in ONCE else f"[[{table.name}]]\n")
        + key_lines(table)
        for table in tables
    )


def key_lines(table: NewTable) -> str:
    """Write the keys of a table that are given, a line each."""
    return "".join(
        f"{key} = {toml_value(value)}\n"
        for key, value in table.keys
        if value is not None and value not in ("", (), [])
    )
