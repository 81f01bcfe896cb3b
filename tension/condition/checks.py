"""What was looked at, measured and answered when a set is accepted after re-roping.

The record reader hands each ``[[check]]`` table to `check_from_table`. The items, their
questions and the rules that differ by source are data: ``catalogue/acceptance.toml``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from tension.catalogue.acceptance import find_acceptance_item
from tension.quantity.keys import KeyReader, Mistake
from tension.quantity.units import Dimension, Quantity


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


COMMON_KEYS = ("item", "answer", "rope", "note", "photo", "by")
"""Keys of every item."""

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
    item : CheckItem
        Which item.
    answer : CheckAnswer or None
        What the person answered; None if only figures are given.
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
        Core of the rope, where the construction does not tell it.
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


def check_from_table(
    table: Mapping[str, object], n_ropes: int
) -> tuple[Check | None, tuple[Mistake, ...]]:
    """Read one ``[[check]]`` table.

    Parameters
    ----------
    table : mapping of str to object
        As the TOML parser gives it.
    n_ropes : int
        Number of ropes of the set. [1]

    Returns
    -------
    tuple of (Check or None, tuple of Mistake)
        The check, or None with every mistake found.
    """
    reader = KeyReader(table)
    item = reader.choice("item", CheckItem)
    if item is None:
        if not reader.has("item"):
            reader.refuse("item", f"is missing; write one of {', '.join(CheckItem)}")
        return None, tuple(reader.mistakes)
    own = KEYS_OF.get(item, ())
    reader.only((*COMMON_KEYS, *own), _elsewhere())
    check = _read_check(reader, item)
    if check.rope is not None and check.rope > n_ropes:
        reader.refuse("rope", f"must be 1 to {n_ropes}, not {check.rope}")
    if check.answer is None and not any(reader.has(k) for k in ("answer", *own)):
        reader.refuse("answer", f"is missing; write one of {', '.join(CheckAnswer)}")
    if len(check.diameters) % 2:
        reader.refuse("diameters", "must be two readings at right angles per place")
    if len(check.grooves) != len(check.hitch_order):
        reader.refuse("grooves", "must name one groove for each rope of hitch_order")
    rules = [rule.name for rule in find_acceptance_item(item.value).rules]
    if check.rule and check.rule not in rules:
        reader.refuse("rule", f'must be one of {", ".join(rules)}, not "{check.rule}"')
    if reader.mistakes:
        return None, tuple(reader.mistakes)
    return check, ()


def _read_check(reader: KeyReader, item: CheckItem) -> Check:
    """Read every key; wrong ones are left empty and told."""
    return Check(
        item=item,
        answer=reader.choice("answer", CheckAnswer),
        rope=reader.whole("rope"),
        note=reader.text("note"),
        by=reader.text("by"),
        photos=reader.paths("photo"),
        tag_text=reader.text("tag_text"),
        tag_diameter=reader.quantity("tag_diameter", Dimension.LENGTH),
        plate_diameter=reader.quantity("plate_diameter", Dimension.LENGTH),
        tag_strength=reader.quantity("tag_strength", Dimension.FORCE),
        plate_strength=reader.quantity("plate_strength", Dimension.FORCE),
        plate_ropes=reader.whole("plate_ropes"),
        diameters=reader.quantities("diameters", Dimension.LENGTH),
        core=reader.choice("core", Core),
        length=reader.quantity("length", Dimension.LENGTH),
        lays=reader.whole("lays"),
        hitch_order=reader.wholes("hitch_order"),
        grooves=reader.wholes("grooves"),
        distances=reader.quantities("distances", Dimension.LENGTH),
        rule=reader.text("rule"),
        count=reader.whole("count", lowest=0),
        free_length=reader.quantity("free_length", Dimension.LENGTH),
        solid_length=reader.quantity("solid_length", Dimension.LENGTH),
        series=reader.text("series"),
        now=reader.quantity("now", Dimension.LENGTH),
        wanted=reader.quantity("wanted", Dimension.LENGTH),
        least=reader.quantity("least", Dimension.LENGTH),
        most=reader.quantity("most", Dimension.LENGTH),
        stretch=reader.quantity("stretch", Dimension.FRACTION),
        rope_length=reader.quantity("rope_length", Dimension.LENGTH),
    )


def _elsewhere() -> dict[str, str]:
    """For each key of some items, those items in words."""
    items: dict[str, list[str]] = {}
    for item, keys in KEYS_OF.items():
        for key in keys:
            items.setdefault(key, []).append(f'item = "{item}"')
    return {key: " or ".join(words) for key, words in items.items()}
