"""Tables of a record on what was measured, turned and left out."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, replace
from typing import Annotated, Any, ClassVar

from pydantic import ValidationInfo, field_validator

from tension.adjustment.turns import Turn
from tension.errors import InvalidValueError
from tension.files.record_installation import FreeLength
from tension.files.record_links import (
    HitchName,
    RecordPath,
    RopeNumber,
    RopeNumbers,
    SeriesName,
    SpanName,
    hitch_name,
)
from tension.files.table_model import (
    Kinds,
    Measured,
    NeededText,
    Table,
    TextOrDay,
    Whole,
    WholeOrNone,
    key,
)
from tension.installation import Arrived, Fall, HitchPlace, Neighbours
from tension.measurement.readings import (
    Hold,
    Method,
    PluckReading,
    PullReading,
    Reading,
    ReturnsReading,
    Series,
    SpringReading,
)
from tension.quantity.units import Dimension, Quantity

_FORCE = Measured(dimension=Dimension.FORCE, least=1e-3, most=1e5)
_SCALE_ZERO = Measured(dimension=Dimension.FORCE, least=-1e4, most=1e4)
_DEFLECTION = Measured(dimension=Dimension.LENGTH, least=1e-4, most=2.0)
_SPRING_LENGTH = Measured(dimension=Dimension.LENGTH, least=0.005, most=2.0)
_ELAPSED = Measured(dimension=Dimension.TIME, least=1e-3, most=1e4)


class _TurnsMade(Measured):
    """Marks turns as plans print them, with a sign, or as a bare number."""

    def read(self, value: object) -> Quantity:
        """Read turns such as "IN 1/4", "OUT 2 1/2", "-1 1/4" or 0.25.

        Raises
        ------
        InvalidValueError
            If it is no number of turns, or says the way twice.
        """
        if type(value) in {int, float}:
            value = str(value)
        text = value.strip() if isinstance(value, str) else ""
        way, _, amount = text.partition(" ")
        sign = {"in": "", "out": "-"}.get(way.lower())
        if sign is None:
            return super().read(value)
        if amount.lstrip()[:1] in {"+", "-", "\u2212"}:
            raise InvalidValueError(
                f"has both {way} and a sign, {value}; write one of them"
            )
        return replace(super().read(f"{sign}{amount}"), text=text)


_TURNS = _TurnsMade(dimension=Dimension.TURNS, least=-200.0, most=200.0)


_READING_OF: Mapping[Method, type[Reading]] = {
    Method.PLUCK: PluckReading,
    Method.PULL: PullReading,
    Method.RETURNS: ReturnsReading,
    Method.SPRING: SpringReading,
}


class SeriesTable(Table):
    """One round over the set: same span, load, people."""

    name: NeededText = key("the readings name it", ...)
    span: SpanName = key(
        "name of the span", left_out="the only span", validate_default=True
    )
    arrived: Arrived | None = key(
        "direction the car came from: up or down", left_out="not recorded"
    )
    taken: TextOrDay = key(
        'date, time, offset: "2026-11-20 10:12 +00:00"', "", left_out="not recorded"
    )
    load: str = key("in the car", "", left_out="not recorded")
    people: str = key("who stands on the car", "", left_out="not recorded")
    fall: Fall | None = key("live or dead, with 2:1 roping", left_out="not recorded")
    neighbours: Neighbours | None = key(
        "free or damped while a rope rings", left_out="not recorded"
    )
    round_trips_before: WholeOrNone | None = key(
        "round trips the car ran since the last nut was turned, or since the series "
        "before; 0: it has not run",
        left_out="not recorded",
    )

    @property
    def built(self) -> Series:
        """The series."""
        told = {name: value for name, value in self if value is not None}
        return Series(**told)


class ReadingTable(Table):
    """One reading; two of one kind and rope in a series are repeats."""

    kind_key: ClassVar[str] = "kind"
    kinds: ClassVar[Kinds] = {
        Method.PLUCK: ("rope", "recording", "ropes", "plucks_each"),
        Method.PULL: ("rope", "force", "deflection", "hold", "at", "scale_zero"),
        Method.RETURNS: ("rope", "count", "elapsed"),
        Method.SPRING: ("rope", "hitch", "length"),
    }
    needed: ClassVar[Kinds] = {
        Method.PLUCK: ("recording",),
        Method.PULL: ("rope", "force", "deflection"),
        Method.RETURNS: ("rope", "count", "elapsed"),
        Method.SPRING: ("rope", "length"),
    }
    series: SeriesName = key(
        "name of the series", left_out="the only series", validate_default=True
    )
    kind: Method = key("pluck, pull, returns or spring", ...)
    rope: RopeNumber | None = key("rope number", left_out="needed")
    recording: RecordPath = key(
        "pluck: sound file beside or below the record",
        "",
        left_out="needed for a pluck",
    )
    ropes: RopeNumbers = key(
        "pluck: several ropes in one recording, in the order plucked",
        (),
        left_out="the one rope",
    )
    plucks_each: Whole | None = key("pluck: how many plucks each rope got")
    forces: Annotated[tuple[Quantity, ...], _FORCE] = key(
        "pull: reading of the scale", (), left_out="needed", alias="force"
    )
    deflections: Annotated[tuple[Quantity, ...], _DEFLECTION] = key(
        "pull: sideways", (), left_out="needed", alias="deflection"
    )
    hold: Hold = key("pull: held the same on all: deflection or force", Hold.DEFLECTION)
    at: FreeLength | None = key("pull: from the lower node", left_out="mid-span")
    scale_zero: Annotated[Quantity, _SCALE_ZERO] | None = key(
        "pull: scale without load", left_out="0 N"
    )
    count: Whole | None = key(
        "returns: round trips of the wave counted", left_out="needed"
    )
    elapsed: Annotated[tuple[Quantity, ...], _ELAPSED] = key(
        "returns: time of the count", (), left_out="needed"
    )
    hitch: HitchPlace | None = key(
        "spring: at which hitch", left_out="the only hitch", validate_default=True
    )
    lengths: Annotated[tuple[Quantity, ...], _SPRING_LENGTH] = key(
        "spring: working length", (), left_out="needed", alias="length"
    )

    @field_validator("hitch", mode="before")
    @classmethod
    def _hitch_of_a_spring(cls, value: object, info: ValidationInfo) -> object:
        """A spring is at a hitch that is described; the rest needs none."""
        is_spring = info.data.get("kind") is Method.SPRING
        return hitch_name(value, info) if is_spring else value

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """A pluck is of one rope, or of several in the order plucked."""
        if written.get("kind") != Method.PLUCK:
            return
        if ("rope" in written) == ("ropes" in written):
            yield "rope", "write either rope or ropes (in the order plucked)"
        elif written.get("ropes") == []:
            yield "ropes", "names no rope; write them in the order plucked"

    @property
    def built(self) -> Reading:
        """The reading, of the fields of its kind."""
        told = dict(self) | {
            "rope": self.rope or 0,
            "ropes": self.ropes or (self.rope or 0,),
            "hitch": self.hitch or HitchPlace.CAR,
        }
        kind = _READING_OF[self.kind]
        return kind(**{field.name: told[field.name] for field in fields(kind)})


class TurnTable(Table):
    """A nut that was turned."""

    after: SeriesName = key(
        "the series after which it was made",
        left_out="the only series",
        validate_default=True,
    )
    hitch: HitchName = key(
        "at which hitch", left_out="the only hitch", validate_default=True
    )
    rope: RopeNumber = key("rope number", ...)
    turns: Annotated[Quantity, _TURNS] = key(
        'positive: nut towards the plate, tension up; such as "-1 1/4", "IN 1/4", '
        '"OUT 2" or 0.25',
        ...,
    )
    round_trips_after: WholeOrNone | None = key(
        "round trips the car ran before measuring again",
        left_out="not recorded: nothing is learned from the turn",
    )


class RunTable(Table):
    """Round trips of the car after turns; several add up."""

    after: SeriesName = key(
        "the series after which the nuts were turned",
        left_out="the only series",
        validate_default=True,
    )
    round_trips: Whole = key(
        "of the car, after the turns and before the next series; for turns that have "
        "no round_trips_after of their own",
        ...,
    )


def turns_with_runs(
    turns: Sequence[TurnTable], runs: Sequence[RunTable]
) -> tuple[Turn, ...]:
    """Give the turns, each with the round trips that followed it.

    Returns
    -------
    tuple of Turn
        Those without round trips of their own have the sum of the runs after their
        series, in whatever order the tables stand.
    """
    trips: dict[str, int] = {}
    for run in runs:
        trips[run.after] = trips.get(run.after, 0) + run.round_trips
    return tuple(
        replace(turn.make(Turn), round_trips_after=trips.get(turn.after))
        if turn.round_trips_after is None
        else turn.make(Turn)
        for turn in turns
    )


class ExclusionTable(Table):
    """A reading left out, and why; never taken out of the record."""

    series: SeriesName = key(
        "name of the series", left_out="the only series", validate_default=True
    )
    rope: RopeNumber | None = key(
        "rope left out", left_out="not told: then the recording is"
    )
    recording: RecordPath = key(
        "recording left out, as a reading names it",
        "",
        left_out="every one of the rope",
    )
    pluck: Whole | None = key("pluck of the recording, counted from 1", left_out="all")
    reading: str = key(
        'one reading by hand of the rope, as results name it: "pull 147 N at 25 mm"',
        "",
        left_out="all of the rope",
    )
    reason: NeededText = key("why", ...)
    by: str = key("who decided", "")

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """It must be clear what is left out."""
        if not written.keys() & {"rope", "recording"}:
            yield "rope", "is missing; write which rope or recording is left out"
        if "pluck" in written and "recording" not in written:
            yield "recording", "is missing; write in which recording the pluck is"
        if "reading" in written and "recording" in written:
            yield "reading", "is of one made by hand; leave out either it or recording"
