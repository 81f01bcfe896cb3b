"""TOML as the program writes it and changes it, all other lines kept."""

import datetime as dt
import difflib
import json
import re
import tomllib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from tension.errors import FileFormatError, InvalidValueError

Value = str | int | float | bool | dt.date | Sequence["Value"] | Mapping[str, "Value"]
"""What stands behind a key."""


def toml_value(value: Value) -> str:
    r"""Write a value as TOML, on one line; texts are escaped (TOML 1.0.0, String).

    Raises
    ------
    InvalidValueError
        If a text holds half a character, as names from other systems may.

    Examples
    --------
    >>> print(toml_value('He said "slack"'))
    "He said \"slack\""
    """
    if isinstance(value, str):
        if any("\ud800" <= character <= "\udfff" for character in value):
            shown = value.encode("utf-8", "replace").decode()
            raise InvalidValueError(
                f"{shown!r} holds characters that cannot be written down; rename it"
            )
        # as JSON has it, but for one character
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int | float):
        return str(value).lower()
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Mapping):
        inner = (f"{toml_value(k)} = {toml_value(v)}" for k, v in value.items())
        return "{ " + ", ".join(inner) + " }"
    return "[" + ", ".join(map(toml_value, value)) + "]"


ONCE = frozenset({"lift", "set"})
"""Tables that a record has once: what is added goes under the heading that is there."""


@dataclass(frozen=True, kw_only=True, slots=True)
class NewTable:
    """A table to add to a record."""

    name: str  # such as "reading"; it is written in double brackets, or once
    # in the order written; what is empty or None is left out
    keys: Mapping[str, Value | None]


def tables_text(tables: Sequence[NewTable]) -> str:
    """Write tables as they stand in a record, an empty line between two.

    Examples
    --------
    >>> print(tables_text([NewTable(name="rope", keys={"number": 2})]), end="")
    [[rope]]
    number = 2
    """
    return "\n".join(
        (f"[{table.name}]\n" if table.name in ONCE else f"[[{table.name}]]\n")
        + _key_lines(table)
        for table in tables
    )


def _key_lines(table: NewTable) -> str:
    """Write the keys of a table that are given, a line each."""
    return "".join(
        f"{key} = {toml_value(value)}\n"
        for key, value in table.keys.items()
        if value is not None and value not in ("", (), [])
    )


TomlPath = tuple[str | int, ...]

_TOKEN = re.compile(
    r"""\"{3}(?:\\.|[^\\])*?\"{3,5}|'{3}.*?'{3,5}|"(?:\\.|[^"\\\n])*"|'[^'\n]*'"""
    r"|\#[^\n]*|[\[\]{}\n]",
    re.DOTALL,
)


def find_lines(text: str) -> Mapping[TomlPath, int]:
    r"""Find the line, from 1, of each table and key of TOML that can be parsed.

    Paths are like ("set", "diameter") or ("rope", 1, "stagger"), tables in double
    brackets counted from 0.

    Examples
    --------
    >>> find_lines("[[rope]]\nnumber = 2\n")[("rope", 0, "number")]
    2
    """
    lines: dict[TomlPath, int] = {}
    counts: dict[TomlPath, int] = {}
    table: TomlPath = ()
    for number, statement in _statements(text):
        names = list(_keys_in(tomllib.loads(statement)))
        path: TomlPath = (*table, *names)
        if statement.startswith("["):
            is_list, table = statement.startswith("[["), ()
            for i, name in enumerate(names, start=1):
                table = (*table, name)
                if is_list and i == len(names):
                    counts[table] = counts.get(table, -1) + 1
                if table in counts:
                    table = (*table, counts[table])
            path = table
        for n_parts in range(1, len(path) + 1):
            lines.setdefault(path[:n_parts], number)
    return lines


