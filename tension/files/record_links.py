"""What tables of a record refer to, and what contradicts itself between them."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf
from pathlib import Path, PurePosixPath
from typing import Annotated, Any, cast

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo

from tension.catalogue.ropes import contradicts, lay_fault, strands_of
from tension.condition.checks import CheckItem
from tension.errors import InvalidValueError
from tension.files.table_model import (
    Contradictions,
    Measured,
    Table,
    Whole,
    cut,
    listed,
)
from tension.installation import MOST_ROPES, HitchPlace
from tension.measurement.readings import Method
from tension.quantity.units import Dimension, Quantity
from tension.telling.condition import lay_fault_text

_LONGEST_PATH = 500  # characters of a path


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What a record describes and its other tables may refer to."""

    folder: Path  # where the record lies
    n_ropes: int | None = None  # None if it is not written or wrong
    # of spans, series and hitches, by their table
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


NAMING_KEYS = {"span": "name", "series": "name", "hitch": "at", "rope": "number"}
"""By which key other tables name a table; each value stands once."""

COMPLETED = frozenset({"span", "hitch", "rope"})
"""Tables that a later one of the same name may complete, key by key."""


def known_from(document: Mapping[str, Any], folder: Path) -> Known:
    """Gather what a record describes, right or wrong in the rest."""
    rope_set = document.get("set")
    n_ropes = rope_set.get("ropes") if isinstance(rope_set, dict) else None
    is_number = type(n_ropes) is int and 1 <= n_ropes <= MOST_ROPES
    names: dict[str, tuple[str, ...]] = {}
    for table, key in NAMING_KEYS.items():
        written = listed(document.get(table, []))
        told = [one.get(key) for one in written if isinstance(one, dict)]
        names[table] = tuple(dict.fromkeys(n for n in told if isinstance(n, str)))
    return Known(folder=folder, n_ropes=n_ropes if is_number else None, names=names)


def _known(info: ValidationInfo) -> Known:
    """What the record describes."""
    return cast("Known", info.context)


def _rope(number: int, info: ValidationInfo) -> int:
    """A rope of the set, or of any if their number is not known."""
    most = _known(info).n_ropes or MOST_ROPES
    if number <= most:
        return number
    raise InvalidValueError(f"must be 1 to {most}, not {number}")


def _rows(value: object, info: ValidationInfo) -> tuple[tuple[int, ...], ...]:
    """Rows of rope numbers, each rope of the set once."""
    rows: tuple[Any, ...] = listed(value)
    is_of_rows = all(isinstance(row, list) and row for row in rows)
    numbers = [number for row in rows for number in row] if is_of_rows else [None]
    if not all(type(number) is int and number >= 1 for number in numbers):
        raise InvalidValueError("must be like [[1, 3, 5], [2, 4, 6]], row by row")
    n_ropes = _known(info).n_ropes
    wanted = range(1, n_ropes + 1) if n_ropes else numbers
    if foreign := [number for number in numbers if number not in wanted]:
        raise InvalidValueError(f"ropes must be 1 to {n_ropes}, not {foreign[0]}")
    if twice := [number for number in numbers if numbers.count(number) > 1]:
        raise InvalidValueError(f"names rope {twice[0]} twice; each rope stands once")
    if missing := [str(number) for number in wanted if number not in numbers]:
        raise InvalidValueError(
            f"leaves out rope {', '.join(missing)}; name every rope once"
        )
    return tuple(tuple(row) for row in rows)


@dataclass(frozen=True, slots=True)
class _NameOf:
    """Reads the name of a table of the record; if left out, that of the only one."""

    table: str

    def __call__(self, value: object, info: ValidationInfo) -> object:
        """The name, or why it cannot be one."""
        names = _known(info).names.get(self.table, ())
        if not isinstance(value, str | None) or value in names:
            return value
        if not value and len(names) == 1:
            return names[0]
        some = [f'"{name}"' for name in names[:6]] + ["..."] * (len(names) > 6)
        there = f"there are {', '.join(some)}" if names else f"add a [[{self.table}]]"
        if not value:
            raise InvalidValueError(f"is missing; {there}")
        if self.table == "hitch" and value in list(HitchPlace):
            raise InvalidValueError(
                f'no hitch at "{value}" is described; add [[hitch]] at = "{value}"'
            )
        if self.table == "hitch":
            return value  # told as none of the words
        raise InvalidValueError(f'there is no {self.table} "{value}"; {there}')


