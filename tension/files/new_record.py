"""A new record to fill in: commented, with what is known already written."""

import re
from collections.abc import Iterator, Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from tension.catalogue.rules import Metric
from tension.errors import FileFormatError, InvalidValueError
from tension.files.atomic import write_atomically
from tension.files.toml_text import NewTable, Value, toml_value
from tension.files.visit import Visit
from tension.installation import Ends, HitchPlace
from tension.shown import barred_rows

RECORD_NAME = "visit.toml"
_COMMENT_COLUMN = 42  # column at which the comments begin
_ONCE = ("lift", "visit", "rule", "set", "span", "series")
_SEVERAL = ("hitch", "rope", "reading")

Keys = Mapping[str, Value | None]
"""What is known of a table; empty or None is not."""


def types_of_key(place: str) -> Iterator[Any]:
    """Give every type and mark by which the record reads a key like "lift.travel"."""
    from tension.files.record_tables import TABLES
    from tension.files.table_model import keys_of, types_in

    table, _, key = place.partition(".")
    return types_in(keys_of(TABLES[table])[key].rebuild_annotation())


def require_readable(place: str, value: object, n_ropes: int) -> None:
    """Refuse what the record of so many ropes would refuse behind a key.

    Raises
    ------
    InvalidValueError
        In the words of the record.
    """
    from pydantic import TypeAdapter, ValidationError

    from tension.files.record_links import Known

    known = Known(folder=Path(), n_ropes=n_ropes)
    try:
        TypeAdapter(next(types_of_key(place))).validate_python(value, context=known)
    except ValidationError as error:
        found = error.errors()[0]
        told = found.get("ctx", {}).get("error", found["msg"])
        raise InvalidValueError(str(told)) from None


def write_new_record(
    tables: Sequence[NewTable], folder: Path, *, dry_run: bool = False
) -> Visit:
    """Write a new record of tables into a folder; an old one is never touched.

    In a dry run the tables are checked, and nothing is written.

    Returns
    -------
    Visit
        What the record says.

    Raises
    ------
    ExistingFileError
        If the folder holds a record already.
    FileFormatError
        If the folder is missing or cannot be written to, or the tables contradict each
        other.
    """
    from tension.files.record import visit_from_text

    text, path = record_text(tables), folder / RECORD_NAME
    try:
        visit = visit_from_text(text, path)
    except FileFormatError as error:
        told = (re.sub(r": line \d+: ", ": not written: ", one) for one in error.lines)
        raise FileFormatError(*told) from error
    if not dry_run:
        write_atomically(path, text, overwrite=False)
    return visit


def record_text(tables: Sequence[NewTable]) -> str:
    """Return the text of a new record; what is not known stands in it as an example.

    Raises
    ------
    InvalidValueError
        If a text holds what cannot be written down.
    """
    from jinja2 import Environment, StrictUndefined

    environment = Environment(
        autoescape=False,  # noqa: S701 - a text, each value written as TOML
        undefined=StrictUndefined,
        trim_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["keys"] = _lines
    known: dict[str, list[Keys]] = {name: [] for name in (*_ONCE, *_SEVERAL)}
    for table in tables:
        known[table.name].append({key: one for key, one in table.keys if one})
    once = {name: known[name][0] if known[name] else {} for name in _ONCE}
    at = next((one["at"] for one in known["hitch"]), HitchPlace.CAR)
    n_ropes = once["set"]["ropes"]
    numbers = list(range(1, n_ropes + 1)) if isinstance(n_ropes, int) else []
    template = files("tension.files").joinpath("new_record.txt").read_text("utf-8")
    return environment.from_string(template).render(
        **once,
        hitches=known["hitch"] or [{}],
        ropes=known["rope"],
        readings=known["reading"],
        metrics=" | ".join(Metric),
        ends=" | ".join(Ends),
        rows=[row for row in (numbers[::2], numbers[1::2]) if row],
        there_and_back=[*numbers, *reversed(numbers)],
        example={"hitch": at},
    )


def _lines(table: str, known: Keys, *, is_example: bool = False) -> str:
    """Lines of a table: what is known, examples of the rest in comments.

    A row is its key; what stands there in a comment while it is not known, the key
    being left out where that is empty; what it means. Of an example all is a comment.
    """
    lines = []
    for key, example, meaning in barred_rows(table, 3):
        value = known.get(key)
        written = toml_value(value) if value else ""
        if written or example:
            mark = "" if written and not is_example else "#"
            line = f"{mark}{key} = {written or example}"
            lines.append(f"{line:<{_COMMENT_COLUMN}}  # {meaning}" if meaning else line)
    return "\n".join(lines) + "\n"
