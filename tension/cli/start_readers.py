"""Answers to the questions of `start`, read from a line."""

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tension.catalogue.rules import find_rule, rule_names
from tension.catalogue.threads import parse_thread
from tension.cli.asking import BackError, EndedError, Units, ask, ask_yes, one_of
from tension.cli.assessing import rope_rows
from tension.errors import InvalidValueError
from tension.quantity.units import Dimension, Quantity, parse_quantity, show_quantity
from tension.workflow.inputs import split_rope_type
from tension.workflow.typed_sheet import UnitMissingError
from tension.workflow.typed_sheet import read_pairs as read_typed_pairs

Answers = dict[str, Any]
"""What is known, by key; a key that was skipped holds None."""

SHORTEST, LONGEST = 0.05, 1000.0  # [m], as a record has them
TODAY = "today"


def read_one(line: str, dimension: Dimension, units: Units, what: str) -> Quantity:
    """One quantity above nought.

    Raises
    ------
    InvalidValueError
        If it is no such answer.
    """
    values = units.read_list(line, dimension, what)
    if len(values) != 1 or values[0].value <= 0:
        raise InvalidValueError(f'"{line[:40]}" must be one number above zero')
    return values[0]


def read_date(line: str, _: Answers) -> dt.date:
    """A day, in the one order that cannot be misread.

    Raises
    ------
    InvalidValueError
        If it is no such answer.
    """
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


def read_rule(line: str, _: Answers) -> tuple[str, str]:
    """A rule by its number or name, or a limit; name and limit.

    Returns
    -------
    tuple of (str, str)
        Name and limit; one of them is empty.

    Raises
    ------
    InvalidValueError
        If it is no such answer.
    """
    names = published_rules()
    if line.isdigit() and 1 <= int(line) <= len(names):
        return names[int(line) - 1], ""
    if "%" in line:
        limit = parse_quantity(line, Dimension.FRACTION)
        if not 0.0001 <= limit.value <= 0.99:
            raise InvalidValueError(f"{line} is no limit; write it like 10 %")
        return "", line
    return one_of(names)(line), ""


def read_rope_type(line: str, _: Answers) -> tuple[str, str]:
    """Diameter and construction.

    Raises
    ------
    InvalidValueError
        If it is no such answer.
    """
    size, construction = split_rope_type(line)
    diameter = parse_quantity(size, Dimension.LENGTH)
    if not 0.003 <= diameter.value <= 0.06:
        raise InvalidValueError(f"{size} is no diameter of a rope; check the unit")
    return size, construction


def read_rows(line: str, known: Answers) -> tuple[tuple[int, ...], ...]:
    """Rows of rope numbers, each rope once.

    Raises
    ------
    InvalidValueError
        If it is no such answer.
    """
    if not re.fullmatch(r"[0-9 ,/\[\]]+", line):
        raise InvalidValueError("write rows like 1 3 5 / 2 4 6")
    rows = rope_rows(line)
    numbers = sorted(number for row in rows for number in row)
    if numbers != list(range(1, known["ropes"] + 1)):
        raise InvalidValueError(
            f"name each rope from 1 to {known['ropes']} once, like 1 3 5 / 2 4 6"
        )
    return rows


def read_thread(line: str, _: Answers) -> str:
    """A thread that can be read."""
    parse_thread(line)
    return line


def read_spring(line: str, units: Units) -> Mapping[str, str]:
    """Rate, and the two lengths, as texts by their keys.

    Raises
    ------
    InvalidValueError
        If it is no such answer.
    """
    found = re.search(r"([0-9]+(?:[.,][0-9]+)?)\s*([A-Za-z]+/[A-Za-z]+)", line)
    if found is None:
        raise InvalidValueError("write the rate with its unit first, like 150 N/mm")
    rate = parse_quantity(found[0], Dimension.STIFFNESS)
    rest = (line[: found.start()] + " " + line[found.end() :]).strip(" ,;")
    lengths = units.read_list(rest, Dimension.LENGTH, "spring") if rest else ()
    texts = [one.text for one in sorted(lengths, key=lambda one: -one.value)]
    if len(texts) > 2 or any(not 0.005 <= one.value <= 2.0 for one in lengths):
        raise InvalidValueError("after the rate come free length and solid length")
    free, solid = (*texts, "", "")[:2]
    return {
        "spring_rate": rate.text,
        "spring_free_length": free,
        "spring_solid_length": solid,
    }


def read_pairs(line: str, known: Answers) -> tuple[tuple[str, str], ...]:
    """Thread left of each rod.

    Returns
    -------
    tuple of (str, str)
        Towards the plate and away from it, one pair per rope.

    Raises
    ------
    InvalidValueError
        If it is no such answer.
    """
    try:
        pairs = read_typed_pairs(line)
    except UnitMissingError:
        unit = ask("Of what: mm, m, in", lambda text: text, "mm")
        pairs = read_typed_pairs(line, unit)
    if len(pairs) != known["ropes"]:
        raise InvalidValueError(
            f"{len(pairs)} pairs for {known['ropes']} ropes; give one for each"
        )
    return tuple((towards.text, away.text) for towards, away in pairs)


@dataclass(frozen=True, kw_only=True, slots=True)
class Lengths:
    """Free lengths as typed.

    Attributes
    ----------
    free : tuple of str
        One for all, or one per rope; empty where it is not known.
    staggers : tuple of str
        None, or how much longer each rope is than the one length.
    is_one_height : bool
        Whether one length holds for all.
    """

    free: tuple[str, ...] = ()
    staggers: tuple[str, ...] = ()
    is_one_height: bool = False

    def __str__(self) -> str:
        """The lengths in the order of the ropes."""
        if self.staggers:
            return f"{self.free[0]}, then " + ", ".join(self.staggers)
        ending = ", all at one height" if self.is_one_height else ""
        return ", ".join(length or "?" for length in self.free) + ending


def read_lengths(line: str, known: Answers, units: Units) -> Lengths:
    """Read one length, one for each rope, or that of rope 1 and how much longer.

    Parameters
    ----------
    line : str
        Such as "3.40 3.55 3.40 m", or "3.40 m +150 0 mm" with the stagger of the
        others.
    known : dict
        What is known.
    units : Units
        Units that were asked for.

    Returns
    -------
    Lengths
        As typed; those that come one by one are asked for.

    Raises
    ------
    InvalidValueError
        If there are too many, or a rope cannot have such a length.
    """
    n_ropes = known["ropes"]
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
        is_told = known.get("same_height") or _is_one_height(n_ropes)
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


def order_of_memo(line: str, n_ropes: int) -> str:
    """Read the order in which ropes were plucked in one memo.

    Parameters
    ----------
    line : str
        As typed.
    n_ropes : int
        Number of ropes. [1]

    Raises
    ------
    InvalidValueError
        If it names a rope that the set has not.
    """
    words = line.replace(",", " ").split()
    if not all(word.isdigit() and 1 <= int(word) <= n_ropes for word in words):
        raise InvalidValueError(f"the set has {n_ropes} ropes, got {line[:40]}")
    return " ".join(words)