def _path(text: str, info: ValidationInfo) -> str:
    """A path beside or below the record; empty if left out."""
    if fault := path_fault(text, _known(info).folder):
        raise InvalidValueError(fault)
    return text


def path_fault(text: str, folder: Path) -> str:
    """Say why a path may not stand in a record, and what to write; empty if it may."""
    shown = cut(text)
    if not text or len(text) > _LONGEST_PATH or not text.isprintable():
        return "is no path; write one beside or below the record, like rope-1.m4a"
    parts = PurePosixPath(text.replace("\\", "/")).parts
    if not parts or parts[0] == "/" or ":" in parts[0] or ".." in parts:
        return f'must lie beside or below the record, not "{shown}"'
    if "\\" in text:
        return f'write "/" between folders, not "\\": {shown}'
    try:
        if not (folder / text).resolve().is_relative_to(folder.resolve()):
            return (
                f'"{shown}" is a link that leads out of the record\'s folder; copy it'
            )
    except (OSError, RuntimeError, ValueError):
        return f'"{shown}" cannot be followed; check the name'
    return ""


def _hitch_of_a_spring(value: object, info: ValidationInfo) -> object:
    """A spring is at a hitch that is described; the rest needs none."""
    is_spring = info.data.get("kind") is Method.SPRING
    return _hitch(value, info) if is_spring else value


_ASKED = Field(validate_default=True)  # a name that is looked for where it is left out
_hitch = _NameOf("hitch")
_RopeNumber = Annotated[Whole, AfterValidator(_rope)]
_SpanName = Annotated[str, BeforeValidator(_NameOf("span"))]
_SeriesName = Annotated[str, BeforeValidator(_NameOf("series"))]
_RecordPath = Annotated[str, AfterValidator(_path)]
REFERENCES: Mapping[str, Any] = {
    "rope": _RopeNumber,
    "rope, if any": _RopeNumber | None,
    "ropes": tuple[_RopeNumber, ...],
    "rows": Annotated[tuple[tuple[int, ...], ...], BeforeValidator(_rows)],
    "the span": Annotated[_SpanName, _ASKED],
    "the series": Annotated[_SeriesName, _ASKED],
    "a series": _SeriesName,
    "the hitch": Annotated[HitchPlace, BeforeValidator(_hitch), _ASKED],
    "hitch of a spring": Annotated[
        HitchPlace | None, BeforeValidator(_hitch_of_a_spring), _ASKED
    ],
    "path": _RecordPath,
    "paths": Annotated[tuple[_RecordPath, ...], BeforeValidator(listed)],
    "lengths by span": dict[
        _SpanName, Annotated[Quantity, Measured(Dimension.LENGTH, 0.05, 1000.0)]
    ],
}
"""How values are read that refer to what else stands in the record, or beside it."""

MOST_SERIES = 100  # series of a record
MOST_REPEATS = 50  # readings of one kind of a rope in a series
MOST_IN_ORDER = 200  # ropes in the order of one recording
_SHORTEST = 0.05  # free length that staggers must leave [m]


def contradictions(told: Table) -> Contradictions:
    """Find what cannot both be right in tables that are right by themselves."""
    yield from _named_twice(told)
    yield from _staggers(told)
    yield from _construction(told)
    yield from _lays(told)
    yield from _too_many(told)
    named = {one.recording for one in told.reading}
    for i, exclusion in enumerate(told.exclusion):
        if exclusion.recording and exclusion.recording not in named:
            fault = f'no reading names "{exclusion.recording}"; write it as there'
            yield ("exclusion", i, "recording"), fault
    is_unknown = not (told.set.linear_density or told.set.construction)
    for i, rope in enumerate(told.rope):
        if is_unknown and rope.linear_density:
            fault = "needs that of the set beside it; write linear_density into [set]"
            yield ("rope", i, "linear_density"), fault


