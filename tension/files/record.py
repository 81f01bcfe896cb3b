"""The record, from disk to memory: every mistake of content at once, a line each."""

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field, PlainValidator

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
    NeededText,
    Table,
    TextOrDay,
    WholeOrNone,
    Wholes,
    key,
    shown,
)
from tension.files.toml_reading import parse_toml, read_record_text
from tension.files.visit import Instrument, NoteAnswer, Photo, Trim, Visit
from tension.installation import Hitch, Lift, Rope, Span
from tension.measurement.readings import Exclusion
from tension.measurement.single_readings import names_that_are_none

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
    """Read the text of a record.

    Parameters
    ----------
    text : str
        Its text.
    path : Path
        Where it lies; recordings are looked for beside and below.

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
