"""Tables of a record on the installation, the visit and the rule."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, Field, PlainValidator

from tension.catalogue.rules import Metric, Rule, changed, find_rule
from tension.catalogue.standing import Standing
from tension.catalogue.threads import Thread, parse_thread
from tension.errors import InvalidValueError
from tension.files.record_links import RopeNumber, Rows, SpanName
from tension.files.table_model import (
    Day,
    Form,
    Measured,
    NeededText,
    Number,
    Table,
    Whole,
    key,
    listed,
    shown,
)
from tension.installation import (
    Buffer,
    Drive,
    Ends,
    HitchEnd,
    HitchPlace,
    LengthFrom,
    Rope,
    RopeSet,
    Roping,
    Side,
    Uncertainties,
)
from tension.quantity.units import Dimension, Quantity, parse_quantity

ONE_HEIGHT = "one height"


def _measured(dimension: Dimension, least: float, most: float) -> Measured:
    """A text with its unit, in a range."""
    return Measured(dimension=dimension, least=least, most=most)


def _rule_name(name: str) -> str:
    """A rule of the catalogue."""
    find_rule(name or None)
    return name


def _one_height(text: str) -> str:
    """The words for sockets at one height, or nothing."""
    if text.strip().lower() not in {"", ONE_HEIGHT}:
        raise InvalidValueError(
            f'must be "{ONE_HEIGHT}" or left out; lengths per rope go into [[rope]]'
        )
    return text


def _difference(texts: object, dimension: Dimension) -> float | None:
    """Second less first of two texts; None where they cannot be read."""
    try:
        first, second = (parse_quantity(str(t), dimension).value for t in listed(texts))
    except InvalidValueError:
        return None
    return second - first


def _thread(text: object) -> Thread | None:
    """The thread of a rod."""
    if not isinstance(text, str):
        raise InvalidValueError(f"must be a text in quotation marks, not {shown(text)}")
    return parse_thread(text) if text else None


FreeLength = Annotated[Quantity, _measured(Dimension.LENGTH, 0.05, 1000.0)]
SpringLength = Annotated[Quantity, _measured(Dimension.LENGTH, 0.005, 2.0)]
_Travel = Annotated[Quantity, _measured(Dimension.LENGTH, 0.5, 2000.0)]
_Mass = Annotated[Quantity, _measured(Dimension.MASS, 10.0, 2e5)]
_Limit = Annotated[Quantity, _measured(Dimension.FRACTION, 1e-4, 0.99)]
_Share = Annotated[Quantity, _measured(Dimension.FRACTION, 0.0, 0.5)]
_SpringLoad = Annotated[Quantity, _measured(Dimension.FORCE, 0.0, 1e5)]
_SPRING_LOADS = _measured(Dimension.FORCE, 0.0, 1e5)
_SPRING_LENGTHS = _measured(Dimension.LENGTH, 0.005, 2.0)
_ThreadLeft = Annotated[Quantity, _measured(Dimension.LENGTH, 0.0, 2.0)]
_Reading = Annotated[Quantity, _measured(Dimension.LENGTH, 0.0, 0.1)]
_LengthError = Annotated[Quantity, _measured(Dimension.LENGTH, 0.0, 1.0)]
_TimeError = Annotated[Quantity, _measured(Dimension.TIME, 0.0, 5.0)]
_Part = Annotated[Quantity, _measured(Dimension.FRACTION, 0.0, 1.0)]
_Rate = Annotated[Quantity, _measured(Dimension.STIFFNESS, 1e3, 1e8)]
_Wire = Annotated[Quantity, _measured(Dimension.LENGTH, 0.001, 0.08)]
_Coil = Annotated[Quantity, _measured(Dimension.LENGTH, 0.005, 0.5)]
_Rod = Annotated[Quantity, _measured(Dimension.LENGTH, 0.0, 5.0)]
_Stagger = Annotated[Quantity, _measured(Dimension.LENGTH, -10.0, 10.0)]
_LinearDensity = Annotated[Quantity, _measured(Dimension.LINEAR_DENSITY, 0.01, 20.0)]
_Diameter = Annotated[Quantity, _measured(Dimension.LENGTH, 0.003, 0.06)]
_RopeLength = Annotated[Quantity, _measured(Dimension.LENGTH, 0.5, 5000.0)]
_Rigidity = Annotated[Quantity, _measured(Dimension.FORCE, 1e4, 1e9)]


class LiftTable(Table):
    """The installation."""

    name: str = key("name or number, address", "")
    drive: Drive = key("traction, drum or hydraulic", Drive.TRACTION)
    roping: Roping = key("1:1, 2:1, 4:1 or 1:2 (roped jack)", Roping.ONE_TO_ONE)
    car_mass: _Mass | None = key(
        "all that hangs on the car side; checks the sum of the tensions"
    )
    counterweight_mass: _Mass | None = key("all that hangs on the counterweight side")
    travel: _Travel | None = key(
        "of the car, lowest to highest landing: how many round trips a turn needs",
        left_out="worked out from rope_length",
    )


class VisitTable(Table):
    """Who, when and where."""

    date: Day | None = key(
        "day of the visit, year-month-day, without quotes", left_out="not recorded"
    )
    measured_by: str = key("who measured", "")
    qualification: str = key("licence or qualification of that person", "")
    witness: str = key("who saw it", "")
    place: str = key("where: machine room, car top, pit", "")
    firm: str = key("firm of the person who measured", "")
    address: str = key("site", "")
    car_number: str = key("number of the car or of the lift on the plate", "")
    rated_load: str = key("as on the plate", "")
    speed: str = key("as on the plate", "")
    machine: str = key("where the machine is", "")
    rope_maker: str = key("who made the ropes", "")
    rope_grade: str = key("grade as on the tag or certificate", "")
    rope_installed: str = key("month and year", "")
    rope_tag: str = key("text of the tag as read", "")
    linear_density_from: str = key("tag, certificate, data sheet, table, assumed", "")
    lengths_read: str = key("how the free lengths were read", "")
    brake: str = key("whether the brake was set", "")
    doors: str = key("open or closed", "")
    temperature: str = key("if taken", "")
    note: str = key("anything a reader must know", "")
    order: str = key("the inspector's order: what is to be done", "")
    order_date: Day | None = key("the day of that order", left_out="not recorded")

    cautions_shown: Day | None = key(
        "written by `tension start`: the day on which it showed the cautions whole",
        left_out="they are shown whole with each plan",
    )

    @property
    def built(self) -> tuple[tuple[str, str], ...]:
        """Key and text of those that are written."""
        return tuple((name, str(value)) for name, value in self if value)


class RuleTable(Table):
    """What decides; left out: 10 % below-highest, the program's own figure."""

    use: Annotated[str, AfterValidator(_rule_name)] = key(
        "a rule of the catalogue (rules.md)", "", left_out="the program's own"
    )
    metric: Metric | None = key(
        "below-highest (max - min)/max, above-lowest (max - min)/min, off-mean "
        "max|T - mean|/mean, range-of-mean (max - min)/mean",
        left_out="that of the rule",
    )
    limit: _Limit | None = key(
        "equal at or under it; beside `use` the rule counts as changed by the user",
        left_out="that of the rule",
    )
    source: str = key("where a rule of your own is written down; not beside `use`", "")
    goal: _Limit | None = key(
        "what a plan of turns aims at; never decides the result", left_out="none"
    )

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """A rule is of the catalogue, or spelt out."""
        if written.get("use"):
            if "source" in written:
                yield "source", "goes with a rule of your own; take out use or source"
        elif written.keys() & {"metric", "source"} and "limit" not in written:
            yield "limit", 'is missing; write the percentage, like limit = "10 %"'

    @property
    def built(self) -> Rule:
        """The published rule, changed as written; or the user's own."""
        rule = find_rule(self.use or None)
        limit = self.limit.value if self.limit else None
        if self.use:
            rule = changed(rule, limit=limit, metric=self.metric)
        elif limit:
            rule = Rule(
                name="given by the user",
                metric=self.metric or rule.metric,
                limit=limit,
                source=self.source or "the user's own limit; no code was named",
                edition="",
                standing=Standing.USER,
            )
        return replace(rule, goal=self.goal.value if self.goal else None)


