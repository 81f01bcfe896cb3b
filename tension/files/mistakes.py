"""What is wrong in a file that people write: a line per mistake, all of them at once.

pydantic finds every mistake with its place; here each becomes one sentence: where, what
is wrong, the value, and what to write.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from tension.errors import FileFormatError
from tension.files.table_model import (
    Table,
    in_brackets,
    keys_of,
    listed,
    missing,
    not_one_of,
    shown,
    table_in,
)
from tension.files.toml_reading import TomlPath, find_lines, line_of

MOST_MISTAKES = 50
"""So many are told; a file with more is better begun anew."""

Read = TypeVar("Read", bound=Table)
Told = tuple[TomlPath, str | ErrorDetails]
"""Place, and what is wrong there: in words, or as pydantic gives it."""


def read_tables(
    document: Mapping[str, Any],
    root: type[Read],
    source: tuple[str, str],
    context: object = None,
    told: Iterable[Told] = (),
) -> Read:
    """Read a document, or tell everything that is wrong in it.

    Parameters
    ----------
    document : mapping of str to object
        As the TOML parser gives it.
    root : type
        The model of the whole file.
    source : tuple of (str, str)
        Name and text of the file.
    context : object, optional
        For the validators of the models.
    told : iterable of (tuple, str), optional
        What else is wrong: place and sentence.

    Raises
    ------
    FileFormatError
        With every mistake, a line each, in the order of the file.
    """
    found = [*told, *_contradictions(document, root, ())]
    try:
        read = root.model_validate(document, context=context)
    except ValidationError as error:
        found += [(one["loc"], one) for one in error.errors(include_url=False)]
    else:
        if not found:
            return read
    raise FileFormatError(*_lines(found, document, root, source))


def _contradictions(
    document: Mapping[str, Any], table: type[Table], place: TomlPath
) -> Iterator[Told]:
    """What cannot stand together in one table, table by table."""
    for key, text in table.contradictions(document):
        yield (*place, key), text
    for name, field in keys_of(table).items():
        inner, raw = table_in(field), document.get(name)
        for i, written in enumerate(listed(raw)):
            if inner and isinstance(written, dict):
                here = (*place, name, i) if isinstance(raw, list) else (*place, name)
                yield from _contradictions(written, inner, here)


def _lines(
    told: list[Told],
    document: Mapping[str, Any],
    root: type[Table],
    source: tuple[str, str],
) -> Iterator[str]:
    """Each mistake with its line, in the order of the file."""
    name, text = source
    lines = find_lines(text)
    placed = [(line_of(lines, place) or 0, place, what) for place, what in told]
    placed.sort(key=lambda one: one[0])
    for number, place, what in placed[:MOST_MISTAKES]:
        line = f"line {number}: " if number else ""
        said = what if isinstance(what, str) else _said(what, root)
        yield f"{name}: {line}{_where(place, document)}: {said}"
    if len(placed) > MOST_MISTAKES:
        yield f"{name}: and {len(placed) - MOST_MISTAKES} more"


def _where(place: TomlPath, document: Mapping[str, Any]) -> str:
    """A place in words, such as "reading 3, force"; ropes by their number."""
    words: list[str] = []
    at: Any = document
    for part in place:
        if isinstance(part, str):
            words.append(part[:40])
        at = at.get(part) if isinstance(at, dict) else _item(at, part)
        if isinstance(part, int) and isinstance(at, dict):
            number = at.get("number")
            words[-1] += f" {number if type(number) is int else part + 1}"
    return ", ".join(word for word in words if word != "[key]")


def _item(raw: object, part: str | int) -> object:
    """One of a list; nothing if there is none."""
    return raw[part] if isinstance(raw, list) and isinstance(part, int) else None


def _said(found: ErrorDetails, root: type[Table]) -> str:
    """What pydantic found, in one sentence."""
    *tables, key = [part for part in found["loc"] if isinstance(part, str)]
    owner = _owner(root, tables)
    if found["type"] == "extra_forbidden":
        return _unknown(key, owner, root)
    field = keys_of(owner).get(key)
    if found["type"] == "missing" and field:
        return missing(field)
    return _sentence(found, field)


def _owner(root: type[Table], tables: list[str]) -> type[Table]:
    """The table in which a key stands."""
    owner = root
    for name in tables:
        field = keys_of(owner).get(name)
        owner = (table_in(field) if field else None) or owner
    return owner


_NAMES_OF_MANY = frozenset({"name", "note", "by", "at", "date", "source", "format"})


def _unknown(name: str, owner: type[Table], root: type[Table]) -> str:
    """An unknown name: where it belongs, or the nearest known one."""
    tables = keys_of(root)
    inner = ((other, table_in(field)) for other, field in tables.items())
    places = [
        in_brackets(other, tables[other])
        for other, table in inner
        if table and table is not owner and name in keys_of(table)
    ]
    if places and name not in _NAMES_OF_MANY:
        return f"goes with {' or '.join(places)}"
    known = keys_of(owner)
    near = get_close_matches(name, known, n=1)
    if not near:
        return "unknown name; take it out"
    field = known[near[0]]
    meant = in_brackets(near[0], field) if table_in(field) else f'"{near[0]}"'
    return f"unknown name; did you mean {meant}?"


_MUST_BE = {
    "string_type": "must be a text in quotation marks",
    "bool_type": "must be true or false",
    "int_type": "must be a whole number",
    "float_type": "must be a number",
    "finite_number": "must be a number",
    "dict_type": 'must be like {{ "top, car side" = "3.55 m" }}',
    "greater_than_equal": "must be at least {ge:g}",
    "less_than_equal": "must be at most {le:g}",
}


def _sentence(found: ErrorDetails, field: FieldInfo | None) -> str:
    """What is wrong with one value."""
    kind, value, context = found["type"], found["input"], found.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind == "enum":
        return not_one_of(re.findall(r"'([^']*)'", context["expected"]), value)
    if field and table_in(field):
        return _no_table(str(found["loc"][0]), field, value)
    must_be = _MUST_BE.get(kind)
    text = must_be.format(**context) if must_be else found["msg"]
    return f"{text}, not {shown(value)}"


def _no_table(name: str, field: FieldInfo, value: object) -> str:
    """How a table is written, where something else stands."""
    header = in_brackets(name, field)
    if header.startswith("[["):
        return f"write {header} in double brackets, once for each"
    if isinstance(value, list):
        return f"there is only one; write it once, as {header}"
    return f"is a table; write {header} on a line of its own"
