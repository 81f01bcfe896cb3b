"""What `start` asks, in order, and how an answer is read to keys of the record."""

import contextlib
import datetime as dt
import re
from collections.abc import Sequence
from enum import Enum
from operator import methodcaller
from typing import Any

from tension.catalogue.rules import find_rule, rule_names
from tension.cli import asking
from tension.cli.asking import Known, Question
from tension.cli.options import read_day
from tension.errors import InvalidValueError
from tension.files.record_tables import (
    ONE_HEIGHT,
    require_readable,
    typed_value,
    types_of_key,
)
from tension.files.table_model import Measured
from tension.files.toml_text import Value
from tension.installation import Buffer, split_rope_type
from tension.quantity.units import Dimension, Quantity
from tension.workflow.adding_readings import read_pairs, read_values

SHORTEST = 0.05  # what a stagger leaves of a free length at least [m]
Lengths = tuple[tuple[str, ...], tuple[str, ...], str]
"""Free lengths as typed, empty where not known, or one and staggers; the sockets."""


_has_hitch = methodcaller("says", "at")
"""Whether it is known where the nuts are."""


def today() -> dt.date:
    """Tell the day."""
    return dt.datetime.now().astimezone().date()


def _key(place: str, **more: Any) -> Question:
    """A question for one key of the record, which is read as the record reads it."""
    key = place.partition(".")[2]
    types = list(types_of_key(place))
    enums = (one for one in types if isinstance(one, type) and issubclass(one, Enum))
    words = tuple(str(word) for word in next(enums, ()))
    measured = next((one for one in types if isinstance(one, Measured)), None)

    def read(line: str, known: Known) -> Value:
        if words:
            return asking.one_of(words)(line)
        if measured:
            values = _values(line, known, measured.dimension, key)
            if len(values) != 1:
                raise InvalidValueError(f'"{line[:40]}" must be one number')
            line = values[0].text
        value = typed_value(place, line)
        require_readable(place, value, known.n_ropes)
        return value

    return Question(key, (place,), **{"read": read, "words": ", ".join(words), **more})


def _values(
    line: str, known: Known, dimension: Dimension, what: str
) -> tuple[Quantity, ...]:
    """The numbers of a line; where none has a unit, it is asked for once."""
    return known.with_unit(lambda text: read_values(text, dimension), line, what)


_RULES = [name for name in rule_names() if name != find_rule(None).name]


def _read_rule(line: str, known: Known) -> tuple[str, str]:
    """A rule by its number or name, or a limit; the other is empty."""
    if line.isdigit() and 1 <= int(line) <= len(_RULES):
        return _RULES[int(line) - 1], ""
    if "%" in line:
        require_readable("rule.limit", line, known.n_ropes)
        return "", line
    return asking.one_of(_RULES)(line), ""


def _read_rope_type(line: str, known: Known) -> tuple[str, str]:
    """Diameter and construction."""
    size, construction = split_rope_type(line)
    require_readable("set.diameter", size, known.n_ropes)
    return size, construction


def _read_spring(line: str, known: Known) -> tuple[str, ...]:
    """Rate, then free and solid length if told."""
    found = re.search(r"([0-9]+(?:[.,][0-9]+)?)\s*([A-Za-z]+/[A-Za-z]+)", line)
    if found is None:
        raise InvalidValueError("write the rate with its unit first, like 150 N/mm")
    rest = (line[: found.start()] + " " + line[found.end() :]).strip(" ,;")
    lengths = _values(rest, known, Dimension.LENGTH, "spring") if rest else ()
    if len(lengths) > 2:
        raise InvalidValueError("after the rate come free length and solid length")
    sorted_texts = [one.text for one in sorted(lengths, key=lambda one: -one.value)]
    texts = found[0], *sorted_texts
    for place, text in zip(_SPRING, texts, strict=False):
        require_readable(place, text, known.n_ropes)
    return (*texts, "", "")[:3]


def _read_thread_left(line: str, known: Known) -> list[tuple[str, ...]]:
    """Thread left of every rod: all towards the plate, all away from it."""
    pairs = known.with_unit(read_pairs, line, "thread")
    if len(pairs) != known.n_ropes:
        raise InvalidValueError(
            f"{len(pairs)} pairs for {known.n_ropes} ropes; give one for each"
        )
    return [tuple(one.text for one in way) for way in zip(*pairs, strict=True)]


def _lengths_shown(
    free: Sequence[str] = (), staggers: Sequence[str] = (), sockets: str = ""
) -> str:
    """The lengths in the order of the ropes."""
    if staggers:
        return f"{free[0]}, then " + ", ".join(staggers)
    ending = f", all at {sockets}" if sockets else ""
    return ", ".join(length or "?" for length in free) + ending