class UncertaintyTable(Table):
    """Standard uncertainties of what a person reads."""

    free_length: _LengthError | None = key(
        "of each rope's free length", left_out="5 mm"
    )
    linear_density: _Share | None = key("shared by the whole set", left_out="5 %")
    scale: _Share | None = key("one reading of the scale", left_out="2 %")
    deflection: _Reading | None = key(
        "of one deflection read in a side pull", left_out="0.5 mm"
    )
    deflection_common: _Reading | None = key(
        "of all deflections alike: zero of the ruler, seat of the hook",
        left_out="0.5 mm",
    )
    placement: _Share | None = key(
        "height and direction of a side pull, of its tension", left_out="1 %"
    )
    stopwatch: _TimeError | None = key("of one start and stop", left_out="0.12 s")
    spring_length: _Reading | None = key("of one spring length", left_out="0.5 mm")
    spring_rate: _Part | None = key("between springs of a hitch", left_out="5 %")

    @property
    def built(self) -> Uncertainties:
        """What is written, else the program's defaults."""
        typed = {name: quantity.value for name, quantity in self if quantity}
        return Uncertainties(typed=tuple(typed), **typed)


class SpanTable(Table):
    """A stretch of rope that is plucked or pulled."""

    name: NeededText = key("the series name it", ...)
    side: Side = key("car or counterweight", Side.CAR)
    position: str = key("where the car stands", "")
    free_length: FreeLength | None = key(
        "lower node to where the rope leaves the sheave, of a rope without stagger",
        left_out="not known: lengths per rope are needed",
    )
    length_from: LengthFrom = key(
        "node at the hitch end: socket, or clip where the tail is tied to the live "
        "rope above the socket",
        LengthFrom.SOCKET,
    )
    ends: Ends = key(
        "socket-sheave, socket-socket or sheave-sheave", Ends.SOCKET_SHEAVE
    )
    hitch_end: HitchEnd = key("lower or upper: where the nuts are", HitchEnd.LOWER)


