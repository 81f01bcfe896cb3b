"""Acceptance after re-roping: items answered, figures computed, defects listed.

Runby: the space between the striker of the counterweight and its buffer while the car
stands level at the top landing. It is negative when the counterweight would land before
the car is level. Shortening the ropes lifts the counterweight, so it adds to the runby;
stretch takes from it. Each rope has `n_falls` falls: 1 for 1:1, 2 for 2:1.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from itertools import combinations, pairwise
from typing import Any

from tension.assessment.decide import Assessment, Verdict
from tension.catalogue.ropes import Core, core_of
from tension.condition.checks import (
    AcceptanceItem,
    AcceptanceRule,
    Check,
    CheckAnswer,
    CheckItem,
    CountedFrom,
    acceptance_items,
)
from tension.condition.findings import find_assessment
from tension.installation import Lift, RopeSet, Roping
from tension.quantity.units import Dimension, Quantity, as_decimal, as_typed

SAME_DIAMETER = as_decimal(0.05e-3)
"""Tag and plate say the same diameter within this. [m]"""
SAME_STRENGTH = as_decimal(0.005)
"""Tag and plate say the same strength within this part: units are rounded. [1]"""
_NONE = Fraction(0)  # what may be crossed, shared or missing [1]
_LEAST_TRAVEL = as_decimal(1e-6)
"""A spring with less of its travel left than this is solid. [1]"""


class FigureKind(Enum):
    """Every figure: its code, its dimension or unit, and its decimals at best.

    Decimals are of the value in SI; "d" are nominal diameters of the rope.
    """

    TAG_DIAMETER = "tag-diameter", Dimension.LENGTH, "", 6
    TAG_STRENGTH = "tag-strength", None, "", 4
    PLATE_ROPES = "plate-ropes", None, "", 0
    NEW_DIAMETER = "new-diameter", Dimension.FRACTION, "", 4
    DIAMETER_RANGE = "diameter-range", Dimension.LENGTH, "", 6
    LAY = "lay", Dimension.LENGTH, "", 5
    LAY_IN_DIAMETERS = "lay-in-diameters", None, "d", 3
    CROSSED = "crossed", None, "", 0
    GROOVE_SHARED = "groove-shared", None, "", 0
    CLIPS = "clips", None, "", 0
    CLIP_FROM_SOCKET = "clip-from-socket", None, "d", 1
    CLIP_FROM_CLIP = "clip-from-clip", None, "d", 1
    TAIL = "tail", None, "d", 1
    ROD_ENDS = "rod-ends", None, "", 0
    SPRING_TRAVEL = "spring-travel", Dimension.FRACTION, "", 3
    RUNBY = "runby", Dimension.LENGTH, "", 4
    ROPE_TO_TAKE_OUT = "rope-to-take-out", Dimension.LENGTH, "", 4
    RUNBY_LATER = "runby-later", Dimension.LENGTH, "", 4
    STRETCH_LEFT = "stretch-left", Dimension.FRACTION, "", 5

    def __init__(
        self, code: str, dimension: Dimension | None, unit: str, decimals: int
    ) -> None:
        self.code, self.dimension = code, dimension
        self.unit, self.decimals = unit, decimals


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One computed figure, of a rope or of the set, with the bounds of its rule.

    The value is exact, from what was typed; a clip has its number from the socket, a
    later runby its stretch. It is met if it lies within the bounds; None without any.
    Where other ropes go by different rules and none is named here, it is not judged.
    """

    kind: FigureKind
    value: Fraction
    rope: int | None = None
    least: Fraction | None = None
    most: Fraction | None = None
    rule: str = ""
    clip: int = 0
    stretch: Quantity | None = None
    is_unjudged: bool = False

    @property
    def is_met(self) -> bool | None:
        """Whether it lies within its bounds; None without bounds."""
        if self.least is None and self.most is None:
            return None
        above = self.least is None or self.value >= self.least
        return above and (self.most is None or self.value <= self.most)


