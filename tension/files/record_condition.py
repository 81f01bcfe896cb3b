"""Tables of a record on the condition of the ropes and their acceptance."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator

from tension.catalogue.acceptance import find_acceptance_item
from tension.condition import checks, findings
from tension.condition.checks import CheckAnswer, CheckItem, Core
from tension.condition.findings import (
    UNFAVOURABLE,
    Allowance,
    Distribution,
    FigureOf,
    Finding,
    FindingKind,
    GaugeEntry,
    Seen,
    TypedFigure,
)
from tension.files.record_links import (
    RecordPath,
    RecordPaths,
    RopeNumber,
    SeriesName,
)
from tension.files.table_model import (
    Day,
    Flag,
    Force,
    Fraction,
    Kinds,
    Length,
    Lengths,
    Table,
    Whole,
    WholeOrNone,
    Wholes,
    key,
    listed,
    not_one_of,
)

_BREAKS = (
    "breaks",
    "fraction_of_wires",
    "in_strand",
    "in_strand_worn",
    "fraction_of_strand",
)
_UNRECORDED = "not recorded"


class FigureTable(Table):
    """One row of the allowance table, as it stands in the book that is open.

    The figure itself confirms: nothing is compared with one that was not typed.
    """

    kind_key: ClassVar[str] = "what"
    kinds: ClassVar[Kinds] = {
        **{one: _BREAKS for one in FigureOf if one is not FigureOf.DIAMETER},
        FigureOf.DIAMETER: (
            "least",
            "least_with_rouge",
            "least_fraction",
            "most_loss",
        ),
    }

    what: FigureOf = key(", ".join(FigureOf), ...)
    breaks: WholeOrNone | None = key("broken wires allowed in one lay")
    fraction_of_wires: Fraction | None = key("the same as a part of all wires")
    in_strand: WholeOrNone | None = key("of them in one strand")
    in_strand_worn: WholeOrNone | None = key("where wires are badly rusted or worn")
    fraction_of_strand: Fraction | None = key("as a part of the wires of one strand")
    least: Length | None = key("diameter: the least of the set's nominal size")
    least_with_rouge: Length | None = key("diameter: the least where rouge shows")
    least_fraction: Fraction | None = key("diameter: the least, of the nominal one")
    most_loss: Length | None = key("diameter: the largest loss")

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """One way of writing each figure."""
        is_of_breaks = written.get("what") != FigureOf.DIAMETER
        keys: tuple[str, ...] = ("least", "least_fraction", "most_loss")
        if is_of_breaks:
            keys = ("breaks", "fraction_of_wires")
        given = [name for name in keys if name in written]
        if not given and "least_with_rouge" not in written:
            yield keys[0], f"is missing; write {' or '.join(keys)} as the book has it"
        for name in given[1:]:
            yield name, f"stands beside {given[0]}; keep the one that the book has"


class AllowanceTable(Table):
    """Which table of broken wires and diameters is open, and who says so.

    Without table, edition, page, confirmed_by, date and the figure itself nothing is
    compared.
    """

    table: str = key("a table of the catalogue, or of the file", "")
    edition: str = key("edition that the inspector has open", "")
    page: str = key("page or clause", "")
    confirmed_by: str = key("who has it open", "")
    date: Day | None = key("when", left_out=_UNRECORDED)
    file: RecordPath = key(
        "tables of your own beside the record", "", left_out="the catalogue"
    )
    rope_class: str = key('such as "8x19"', "", left_out="from the construction")
    is_inspected_monthly: Flag = key(
        "whether a competent person inspects the ropes every month",
        False,  # noqa: FBT003
        alias="monthly_inspection",
    )

    figure: tuple[FigureTable, ...] = ()

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Each figure is typed once."""
        kinds = [
            one.get("what")
            for one in listed(written.get("figure", []))
            if isinstance(one, dict)
        ]
        for kind in dict.fromkeys(k for k in kinds if isinstance(k, str)):
            if kinds.count(kind) > 1:
                yield "figure", f'has "{kind}" twice; keep the one that the book has'

    @property
    def built(self) -> Allowance:
        """The allowance."""
        keys = dict(self)
        figures = tuple(one.make(TypedFigure) for one in keys.pop("figure"))
        return Allowance(figures=figures, **keys)


