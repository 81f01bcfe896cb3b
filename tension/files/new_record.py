"""A new record to fill in: commented, with what is known already written."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path

from tension.catalogue.rules import Metric
from tension.errors import InvalidValueError
from tension.files import new_record_rows as rows
from tension.files.atomic import write_atomically
from tension.files.toml_text import NewTable, Value, commented_table
from tension.installation import Buffer, Drive, Ends, HitchPlace, Roping, Side

RECORD_NAME = "visit.toml"
MOST_ROPES = 12

_HEAD = """\
# Record of one rope set on one day. Check it at any time: tension assess visit.toml
# Write each number with its unit, as you read it: "3.40 m", "10 ft 6 in", "35 lbf".
# Lines such as #key = "value" are examples: change the value and take the "#" away.
# Readings are added at the end, in order of time; nothing above needs a change.
"""


@dataclass(frozen=True, kw_only=True, slots=True)
class NewHitch:
    """What a person says of a hitch; all texts as typed.

    Attributes
    ----------
    at : HitchPlace
        Which hitch.
    rows : tuple of tuple of int
        Rope numbers row by row as seen facing the nuts.
    thread : str
        Of the rods.
    buffer : Buffer or None
        What sits between plate and nut.
    spring_rate, spring_free_length, spring_solid_length, rod_free : str
        As typed with the unit.
    """

    at: HitchPlace
    rows: tuple[tuple[int, ...], ...] = ()
    thread: str = ""
    buffer: Buffer | None = None
    spring_rate: str = ""
    spring_free_length: str = ""
    spring_solid_length: str = ""
    rod_free: str = ""


def hitch_table(new: NewHitch) -> NewTable:
    """Write a hitch."""
    return NewTable(
        name="hitch",
        keys=(
            ("at", new.at.value),
            ("rows", new.rows),
            ("thread", new.thread),
            ("buffer", new.buffer.value if new.buffer else ""),
            ("spring_rate", new.spring_rate),
            ("spring_free_length", new.spring_free_length),
            ("spring_solid_length", new.spring_solid_length),
            ("rod_free", new.rod_free),
        ),
    )


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


_OF_PLUCK: dict[str, Value | None] = {"series": "as found", "kind": "pluck"}


def record_text(new: NewRecord) -> str:
    """Return the text of a new record; what is not known stands in it as an example.

    Raises
    ------
    InvalidValueError
        If the answers do not fit each other.
    """
    _require_fitting(new)
    nuts = "# For a plan of turns: where the nuts are.\n"
    ropes = "# Only what differs from rope to rope; one table per rope.\n"
    readings = "# Readings. Two of one kind and rope in a series are repeats.\n"
    sections = [
        *_about_the_lift(new),
        "\n".join([nuts, *_hitches(new)]),
        "\n".join([ropes, *_ropes(new)]),
        _series(new),
        "\n".join([readings, *_readings(new)]),
    ]
    return _HEAD + "format = 1\n\n" + "\n".join(sections)


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


def _about_the_lift(new: NewRecord) -> Iterator[str]:
    """Lift, visit, rule, ropes and the stretch that is measured."""
    known = _answers(new)
    yield commented_table("[lift]", rows.LIFT, known)
    yield commented_table("[visit]", rows.VISIT, known)
    is_given = bool(new.rule or new.limit or new.metric)
    lines = rows.RULE.format("" if is_given else '"gb50310-2002-4.9.5"')
    yield commented_table(
        "[rule]",
        lines + (rows.RULE_CHANGED if is_given else ""),
        known | {"use": new.rule},
        said="Left out: 10 % below-highest, the program's own figure.",
        is_example=not is_given,
    )
    level = "one height" if new.has_sockets_at_one_height else ""
    yield commented_table(
        "[set]", rows.SET, known | {"ropes": new.n_ropes, "sockets": level}
    )
    is_dead_end = new.hitch is not None and new.hitch.startswith("dead-end")
    span: dict[str, Value | None] = {
        "name": new.span_name,
        "free_length": new.free_lengths[0] if len(new.free_lengths) == 1 else "",
        "hitch_end": ("upper" if is_dead_end else "lower") if new.hitch else "",
    }
    yield commented_table(
        "[[span]]",
        rows.SPAN,
        known | span,
        said="The stretch of rope that is plucked or pulled.",
    )


def _answers(new: NewRecord) -> dict[str, Value | None]:
    """What is known, by the names of the fields, which are keys of the record."""
    return {field.name: getattr(new, field.name) for field in fields(new)}


def _hitches(new: NewRecord) -> Iterator[str]:
    """Where the nuts are, or an example."""
    numbers = range(1, new.n_ropes + 1)
    example = [row for row in (list(numbers[::2]), list(numbers[1::2])) if row]
    lines = rows.HITCH.format(example)
    for hitch in new.hitches:
        yield commented_table("[[hitch]]", lines, dict(hitch_table(hitch).keys))
    if not new.hitches:
        yield commented_table("[[hitch]]", lines, {}, is_example=True)


def _ropes(new: NewRecord) -> Iterator[str]:
    """What differs from rope to rope, or an example."""
    has_lengths = len(new.free_lengths) == new.n_ropes > 1
    if not (has_lengths or new.staggers or new.thread_left):
        known: dict[str, Value | None] = {"free_lengths": {new.span_name: "3.55 m"}}
        yield commented_table("[[rope]]", rows.ROPE_EXAMPLE, known, is_example=True)
        return
    thread = '""' if new.thread_left else ""
    lines = rows.ROPE.format('""' if new.staggers else "", thread, thread)
    for i in range(new.n_ropes):
        length = new.free_lengths[i] if has_lengths else ""
        towards, away = new.thread_left[i] if new.thread_left else ("", "")
        known = {
            "number": i + 1,
            "free_lengths": {new.span_name: length} if length else None,
            "stagger": new.staggers[i] if new.staggers else "",
            "take_up_left": towards,
            "ease_left": away,
        }
        yield commented_table("[[rope]]", lines, known)


def _series(new: NewRecord) -> str:
    """The condition of the first round."""
    return commented_table(
        "[[series]]",
        rows.SERIES,
        _answers(new) | {"name": "as found", "span": new.span_name},
        said="One round over the set: same span, same load, same people.",
    )


def _readings(new: NewRecord) -> Iterator[str]:
    """The recordings that are known, and examples of every kind of reading."""
    if new.order and not len(new.recordings) == len(new.order) > 1:
        yield _memo(new.recordings[0], new.order, new.plucks_each)
    else:
        numbers = new.order or range(1, len(new.recordings) + 1)
        for number, recording in zip(numbers, new.recordings, strict=True):
            yield _pluck(number, recording)
    if not new.recordings:
        yield _pluck(1, "rope-1.m4a", is_example=True)
        there_and_back = (*range(1, new.n_ropes + 1), *range(new.n_ropes, 0, -1))
        yield _memo("all.m4a", there_and_back, 3, is_example=True)
    for heading, said, lines in rows.EXAMPLES:
        known = {"hitch": new.hitch or HitchPlace.CAR}
        yield commented_table(heading, lines, known, said=said, is_example=True)


def _pluck(number: int, recording: str, *, is_example: bool = False) -> str:
    """One recording of one rope."""
    known: dict[str, Value | None] = {"rope": number, "recording": recording}
    return commented_table(
        "[[reading]]", rows.PLUCK, _OF_PLUCK | known, is_example=is_example
    )


def _memo(
    recording: str,
    order: tuple[int, ...],
    plucks_each: int | None,
    *,
    is_example: bool = False,
) -> str:
    """One long recording of several ropes."""
    known = {"recording": recording, "ropes": order, "plucks_each": plucks_each}
    return commented_table(
        "[[reading]]", rows.MEMO, _OF_PLUCK | known, is_example=is_example
    )
