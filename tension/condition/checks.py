"""What is asked when a set is accepted after re-roping, and what was answered.

The questions of the items and the rules that differ by source are data:
``catalogue/acceptance.toml``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from tension.catalogue import Standing, published, read_row
from tension.catalogue.ropes import Core
from tension.quantity.units import Quantity


class CheckItem(StrEnum):
    """The items, in the order of the form."""

    RIGHT_ROPE = "right-rope"
    WHOLE_SET = "whole-set"
    NEW_DIAMETER = "new-diameter"
    NEW_LAY = "new-lay"
    TWIST = "twist"
    NOT_CROSSED = "not-crossed"
    GROOVE_SEATING = "groove-seating"
    WEDGE_SOCKETS = "wedge-sockets"
    CLIPS = "clips"
    TAIL = "tail"
    NUTS_AND_PINS = "nuts-and-pins"
    THREAD_LEFT = "thread-left"
    SPRINGS = "springs"
    ANTI_ROTATION = "anti-rotation"
    TENSION = "tension"
    RUNBY = "runby"
    RUNBY_LATER = "runby-later"
    OVERTRAVEL = "overtravel"
    TWO_ROPES = "two-ropes"
    COMPENSATION = "compensation"
    CLEANLINESS = "cleanliness"
    TAG_AND_RECORD = "tag-and-record"
    TRACTION_AND_BRAKE = "traction-and-brake"


class CheckAnswer(StrEnum):
    """The four answers."""

    YES = "yes"
    NO = "no"
    NOT_APPLICABLE = "not-applicable"
    COULD_NOT_SEE = "could-not-see"


KEYS_OF: Mapping[CheckItem, tuple[str, ...]] = {
    CheckItem.RIGHT_ROPE: (
        "tag_text",
        "tag_diameter",
        "tag_strength",
        "plate_diameter",
        "plate_strength",
        "plate_ropes",
    ),
    CheckItem.NEW_DIAMETER: ("diameters", "core", "rule"),
    CheckItem.NEW_LAY: ("length", "lays"),
    CheckItem.NOT_CROSSED: ("hitch_order", "grooves"),
    CheckItem.GROOVE_SEATING: ("length",),
    CheckItem.CLIPS: ("distances", "rule"),
    CheckItem.TAIL: ("length",),
    CheckItem.NUTS_AND_PINS: ("count",),
    CheckItem.THREAD_LEFT: ("length",),
    CheckItem.SPRINGS: ("length", "free_length", "solid_length"),
    CheckItem.TENSION: ("series",),
    CheckItem.RUNBY: ("now", "wanted", "least", "most", "rule"),
    CheckItem.RUNBY_LATER: ("now", "stretch", "rope_length", "least"),
}
"""Keys that belong to one item, beside those of every item."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Check:
    """One item of the set or of one rope, answered or with figures alone.

    Free texts: the note, who looked, the rope tag as read. Diameters are two at right
    angles at each of up to three places; distances are from the mouth of the socket to
    each clip. The length is that of lays measured together, groove seating, tail,
    thread left or spring at 125 % of rated load, as the item says. Grooves are in the
    order of the ropes from left to right at the hitch. The count is of sets of two nuts
    and a split pin; the rule is the one that the person's code has. Core, spring
    lengths, series and rope length are the set's where they are not told.

    The runby is that of the counterweight with the car level at the top: found, wanted,
    and between what it must lie; negative when it would land before. The stretch is
    still to come, of the rope length.
    """

    item: CheckItem
    answer: CheckAnswer | None = None
    rope: int | None = None
    note: str = ""
    by: str = ""
    photos: tuple[str, ...] = ()
    tag_text: str = ""
    tag_diameter: Quantity | None = None
    plate_diameter: Quantity | None = None
    tag_strength: Quantity | None = None
    plate_strength: Quantity | None = None
    plate_ropes: int | None = None
    diameters: tuple[Quantity, ...] = ()
    core: Core | None = None
    length: Quantity | None = None
    lays: int | None = None
    hitch_order: tuple[int, ...] = ()
    grooves: tuple[int, ...] = ()
    distances: tuple[Quantity, ...] = ()
    rule: str = ""
    count: int | None = None
    free_length: Quantity | None = None
    solid_length: Quantity | None = None
    series: str = ""
    now: Quantity | None = None
    wanted: Quantity | None = None
    least: Quantity | None = None
    most: Quantity | None = None
    stretch: Quantity | None = None
    rope_length: Quantity | None = None


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
    name: CheckItem  # as the record names it
    question: str  # what is asked; may hold places for trade words
    ways: tuple[str, ...]  # how it is settled: look, measure, compute
    # rules by source; more than one where sources differ
    rules: tuple[AcceptanceRule, ...] = ()

    def find_rule(self, name: str) -> AcceptanceRule | None:
        """Find a rule of this item by its name."""
        return next((rule for rule in self.rules if rule.name == name), None)


@cache
def acceptance_items() -> tuple[AcceptanceItem, ...]:
    """Give the items of the form."""
    items = []
    for number, raw in enumerate(published("acceptance.toml")["item"], start=1):
        rules = tuple(read_row(AcceptanceRule, rule) for rule in raw.pop("rule", ()))
        items.append(read_row(AcceptanceItem, raw, number=number, rules=rules))
    return tuple(items)


def find_acceptance_item(name: str) -> AcceptanceItem:
    """Find an item by its name."""
    return next(item for item in acceptance_items() if item.name == name)