def _read_lengths(line: str, known: Known) -> Lengths:
    """One length, one for each rope, or that of rope 1 and how much more the others."""
    n_ropes = known.n_ropes
    first, *others = _values(line, known, Dimension.LENGTH, "free length")
    _require_free_lengths([first])
    if any(one.text[0] in "+-\u2212" or one.value == 0 for one in others):
        return _staggered(first, others, n_ropes)
    _require_free_lengths(others)
    lengths = [one.text for one in (first, *others)]
    if len(lengths) > n_ropes:
        raise InvalidValueError(f"{len(lengths)} lengths for {n_ropes} ropes")
    if len(lengths) == 1 and n_ropes > 1:
        question = f"Do all {n_ropes} sockets stand at one height"
        try:
            if known.same_height or asking.ask_yes(question, skipped=False):
                return tuple(lengths), (), ONE_HEIGHT
        except asking.EndedError:
            return tuple(lengths), (), ""
    _ask_one_by_one(lengths, known)
    return (*lengths, *[""] * n_ropes)[:n_ropes], (), ""


def _staggered(first: Quantity, others: Sequence[Quantity], n_ropes: int) -> Lengths:
    """The length of rope 1, and how much longer the others are."""
    if len(others) != n_ropes - 1:
        raise InvalidValueError(
            f"after the length of rope 1 come {n_ropes - 1} numbers, how much longer "
            f"each of the others is; got {len(others)}"
        )
    for other in others:
        require_readable("rope.stagger", other.text, n_ropes)
        if first.value + other.value < SHORTEST:
            raise InvalidValueError(f"{other.text} leaves nothing of {first.text}")
    return (first.text,), ("0 mm", *(other.text for other in others)), ""


def _ask_one_by_one(lengths: list[str], known: Known) -> None:
    """Ask for the lengths of further ropes; Enter ends, those typed are kept."""
    n_ropes = known.n_ropes

    def read(line: str) -> list[str]:
        values = _values(line, known, Dimension.LENGTH, "free length")
        _require_free_lengths(values)
        if len(lengths) + len(values) > n_ropes:
            raise InvalidValueError(f"there are {n_ropes} ropes")
        return [value.text for value in values]

    with contextlib.suppress(asking.EndedError):
        while len(lengths) < n_ropes:
            question = f"Free length of rope {len(lengths) + 1} (Enter ends)"
            try:
                more: list[str] = asking.ask(question, read, [])
            except asking.BackError:
                lengths.pop()
                if not lengths:
                    raise
            else:
                if not more:
                    return
                lengths += more


def _require_free_lengths(lengths: Sequence[Quantity]) -> None:
    """Refuse lengths that no rope has."""
    for length in lengths:
        require_readable("span.free_length", length.text, 0)


_SPRING = ("hitch.spring_rate", "hitch.spring_free_length", "hitch.spring_solid_length")

QUESTIONS: tuple[Question, ...] = (
    _key("lift.name"),
    _key(
        "visit.date",
        read=lambda line, _: today() if line.lower() == "today" else read_day(line),
        shown=str,
    ),
    _key("visit.measured_by"),
    _key("lift.drive"),
    _key("lift.roping"),
    _key("lift.car_mass"),
    Question(
        "rule",
        ("rule.use", "rule.limit"),
        _read_rule,
        "; ".join(f"{i} {name}" for i, name in enumerate(_RULES, start=1)),
    ),
    Question("rope_type", ("set.diameter", "set.construction"), _read_rope_type),
    _key("set.linear_density"),
    _key("set.axial_rigidity"),
    _key("span.side"),
    _key("span.position"),
    Question(
        "lengths",
        ("rope.free_lengths", "rope.stagger", "set.sockets"),
        _read_lengths,
        shown=_lengths_shown,
    ),
    _key("series.people"),
    _key("series.load"),
    _key("series.arrived"),
    _key("series.neighbours"),
    _key("hitch.at"),
    _key(
        "hitch.rows",
        is_wanted=_has_hitch,
        shown=lambda rows=(): ", ".join(" ".join(map(str, row)) for row in rows),
    ),
    _key("hitch.thread", is_wanted=_has_hitch),
    _key("hitch.buffer", is_wanted=_has_hitch),
    Question(
        "spring",
        _SPRING,
        _read_spring,
        is_wanted=lambda known: (
            known.says("at") and known.answers.get("buffer") in {None, Buffer.SPRING}
        ),
        shown=lambda *texts: ", ".join(filter(None, texts)),
    ),
    Question(
        "far_spring",
        ("hitch.far",),
        lambda line, _: asking.one_of(("same", "none"))(line),
        is_wanted=_has_hitch,
    ),
    _key("set.rope_length", is_wanted=_has_hitch),
    _key("lift.travel", is_wanted=methodcaller("says", "rope_length")),
    _key("hitch.rod_free", is_wanted=_has_hitch),
    Question(
        "thread_left",
        ("rope.take_up_left", "rope.ease_left"),
        _read_thread_left,
        is_wanted=_has_hitch,
        shown=lambda *ways: ", ".join(map(" / ".join, zip(*ways, strict=True))),
    ),
)