@dataclass(frozen=True, kw_only=True, slots=True)
class ItemResult:
    """One item with what was answered and computed, of the set or rope by rope.

    The rules are those that the person named, each rope judged by its own; for tension
    an assessment answers.
    """

    item: AcceptanceItem
    checks: tuple[Check, ...]
    figures: tuple[Figure, ...] = ()
    rules: tuple[AcceptanceRule, ...] = ()
    assessment: Assessment | None = None

    @property
    def is_answered(self) -> bool:
        """Whether anything was answered, computed or measured."""
        answered = any(check.answer is not None for check in self.checks)
        return bool(self.figures or self.assessment) or answered


@dataclass(frozen=True, kw_only=True, slots=True)
class Defect:
    """One line of the defects list, of a rope or of the set.

    A check answered "no", a figure outside its bound or an assessment "unequal" makes
    it a defect.
    """

    item: AcceptanceItem
    rope: int | None = None
    check: Check | None = None
    figure: Figure | None = None
    assessment: Assessment | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Acceptance:
    """The form filled in: every item in the order of the form, and the defects."""

    items: tuple[ItemResult, ...]
    defects: tuple[Defect, ...]

    @property
    def open_items(self) -> tuple[ItemResult, ...]:
        """Items without any answer."""
        return tuple(result for result in self.items if not result.is_answered)

    @property
    def unseen_items(self) -> tuple[ItemResult, ...]:
        """Items of which something could not be seen."""
        unseen = CheckAnswer.COULD_NOT_SEE
        return tuple(r for r in self.items if unseen in {c.answer for c in r.checks})


def accept_set(
    checks: Sequence[Check],
    *,
    lift: Lift,
    rope_set: RopeSet,
    assessments: Sequence[Assessment] = (),
) -> Acceptance:
    """Work through the form; assessments are of every series, in order of time."""
    results = []
    for item in acceptance_items():
        own = tuple(check for check in checks if check.item is item.name)
        names = {check.rule for check in own}
        rules = tuple(rule for rule in item.rules if rule.name in names)
        cases = [
            _Case(check=check, item=item, named=rules, lift=lift, rope_set=rope_set)
            for check in own
        ]
        assessment = None
        if item.name is CheckItem.TENSION:
            wanted = next((check.series for check in own if check.series), "")
            assessment = find_assessment(wanted, reversed(assessments))
        result = ItemResult(
            item=item,
            checks=own,
            figures=tuple(_figures(item.name, cases)),
            rules=rules,
            assessment=assessment,
        )
        results.append(result)
    return Acceptance(
        items=tuple(results),
        defects=tuple(defect for result in results for defect in _defects(result)),
    )


def _defects(result: ItemResult) -> Iterator[Defect]:
    """What makes an item a defect."""
    for check in result.checks:
        if check.answer is CheckAnswer.NO:
            yield Defect(item=result.item, rope=check.rope, check=check)
    for figure in result.figures:
        if figure.is_met is False:
            yield Defect(item=result.item, rope=figure.rope, figure=figure)
    assessment = result.assessment
    if assessment is not None and assessment.verdict is Verdict.UNEQUAL:
        yield Defect(item=result.item, assessment=assessment)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Case:
    """One check with what it is computed from; the rules named are those of all."""

    check: Check
    item: AcceptanceItem
    named: tuple[AcceptanceRule, ...]
    lift: Lift
    rope_set: RopeSet

    @property
    def rule(self) -> AcceptanceRule | None:
        """The rule that decides: its own, else the one named for all, if it is one."""
        if self.check.rule:
            return self.item.find_rule(self.check.rule)
        return self.named[0] if len(self.named) == 1 else None

    @property
    def judgement(self) -> dict[str, Any]:
        """The name of the rule that decides; or that none does, as others name some."""
        is_left = len(self.named) > 1 and not self.check.rule
        return {"rule": self.rule.name if self.rule else "", "is_unjudged": is_left}

    def figure(self, kind: FigureKind, value: Fraction, **more: Any) -> Figure:  # noqa: ANN401 - fields of a figure
        """One figure of the check, of its rope if it is of one."""
        return Figure(kind=kind, value=value, rope=self.check.rope, **more)

    def in_diameters(
        self,
        kind: FigureKind,
        lengths: Sequence[Fraction],
        **more: Any,  # noqa: ANN401
    ) -> Iterator[Figure]:
        """Lengths [m] in nominal diameters, if that of the set is known."""
        for nominal in _typed(self.rope_set.diameter):
            for length in lengths:
                yield self.figure(kind, length / nominal, **more)