class FindingTable(Table):
    """Condition: what was looked for at one place of one rope."""

    kind_key: ClassVar[str] = "kind"
    kinds: ClassVar[Kinds] = findings.KEYS_OF
    rope: RopeNumber | None = key("rope number", left_out="the whole set")
    kind: FindingKind = key(", ".join(FindingKind), ...)
    at: str = key("place on the rope", "")
    seen: Seen | None = key("yes, no or could-not-see", left_out="yes if measured")
    counts: Flag = key("counts as an unfavourable condition", False)  # noqa: FBT003
    photos: RecordPaths = key("beside or below the record", (), alias="photo")
    note: str = key("anything", "")
    by: str = key("who found it", "")
    diameters: Lengths = key("diameter: two at right angles", ())
    gauge: Annotated[tuple[GaugeEntry, ...], BeforeValidator(listed)] = key(
        "diameter: how far the rope enters the gauge, twice: stays-out, first-step or "
        "whole-groove",
        (),
    )
    gauge_size: str = key("diameter: what stands on the gauge", "")
    broken: WholeOrNone | None = key("broken-wires: number in the worst lay")
    distribution: Distribution | None = key(
        "broken-wires: spread, one-or-two-strands, side-by-side or valley"
    )
    in_one_strand: WholeOrNone | None = key(
        "broken-wires: the most of them in any one strand"
    )
    adjacent: WholeOrNone | None = key(
        "broken-wires: so many of them lie side by side in one strand"
    )
    lay: Length | None = key("broken-wires, lay-length: length of the lay or lays")
    lays: Whole | None = key("lay-length: how many lays were measured", left_out="1")
    baseline: Length | None = key("lay-length: one lay when the rope was new")
    groove: Whole | None = key("groove: number of the groove")
    seating: Length | None = key("groove: how much lower the rope lies")
    other_rope: RopeNumber | None = key("crossed: the rope it crosses")
    series: SeriesName = key(
        "unequal-tension: the series that shows it", "", left_out="the first"
    )

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """What contradicts itself or cannot be compared later."""
        kind, seen = str(written.get("kind")), written.get("seen")
        if seen is None and not any(k in written for k in cls.kinds.get(kind, ())):
            yield "seen", "is missing; write yes, no or could-not-see"
        if written.get("counts") is True:
            if kind not in UNFAVOURABLE:
                allowed = ", ".join(sorted(UNFAVOURABLE))
                yield "counts", f"goes with {allowed}, not {kind}"
            elif seen in {Seen.NO, Seen.COULD_NOT_SEE}:
                yield (
                    "counts",
                    f'needs seen = "yes"; what is "{seen}" counts for nothing',
                )
        if kind == FindingKind.BROKEN_WIRES:
            yield from _broken_wires(written)
        if kind == FindingKind.DIAMETER and seen in {None, Seen.YES}:
            yield from _diameter(written)

    @property
    def built(self) -> Finding:
        """The finding; a measured one was seen, if nothing else is said."""
        seen = self.seen or (Seen.NO if self.broken == 0 else Seen.YES)
        return Finding(**{**dict(self), "seen": seen})


