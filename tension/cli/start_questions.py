"""What `start` asks, in order, and how an answer is read to fields of the record."""

import contextlib
import datetime as dt
import re
from collections.abc import Sequence
from typing import Any

from tension.catalogue.rules import find_rule, rule_names
from tension.catalogue.threads import parse_thread
from tension.cli import asking
from tension.cli.asking import Known, Question
from tension.cli.options import rope_rows
from tension.errors import InvalidValueError
from tension.installation import Buffer, Drive, HitchPlace, Roping, Side
from tension.quantity.units import Dimension, Quantity, parse_quantity, show_quantity
from tension.workflow.inputs import split_rope_type
from tension.workflow.typed_sheets import UnitMissingError
from tension.workflow.typed_sheets import read_pairs as read_typed_pairs

SHORTEST, LONGEST = 0.05, 1000.0  # [m], as a record has them
Lengths = tuple[tuple[str, ...], tuple[str, ...], bool]
"""Free lengths as typed, empty where not known, or one and staggers; one height."""


def _has_hitch(known: Known) -> bool:
    """Whether it is known where the nuts are."""
    return known.says("hitch")


def _has_spring(known: Known) -> bool:
    """Whether springs sit under the nuts, as far as it is known."""
    return _has_hitch(known) and known.answers.get("buffer") in {None, Buffer.SPRING}


def _has_rope_length(known: Known) -> bool:
    """Whether round trips can be worked out."""
    return _has_hitch(known) and known.says("rope_length")


def today() -> dt.date:
    """Tell the day."""
    return dt.datetime.now().astimezone().date()


def _one_of(key: str, words: Sequence[str], **more: Any) -> Question:
    """A question that is answered by one of a few words."""
    read = asking.one_of(words)
    return Question(key, lambda line, _: read(line), ", ".join(words), **more)


def _number(
    key: str, dimension: Dimension, least: float, most: float, **more: Any
) -> Question:
    """A question for one quantity in a range [SI]; its unit is asked once."""

    def read(line: str, known: Known) -> str:
        values = known.units.read_list(line, dimension, key)
        if len(values) != 1 or values[0].value <= 0:
            raise InvalidValueError(f'"{line[:40]}" must be one number above zero')
        if not least <= values[0].value <= most:
            shown = " to ".join(show_quantity(x, dimension) for x in (least, most))
            raise InvalidValueError(f"{values[0].text} cannot be; it is {shown}")
        return values[0].text

    return Question(key, read, **more)


def _read_date(line: str, _: Known) -> dt.date:
    """A day, in the one order that cannot be misread."""
    found = re.fullmatch(r"([0-9]{4})[-./ ]([0-9]{1,2})[-./ ]([0-9]{1,2})", line)
    if line.lower() == "today":
        return today()
    if found:
        with contextlib.suppress(ValueError):
            return dt.date(*map(int, found.groups()))
    raise InvalidValueError(f'write the date like 2026-11-20, not "{line[:30]}"')


def _published_rules() -> list[str]:
    """List the published rules."""
    return [name for name in rule_names() if name != find_rule(None).name]


def _read_rule(line: str, _: Known) -> tuple[str, str]:
    """A rule by its number or name, or a limit; the other is empty."""
    names = _published_rules()
    if line.isdigit() and 1 <= int(line) <= len(names):
        return names[int(line) - 1], ""
    if "%" in line:
        if not 0.0001 <= parse_quantity(line, Dimension.FRACTION).value <= 0.99:
            raise InvalidValueError(f"{line} is no limit; write it like 10 %")
        return "", line
    return asking.one_of(names)(line), ""


def _read_rope_type(line: str, _: Known) -> tuple[str, str]:
    """Diameter and construction."""
    size, construction = split_rope_type(line)
    if not 0.003 <= parse_quantity(size, Dimension.LENGTH).value <= 0.06:
        raise InvalidValueError(f"{size} is no diameter of a rope; check the unit")
    return size, construction


