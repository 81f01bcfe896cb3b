"""Items of acceptance after re-roping, with the rules of each, source by source."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from pathlib import Path

from tension.catalogue.standing import Standing
from tension.errors import FileFormatError
from tension.quantity.keys import KeyReader
from tension.quantity.units import Dimension, Quantity

_FILE = Path(__file__).with_name("acceptance.toml")


class Way(StrEnum):
    """How an item is settled."""

    LOOK = "look"
    MEASURE = "measure"
    COMPUTE = "compute"


class CountedFrom(StrEnum):
    """From where the distance of the second clip counts."""

    SOCKET = "socket"
    FIRST_CLIP = "first-clip"


@dataclass(frozen=True, kw_only=True, slots=True)
class AcceptanceRule:
    """One rule of one source for one item.

    Attributes
    ----------
    name, text, source : str
        Key, what it says, where it is published.
    standing : Standing
        How it is known.
    n_clips : int or None
        Least number of clips. [1]
    first_most, second_most : float or None
        Largest distance of the first and the second clip, in diameters. [1]
    second_from : CountedFrom or None
        From where the second counts.
    over_fibre, over_steel : float or None
        Largest excess over the nominal diameter by core. [1]
    lay_diameters : float or None
        Usual lay length, in diameters. [1]
    least, most : Quantity or None
        Between what a runby lies. [m]
    stretch : float or None
        Stretch to come, of the rope length. [1]
    """

    name: str
    text: str
    source: str
    standing: Standing
    n_clips: int | None = None
    first_most: float | None = None
    second_most: float | None = None
    second_from: CountedFrom | None = None
    over_fibre: float | None = None
    over_steel: float | None = None
    lay_diameters: float | None = None
    least: Quantity | None = None
    most: Quantity | None = None
    stretch: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class AcceptanceItem:
    """One item of the form.

    Attributes
    ----------
    number : int
        Place in the form, from 1. [1]
    name : str
        As the record names it.
    question : str
        What is asked; may hold places for trade words.
    ways : tuple of Way
        How it is settled.
    rules : tuple of AcceptanceRule
        Rules by source; more than one where sources differ.
    """

    number: int
    name: str
    question: str
    ways: tuple[Way, ...]
    rules: tuple[AcceptanceRule, ...] = ()

    def find_rule(self, name: str) -> AcceptanceRule | None:
        """Find a rule of this item by its name.

        Parameters
        ----------
        name : str
            Name of the rule.

        Returns
        -------
        AcceptanceRule or None
            The rule; None if there is none of that name.
        """
        return next((rule for rule in self.rules if rule.name == name), None)


@lru_cache(maxsize=1)
def acceptance_items() -> tuple[AcceptanceItem, ...]:
    """Give the items of the form.

    Returns
    -------
    tuple of AcceptanceItem
        In the order of the form.

    Raises
    ------
    FileFormatError
        If the file that comes with the program is damaged.
    """
    document = tomllib.loads(_FILE.read_text(encoding="utf-8"))
    mistakes: list[str] = []
    items = tuple(
        _read_item(number, raw, mistakes)
        for number, raw in enumerate(document["item"], start=1)
    )
    if mistakes:
        raise FileFormatError(*mistakes)
    return items


def find_acceptance_item(name: str) -> AcceptanceItem:
    """Find an item by its name.

    Parameters
    ----------
    name : str
        As the record names it.

    Returns
    -------
    AcceptanceItem
        The item.
    """
    return next(item for item in acceptance_items() if item.name == name)


def _read_item(
    number: int, raw: Mapping[str, object], mistakes: list[str]
) -> AcceptanceItem:
    """One ``[[item]]``."""
    reader = KeyReader(raw)
    reader.only(("name", "question", "ways", "rule"), {})
    rules = raw.get("rule", [])
    item = AcceptanceItem(
        number=number,
        name=reader.text("name"),
        question=reader.text("question"),
        ways=reader.choices("ways", Way),
        rules=tuple(
            _read_rule(rule, f"item {number}", mistakes)
            for rule in (rules if isinstance(rules, list) else [])
        ),
    )
    mistakes += [f"item {number}: {m.key}: {m.text}" for m in reader.mistakes]
    return item


def _read_rule(
    raw: Mapping[str, object], where: str, mistakes: list[str]
) -> AcceptanceRule:
    """One ``[[item.rule]]``."""
    reader = KeyReader(raw)
    reader.only(AcceptanceRule.__dataclass_fields__, {})
    rule = AcceptanceRule(
        name=reader.text("name"),
        text=reader.text("text"),
        source=reader.text("source"),
        standing=reader.choice("standing", Standing) or Standing.MEMORY,
        n_clips=reader.whole("n_clips"),
        first_most=reader.number("first_most"),
        second_most=reader.number("second_most"),
        second_from=reader.choice("second_from", CountedFrom),
        over_fibre=reader.number("over_fibre"),
        over_steel=reader.number("over_steel"),
        lay_diameters=reader.number("lay_diameters"),
        least=reader.quantity("least", Dimension.LENGTH),
        most=reader.quantity("most", Dimension.LENGTH),
        stretch=reader.number("stretch"),
    )
    mistakes += [f"{where}: {m.key}: {m.text}" for m in reader.mistakes]
    return rule
