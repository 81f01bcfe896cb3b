"""A new record to fill in: commented, with what is known already written."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from importlib.resources import files
from pathlib import Path

from tension.catalogue.rules import Metric
from tension.errors import InvalidValueError
from tension.files.atomic import write_atomically
from tension.files.toml_text import NewTable, Value, toml_value
from tension.installation import (
    MOST_ROPES,
    Buffer,
    Drive,
    Ends,
    HitchPlace,
    Roping,
    Side,
)
from tension.shown import barred_rows

RECORD_NAME = "visit.toml"
_COMMENT_COLUMN = 42

Known = Mapping[str, Value | None]
"""What is known of a table; empty or None is not."""


@dataclass(frozen=True, kw_only=True, slots=True)
class NewHitch:
    """What a person says of a hitch; texts as typed, with the unit."""

    at: HitchPlace
    rows: tuple[tuple[int, ...], ...] = ()  # of rope numbers as seen facing the nuts
    thread: str = ""  # of the rods
    buffer: Buffer | None = None  # what sits between plate and nut
    spring_rate: str = ""
    spring_free_length: str = ""
    spring_solid_length: str = ""
    rod_free: str = ""


def hitch_table(new: NewHitch) -> NewTable:
    """Write a hitch."""
    return NewTable(name="hitch", keys=tuple(_keys(new).items()))


def _keys(new: "NewHitch | NewRecord") -> dict[str, Value | None]:
    """What is known, by the names of the fields, which are keys of the record."""
    return {field.name: getattr(new, field.name) for field in fields(new)}


@dataclass(frozen=True, kw_only=True, slots=True)
class NewRecord:
    """What is known when a record is begun; all texts as a person typed them."""

    # 1 to 12
    n_ropes: int
    # of the lift
    name: str = ""
    drive: Drive | None = None
    roping: Roping | None = None
    # day of the visit
    date: dt.date | None = None
    measured_by: str = ""
    # all that hangs on the car side
    car_mass: str = ""
    travel: str = ""
    # where the nuts are; the one that is worked at first
    hitches: tuple[NewHitch, ...] = ()
    # hitch to hitch
    rope_length: str = ""
    # none, or one per rope: towards the plate and away from it
    thread_left: tuple[tuple[str, str], ...] = ()
    # day on which the cautions were shown whole
    cautions_shown: dt.date | None = None
    # the stretch that is plucked or pulled; named by position and side if empty
    span: str = ""
    side: Side | None = None
    position: str = ""
    ends: Ends | None = None
    # none, one for all ropes, or one per rope; empty where it is not known
    free_lengths: tuple[str, ...] = ()
    # none, or one per rope: how much longer each is than the free length
    staggers: tuple[str, ...] = ()
    has_sockets_at_one_height: bool = False
    # condition of the series
    people: str = ""
    load: str = ""
    arrived: str = ""
    neighbours: str = ""
    # what the ropes are
    diameter: str = ""
    construction: str = ""
    linear_density: str = ""
    axial_rigidity: str = ""
    # a published rule; its limit, and what the percentage is of
    rule: str = ""
    limit: str = ""
    metric: Metric | None = None
    # below the record, with forward slashes: one per rope in rope order, or one memo
    recordings: tuple[str, ...] = ()
    # ropes in the order plucked in one memo; empty if each has its own recording
    order: tuple[int, ...] = ()
    # how many plucks each rope got in the memo
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
    """Return the text of a new record; what is not known stands in it as an example.

    Raises
    ------
    InvalidValueError
        If the answers do not fit each other.
    """
    from jinja2 import Environment, StrictUndefined

    _require_fitting(new)
    environment = Environment(
        autoescape=False,  # noqa: S701 - a text, each value written as TOML
        undefined=StrictUndefined,
        trim_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["keys"] = _lines
    numbers = list(range(1, new.n_ropes + 1))
    is_dead_end = new.hitch is not None and new.hitch.startswith("dead-end")
    template = files("tension.files").joinpath("new_record.txt").read_text("utf-8")
    return environment.from_string(template).render(
        new=new,
        known=_keys(new),
        metrics=" | ".join(Metric),
        ends=" | ".join(Ends),
        rows=[row for row in (numbers[::2], numbers[1::2]) if row],
        sockets="one height" if new.has_sockets_at_one_height else "",
        span={
            "name": new.span_name,
            "free_length": new.free_lengths[0] if len(new.free_lengths) == 1 else "",
            "hitch_end": ("upper" if is_dead_end else "lower") if new.hitch else "",
        },
        hitches=[(_keys(hitch), "") for hitch in new.hitches] or [({}, "#")],
        ropes=list(_ropes(new)),
        example={"hitch": new.hitch or HitchPlace.CAR},
        pluck={"series": "as found", "kind": "pluck"},
        **_readings(new),
    )


def _lines(table: str, known: Known, mark: str = "", **more: Value | None) -> str:
    """Lines of a table: what is known, examples of the rest in comments.

    A row is its key; what stands there in a comment while it is not known, the key
    being left out where that is empty; what it means.
    """
    lines = []
    for key, example, meaning in barred_rows(table, 3):
        value = {**known, **more}.get(key)
        written = toml_value(value) if value else ""
        if written or example:
            line = f"{mark if written else '#'}{key} = {written or example}"
            lines.append(f"{line:<{_COMMENT_COLUMN}}  # {meaning}" if meaning else line)
    return "\n".join(lines) + "\n"


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


def _ropes(new: NewRecord) -> Iterator[Known]:
    """What differs from rope to rope; nothing where nothing does."""
    has_lengths = len(new.free_lengths) == new.n_ropes > 1
    if not (has_lengths or new.staggers or new.thread_left):
        return
    for i in range(new.n_ropes):
        towards, away = new.thread_left[i] if new.thread_left else ("", "")
        length = new.free_lengths[i] if has_lengths else ""
        yield {
            "number": i + 1,
            "free_lengths": {new.span_name: length} if length else None,
            "stagger": new.staggers[i] if new.staggers else "",
            "take_up_left": towards,
            "ease_left": away,
        }


def _readings(new: NewRecord) -> dict[str, object]:
    """The recordings that are known, or an example of each way to record."""
    n_files = len(new.recordings)
    if not n_files:
        order = [*range(1, new.n_ropes + 1), *range(new.n_ropes, 0, -1)]
        memo: Known = {"recording": "all.m4a", "ropes": order, "plucks_each": 3}
        return {"mark": "#", "singles": [(1, "rope-1.m4a")], "memo": memo}
    if new.order and not n_files == len(new.order) > 1:
        memo = {"recording": new.recordings[0], "ropes": new.order}
        memo = memo | {"plucks_each": new.plucks_each}
        return {"mark": "", "singles": [], "memo": memo}
    numbers = new.order or range(1, n_files + 1)
    singles = list(zip(numbers, new.recordings, strict=False))
    return {"mark": "", "singles": singles, "memo": None}