def _broken_wires(written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """A count belongs to one rope, one lay and one distribution."""
    if "rope" not in written:
        yield "rope", "is missing; broken wires are counted per rope"
    if written.get("seen") == Seen.COULD_NOT_SEE:
        return
    broken = written.get("broken")
    if broken is None:
        yield "broken", "is missing; write the number in the worst lay"
    elif broken != 0 and "distribution" not in written:
        yield "distribution", f"is missing; write one of {', '.join(Distribution)}"
    for name in ("in_one_strand", "adjacent"):
        part = written.get(name)
        if type(part) is int and type(broken) is int and part > broken:
            yield name, f"is {part}, more than the {broken} broken in the lay"
    if broken and written.get("seen") == Seen.NO:
        yield "seen", f"is no, but {broken} broken wires are counted"


def _diameter(written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """A diameter is two readings at right angles, or a gauge tried both ways."""
    if "rope" not in written:
        yield "rope", "is missing; a diameter is read on one rope"
    if "diameters" in written and len(listed(written["diameters"])) != 2:
        yield "diameters", "must be two readings at right angles"
    if "gauge" in written and len(listed(written["gauge"])) != 2:
        yield "gauge", "must be tried in two directions at right angles"
    if not written.keys() & {"diameters", "gauge"}:
        yield (
            "diameters",
            'is missing; write two readings at right angles, like ["12.6 mm", '
            '"12.7 mm"], or what the gauge did',
        )


class CheckTable(Table):
    """One item of the acceptance after re-roping."""

    kind_key: ClassVar[str] = "item"
    kinds: ClassVar[Kinds] = checks.KEYS_OF
    item: CheckItem = key(", ".join(CheckItem), ...)
    answer: CheckAnswer | None = key(
        "yes, no, not-applicable or could-not-see",
        left_out="needed unless figures are given",
    )
    rope: RopeNumber | None = key("rope number", left_out="the whole set")
    note: str = key("anything", "")
    photos: RecordPaths = key("beside or below the record", (), alias="photo")
    by: str = key("who looked", "")
    tag_text: str = key("right-rope: text of the rope tag", "")
    tag_diameter: Length | None = key("right-rope: on the tag")
    tag_strength: Force | None = key("right-rope: on the tag")
    plate_diameter: Length | None = key("right-rope: on the data plate")
    plate_strength: Force | None = key("right-rope: on the data plate")
    plate_ropes: Whole | None = key("right-rope: number on the data plate")
    diameters: Lengths = key(
        "new-diameter: two at right angles at each of up to three places", ()
    )
    core: Core | None = key(
        "new-diameter: fibre or steel", left_out="from the construction"
    )
    length: Length | None = key(
        "new-lay, groove-seating, tail, thread-left, springs (at 125 % load)"
    )
    lays: Whole | None = key("new-lay: how many were measured together")
    hitch_order: Wholes = key("not-crossed: ropes from left to right", ())
    grooves: Wholes = key("not-crossed: groove of each in that order", ())
    distances: Lengths = key("clips: from the mouth of the socket to each clip", ())
    rule: str = key("clips: which of the rules your code has", "")
    count: WholeOrNone | None = key("nuts-and-pins: sets of two nuts and a split pin")
    free_length: Length | None = key("springs: without load, else the hitch's")
    solid_length: Length | None = key("springs: coils touching, else the hitch's")
    series: SeriesName = key(
        "tension: the series that answers", "", left_out="the last"
    )
    now: Length | None = key("runby: found; negative if it would land before")
    wanted: Length | None = key("runby: wanted")
    least: Length | None = key("runby, runby-later: the least allowed")
    most: Length | None = key("runby: the most allowed")
    stretch: Fraction | None = key("runby-later: stretch still to come")
    rope_length: Length | None = key("runby-later: else that of the set")

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """An item is answered or measured, and what is measured fits together."""
        item = written.get("item")
        if not isinstance(item, str) or item not in list(CheckItem):
            return
        own = cls.kinds.get(item, ())
        if not any(name in written for name in ("answer", *own)):
            yield "answer", f"is missing; write one of {', '.join(CheckAnswer)}"
        if len(listed(written.get("diameters", []))) % 2:
            yield "diameters", "must be two readings at right angles per place"
        ropes, grooves = (
            listed(written.get(k, [])) for k in ("hitch_order", "grooves")
        )
        if len(ropes) != len(grooves):
            yield "grooves", "must name one groove for each rope of hitch_order"
        rules = [rule.name for rule in find_acceptance_item(item).rules]
        if written.get("rule") and written["rule"] not in rules:
            yield "rule", not_one_of(rules, written["rule"])
