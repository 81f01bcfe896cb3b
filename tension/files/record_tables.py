"""Each table of a record, read into its type."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from enum import StrEnum
from functools import cache

from tension.adjustment.turns import Turn
from tension.catalogue.rules import Metric, Rule, changed, find_rule
from tension.catalogue.standing import Standing
from tension.errors import InvalidValueError
from tension.files import record_schema as schema
from tension.files.table_reader import Known, TableReader
from tension.installation import (
    Buffer,
    Drive,
    Ends,
    Hitch,
    HitchEnd,
    HitchPlace,
    LengthFrom,
    Lift,
    Rope,
    RopeSet,
    Roping,
    Side,
    Span,
    Thread,
    Uncertainties,
    parse_thread,
)
from tension.measurement.readings import (
    Exclusion,
    Hold,
    Method,
    PluckReading,
    PullReading,
    Reading,
    ReturnsReading,
    Series,
    SpringReading,
)
from tension.quantity.units import Quantity

ONE_HEIGHT = "one height"


class Arrived(StrEnum):
    """Direction the car came from."""

    UP = "up"
    DOWN = "down"


class Fall(StrEnum):
    """Fall of a rope that is reeved 2:1."""

    LIVE = "live"
    DEAD = "dead"


class Neighbours(StrEnum):
    """What the other ropes do while one rings."""

    FREE = "free"
    DAMPED = "damped"


def read_lift(reader: TableReader) -> Lift:
    """Read ``[lift]``.

    Parameters
    ----------
    reader : TableReader
        The table.

    Returns
    -------
    Lift
        The lift.
    """
    return Lift(
        name=reader.text("name"),
        drive=reader.choice("drive", Drive) or Drive.TRACTION,
        roping=reader.choice("roping", Roping) or Roping.ONE_TO_ONE,
        car_mass=reader.measured("car_mass"),
        counterweight_mass=reader.measured("counterweight_mass"),
    )


def read_particulars(reader: TableReader) -> tuple[tuple[str, str], ...]:
    """Read ``[visit]``.

    Parameters
    ----------
    reader : TableReader
        The table.

    Returns
    -------
    tuple of (str, str)
        Key and text of those that are written.
    """
    day = reader.day("date")
    texts = [("date", day.isoformat() if day else "")]
    texts += [
        (name, reader.text(name)) for name in schema.VISIT.key_names if name != "date"
    ]
    return tuple((name, text) for name, text in texts if text)


def read_rule(reader: TableReader) -> Rule:
    """Read ``[rule]``.

    Parameters
    ----------
    reader : TableReader
        The table; it may be empty.

    Returns
    -------
    Rule
        The published rule, changed as written; or the user's own.
    """
    name, source = reader.text("use"), reader.text("source")
    metric = reader.choice("metric", Metric)
    limit, goal = reader.measured("limit"), reader.measured("goal")
    try:
        rule = find_rule(name or None)
    except InvalidValueError as error:
        reader.refuse("use", str(error))
        return find_rule(None)
    if name and reader.has("source"):
        reader.refuse("source", "goes with a rule of your own; take out use or source")
    if not name and (metric or source) and not reader.has("limit"):
        reader.refuse("limit", 'is missing; write the percentage, like limit = "10 %"')
    if name:
        rule = changed(rule, limit=limit.value if limit else None, metric=metric)
    elif limit or metric or source:
        rule = Rule(
            name="given by the user",
            metric=metric or rule.metric,
            limit=limit.value if limit else rule.limit,
            source=source or "the user's own limit; no code was named",
            edition="",
            standing=Standing.USER,
        )
    return replace(rule, goal=goal.value if goal else None)


def read_uncertainties(reader: TableReader) -> Uncertainties:
    """Read ``[uncertainty]``.

    Parameters
    ----------
    reader : TableReader
        The table; it may be empty.

    Returns
    -------
    Uncertainties
        What is written, else the program's defaults.
    """
    default = Uncertainties()

    def value(name: str, otherwise: float) -> float:
        read = reader.measured(name)
        return otherwise if read is None else read.value

    return Uncertainties(
        free_length=value("free_length", default.free_length),
        linear_density=value("linear_density", default.linear_density),
        scale=value("scale", default.scale),
        stopwatch=value("stopwatch", default.stopwatch),
        spring_length=value("spring_length", default.spring_length),
        spring_rate=value("spring_rate", default.spring_rate),
        typed=tuple(name for name in schema.UNCERTAINTY.key_names if reader.has(name)),
    )


def read_set(reader: TableReader) -> RopeSet:
    """Read ``[set]``.

    Parameters
    ----------
    reader : TableReader
        The table.

    Returns
    -------
    RopeSet
        Without ropes, spans and hitches; n_ropes is 0 if it is wrong.
    """
    reader.need("ropes")
    sockets = reader.text("sockets").strip().lower()
    if sockets not in {"", ONE_HEIGHT}:
        reader.refuse(
            "sockets",
            f'must be "{ONE_HEIGHT}" or left out; lengths per rope go into [[rope]]',
        )
    return RopeSet(
        n_ropes=reader.rope("ropes") or 0,
        diameter=reader.measured("diameter"),
        construction=reader.text("construction"),
        linear_density=reader.measured("linear_density"),
        rope_length=reader.measured("rope_length"),
        axial_rigidity=reader.measured("axial_rigidity"),
        has_sockets_at_one_height=sockets == ONE_HEIGHT,
    )


def read_span(reader: TableReader) -> Span:
    """Read ``[[span]]``.

    Parameters
    ----------
    reader : TableReader
        The table.

    Returns
    -------
    Span
        The span.
    """
    return Span(
        name=reader.needed_text("name"),
        side=reader.choice("side", Side) or Side.CAR,
        position=reader.text("position"),
        free_length=reader.measured("free_length"),
        length_from=reader.choice("length_from", LengthFrom) or LengthFrom.SOCKET,
        ends=reader.choice("ends", Ends) or Ends.SOCKET_SHEAVE,
        hitch_end=reader.choice("hitch_end", HitchEnd) or HitchEnd.LOWER,
    )


def read_hitch(reader: TableReader, known: Known) -> Hitch:
    """Read ``[[hitch]]``.

    Parameters
    ----------
    reader : TableReader
        The table.
    known : Known
        What the record describes so far.

    Returns
    -------
    Hitch
        The hitch.
    """
    reader.need("at")
    return Hitch(
        at=reader.choice("at", HitchPlace) or HitchPlace.CAR,
        rows=_read_rows(reader, known),
        thread=_read_thread(reader),
        buffer=reader.choice("buffer", Buffer) or Buffer.SPRING,
        spring_rate=reader.measured("spring_rate"),
        spring_wire=reader.measured("spring_wire"),
        spring_coil=reader.measured("spring_coil"),
        spring_active_coils=reader.number_within("spring_active_coils", 0.5, 100.0),
        spring_material=reader.text("spring_material"),
        spring_free_length=reader.measured("spring_free_length"),
        spring_solid_length=reader.measured("spring_solid_length"),
        rod_free=reader.measured("rod_free"),
    )


def _read_thread(reader: TableReader) -> Thread | None:
    """The thread of the rods."""
    text = reader.text("thread")
    if not text:
        return None
    try:
        return parse_thread(text)
    except InvalidValueError as error:
        reader.refuse("thread", str(error))
        return None


def _read_rows(reader: TableReader, known: Known) -> tuple[tuple[int, ...], ...]:
    """Rows of rope numbers, each rope of the set once."""
    if not reader.has("rows"):
        return ()
    rows = reader.number_rows("rows")
    numbers = [number for row in rows for number in row]
    repeated = sorted({number for number in numbers if numbers.count(number) > 1})
    if repeated:
        reader.refuse("rows", f"names rope {repeated[0]} twice; each rope stands once")
    if rows and known.n_ropes:
        wanted = range(1, known.n_ropes + 1)
        foreign = [number for number in numbers if number not in wanted]
        missing = [number for number in wanted if number not in numbers]
        if foreign:
            reader.refuse(
                "rows", f"ropes must be 1 to {known.n_ropes}, not {foreign[0]}"
            )
        if missing:
            shown = ", ".join(map(str, missing))
            reader.refuse("rows", f"leaves out rope {shown}; name every rope once")
    return rows


def read_rope(reader: TableReader) -> Rope | None:
    """Read ``[[rope]]``.

    Parameters
    ----------
    reader : TableReader
        The table.

    Returns
    -------
    Rope or None
        The rope; None without a number.
    """
    reader.need("number")
    number = reader.rope("number")
    rope = Rope(
        number=number or 0,
        stagger=reader.measured("stagger"),
        free_lengths=reader.lengths("free_lengths"),
        take_up_left=reader.measured("take_up_left"),
        ease_left=reader.measured("ease_left"),
        groove=reader.whole("groove"),
    )
    return rope if number else None


def read_series(reader: TableReader, known: Known) -> Series:
    """Read ``[[series]]``.

    Parameters
    ----------
    reader : TableReader
        The table.
    known : Known
        What the record describes so far.

    Returns
    -------
    Series
        The series.
    """
    return Series(
        name=reader.needed_text("name"),
        span=reader.named("span", known.spans, "span"),
        arrived=reader.choice("arrived", Arrived) or "",
        taken=reader.text_or_day("taken"),
        load=reader.text("load"),
        people=reader.text("people"),
        fall=reader.choice("fall", Fall) or "",
        neighbours=reader.choice("neighbours", Neighbours) or "",
    )


def read_reading(reader: TableReader, known: Known) -> Reading | None:
    """Read ``[[reading]]``.

    Parameters
    ----------
    reader : TableReader
        The table.
    known : Known
        What the record describes.

    Returns
    -------
    Reading or None
        The reading; None if its kind is not known.
    """
    reader.need("kind")
    kind = reader.choice("kind", Method)
    if kind is None:
        return None
    reader.refuse_unknown(_keys_of_other_kinds(kind))
    series = reader.named("series", known.series, "series")
    return _READERS[kind](reader, series)


@cache
def _keys_of_other_kinds(kind: Method) -> Mapping[str, str]:
    """Keys of the other kinds of reading, with those kinds."""
    kinds: dict[str, list[str]] = {}
    for other, names in schema.KEYS_OF_READING.items():
        for name in names:
            if name not in schema.KEYS_OF_READING[kind]:
                kinds.setdefault(name, []).append(f'kind = "{other}"')
    return {name: " or ".join(words) for name, words in kinds.items()}


def _read_pluck(reader: TableReader, series: str) -> Reading:
    """A recording of one or several ropes."""
    reader.need("recording")
    number, numbers = reader.rope("rope"), reader.ropes("ropes")
    if reader.has("rope") == reader.has("ropes"):
        reader.refuse("rope", "write either rope or ropes (in the order plucked)")
    elif reader.has("ropes") and not numbers and not reader.mistakes:
        reader.refuse("ropes", "names no rope; write them in the order plucked")
    return PluckReading(
        series=series,
        recording=reader.path("recording"),
        ropes=(number,) if number else numbers,
        plucks_each=reader.whole("plucks_each"),
    )


def _read_pull(reader: TableReader, series: str) -> Reading:
    """A side pull."""
    reader.need("rope", "force", "deflection")
    return PullReading(
        series=series,
        rope=reader.rope("rope") or 0,
        forces=reader.measured_all("force"),
        deflections=reader.measured_all("deflection"),
        hold=reader.choice("hold", Hold) or Hold.DEFLECTION,
        at=reader.measured("at"),
        scale_zero=reader.measured("scale_zero"),
    )


def _read_returns(reader: TableReader, series: str) -> Reading:
    """Timed wave returns."""
    reader.need("rope", "count", "elapsed")
    return ReturnsReading(
        series=series,
        rope=reader.rope("rope") or 0,
        count=reader.whole("count") or 0,
        elapsed=reader.measured_all("elapsed"),
    )


def _read_spring(reader: TableReader, series: str) -> Reading:
    """The length of a spring."""
    reader.need("rope", "length")
    return SpringReading(
        series=series,
        rope=reader.rope("rope") or 0,
        hitch=reader.hitch("hitch") or HitchPlace.CAR,
        lengths=reader.measured_all("length"),
    )


_READERS: Mapping[Method, Callable[[TableReader, str], Reading]] = {
    Method.PLUCK: _read_pluck,
    Method.PULL: _read_pull,
    Method.RETURNS: _read_returns,
    Method.SPRING: _read_spring,
}


def read_turn(reader: TableReader, known: Known) -> Turn:
    """Read ``[[turn]]``.

    Parameters
    ----------
    reader : TableReader
        The table.
    known : Known
        What the record describes.

    Returns
    -------
    Turn
        The turn.
    """
    reader.need("rope", "turns")
    turns = reader.measured("turns")
    return Turn(
        after=reader.named("after", known.series, "series"),
        hitch=reader.hitch("hitch") or HitchPlace.CAR,
        rope=reader.rope("rope") or 0,
        turns=turns or _no_turn(),
        round_trips_after=reader.whole("round_trips_after", lowest=0),
    )


def _no_turn() -> Quantity:
    """In place of a turn that could not be read; the record is refused anyway."""
    from tension.quantity.units import Dimension

    return Quantity(value=0.0, dimension=Dimension.TURNS, text="")


def read_exclusion(reader: TableReader, known: Known) -> Exclusion:
    """Read ``[[exclusion]]``.

    Parameters
    ----------
    reader : TableReader
        The table.
    known : Known
        What the record describes.

    Returns
    -------
    Exclusion
        The exclusion.
    """
    if not (reader.has("rope") or reader.has("recording")):
        reader.refuse("rope", "is missing; write which rope or recording is left out")
    if reader.has("pluck") and not reader.has("recording"):
        reader.refuse("recording", "is missing; write in which recording the pluck is")
    return Exclusion(
        series=reader.named("series", known.series, "series"),
        reason=reader.needed_text("reason"),
        rope=reader.rope("rope"),
        recording=reader.path("recording"),
        pluck=reader.whole("pluck"),
        by=reader.text("by"),
    )
