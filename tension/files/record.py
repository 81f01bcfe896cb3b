"""The record, from disk to memory, every mistake at once; and its tables in words."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from math import isfinite
from pathlib import Path
from typing import Annotated, get_origin

from pydantic import BeforeValidator, Field, PlainValidator
from pydantic.fields import FieldInfo

from tension.condition.checks import Check
from tension.errors import InvalidValueError
from tension.files.mistakes import read_tables
from tension.files.record_condition import (
    AllowanceTable,
    CheckTable,
    FindingTable,
)
from tension.files.record_installation import (
    HitchTable,
    LiftTable,
    RopeTable,
    RuleTable,
    SetTable,
    SpanTable,
    UncertaintyTable,
    VisitTable,
    joined,
)
from tension.files.record_links import RecordPath, contradictions, known_from
from tension.files.record_readings import (
    ExclusionTable,
    ReadingTable,
    RunTable,
    SeriesTable,
    TurnTable,
    turns_with_runs,
)
from tension.files.table_model import (
    Form,
    Measured,
    NeededText,
    Table,
    TextOrDay,
    WholeOrNone,
    Wholes,
    in_brackets,
    key,
    keys_of,
    shown,
    table_in,
    types_in,
)
from tension.files.toml_reading import parse_toml, read_record_text
from tension.files.visit import Instrument, NoteAnswer, Photo, Trim, Visit
from tension.installation import Hitch, Lift, Rope, Span
from tension.measurement.readings import Exclusion, names_that_are_none
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
    """Give every table of a record with its keys, the top of the file first."""
    return tuple(_tables())


def _tables() -> Iterator[TableWords]:
    """The top of the file, then each table."""
    yield _in_words("", "", Record)
    yield from _inside("", Record)


def _inside(path: str, outer: type[Table]) -> Iterator[TableWords]:
    """Each table inside another, and what is inside of it."""
    for name, field in keys_of(outer).items():
        if table := table_in(field):
            whole = f"{path}{name}"
            yield _in_words(whole, in_brackets(whole, field), table)
            yield from _inside(f"{whole}.", table)


def _in_words(name: str, header: str, table: type[Table]) -> TableWords:
    """One table."""
    return TableWords(
        name=name,
        header=header,
        meaning=" ".join((table.__doc__ or "").split()),
        keys=tuple(
            KeyWords(
                name=written,
                form=_form(field),
                left_out=_left_out(field),
                meaning=field.description or "",
            )
            for written, field in keys_of(table).items()
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


FORMAT = 1
"""The version of the format that is read and written."""

_LEFT_OUT = Field({}, validate_default=True)
"""In place of a table that is not there: one without keys."""


def _number_as_text(value: object) -> object:
    """The number of a note, as text; all else as it is."""
    return str(value) if type(value) is int else value


def _format(value: object) -> int:
    """The version of the format."""
    if type(value) is int and value == FORMAT:
        return value
    raise InvalidValueError(
        f"must be {FORMAT}, not {shown(value)}; a later one needs a later version of "
        "this program"
    )


class InstrumentTable(Table):
    """What was measured with."""

    what: NeededText = key("such as spring scale, phone, tape, stopwatch", ...)
    name: str = key("model", "")
    serial: str = key("serial number", "")
    setting: str = key("recorder setting", "")
    last_check: TextOrDay = key("when and how it was checked; or a date", "")
    note: str = key("anything", "")


class AnswerTable(Table):
    """What a person answered to a note of the program."""

    note: Annotated[NeededText, BeforeValidator(_number_as_text)] = key(
        "number or code of the note", ...
    )
    answer: NeededText = key("the answer", ...)
    by: str = key("who", "")
    date: TextOrDay = key("when; or a date", "")
    ropes: Wholes = key("rope numbers concerned", (), left_out="the whole set")


class PhotoTable(Table):
    """A photo of the rope tag, the data plate, a hitch and the like."""

    file: RecordPath = key("beside or below the record", ...)
    shows: str = key("such as rope tag, data plate, car hitch", "")
    by: str = key("who took it", "")


class TrimTable(Table):
    """Written by the program: a recording of which only the plucks are kept."""

    recording: RecordPath = key("as the readings name it", ...)
    trimmed: RecordPath = key("the file that is read in its place", ...)
    n_bytes: WholeOrNone = key("size of the original", 0, alias="bytes")
    sha256: str = key("checksum of the original", ...)
    kept: str = key("windows kept, in seconds from the start", "")
    silenced: str = key("what was done with the rest", "")
    original: str = key("kept or deleted", "")
    by: str = key("who", "")
    date: TextOrDay = key("when; or a date", "")


class Record(Table):
    """Top of the file."""

    format: Annotated[int, PlainValidator(_format), Form.WHOLE] = key(
        "version of this format: 1", ...
    )
    lift: LiftTable = _LEFT_OUT
    visit: VisitTable = _LEFT_OUT
    rule: RuleTable = _LEFT_OUT
    rope_set: SetTable = Field(alias="set")
    uncertainty: UncertaintyTable = _LEFT_OUT
    span: tuple[SpanTable, ...] = ()
    hitch: tuple[HitchTable, ...] = ()
    rope: tuple[RopeTable, ...] = ()
    series: tuple[SeriesTable, ...] = ()
    reading: tuple[ReadingTable, ...] = ()
    turn: tuple[TurnTable, ...] = ()
    run: tuple[RunTable, ...] = ()
    exclusion: tuple[ExclusionTable, ...] = ()
    allowance: AllowanceTable = _LEFT_OUT
    finding: tuple[FindingTable, ...] = ()
    check: tuple[CheckTable, ...] = ()
    instrument: tuple[InstrumentTable, ...] = ()
    answer: tuple[AnswerTable, ...] = ()
    photo: tuple[PhotoTable, ...] = ()
    trim: tuple[TrimTable, ...] = ()

    def build(self, path: Path) -> Visit:
        """Give the visit."""
        written = {rope.number: rope.built for rope in joined(self.rope, "number")}
        rope_set = replace(
            self.rope_set.built,
            spans=tuple(one.make(Span) for one in joined(self.span, "name")),
            hitches=tuple(one.make(Hitch) for one in joined(self.hitch, "at")),
            ropes=tuple(
                written.get(number, Rope(number=number))
                for number in range(1, self.rope_set.n_ropes + 1)
            ),
            uncertainties=self.uncertainty.built,
        )
        return Visit(
            path=path,
            lift=self.lift.make(Lift),
            rule=self.rule.built,
            rope_set=rope_set,
            particulars=self.visit.built,
            series=tuple(one.built for one in self.series),
            readings=tuple(one.built for one in self.reading),
            turns=turns_with_runs(self.turn, self.run),
            exclusions=tuple(one.make(Exclusion) for one in self.exclusion),
            findings=tuple(one.built for one in self.finding),
            allowance=self.allowance.built,
            checks=tuple(one.make(Check) for one in self.check),
            instruments=tuple(one.make(Instrument) for one in self.instrument),
            answers=tuple(one.make(NoteAnswer) for one in self.answer),
            photos=tuple(one.make(Photo) for one in self.photo),
            trims=tuple(one.make(Trim) for one in self.trim),
        )


def read_visit(path: Path | str) -> Visit:
    """Read a record.

    Parameters
    ----------
    path : Path or str
        The record, such as ``visit.toml``.

    Returns
    -------
    Visit
        Everything it says.

    Raises
    ------
    FileFormatError
        With the first mistake of syntax, or with every mistake of content, a line each.

    Examples
    --------
    >>> read_visit("recordings_demo/side-pulls/visit.toml").rope_set.n_ropes
    6
    """
    path = Path(path)
    return visit_from_text(read_record_text(path), path)


def visit_from_text(text: str, path: Path) -> Visit:
    """Read the text of a record; recordings are looked for beside and below its path.

    Raises
    ------
    FileFormatError
        As `read_visit` does.
    """
    document = parse_toml(text, str(path))
    read = partial(
        read_tables,
        document,
        Record,
        (str(path), text),
        context=known_from(document, path.parent),
    )
    visit = read(told=contradictions(document)).build(path)
    wrong = names_that_are_none(visit.readings, visit.exclusions)
    if told := [(("exclusion", i, "reading"), fault) for i, fault in wrong]:
        read(told=told)
    return visit