def _read_rows(line: str, known: Known) -> tuple[tuple[int, ...], ...]:
    """Rows of rope numbers, each rope once."""
    if not re.fullmatch(r"[0-9 ,/\[\]]+", line):
        raise InvalidValueError("write rows like 1 3 5 / 2 4 6")
    rows = rope_rows(line)
    if sorted(sum(rows, ())) != list(range(1, known.n_ropes + 1)):
        raise InvalidValueError(
            f"name each rope from 1 to {known.n_ropes} once, like 1 3 5 / 2 4 6"
        )
    return rows


def _read_thread(line: str, _: Known) -> str:
    """A thread that can be read."""
    parse_thread(line)
    return line


def _read_spring(line: str, known: Known) -> tuple[str, str, str]:
    """Rate, then free and solid length if told."""
    found = re.search(r"([0-9]+(?:[.,][0-9]+)?)\s*([A-Za-z]+/[A-Za-z]+)", line)
    if found is None:
        raise InvalidValueError("write the rate with its unit first, like 150 N/mm")
    rate = parse_quantity(found[0], Dimension.STIFFNESS)
    rest = (line[: found.start()] + " " + line[found.end() :]).strip(" ,;")
    lengths = known.units.read_list(rest, Dimension.LENGTH, "spring") if rest else ()
    texts = [one.text for one in sorted(lengths, key=lambda one: -one.value)]
    if len(texts) > 2 or any(not 0.005 <= one.value <= 2.0 for one in lengths):
        raise InvalidValueError("after the rate come free length and solid length")
    free, solid = (*texts, "", "")[:2]
    return rate.text, free, solid


def _read_pairs(line: str, known: Known) -> tuple[tuple[str, str], ...]:
    """Thread left of each rod, towards the plate and away from it, a pair per rope."""
    try:
        pairs = read_typed_pairs(line)
    except UnitMissingError:
        pairs = read_typed_pairs(line, asking.ask("Of what: mm, m, in", str, "mm"))
    if len(pairs) != known.n_ropes:
        raise InvalidValueError(
            f"{len(pairs)} pairs for {known.n_ropes} ropes; give one for each"
        )
    return tuple((towards.text, away.text) for towards, away in pairs)


def _lengths_shown(
    free: Sequence[str] = (), staggers: Sequence[str] = (), *is_one_height: bool
) -> str:
    """The lengths in the order of the ropes."""
    if staggers:
        return f"{free[0]}, then " + ", ".join(staggers)
    ending = ", all at one height" if any(is_one_height) else ""
    return ", ".join(length or "?" for length in free) + ending


def _read_lengths(line: str, known: Known) -> Lengths:
    """One length, one for each rope, or that of rope 1 and how much more the others."""
    n_ropes = known.n_ropes
    first, *others = known.units.read_list(line, Dimension.LENGTH, "free length")
    _require_free_length(first)
    if any(one.text[0] in "+-\u2212" or one.value == 0 for one in others):
        return _staggered(first, others, n_ropes)
    for one in others:
        _require_free_length(one)
    lengths = [one.text for one in (first, *others)]
    if len(lengths) > n_ropes:
        raise InvalidValueError(f"{len(lengths)} lengths for {n_ropes} ropes")
    if len(lengths) == 1 and n_ropes > 1:
        is_told = known.same_height or _is_one_height(n_ropes)
        if is_told or is_told is None:
            return tuple(lengths), (), bool(is_told)
    _ask_one_by_one(lengths, n_ropes, known.units)
    return (*lengths, *[""] * n_ropes)[:n_ropes], (), False


def _staggered(first: Quantity, others: Sequence[Quantity], n_ropes: int) -> Lengths:
    """The length of rope 1, and how much longer the others are."""
    if len(others) != n_ropes - 1:
        raise InvalidValueError(
            f"after the length of rope 1 come {n_ropes - 1} numbers, how much longer "
            f"each of the others is; got {len(others)}"
        )
    for other in others:
        if first.value + other.value < SHORTEST:
            raise InvalidValueError(f"{other.text} leaves nothing of {first.text}")
    return (first.text,), ("0 mm", *(other.text for other in others)), False