def _typed(*quantities: Quantity | None) -> tuple[Fraction, ...]:
    """Give quantities exactly as typed; none of them if one is not given."""
    given = [as_typed(quantity) for quantity in quantities if quantity]
    return tuple(given) if len(given) == len(quantities) else ()


def _bound(quantity: Quantity | None) -> Fraction | None:
    """Give a quantity exactly as typed, if there is one."""
    return as_typed(quantity) if quantity else None


def _figures(item: CheckItem, cases: Sequence[_Case]) -> Iterator[Figure]:
    """The figures of one item."""
    for case in cases if item in _OF_CHECK else ():
        yield from _OF_CHECK[item](case)
    means = [mean for case in cases for mean in _mean_diameters(case.check)]
    if len(means) > 1:
        yield Figure(kind=FigureKind.DIAMETER_RANGE, value=max(means) - min(means))


def _tag(case: _Case) -> Iterator[Figure]:
    """Tag against plate, plate against the set."""
    check = case.check
    if read := _typed(check.tag_diameter, check.plate_diameter):
        kind, same = FigureKind.TAG_DIAMETER, SAME_DIAMETER
        yield case.figure(kind, read[0] - read[1], least=-same, most=same)
    if read := _typed(check.tag_strength, check.plate_strength):
        kind, same = FigureKind.TAG_STRENGTH, SAME_STRENGTH
        yield case.figure(kind, read[0] / read[1], least=1 - same, most=1 + same)
    if check.plate_ropes is not None:
        more = Fraction(case.rope_set.n_ropes - check.plate_ropes)
        yield case.figure(FigureKind.PLATE_ROPES, more, least=_NONE, most=_NONE)


def _mean_diameters(check: Check) -> list[Fraction]:
    """Mean of two readings at right angles, at each place. [m]."""
    read = _typed(*check.diameters)
    pairs = zip(read[::2], read[1::2], strict=True)
    return [(one + other) / 2 for one, other in pairs]


def _diameters(case: _Case) -> Iterator[Figure]:
    """New diameters against the nominal one."""
    rule = case.rule
    core = case.check.core or core_of(case.rope_set.construction)
    over = None
    if rule is not None and core is not None:
        over = rule.over_fibre if core is Core.FIBRE else rule.over_steel
    bounds: dict[str, Any] = {}
    if over is not None:
        bounds = {"least": _NONE, "most": as_decimal(over)}
    for nominal in _typed(case.rope_set.diameter):
        for mean in _mean_diameters(case.check):
            by = bounds | case.judgement
            yield case.figure(FigureKind.NEW_DIAMETER, mean / nominal - 1, **by)


def _lays(case: _Case) -> Iterator[Figure]:
    """Lay lengths, also in diameters, as the baseline."""
    for length in _typed(case.check.length):
        lay = length / (case.check.lays or 1)
        yield case.figure(FigureKind.LAY, lay)
        yield from case.in_diameters(FigureKind.LAY_IN_DIAMETERS, [lay])


def _crossings(case: _Case) -> Iterator[Figure]:
    """Crossed pairs, and ropes that share a groove.

    Grooves are in the order of the ropes from left to right at the hitch; pairs are
    counted from the side that gives the fewer.
    """
    grooves = case.check.grooves
    if grooves:
        pairs = list(combinations(grooves, 2))
        falling = sum(left > right for left, right in pairs)
        rising = sum(left < right for left, right in pairs)
        crossed = Fraction(min(falling, rising))
        shared = Fraction(len(grooves) - len(set(grooves)))
        yield case.figure(FigureKind.CROSSED, crossed, most=_NONE)
        yield case.figure(FigureKind.GROOVE_SHARED, shared, most=_NONE)


