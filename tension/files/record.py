"""The record, from disk to memory: every mistake of content at once, a line each."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from tension.errors import FileFormatError
from tension.files.record_lines import find_lines, line_of
from tension.files.record_links import contradictions
from tension.files.record_models_whole import Record
from tension.files.record_references import known_from, tables_of
from tension.files.record_syntax import parse_toml, read_record_text
from tension.files.visit import Visit
from tension.files.written import (
    MOST_MISTAKES,
    Place,
    in_brackets,
    keys_of,
    mistakes,
    table_in,
)


def read_visit(path: Path) -> Visit:
    """Read a record.

    Parameters
    ----------
    path : Path
        The record, such as ``visit.toml``.

    Returns
    -------
    Visit
        Everything it says.

    Raises
    ------
    FileFormatError
        With the first mistake of syntax, or with every mistake of content, a line each.
    """
    return visit_from_text(read_record_text(path), path)


def visit_from_text(text: str, path: Path) -> Visit:
    """Read the text of a record.

    Parameters
    ----------
    text : str
        Its text.
    path : Path
        Where it lies; recordings are looked for beside and below.

    Returns
    -------
    Visit
        Everything it says.

    Raises
    ------
    FileFormatError
        As `read_visit` does.
    """
    document = parse_toml(text, str(path))
    told = [*_within_tables(document), *contradictions(document)]
    try:
        record = Record.model_validate(
            document, context=known_from(document, path.parent)
        )
    except ValidationError as error:
        told += mistakes(error, Record)
    else:
        if not told:
            return record.build(path)
    raise FileFormatError(*_sentences(told, document, text, str(path)))


def _within_tables(document: Mapping[str, Any]) -> Iterator[tuple[Place, str]]:
    """What cannot stand together in one table."""
    for name, field in keys_of(Record).items():
        table = table_in(field)
        for i, written in enumerate(tables_of(document, name) if table else []):
            for key, text in table.contradictions(written) if table else ():
                yield _place(document, name, i, key), text


def _place(document: Mapping[str, Any], table: str, i: int, key: str) -> Place:
    """Place of a key, as pydantic gives it."""
    return (table, i, key) if isinstance(document[table], list) else (table, key)


def _sentences(
    told: list[tuple[Place, str]], document: Mapping[str, Any], text: str, name: str
) -> list[str]:
    """Each mistake with its line, in the order of the file."""
    lines = find_lines(text)
    placed = [(line_of(lines, place) or 0, place, what) for place, what in told]
    placed.sort(key=lambda one: one[0])
    sentences = [
        f"{name}: "
        + (f"line {line}: " if line else "")
        + f"{_where(place, document)}: {what}"
        for line, place, what in placed[:MOST_MISTAKES]
    ]
    if len(placed) > MOST_MISTAKES:
        sentences.append(f"{name}: and {len(placed) - MOST_MISTAKES} more")
    return sentences


def _where(place: Place, document: Mapping[str, Any]) -> str:
    """A place in words, such as "rope 2, stagger"."""
    name, *rest = (part if isinstance(part, int) else part[:40] for part in place)
    where = str(name)
    if rest and isinstance(rest[0], int):
        written = document[where][rest[0]]
        given = written.get("number") if isinstance(written, dict) else None
        number = given if name == "rope" and type(given) is int else rest[0] + 1
        where, rest = f"{name} {number}", rest[1:]
    if rest:
        return f"{where}, {rest[0]}"
    field = keys_of(Record).get(where)
    return in_brackets(where, field) if field and table_in(field) else where