def _ask_one_by_one(lengths: list[str], n_ropes: int, units: asking.Units) -> None:
    """Ask for the lengths of further ropes; Enter ends, those typed are kept."""

    def read(line: str) -> list[str]:
        values = units.read_list(line, Dimension.LENGTH, "free length")
        for value in values:
            _require_free_length(value)
        if len(lengths) + len(values) > n_ropes:
            raise InvalidValueError(f"there are {n_ropes} ropes")
        return [value.text for value in values]

    none: list[str] = []
    while 0 < len(lengths) < n_ropes:
        try:
            question = f"Free length of rope {len(lengths) + 1} (Enter ends)"
            more = asking.ask(question, read, none)
        except asking.BackError:
            lengths.pop()
            continue
        except asking.EndedError:
            return
        if not more:
            return
        lengths += more
    if not lengths:
        raise InvalidValueError("once more, then")


def _is_one_height(n_ropes: int) -> bool | None:
    """Ask whether one length holds for all; None if no answer comes any more."""
    try:
        question = f"Do all {n_ropes} sockets stand at one height"
        return asking.ask_yes(question, skipped=False)
    except asking.BackError:
        raise InvalidValueError("once more, then") from None
    except asking.EndedError:
        return None


def _require_free_length(length: Quantity) -> None:
    """Refuse a length that no rope has."""
    if not SHORTEST <= length.value <= LONGEST:
        least = show_quantity(SHORTEST, Dimension.LENGTH)
        raise InvalidValueError(
            f"{length.text} is no free length; it is {least} to {LONGEST:.0f} m"
        )


_RULES = "; ".join(f"{i} {name}" for i, name in enumerate(_published_rules(), start=1))

QUESTIONS: tuple[Question, ...] = (
    Question("name"),
    Question("date", _read_date, shown=str),
    Question("measured_by"),
    _one_of("drive", tuple(Drive)),
    _one_of("roping", tuple(Roping)),
    _number("car_mass", Dimension.MASS, 10.0, 2e5),
    Question("rule", _read_rule, _RULES, goes=("rule", "limit")),
    Question("rope_type", _read_rope_type, goes=("diameter", "construction")),
    _number("linear_density", Dimension.LINEAR_DENSITY, 0.01, 20.0),
    _number("axial_rigidity", Dimension.FORCE, 1e4, 1e9),
    _one_of("side", tuple(Side)),
    Question("position"),
    Question(
        "lengths",
        _read_lengths,
        goes=("free_lengths", "staggers", "has_sockets_at_one_height"),
        shown=_lengths_shown,
    ),
    Question("people"),
    Question("load"),
    _one_of("arrived", ("up", "down")),
    _one_of("neighbours", ("free", "damped")),
    _one_of("hitch", tuple(HitchPlace), goes=("at",)),
    Question(
        "rows",
        _read_rows,
        is_wanted=_has_hitch,
        shown=lambda rows=(): ", ".join(" ".join(map(str, row)) for row in rows),
    ),
    Question("thread", _read_thread, is_wanted=_has_hitch),
    _one_of("buffer", tuple(Buffer), is_wanted=_has_hitch),
    Question(
        "spring",
        _read_spring,
        goes=("spring_rate", "spring_free_length", "spring_solid_length"),
        is_wanted=_has_spring,
        shown=lambda *texts: ", ".join(filter(None, texts)),
    ),
    _one_of("far_spring", ("same", "none"), is_wanted=_has_hitch),
    _number("rope_length", Dimension.LENGTH, 0.5, 5000.0, is_wanted=_has_hitch),
    _number("travel", Dimension.LENGTH, 0.5, 2000.0, is_wanted=_has_rope_length),
    _number("rod_free", Dimension.LENGTH, 0.0, 5.0, is_wanted=_has_hitch),
    Question(
        "thread_left",
        _read_pairs,
        is_wanted=_has_hitch,
        shown=lambda pairs=(): ", ".join(" / ".join(pair) for pair in pairs),
    ),
)
