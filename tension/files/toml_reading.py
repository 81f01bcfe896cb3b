"""From the bytes of a file that people write to its tables, and every mistake told.

Of mistakes in the TOML itself the first is told. pydantic finds those of content, each
with its place; here each becomes one sentence: where, what is wrong, the value, and
what to write.
"""

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from tension.errors import FileFormatError
from tension.files.table_model import (
    Table,
    cut,
    in_brackets,
    keys_of,
    missing,
    not_one_of,
    shown,
    table_in,
)
from tension.files.toml_text import TomlPath, find_lines, line_of

LARGEST_RECORD = 500_000  # a record is typed by hand; more is another file [bytes]
MOST_ENTRIES = 10_000
"""Lines that are not empty, and commas: keys and values in lists, together. [1]"""

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_DECIMAL_COMMA = re.compile(r"=\s*[+-]?[0-9]+,[0-9]")
_BARE_UNIT = re.compile(r"""=\s*[+-]?[0-9][0-9.,]*\s*[A-Za-z%'"]""")
_DEEP = re.compile(
    r"""^[ \t\[]*(?:[A-Za-z0-9_"'-]+[ \t]*\.[ \t]*){8}|(?:[\[{][^\[\]{}]*){9}""",
    re.MULTILINE,
)
"""Eight dots in a key, or nine brackets opened in turn."""
_TOO_DEEP = "tables or brackets are nested too deeply; a record nests three at most"
_CURLY = "“”„‟‘’"


def read_record_text(path: Path) -> str:
    """Read the text of a record.

    Raises
    ------
    FileFormatError
        If it is missing, too large, or not UTF-8.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_RECORD + 1)
    except FileNotFoundError:
        raise FileFormatError(
            f"{path}: there is no such file; check the name"
        ) from None
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise FileFormatError(
            f"{path}: cannot be read ({reason}); give a record such as visit.toml"
        ) from error
    if len(content) > LARGEST_RECORD:
        raise FileFormatError(
            f"{path}: is larger than {LARGEST_RECORD // 1000} kB, so it is no "
            "record; give a record such as visit.toml"
        )
    return _decoded(content, path)


def _decoded(content: bytes, path: Path) -> str:
    """UTF-8, with or without a byte order mark."""
    again = 'save it again as UTF-8 (in the editor\'s "save as")'
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise FileFormatError(f"{path}: is saved as UTF-16; {again}")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise FileFormatError(
            f"{path}: line {line}: holds a letter that is not UTF-8, most likely the "
            f"file is saved as Latin-1 or ANSI; {again}"
        ) from error
    if "\0" in text:
        raise FileFormatError(
            f"{path}: holds bytes that are no text; give a record such as visit.toml"
        )
    return text


def parse_toml(text: str, name: str) -> Mapping[str, object]:
    """Parse the text of a record.

    Raises
    ------
    FileFormatError
        With the first mistake of syntax, its line, and how to mend it.
    """
    _require_bearable(text, name)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileFormatError(_syntax_mistake(str(error), text, name)) from error
    except RecursionError:
        raise FileFormatError(f"{name}: {_TOO_DEEP}") from None
    except ValueError as error:
        raise FileFormatError(
            f"{name}: holds a number or a date that cannot be read; check "
            "the numbers without quotes"
        ) from error


def _require_bearable(text: str, name: str) -> None:
    """Refuse what holds more, or is nested deeper, than any record."""
    n_entries = sum(map(bool, map(str.strip, text.split("\n")))) + text.count(",")
    if n_entries > MOST_ENTRIES:
        raise FileFormatError(
            f"{name}: has {n_entries} lines and values in lists, at most "
            f"{MOST_ENTRIES} are read; keep one per visit"
        )
    if deep := _DEEP.search(text):
        number = text.count("\n", 0, deep.end()) + 1
        raise FileFormatError(f"{name}: line {number}: {_TOO_DEEP}")


def _syntax_mistake(message: str, text: str, name: str) -> str:
    """One line: where, what, how to mend it."""
    place = _PLACE.search(message)
    lines = text.split("\n")
    number = int(place[1]) if place else len(lines)
    while number > 1 and not lines[min(number, len(lines)) - 1].strip():
        number -= 1
    line = lines[min(number, len(lines)) - 1].strip()
    what = _PLACE.sub("", message).strip().rstrip(".")
    return f"{name}: line {number}: cannot read {cut(line)} ({_advice(line, what)})"


def _advice(line: str, what: str) -> str:
    """How to mend a line."""
    bare = re.sub(r'"[^"]*"|\'[^\']*\'', "", line)
    key, _, value = (part.strip() for part in line.partition("="))
    if any(mark in bare for mark in _CURLY):
        return 'write straight quotation marks: "'
    if _DECIMAL_COMMA.search(bare) or _BARE_UNIT.search(bare):
        typed = value.split("#")[0].strip().replace('"', " in")
        return f'write the value in quotation marks with its unit: {key} = "{typed}"'
    if "\\" in line:
        return 'write "/" between folders, not "\\"'
    if "Cannot overwrite" in what:
        what = f"{key} is written twice; keep one"
    elif "Cannot declare" in what:
        what = "written twice; keep one, or write it in double brackets"
    elif not value and not line.startswith("["):
        what = f'{what}; write a name, "=" and a value, or start the line with "#"'
    else:
        what = f"{what}; texts need quotation marks on both sides"
    return what


MOST_MISTAKES = 50  # so many are told; a file with more is better begun anew

Read = TypeVar("Read", bound=Table)
Found = tuple[TomlPath, str | ErrorDetails]
"""Place, and what is wrong there: in words, or as pydantic gives it."""


def read_tables(
    document: Mapping[str, Any],
    root: type[Read],
    source: tuple[str, str],
    context: object = None,
) -> Read:
    """Read a document by the model of its file, or tell everything that is wrong in it.

    Name and text of the file are its source; the context is for validators of the
    models.

    Raises
    ------
    FileFormatError
        With every mistake, a line each, in the order of the file; of what cannot stand
        together that in tables which can be read.
    """
    try:
        return root.model_validate(document, context=context)
    except ValidationError as error:
        found = [(one["loc"], one) for one in error.errors(include_url=False)]
        raise FileFormatError(*mistakes(found, document, root, source)) from None


def mistakes(
    found: Iterable[Found],
    document: Mapping[str, Any],
    root: type[Table],
    source: tuple[str, str],
) -> Iterator[str]:
    """Tell each mistake with its line, in the order of the file."""
    name, text = source
    lines = find_lines(text)
    placed = [(line_of(lines, place) or 0, place, what) for place, what in found]
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
            at = at.get(part) if isinstance(at, dict) else None
            continue
        at = at[part] if isinstance(at, list) else None
        if isinstance(at, dict):
            number = at.get("number")
            words[-1] += f" {number if type(number) is int else part + 1}"
    return ", ".join(word for word in words if word != "[key]")


def _said(found: ErrorDetails, root: type[Table]) -> str:
    """What pydantic found, in one sentence."""
    *within, key = [part for part in found["loc"] if isinstance(part, str)]
    owner = root
    for name in within:
        held = keys_of(owner).get(name)
        owner = (table_in(held) if held else None) or owner
    if found["type"] == "extra_forbidden":
        return _unknown(key, owner, root)
    field = keys_of(owner).get(key)
    if found["type"] == "missing" and field:
        return missing(field)
    return _sentence(found, field)


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
    "tuple_type": "must be a list of whole numbers like [1, 2]",
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
