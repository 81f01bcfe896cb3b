"""A new record to fill in: commented, with what is known already written."""

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from tension.catalogue.rules import Metric
from tension.errors import InvalidValueError
from tension.files.atomic import write_atomically
from tension.files.new_hitch import NewHitch
from tension.files.new_record_readings import reading_lines, rope_lines
from tension.files.toml_text import Lines
from tension.installation import Drive, Ends, HitchPlace, Roping, Side

RECORD_NAME = "visit.toml"
MOST_ROPES = 12

_HEAD = """\
# Record of one rope set on one day. Check it at any time: tension assess visit.toml
# Write each number with its unit, as you read it: "3.40 m", "10 ft 6 in", "35 lbf".
# Lines such as #key = "value" are examples: change the value and take the "#" away.
# Readings are added at the end, in order of time; nothing above needs a change.
"""


@dataclass(frozen=True, kw_only=True, slots=True)
class NewRecord:
    """What is known when a record is begun; all texts as a person typed them.

    Attributes
    ----------
    n_ropes : int
        Number of ropes, 1 to 12. [1]
    name : str
        Of the lift.
    drive : Drive or None
        What moves the car.
    roping : Roping or None
        Roping ratio.
    date : date or None
        Day of the visit.
    measured_by : str
        Who measured.
    car_mass : str
        All that hangs on the car side.
    travel : str
        Of the car.
    hitches : tuple of NewHitch
        Where the nuts are; the one that is worked at first.
    rope_length : str
        Hitch to hitch.
    thread_left : tuple of (str, str)
        None, or one per rope: towards the plate and away from it.
    cautions_shown : date or None
        Day on which the cautions were shown whole.
    span : str
        Name of the stretch that is plucked or pulled; made from position and side if
        empty.
    side : Side or None
        Side of the drive sheave.
    position : str
        Car position.
    ends : Ends or None
        What holds the two ends.
    free_lengths : tuple of str
        None, one for all ropes, or one per rope; empty where it is not known.
    staggers : tuple of str
        None, or one per rope; how much longer each is than the free length.
    has_sockets_at_one_height : bool
        Whether the sockets stand at one height.
    people, load, arrived, neighbours : str
        Condition of the series.
    diameter, construction, linear_density, axial_rigidity : str
        What the ropes are.
    rule, limit : str
        Name of a published rule; limit of the rule.
    metric : Metric or None
        What the percentage is of.
    recordings : tuple of str
        Paths below the record, with forward slashes: one per rope in rope order, or
        one memo.
    order : tuple of int
        Ropes in the order plucked in one memo; empty if each has its own recording.
    plucks_each : int or None
        How many plucks each rope got in the memo.
    """

    n_ropes: int
    name: str = ""
    drive: Drive | None = None
    roping: Roping | None = None
    date: dt.date | None = None
    measured_by: str = ""
    car_mass: str = ""
    travel: str = ""
    hitches: tuple[NewHitch, ...] = ()
    rope_length: str = ""
    thread_left: tuple[tuple[str, str], ...] = ()
    cautions_shown: dt.date | None = None
    span: str = ""
    side: Side | None = None
    position: str = ""
    ends: Ends | None = None
    free_lengths: tuple[str, ...] = ()
    staggers: tuple[str, ...] = ()
    has_sockets_at_one_height: bool = False
    people: str = ""
    load: str = ""
    arrived: str = ""
    neighbours: str = ""
    diameter: str = ""
    construction: str = ""
    linear_density: str = ""
    axial_rigidity: str = ""
    rule: str = ""
    limit: str = ""
    metric: Metric | None = None
    recordings: tuple[str, ...] = ()
    order: tuple[int, ...] = ()
    plucks_each: int | None = None

    @property
    def hitch(self) -> HitchPlace | None:
        """The hitch that is worked at."""
        return self.hitches[0].at if self.hitches else None

    @property
    def span_name(self) -> str:
        """Name of the span, made from position and side if none was given."""
        if self.span:
            return self.span
        side = f"{self.side or Side.CAR} side"
        return f"{self.position}, {side}" if self.position else side


