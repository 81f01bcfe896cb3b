"""Items of acceptance after re-roping, with the rules of each, source by source."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from tension.catalogue.standing import Standing, published, read_row
from tension.quantity.units import Quantity


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
    """One rule of one source for one item."""

    # key, what it says, where it is published
    name: str
    text: str
    source: str
    standing: Standing  # how it is known
    n_clips: int | None = None  # least number of clips [1]
    # largest distance of the first and the second clip, in diameters [1]
    first_most: float | None = None
    second_most: float | None = None
    second_from: CountedFrom | None = None  # from where the second counts
    # largest excess over the nominal diameter by core [1]
    over_fibre: float | None = None
    over_steel: float | None = None
    lay_diameters: float | None = None  # usual lay length, in diameters [1]
    # between what a runby lies [m]
    least: Quantity | None = None
    most: Quantity | None = None
    stretch: float | None = None  # stretch to come, of the rope length [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class AcceptanceItem:
    """One item of the form."""

    number: int  # place in the form, from 1 [1]
    name: str  # as the record names it
    question: str  # what is asked; may hold places for trade words
    ways: tuple[Way, ...]  # how it is settled
    # rules by source; more than one where sources differ
    rules: tuple[AcceptanceRule, ...] = ()

    def find_rule(self, name: str) -> AcceptanceRule | None:
        """Find a rule of this item by its name."""
        return next((rule for rule in self.rules if rule.name == name), None)


@cache
def acceptance_items() -> tuple[AcceptanceItem, ...]:
    """Give the items of the form."""
    items = published("acceptance.toml")["item"]
    return tuple(
        AcceptanceItem(
            number=number,
            name=raw["name"],
            question=raw["question"],
            ways=tuple(map(Way, raw["ways"])),
            rules=tuple(read_row(AcceptanceRule, rule) for rule in raw.get("rule", ())),
        )
        for number, raw in enumerate(items, start=1)
    )


def find_acceptance_item(name: str) -> AcceptanceItem:
    """Find an item by its name."""
    return next(item for item in acceptance_items() if item.name == name)
