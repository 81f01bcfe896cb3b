"""What `start` knows, and how an answer is read from a line."""

import datetime as dt
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

from tension.catalogue.rules import Metric, find_rule, rule_names
from tension.catalogue.threads import parse_thread
from tension.cli.asking import BackError, EndedError, Units, ask, ask_yes, one_of
from tension.cli.declaring import rope_rows
from tension.errors import InvalidValueError
from tension.installation import Buffer, Drive, Ends, HitchPlace, Roping, Side
from tension.quantity.units import Dimension, Quantity, parse_quantity, show_quantity
from tension.workflow.adding_numbers import UnitMissingError
from tension.workflow.adding_numbers import read_pairs as read_typed_pairs
from tension.workflow.inputs import split_rope_type

Kind = TypeVar("Kind", bound=StrEnum)

SHORTEST, LONGEST = 0.05, 1000.0  # [m], as a record has them
TODAY = "today"


@dataclass(frozen=True, kw_only=True, slots=True)
class Lengths:
    """Free lengths as typed, those that are not known empty; or one, and staggers."""

    free: tuple[str, ...] = ()
    staggers: tuple[str, ...] = ()
    is_one_height: bool = False

    def __str__(self) -> str:
        """The lengths in the order of the ropes."""
        if self.staggers:
            return f"{self.free[0]}, then " + ", ".join(self.staggers)
        ending = ", all at one height" if self.is_one_height else ""
        return ", ".join(length or "?" for length in self.free) + ending


@dataclass(frozen=True, kw_only=True, slots=True)
class Spring:
    """A spring as typed; empty where it is not known."""

    rate: str = ""
    free: str = ""
    solid: str = ""

    def __str__(self) -> str:
        """What was typed."""
        return ", ".join(text for text in (self.rate, self.free, self.solid) if text)


@dataclass(kw_only=True, slots=True)
class Known:
    """What is known of the visit; the conversation fills it, None where it is not.

    Attributes
    ----------
    ropes : int
        Number of ropes. [1]
    order : tuple of int
        Which rope each file is of, or the order plucked in a memo.
    settled : set of str
        Questions that were answered or skipped, by their keys.
    units : Units
        Units that were asked for.
    """

    ropes: int
    order: tuple[int, ...] = ()
    same_height: bool = False
    plucks_each: int | None = None
    metric: Metric | None = None
    ends: Ends | None = None
    name: str | None = None
    date: dt.date | None = None
    measured_by: str | None = None
    drive: Drive | None = None
    roping: Roping | None = None
    car_mass: Quantity | None = None
    rule: tuple[str, str] | None = None
    rope_type: tuple[str, str] | None = None
    linear_density: Quantity | None = None
    axial_rigidity: Quantity | None = None
    side: Side | None = None
    position: str | None = None
    lengths: Lengths | None = None
    people: str | None = None
    load: str | None = None
    arrived: str | None = None
    neighbours: str | None = None
    hitch: HitchPlace | None = None
    rows: tuple[tuple[int, ...], ...] | None = None
    thread: str | None = None
    buffer: Buffer | None = None
    spring: Spring | None = None
    far_spring: str | None = None
    rope_length: Quantity | None = None
    travel: Quantity | None = None
    rod_free: Quantity | None = None
    thread_left: tuple[tuple[str, str], ...] | None = None
    settled: set[str] = field(default_factory=set)
    units: Units = field(default_factory=Units)


Reader = Callable[[str, Known], object]
"""Reads a line, beside what is known; InvalidValueError if it is no such answer."""


def words(line: str, _: Known) -> str:
    """Words of one's own."""
    return line


def word_of(*choices: str) -> Reader:
    """Read one of a few words."""
    return lambda line, _: one_of(choices)(line)


def member_of(kind: type[Kind]) -> Reader:
    """Read one of the words of the record."""
    return lambda line, _: kind(one_of([word.value for word in kind])(line))


def number_of(
    dimension: Dimension, what: str, least: float = 0.0, most: float = math.inf
) -> Reader:
    """Read one quantity in the range [SI] of its key; its unit is asked once."""

    def read(line: str, known: Known) -> Quantity:
        values = known.units.read_list(line, dimension, what)
        if len(values) != 1 or values[0].value <= 0:
            raise InvalidValueError(f'"{line[:40]}" must be one number above zero')
        if not least <= values[0].value <= most:
            shown = " to ".join(show_quantity(x, dimension) for x in (least, most))
            raise InvalidValueError(f"{values[0].text} cannot be; it is {shown}")
        return values[0]

    return read


def read_date(line: str, _: Known) -> dt.date:
    """A day, in the one order that cannot be misread."""
    found = re.fullmatch(r"([0-9]{4})[-./ ]([0-9]{1,2})[-./ ]([0-9]{1,2})", line)
    if line.lower() == TODAY:
        return today()
    if found:
        try:
            return dt.date(*map(int, found.groups()))
        except ValueError:
            pass
    raise InvalidValueError(f'write the date like 2026-11-20, not "{line[:30]}"')