def _keys_in(found: object) -> Iterator[str]:
    """The parts of a header or a key that was read by itself."""
    while isinstance(found, dict) and found:
        key, found = next(iter(found.items()))
        yield key


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Headers and keys with their values, each with the number of its first line."""
    number, start, depth = 1, 0, 0
    for token in _TOKEN.finditer(text + "\n"):
        mark = token[0]
        depth += (mark in {"[", "{"}) - (mark in {"]", "}"})
        if mark == "\n" and depth == 0:
            statement = text[start : token.start()]
            yield number, statement.strip()
            number, start = number + statement.count("\n") + 1, token.end()


def line_of(lines: Mapping[TomlPath, int], path: TomlPath) -> int | None:
    """Find the line of a key, or of the nearest table that holds it."""
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None


def with_tables(text: str, tables: Sequence[NewTable]) -> str:
    """Put keys of single tables under their headings, other tables at the end.

    Every line that stood in the text stands there still.
    """
    end = "\r\n" if "\r\n" in text else "\n"
    at_end = []
    for table in tables:
        rows = text.split("\n")
        place = find_lines(text).get((table.name,), 0) if table.name in ONCE else 0
        if place and rows[place - 1].lstrip().startswith("["):
            rows.insert(place, _key_lines(table).replace("\n", end)[:-1])
            text = "\n".join(rows)
        else:
            at_end.append(table)
    if at_end:
        written = ("" if text.endswith("\n") else "\n") + "\n" + tables_text(at_end)
        text += written.replace("\n", end)
    return text


_ORIGINAL = re.compile(r'^(\s*original\s*=\s*)"[^"]*"')


def mark_deleted(text: str, recordings: Collection[str]) -> str:
    """Say in a record that the originals of some trims are deleted.

    Raises
    ------
    FileFormatError
        If the trims stand there in another form than the program writes.
    """
    document = tomllib.loads(text)
    lines, rows = find_lines(text), text.split("\n")
    for i, trim in enumerate(document["trim"]):
        if trim["recording"] in recordings:
            trim["original"] = "deleted"
            place = lines.get(("trim", i, "original"), len(rows)) - 1
            rows[place] = _ORIGINAL.sub(r'\1"deleted"', rows[place])
    changed = "\n".join(rows)
    if tomllib.loads(changed) != document:
        raise FileFormatError(
            "the [[trim]] tables of the record are not as the program wrote them; "
            'write original = "deleted" into those of ' + ", ".join(sorted(recordings))
        )
    return changed


MOST_COMPARED = 10_000_000
"""Beyond so many pairs of lines all count as replaced: comparing takes too long. [1]"""


def changed_lines(old: str, new: str) -> tuple[str, ...]:
    """Tell which lines of a text were taken out ("- ") and put in ("+ ")."""
    compared = compared_lines(old.splitlines(), new.splitlines())
    return tuple(line for line in compared if not line.startswith("  "))


def compared_lines(old: list[str], new: list[str]) -> list[str]:
    """Mark the lines of a text as kept, taken out or put in, as few as can be."""
    shorter = min(len(old), len(new))
    head = next((i for i in range(shorter) if old[i] != new[i]), shorter)
    rest = shorter - head
    tail = next((i for i in range(rest) if old[-1 - i] != new[-1 - i]), rest)
    before, after = old[head : len(old) - tail], new[head : len(new) - tail]
    steps = [("replace", 0, len(before), 0, len(after))]
    if len(before) * len(after) <= MOST_COMPARED:
        matcher = difflib.SequenceMatcher(a=before, b=after, autojunk=False)
        steps = list(matcher.get_opcodes())
    lines = [f"  {line}" for line in old[:head]]
    for tag, old_from, old_to, new_from, new_to in steps:
        mark = "  " if tag == "equal" else "- "
        lines += [f"{mark}{line}" for line in before[old_from:old_to]]
        if tag != "equal":
            lines += [f"+ {line}" for line in after[new_from:new_to]]
    return lines + [f"  {line}" for line in old[len(old) - tail :]]
