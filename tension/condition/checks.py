"""What was looked at, measured and answered when a set is accepted after re-roping.

The items, their questions and the rules that differ by source are data:
``catalogue/acceptance.toml``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

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


class Core(StrEnum):
    """Core of a rope."""

    FIBRE = "fibre"
    STEEL = "steel"


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
    """One item answered, of the set or of one rope.

    Attributes
    ----------
    answer : CheckAnswer or None
        None if only figures are given.
    rope : int or None
        Rope number; None if of the set.
    note, by : str
        Free text; who looked.
    photos : tuple of str
        Paths beside or below the record.
    tag_text : str
        Text of the rope tag as read.
    tag_diameter, plate_diameter : Quantity or None
        On the rope tag and on the data plate. [m]
    tag_strength, plate_strength : Quantity or None
        Breaking strength on the rope tag and on the data plate. [N]
    plate_ropes : int or None
        Number of ropes on the data plate. [1]
    diameters : tuple of Quantity
        Two at right angles at each of up to three places. [m]
    core : Core or None
        Where the construction does not tell it.
    length : Quantity or None
        Lay lengths together, groove seating, tail, thread left, or the spring at
        125 % of rated load, as the item says. [m]
    lays : int or None
        Number of lays measured together. [1]
    hitch_order : tuple of int
        Rope numbers from left to right at the hitch.
    grooves : tuple of int
        Groove of each rope in that order.
    distances : tuple of Quantity
        From the mouth of the socket to each clip, nearest first. [m]
    rule : str
        Which of the rules the person's code has.
    count : int or None
        Sets of two nuts and a split pin found. [1]
    free_length, solid_length : Quantity or None
        Of the spring; the hitch's if None. [m]
    series : str
        Series whose assessment answers; empty for the last.
    now, wanted, least, most : Quantity or None
        Counterweight runby with the car level at the top: found, wanted, and between
        what it must lie; negative when it would land before. [m]
    stretch : Quantity or None
        Stretch still to come, of the rope length. [1]
    rope_length : Quantity or None
        Hitch to hitch; the set's if None. [m]
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
