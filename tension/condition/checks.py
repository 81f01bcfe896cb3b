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
