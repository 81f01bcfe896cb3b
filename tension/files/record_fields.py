"""Every table and key of a record in words, taken from the models that read them.

A test holds docs/file-formats.md to it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import get_origin

from pydantic.fields import FieldInfo

from tension.files.record import Record
from tension.files.table_model import (
    Form,
    Measured,
    Table,
    in_brackets,
    keys_of,
    table_in,
    types_in,
)
from tension.quantity.units import show_quantity


@dataclass(frozen=True, kw_only=True, slots=True)
class KeyWords:
    """One key in words.

    Attributes
    ----------
    name : str
        As written in the record.
    form : str
        How its value is written.
    left_out : str
        What holds where it is left out; "needed" if it must be written.
    meaning : str
        What it says.
    """

    name: str
    form: str
    left_out: str
    meaning: str


@dataclass(frozen=True, kw_only=True, slots=True)
class TableWords:
    """One table in words.

    Attributes
    ----------
    name : str
        As written between the brackets; empty for the top of the file.
    header : str
        With its brackets.
    meaning : str
        What it is for.
    keys : tuple of KeyWords
        Its keys.
    """

    name: str
    header: str
    meaning: str
    keys: tuple[KeyWords, ...]


def record_fields() -> tuple[TableWords, ...]:
    """Give every table of a record with its keys.

    Returns
    -------
    tuple of TableWords
        The top of the file first, then in the order of a record.
    """
    return tuple(_tables())


def _tables() -> Iterator[TableWords]:
    """The top of the file, then each table."""
    yield _in_words("", "", Record)
    yield from _inside("", Record)


def _inside(path: str, outer: type[Table]) -> Iterator[TableWords]:
    """Each table inside another, and what is inside of it."""
    for key, field in keys_of(outer).items():
        if table := table_in(field):
            name = f"{path}{key}"
            yield _in_words(name, in_brackets(name, field), table)
            yield from _inside(f"{name}.", table)


def _in_words(name: str, header: str, table: type[Table]) -> TableWords:
    """One table."""
    return TableWords(
        name=name,
        header=header,
        meaning=" ".join((table.__doc__ or "").split()),
        keys=tuple(
            KeyWords(
                name=key,
                form=_form(field),
                left_out=_left_out(field),
                meaning=field.description or "",
            )
            for key, field in keys_of(table).items()
            if not table_in(field)
        ),
    )


def _form(field: FieldInfo) -> str:
    """How a value is written, with dimension and range."""
    marks = [*field.metadata, *types_in(field.annotation)]
    is_many = get_origin(field.annotation) is tuple
    form = next((mark.value for mark in marks if isinstance(mark, Form)), "text")
    if any(isinstance(mark, type) and issubclass(mark, StrEnum) for mark in marks):
        form = "one of the words" + (", or a list of them" if is_many else "")
    for mark in marks:
        if isinstance(mark, Measured):
            unit = "text with unit" + (", or a list of them" if is_many else "")
            form = form if form == Form.LENGTHS.value else unit
            form += f": {mark.dimension.value}{_range(mark)}"
    return form


def _range(mark: Measured) -> str:
    """Between what a quantity must lie."""
    if not isfinite(mark.least):
        return ""
    least = show_quantity(mark.least, mark.dimension)
    return f", {least} to {show_quantity(mark.most, mark.dimension)}"


def _left_out(field: FieldInfo) -> str:
    """What holds where a key is left out."""
    words = field.json_schema_extra
    if isinstance(words, dict) and words.get("left_out"):
        return str(words["left_out"])
    if field.is_required():
        return "needed"
    if field.default is None:
        return "not known"
    if field.default == ():
        return "none"
    return str(field.default).lower() or "empty"