def write_new_record(new: NewRecord, folder: Path) -> Path:
    """Write a new record into a folder; an old one is never touched.

    Raises
    ------
    ExistingFileError
        If the folder holds a record already.
    FileFormatError
        If the folder is missing or cannot be written to.
    InvalidValueError
        If the answers do not fit each other.
    """
    text = record_text(new)
    path = folder / RECORD_NAME
    write_atomically(path, text, overwrite=False)
    return path


def record_text(new: NewRecord) -> str:
    """Return the text of a new record.

    Returns
    -------
    str
        TOML with comments; what is not known stands as an example in a comment.

    Raises
    ------
    InvalidValueError
        If the answers do not fit each other.
    """
    _require_fitting(new)
    sections = [
        _lift_lines(new),
        _visit_lines(new),
        _rule_lines(new),
        _set_lines(new),
        _span_lines(new),
        _hitch_lines(new),
        rope_lines(
            new.n_ropes,
            new.span_name,
            new.free_lengths,
            new.staggers,
            new.thread_left,
        ),
        _series_lines(new),
        reading_lines(
            new.n_ropes,
            new.recordings,
            new.order,
            new.plucks_each,
            hitch=new.hitch or HitchPlace.CAR,
        ),
    ]
    return _HEAD + "format = 1\n\n" + "\n".join(lines.text() for lines in sections)


def _require_fitting(new: NewRecord) -> None:
    """Check that counts of answers fit the number of ropes."""
    n = new.n_ropes
    if not 1 <= n <= MOST_ROPES:
        raise InvalidValueError(f"number of ropes must be 1 to {MOST_ROPES}, got {n}")
    for what, given in (
        ("free lengths", new.free_lengths),
        ("staggers", new.staggers),
        ("rods", new.thread_left),
    ):
        allowed = {0, 1, n} if what == "free lengths" else {0, n}
        if len(given) not in allowed:
            raise InvalidValueError(
                f"{len(given)} {what} were given for {n} ropes; give one per rope"
            )
    if new.order and len(new.recordings) not in {1, len(new.order)}:
        raise InvalidValueError(
            "an order of ropes goes with one memo or a file for each, got "
            f"{len(new.recordings)}"
        )
    if not all(1 <= rope <= n for rope in new.order):
        raise InvalidValueError(f"the order names a rope that is not 1 to {n}")
    if new.recordings and not new.order and len(new.recordings) != n:
        raise InvalidValueError(
            f"{len(new.recordings)} recordings were given for {n} ropes; give one per "
            "rope, or one memo and the order of its ropes"
        )


def _lift_lines(new: NewRecord) -> Lines:
    """Write what the installation is."""
    lines = Lines("[lift]")
    lines.add("name", new.name, "name or number, address", "Lift 2")
    lines.add("drive", new.drive, "traction | drum | hydraulic", "traction")
    lines.add("roping", new.roping, "1:1 | 2:1 | 4:1 | 1:2 (roped jack)", "1:1")
    lines.add(
        "car_mass",
        new.car_mass,
        "all that hangs on that side; checks the sum",
        "1840 kg",
    )
    needs = "of the car; how many round trips a turn needs"
    lines.add("travel", new.travel, needs, "30 m")
    return lines


def _visit_lines(new: NewRecord) -> Lines:
    """Write who, when and where."""
    lines = Lines("[visit]")
    day = new.date.isoformat() if new.date else ""
    lines.add_raw("date", day, "year-month-day", "2026-11-20")
    lines.add("measured_by", new.measured_by, "name, firm", "name")
    lines.add("qualification", "", "licence or certificate number", "number")
    lines.add("witness", "", "who saw it", "name")
    lines.add("note", "", "anything a reader must know", "text")
    shown = new.cautions_shown.isoformat() if new.cautions_shown else ""
    if shown:
        lines.add_raw("cautions_shown", shown, "whole, when this record began", "")
    return lines


def _rule_lines(new: NewRecord) -> Lines:
    """Write which rule decides."""
    is_given = bool(new.rule or new.limit or new.metric)
    lines = Lines("[rule]", is_example=not is_given)
    lines.say("Left out: 10 % below-highest, the program's own figure.")
    if new.rule or not is_given:
        example = "gb50310-2002-4.9.5"
        lines.add("use", new.rule, "a published rule, by its name here", example)
    metrics = " | ".join(Metric)
    if is_given:
        lines.add("metric", new.metric, metrics, "below-highest")
        lines.add("limit", new.limit, "equal at or under it", "10 %")
    return lines