def _named_twice(told: Table) -> Contradictions:
    """What other tables name stands once; or completed later, each key once."""
    for table, key in NAMING_KEYS.items():
        seen: dict[str | int, set[str]] = {}
        for i, one in enumerate(getattr(told, table)):
            name = getattr(one, key)
            shown = f'"{name}"' if isinstance(name, str) else f"{table} {name}"
            given = _given_keys(one, key, has_one_span=len(told.span) < 2)
            before = seen.get(name, set())
            if name in seen and (table not in COMPLETED or not given):
                yield (table, i, key), f"{shown} stands twice; give each its own"
            for other in sorted(given & before) if table in COMPLETED else ():
                yield (
                    (table, i, key),
                    f"{shown} stands twice and has {other} twice; keep one, or give "
                    "each its own",
                )
            seen[name] = before | given


def _given_keys(one: Table, naming: str, *, has_one_span: bool) -> set[str]:
    """Keys of a table, its name aside; free lengths span by span."""
    keys: set[str] = one.written - {naming}
    if "free_lengths" in keys:
        keys.remove("free_lengths")
        if has_one_span:  # two ways to tell one length
            return keys | {"stagger"}
        keys |= {f'free_lengths of "{span}"' for span in one.free_lengths}
    return keys


def _staggers(told: Table) -> Contradictions:
    """A stagger with sockets at one height, or one that leaves no length."""
    spans = [(one.free_length.value, one) for one in told.span if one.free_length]
    least, span = min(spans, key=lambda pair: pair[0], default=(inf, None))
    for i, rope in enumerate(told.rope):
        stagger = rope.stagger
        if stagger and stagger.value and told.set.sockets:
            yield (
                ("set", "sockets"),
                f"says one height, but rope {rope.number} has a stagger of "
                f"{stagger.text}; keep one of them",
            )
        if stagger and span and least + stagger.value < _SHORTEST:
            yield (
                ("rope", i, "stagger"),
                f"{stagger.text} leaves nothing of the free length "
                f'{span.free_length.text} of "{span.name}"; check both',
            )


def _too_many(told: Table) -> Contradictions:
    """More readings of one kind and rope in a series than anybody takes, or series."""
    if len(told.series) > MOST_SERIES:
        yield ("series", MOST_SERIES), f"at most {MOST_SERIES}; keep a record per visit"
    counts: Counter[tuple[str, str, int | None]] = Counter()
    for i, one in enumerate(told.reading):
        if len(one.ropes) > MOST_IN_ORDER:
            yield ("reading", i, "ropes"), f"at most {MOST_IN_ORDER} in one recording"
        lists = (one.forces, one.deflections, one.elapsed, one.lengths)
        repeats = max(1, *map(len, lists))
        for rope in dict.fromkeys((one.rope, *one.ropes)):
            place = (one.series, one.kind, rope)
            before = counts[place]
            counts[place] += repeats
            if before <= MOST_REPEATS < counts[place]:
                yield (
                    ("reading", i),
                    f"rope {rope} has more than {MOST_REPEATS} readings of one kind in "
                    "a series; leave some out of the record",
                )


def _construction(told: Table) -> Contradictions:
    """A class, or wires side by side, that the construction cannot have."""
    rope_class, construction = told.allowance.rope_class, told.set.construction
    if contradicts(rope_class, construction):
        yield (
            ("allowance", "rope_class"),
            f'is "{rope_class}", but the construction of [set] is "{construction}"; '
            "one of them is wrong",
        )
    strands = strands_of(construction)
    for i, finding in enumerate(told.finding):
        adjacent = finding.adjacent
        if adjacent and strands and adjacent > strands.most_outer:
            yield (
                ("finding", i, "adjacent"),
                f"is {adjacent}, but a strand of {strands.n_wires} wires has at most "
                f"{strands.most_outer} at its surface; broken is the key for all in "
                "the lay",
            )


def _lays(told: Table) -> Contradictions:
    """A length that is called a lay and can be none of these ropes."""
    lays: list[tuple[tuple[str | int, ...], Quantity | None, int]] = []
    for i, one in enumerate(told.finding):
        lays.append((("finding", i, "lay"), one.lay, one.lays or 1))
        lays.append((("finding", i, "baseline"), one.baseline, 1))
    for i, one in enumerate(told.check):
        if one.item is CheckItem.NEW_LAY:
            lays.append((("check", i, "length"), one.length, one.lays or 1))
    for place, length, count in lays:
        if fault := lay_fault(length, told.set.diameter, count):
            yield place, lay_fault_text(fault)