class HitchTable(Table):
    """Where the nuts are; for plans of turns and springs."""

    at: HitchPlace = key(
        "car, counterweight, dead-end-car or dead-end-counterweight", ...
    )
    rows: Rows = key(
        "rope numbers row by row as seen facing the nuts; each rope once",
        (),
        left_out="one row",
    )
    thread: Annotated[Thread | None, PlainValidator(_thread)] = key(
        'of the rods: "M16", "M16 left", "M16x1.5", "5/8-11"', left_out="empty"
    )
    buffer: Buffer = key("spring, rubber, none or beam", Buffer.SPRING)
    spring_rate: _Rate | None = key("of one spring")
    spring_wire: _Wire | None = key("diameter of the wire")
    spring_coil: _Coil | None = key("mean diameter of the coil")
    spring_active_coils: Annotated[Number, Field(ge=0.5, le=100.0)] | None = key(
        "active coils, without the dead ends; no quotes"
    )
    spring_material: str = key(
        "such as music wire, chrome-vanadium", "", left_out="spring steel"
    )
    spring_free_length: SpringLength | None = key("without load")
    spring_solid_length: SpringLength | None = key("coils touching")
    spring_preload: _SpringLoad | None = key(
        "load under which the spring begins to give way, where it is held together",
        left_out="0 N",
    )
    spring_loads: Annotated[tuple[Quantity, ...], _SPRING_LOADS] = key(
        'two loads laid on one spring, ["2 kN", "6 kN"]: with spring_lengths its rate',
        (),
    )
    spring_lengths: Annotated[tuple[Quantity, ...], _SPRING_LENGTHS] = key(
        "length of that spring under each of the two loads", ()
    )
    rod_free: _Rod | None = key("length of the rod that is free to swing")

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Two loads and two lengths make one rate; a spring pushes back."""
        loads, lengths = written.get("spring_loads"), written.get("spring_lengths")
        if loads is None and lengths is None:
            return
        for name, value in (("spring_loads", loads), ("spring_lengths", lengths)):
            if not isinstance(value, list) or len(value) != 2:
                yield name, "write two, one for each load, in the same order"
                return
        if "spring_rate" in written:
            yield "spring_loads", "tell the rate again; take out these or spring_rate"
            return
        more = _difference(loads, Dimension.FORCE)
        longer = _difference(lengths, Dimension.LENGTH)
        if more is not None and longer is not None and more * longer >= 0.0:
            yield (
                "spring_lengths",
                "a spring is shorter under the larger load; check both readings",
            )


class RopeTable(Table):
    """Only what differs from rope to rope."""

    number: RopeNumber = key("painted on the rope or the rod", ...)
    stagger: _Stagger | None = key(
        "how much longer its free length is than the span's; may be negative",
        left_out="0, or not known",
    )
    free_lengths: Annotated[dict[SpanName, FreeLength], Form.LENGTHS] = key(
        'free length read on this rope, by span: { "top" = "3.55 m" }',
        {},
        left_out="the span's with the stagger",
    )
    take_up_left: _ThreadLeft | None = key("thread left to the plate")
    ease_left: _ThreadLeft | None = key("thread left away from it")
    groove: Whole | None = key("of the sheave")
    linear_density: _LinearDensity | None = key(
        "mass per length of this rope, from another reel; the set needs its own",
        left_out="the set's",
    )

    @property
    def built(self) -> Rope:
        """The rope."""
        return Rope(**{**dict(self), "free_lengths": tuple(self.free_lengths.items())})


Named = TypeVar("Named", SpanTable, HitchTable, RopeTable)


def joined(tables: Sequence[Named], naming: str) -> tuple[Named, ...]:
    """Join tables of one name in the order met: a later one completes an earlier."""
    found: dict[object, Named] = {}
    for table in tables:
        name = getattr(table, naming)
        update = {field: getattr(table, field) for field in table.model_fields_set}
        earlier = found.get(name)
        if earlier and "free_lengths" in update:
            lengths = {**dict(earlier)["free_lengths"], **update["free_lengths"]}
            update["free_lengths"] = lengths
        found[name] = earlier.model_copy(update=update) if earlier else table
    return tuple(found.values())


class SetTable(Table):
    """The ropes of the set."""

    n_ropes: RopeNumber = key(
        "how many, 1 to 12; one rope is read but gives no result", ..., alias="ropes"
    )
    diameter: _Diameter | None = key("nominal diameter")
    construction: str = key(
        'such as "8x19 FC"; with the diameter it gives the linear density from a '
        'table; "coated": shares only, unless a data sheet gives the linear density',
        "",
    )
    linear_density: _LinearDensity | None = key(
        "mass per length of one rope",
        left_out="from diameter and construction; else shares only",
    )
    rope_length: _RopeLength | None = key("hitch to hitch")
    axial_rigidity: _Rigidity | None = key(
        "EA of one rope: force over relative stretch",
        left_out="from diameter and construction",
    )
    sockets: Annotated[str, AfterValidator(_one_height)] = key(
        '"one height" if all sockets of the hitch stand level',
        "",
        left_out="not said: lengths per rope are needed",
    )

    @property
    def built(self) -> RopeSet:
        """The set, without ropes, spans and hitches."""
        keys = dict(self)
        return RopeSet(
            has_sockets_at_one_height=bool(keys.pop("sockets").strip()), **keys
        )