def _set_lines(new: NewRecord) -> Lines:
    """Write what the ropes are."""
    lines = Lines("[set]")
    lines.add_raw("ropes", str(new.n_ropes), "how many", "")
    lines.add("diameter", new.diameter, "nominal, from the tag", "13 mm")
    kinds = 'with the diameter gives newtons; "coated": shares only'
    lines.add("construction", new.construction, kinds, "8x19 FC")
    density = "if known better, from certificate or data sheet"
    lines.add("linear_density", new.linear_density, density, "0.575 kg/m")
    if new.axial_rigidity:
        lines.add("axial_rigidity", new.axial_rigidity, "EA off the data sheet", "")
    lines.add(
        "rope_length", new.rope_length, "hitch to hitch; for a plan of turns", "38 m"
    )
    height = "one height" if new.has_sockets_at_one_height else ""
    level = "only if all stand level; else lengths per rope below"
    lines.add("sockets", height, level, "one height")
    return lines


def _span_lines(new: NewRecord) -> Lines:
    """Write the stretch that is measured."""
    lines = Lines("[[span]]")
    lines.say("The stretch of rope that is plucked or pulled.")
    lines.add("name", new.span_name, "the series below name it", "")
    lines.add("side", new.side, "car | counterweight", "car")
    lines.add("position", new.position, "car position", "top landing")
    one = new.free_lengths[0] if len(new.free_lengths) == 1 else ""
    tangent = "lower node to where the rope leaves the sheave"
    lines.add("free_length", one, tangent, "3.40 m")
    clip = 'or "clip", where the tail is tied to the live rope'
    lines.add("length_from", "", clip, "socket")
    lines.add("ends", new.ends, " | ".join(Ends), "socket-sheave")
    is_dead_end = new.hitch is not None and new.hitch.startswith("dead-end")
    end = ("upper" if is_dead_end else "lower") if new.hitch else ""
    lines.add("hitch_end", end, "lower | upper: where the nuts are", "lower")
    return lines


def _hitch_lines(new: NewRecord) -> Lines:
    """Write where the nuts are."""
    lines = Lines()
    lines.say("For a plan of turns: where the nuts are.")
    for hitch in new.hitches or (None,):
        lines.add_table(_one_hitch(hitch, new.n_ropes))
    return lines


def _one_hitch(hitch: NewHitch | None, n_ropes: int) -> Lines:
    """Write one hitch, or an example of one."""
    lines = Lines("[[hitch]]", is_example=hitch is None)
    known = hitch or NewHitch(at=HitchPlace.CAR)
    places = "car | counterweight | dead-end-car | dead-end-counterweight"
    lines.add("at", known.at if hitch else "", places, "car")
    numbers = range(1, n_ropes + 1)
    example = str([row for row in (list(numbers[::2]), list(numbers[1::2])) if row])
    rows = str([list(row) for row in known.rows]) if known.rows else ""
    lines.add_raw("rows", rows, "as seen facing the nuts", example)
    lines.add("thread", known.thread, '"M16 left", "5/8-11"', "M16")
    lines.add("buffer", known.buffer, "spring | rubber | none | beam", "spring")
    lines.add("spring_rate", known.spring_rate, "", "150 N/mm")
    lines.add("spring_free_length", known.spring_free_length, "", "160 mm")
    solid = known.spring_solid_length
    lines.add("spring_solid_length", solid, "coils touching", "96 mm")
    if known.rod_free:
        lines.add("rod_free", known.rod_free, "of the rods, free to swing", "0.15 m")
    return lines


def _series_lines(new: NewRecord) -> Lines:
    """Write the condition of the first round."""
    lines = Lines("[[series]]")
    lines.say("One round over the set: same span, same load, same people.")
    lines.add("name", "as found", "readings below name it", "")
    lines.add("span", new.span_name, "", "")
    lines.add("arrived", new.arrived, "direction the car came from: up | down", "up")
    lines.add("taken", "", "date, time, offset from UTC", "2026-11-20 10:12 +00:00")
    lines.add("load", new.load, "in the car", "empty")
    lines.add("people", new.people, "who stands on the car", "two on the car top")
    if new.neighbours:
        lines.add("neighbours", new.neighbours, "free | damped", "free")
    return lines