def _clips(case: _Case) -> Iterator[Figure]:
    """Number and places of the clips, in diameters from socket and clip before."""
    distances, rule = sorted(_typed(*case.check.distances)), case.rule
    if not distances or case.rope_set.diameter is None:
        return
    least = Fraction(rule.n_clips) if rule and rule.n_clips is not None else None
    figures = [case.figure(FigureKind.CLIPS, Fraction(len(distances)), least=least)]
    bounds: dict[tuple[FigureKind, int], float | None] = {}
    from_socket, from_clip = FigureKind.CLIP_FROM_SOCKET, FigureKind.CLIP_FROM_CLIP
    if rule is not None:  # the first clip counts from the socket
        second = from_socket if rule.second_from is CountedFrom.SOCKET else from_clip
        bounds = {(from_socket, 1): rule.first_most, (second, 2): rule.second_most}
    places = enumerate(pairwise((_NONE, *distances)), start=1)
    for number, (before, distance) in places:
        ways = ((from_socket, distance), (from_clip, distance - before))
        for kind, length in ways[:number]:
            bound = bounds.get((kind, number))
            most = None if bound is None else as_decimal(bound)
            figures += case.in_diameters(kind, [length], most=most, clip=number)
    *others, last = figures  # that none is judged is told once
    yield from (replace(one, rule=case.judgement["rule"]) for one in others)
    yield replace(last, **case.judgement)


def _tails(case: _Case) -> Iterator[Figure]:
    """Tails in diameters."""
    yield from case.in_diameters(FigureKind.TAIL, _typed(case.check.length))


def _nuts(case: _Case) -> Iterator[Figure]:
    """Sets of nuts and pins, one for each rope at each end."""
    check = case.check
    if check.count is not None:
        ends = Fraction(2 * (1 if check.rope else case.rope_set.n_ropes))
        yield case.figure(FigureKind.ROD_ENDS, Fraction(check.count), least=ends)


def _springs(case: _Case) -> Iterator[Figure]:
    """Travel of a spring left at 125 % of rated load: 1 without load, 0 at solid."""
    check = case.check
    known = [
        (hitch.spring_free_length, hitch.spring_solid_length)
        for hitch in case.rope_set.hitches
        if hitch.spring_free_length and hitch.spring_solid_length
    ]
    free, solid = known[0] if known else (None, None)
    read = _typed(check.length, check.free_length or free, check.solid_length or solid)
    if read and read[1] > read[2]:
        margin = (read[0] - read[2]) / (read[1] - read[2])
        yield case.figure(FigureKind.SPRING_TRAVEL, margin, least=_LEAST_TRAVEL)


def _runby(case: _Case) -> Iterator[Figure]:
    """The runby now, and the rope to take out of each rope for the one wanted."""
    check, rule, roping = case.check, case.rule, case.lift.roping
    bounds = {
        "least": _bound(check.least or (rule.least if rule else None)),
        "most": _bound(check.most or (rule.most if rule else None)),
    }
    for now in _typed(check.now):
        yield case.figure(FigureKind.RUNBY, now, **bounds, **case.judgement)
    if roping is not Roping.ONE_TO_TWO and (read := _typed(check.now, check.wanted)):
        taken = roping.n_falls * (read[1] - read[0])
        yield case.figure(FigureKind.ROPE_TO_TAKE_OUT, taken)


def _runby_later(case: _Case) -> Iterator[Figure]:
    """The runby after the stretch to come, and the stretch that leaves the least."""
    check, n_falls = case.check, case.lift.roping.n_falls
    length = check.rope_length or case.rope_set.rope_length
    if read := _typed(check.now, length, check.stretch):
        later = read[0] - read[2] * read[1] / n_falls
        more = {"least": _bound(check.least), "stretch": check.stretch}
        yield case.figure(FigureKind.RUNBY_LATER, later, **more)
    if read := _typed(check.now, length, check.least):
        until = (read[0] - read[2]) * n_falls / read[1]
        yield case.figure(FigureKind.STRETCH_LEFT, until)


_OF_CHECK: Mapping[CheckItem, Callable[[_Case], Iterator[Figure]]] = {
    CheckItem.RIGHT_ROPE: _tag,
    CheckItem.NEW_DIAMETER: _diameters,
    CheckItem.NEW_LAY: _lays,
    CheckItem.NOT_CROSSED: _crossings,
    CheckItem.CLIPS: _clips,
    CheckItem.TAIL: _tails,
    CheckItem.NUTS_AND_PINS: _nuts,
    CheckItem.SPRINGS: _springs,
    CheckItem.RUNBY: _runby,
    CheckItem.RUNBY_LATER: _runby_later,
}