def today() -> dt.date:
    """Tell the day."""
    return dt.datetime.now().astimezone().date()


def published_rules() -> list[str]:
    """List the published rules."""
    return [name for name in rule_names() if name != find_rule(None).name]


def read_rule(line: str, _: Known) -> tuple[str, str]:
    """A rule by its number or name, or a limit; name and limit, one of them empty."""
    names = published_rules()
    if line.isdigit() and 1 <= int(line) <= len(names):
        return names[int(line) - 1], ""
    if "%" in line:
        limit = parse_quantity(line, Dimension.FRACTION)
        if not 0.0001 <= limit.value <= 0.99:
            raise InvalidValueError(f"{line} is no limit; write it like 10 %")
        return "", line
    return one_of(names)(line), ""


def read_rope_type(line: str, _: Known) -> tuple[str, str]:
    """Diameter and construction."""
    size, construction = split_rope_type(line)
    diameter = parse_quantity(size, Dimension.LENGTH)
    if not 0.003 <= diameter.value <= 0.06:
        raise InvalidValueError(f"{size} is no diameter of a rope; check the unit")
    return size, construction


def read_rows(line: str, known: Known) -> tuple[tuple[int, ...], ...]:
    """Rows of rope numbers, each rope once."""
    if not re.fullmatch(r"[0-9 ,/\[\]]+", line):
        raise InvalidValueError("write rows like 1 3 5 / 2 4 6")
    rows = rope_rows(line)
    numbers = sorted(number for row in rows for number in row)
    if numbers != list(range(1, known.ropes + 1)):
        raise InvalidValueError(
            f"name each rope from 1 to {known.ropes} once, like 1 3 5 / 2 4 6"
        )
    return rows


def read_thread(line: str, _: Known) -> str:
    """A thread that can be read."""
    parse_thread(line)
    return line


def read_spring(line: str, known: Known) -> Spring:
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
    return Spring(rate=rate.text, free=free, solid=solid)


def read_pairs(line: str, known: Known) -> tuple[tuple[str, str], ...]:
    """Thread left of each rod, towards the plate and away from it, a pair per rope."""
    try:
        pairs = read_typed_pairs(line)
    except UnitMissingError:
        unit = ask("Of what: mm, m, in", lambda text: text, "mm")
        pairs = read_typed_pairs(line, unit)
    if len(pairs) != known.ropes:
        raise InvalidValueError(
            f"{len(pairs)} pairs for {known.ropes} ropes; give one for each"
        )
    return tuple((towards.text, away.text) for towards, away in pairs)


def read_lengths(line: str, known: Known) -> Lengths:
    """One length, one for each rope, or that of rope 1 and how much more the others."""
    n_ropes, units = known.ropes, known.units
    first, *others = units.read_list(line, Dimension.LENGTH, "free length")
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
            return Lengths(free=(lengths[0],), is_one_height=bool(is_told))
    _ask_one_by_one(lengths, n_ropes, units)
    return Lengths(free=(*lengths, *[""] * n_ropes)[:n_ropes])


def _staggered(first: Quantity, others: list[Quantity], n_ropes: int) -> Lengths:
    """The length of rope 1, and how much longer the others are."""
    if len(others) != n_ropes - 1:
        raise InvalidValueError(
            f"after the length of rope 1 come {n_ropes - 1} numbers, how much longer "
            f"each of the others is; got {len(others)}"
        )
    for other in others:
        if first.value + other.value < SHORTEST:
            raise InvalidValueError(f"{other.text} leaves nothing of {first.text}")
    staggers = ("0 mm", *(other.text for other in others))
    return Lengths(free=(first.text,), staggers=staggers)


def _ask_one_by_one(lengths: list[str], n_ropes: int, units: Units) -> None:
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
            more = ask(question, read, none)
        except BackError:
            lengths.pop()
            continue
        except EndedError:
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
        return ask_yes(question, skipped=False)
    except BackError:
        raise InvalidValueError("once more, then") from None
    except EndedError:
        return None


def _require_free_length(length: Quantity) -> None:
    """Refuse a length that no rope has."""
    if not SHORTEST <= length.value <= LONGEST:
        least = show_quantity(SHORTEST, Dimension.LENGTH)
        raise InvalidValueError(
            f"{length.text} is no free length; it is {least} to {LONGEST:.0f} m"
        )


def order_of_memo(line: str, n_ropes: int) -> tuple[int, ...]:
    """Read the order in which ropes were plucked in one memo."""
    numbers = line.replace(",", " ").split()
    if not all(word.isdigit() and 1 <= int(word) <= n_ropes for word in numbers):
        raise InvalidValueError(f"the set has {n_ropes} ropes, got {line[:40]}")
    return tuple(map(int, numbers))
