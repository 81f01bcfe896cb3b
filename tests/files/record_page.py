"""The tables of the record in docs/file-formats.md, written from its description.

``python -m tests.files.record_page`` writes it; a test holds the page to it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import Enum
from math import isfinite
from pathlib import Path
from typing import get_origin

from pydantic.fields import FieldInfo

from tension.files.record_tables import TABLES
from tension.files.table_model import (
    Measured,
    Table,
    in_brackets,
    keys_of,
    table_in,
    types_in,
)

PAGE = Path(__file__).resolve().parents[2] / "docs" / "file-formats.md"
HEADING = "### Top of the file\n"


@dataclass(frozen=True, kw_only=True, slots=True)
class KeyWords:
    """One key in words."""

    name: str  # as written in the record
    form: str  # how its value is written
    left_out: str  # what holds where it is left out; "needed" if it must be written
    meaning: str  # what it says


@dataclass(frozen=True, kw_only=True, slots=True)
class TableWords:
    """One table in words."""

    name: str  # as written between the brackets; empty for the top of the file
    header: str  # with its brackets
    meaning: str  # what it is for
    keys: tuple[KeyWords, ...]


def record_fields() -> list[TableWords]:
    """Every table of a record with its keys, the top of the file first."""
    return _words_of(TABLES[""])


def _words_of(table: type[Table], path: str = "", header: str = "") -> list[TableWords]:
    """A table in words, then each table inside it."""
    keys = keys_of(table)
    plain = tuple(
        KeyWords(
            name=name,
            form=_form(key),
            left_out=_left_out(key),
            meaning=key.description or "",
        )
        for name, key in keys.items()
        if not table_in(key)
    )
    found = [TableWords(name=path, header=header, meaning=table.meaning, keys=plain)]
    for name, key in keys.items():
        if inner := table_in(key):
            whole = f"{path}.{name}" if path else name
            found += _words_of(inner, whole, in_brackets(whole, key))
    return found


WRITTEN = {
    "path": "path",
    "paths": "path, or a list of them",
    "rows": "list of lists of rope numbers",
    "lengths by span": "table of span names and lengths",
}
"""How a value is written, by the word that stands in its row, where no type tells."""


def _form(field: FieldInfo) -> str:
    """How a value is written, with dimension and range."""
    row = field.json_schema_extra
    assert isinstance(row, dict)
    written = WRITTEN.get(str(row["written"]), "")
    marks = [*field.metadata, *types_in(field.annotation)]
    many = ", or a list of them" if get_origin(field.annotation) is tuple else ""
    for mark in marks:
        if isinstance(mark, Measured):
            limits = f", {mark.range}" if isfinite(mark.least) else ""
            form = written or f"text with unit{many}"
            return f"{form}: {mark.dimension.value}{limits}"
    kinds = [mark for mark in marks if isinstance(mark, type)]
    if any(issubclass(kind, Enum) for kind in kinds):
        return f"one of the words{many}"
    if written:
        return written
    if bool in kinds:
        return "true or false"
    if int in kinds:
        return "list of whole numbers" if many else "whole number"
    words = (
        word for kind, word in ((date, "date"), (float, "number")) if kind in kinds
    )
    return next(words, "text")


def _left_out(field: FieldInfo) -> str:
    """What holds where a key is left out."""
    words = field.json_schema_extra
    if isinstance(words, dict) and words.get("left_out"):
        return str(words["left_out"])
    if field.is_required():
        return "needed"
    if field.default is None:
        return "not known"
    return "none" if field.default == () else str(field.default).lower() or "empty"


def record_section() -> str:
    """Every table with its keys."""
    return "\n".join("\n".join(_table_lines(table)) for table in record_fields())


def title(table: TableWords) -> str:
    """A table as the page calls it."""
    return f"### `{table.header}`" if table.header else "### Top of the file"


def _table_lines(table: TableWords) -> Iterator[str]:
    """Heading and one row per key."""
    yield title(table) + "\n"
    if table.name:
        yield table.meaning + "\n"
    yield "| key | written as | left out | meaning |"
    yield "|---|---|---|---|"
    for key in table.keys:
        meaning = key.meaning.replace("|", "\\|")
        yield f"| `{key.name}` | {key.form} | {key.left_out} | {meaning} |"
    yield ""


def page_with(section: str, page: str) -> str:
    """The page with the tables put in place of those it has."""
    before, _, rest = page.partition(HEADING)
    after = rest.find("\n## ")
    return before + section + (rest[after:] if after >= 0 else "")


if __name__ == "__main__":
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(page_with(record_section(), text), encoding="utf-8")
    print(PAGE.name)
