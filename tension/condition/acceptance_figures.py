"""What is computed at acceptance after re-roping; each rope goes by its own rule.

Runby: the space between the striker of the counterweight and its buffer while the car
stands level at the top landing. It is negative when the counterweight would land before
the car is level. Shortening the ropes lifts the counterweight, so it adds to the runby;
stretch takes from it. Each rope has `n_falls` falls: 1 for 1:1, 2 for 2:1.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from itertools import combinations
from typing import TypeVar

from tension.catalogue.acceptance import AcceptanceItem, AcceptanceRule, CountedFrom
from tension.condition.checks import Check, CheckItem, Core
from tension.errors import InvalidValueError
from tension.installation import Lift, RopeSet, Roping
from tension.quantity.comparison import as_decimal, as_typed
from tension.quantity.units import Dimension, Quantity

SAME_DIAMETER = as_decimal(0.05e-3)
"""Tag and plate say the same diameter within this. [m]"""
SAME_STRENGTH = as_decimal(0.005)
"""Tag and plate say the same strength within this part: units are rounded. [1]"""

Real = TypeVar("Real", float, Fraction)
"""Plain numbers, or what was typed, exactly."""


def runby_shortening(now: Real, wanted: Real, n_falls: int) -> Real:
    """Work out how much is taken out of each rope to reach a runby [m].

    The counterweight rises by 1/n_falls of it; negative: to let in.

    Examples
    --------
    Landing 4 below level, 18 wanted: 22 are taken out, whatever the unit.

    >>> runby_shortening(-4.0, 18.0, 1)
    22.0
    """
    return n_falls * (wanted - now)


def runby_after_stretch(
    now: Real, stretch: Real, rope_length: Real, n_falls: int
) -> Real:
    """Work out the runby [m] left after a stretch, a part of the length hitch to hitch.

    Examples
    --------
    >>> round(runby_after_stretch(0.45, 0.005, 40.0, 1), 3)
    0.25
    """
    return now - stretch * rope_length / n_falls


def stretch_until(now: Real, least: Real, rope_length: Real, n_falls: int) -> Real:
    """Work out the stretch, of the rope length [m], that leaves the least runby [m].

    Negative when the runby is below the least already.

    Raises
    ------
    InvalidValueError
        If there is no length.
    """
    if not rope_length > 0:
        length = f"{float(rope_length):g}"
        raise InvalidValueError(f"rope length must be above 0 m, got {length} m")
    return (now - least) * n_falls / rope_length


def spring_margin(length: Real, free_length: Real, solid_length: Real) -> Real:
    """Work out how much of a spring's travel is left: 1 without load, 0 at solid.

    Lengths under the load asked about, without load, with the coils touching. [m]

    Raises
    ------
    InvalidValueError
        If the free length is not above the solid length.

    Examples
    --------
    >>> round(spring_margin(0.112, 0.160, 0.096), 3)
    0.25
    """
    if not free_length > solid_length:
        raise InvalidValueError(
            "the free length of a spring must be above its solid length, got "
            f"{float(free_length):g} m and {float(solid_length):g} m"
        )
    return (length - solid_length) / (free_length - solid_length)


def clip_places(distances: Sequence[Real], diameter: Real) -> list[tuple[Real, Real]]:
    """Turn distances of clips from the socket [m] into nominal diameters [m] of them.

    Nearest first: from the socket, and from the clip before; the first has no other.

    Examples
    --------
    >>> clip_places([0.048, 0.096], 0.012)
    [(4.0, 4.0), (8.0, 4.0)]
    """
    ordered: list[Real] = sorted(distances)
    return [
        (distance / diameter, (distance - ordered[i - 1] if i else distance) / diameter)
        for i, distance in enumerate(ordered)
    ]


def n_crossings(grooves: Sequence[int]) -> int:
    """Count the pairs of ropes that cross between hitch and sheave.

    Grooves are in the order of the ropes from left to right at the hitch; counted from
    the side that gives the fewer.

    Examples
    --------
    >>> n_crossings([1, 2, 3, 4]), n_crossings([4, 3, 2, 1]), n_crossings([1, 3, 2, 4])
    (0, 0, 1)
    """
    pairs = list(combinations(grooves, 2))
    falling = sum(left > right for left, right in pairs)
    return min(falling, len(pairs) - falling)


class FigureKind(Enum):
    """Every figure: its code, its dimension or unit, and to what it is known at best.

    The resolution is in the unit of the value; "d" are nominal diameters of the rope.
    """

    TAG_DIAMETER = "tag-diameter", Dimension.LENGTH, "", 1e-5
    TAG_STRENGTH = "tag-strength", None, "", 0.001
    PLATE_ROPES = "plate-ropes", None, "", 0.0
    NEW_DIAMETER = "new-diameter", Dimension.FRACTION, "", 0.001
    DIAMETER_RANGE = "diameter-range", Dimension.LENGTH, "", 1e-5
    LAY = "lay", Dimension.LENGTH, "", 1e-4
    LAY_IN_DIAMETERS = "lay-in-diameters", None, "d", 0.01
    CROSSED = "crossed", None, "", 0.0
    GROOVE_SHARED = "groove-shared", None, "", 0.0
    CLIPS = "clips", None, "", 0.0
    CLIP_FROM_SOCKET = "clip-from-socket", None, "d", 0.3
    CLIP_FROM_CLIP = "clip-from-clip", None, "d", 0.3
    TAIL = "tail", None, "d", 0.3
    ROD_ENDS = "rod-ends", None, "", 0.0
    SPRING_TRAVEL = "spring-travel", Dimension.FRACTION, "", 0.01
    RUNBY = "runby", Dimension.LENGTH, "", 1e-3
    ROPE_TO_TAKE_OUT = "rope-to-take-out", Dimension.LENGTH, "", 1e-3
    RUNBY_LATER = "runby-later", Dimension.LENGTH, "", 1e-3
    STRETCH_LEFT = "stretch-left", Dimension.FRACTION, "", 1e-4

    def __init__(
        self, code: str, dimension: Dimension | None, unit: str, resolution: float
    ) -> None:
        self.code, self.dimension = code, dimension
        self.unit, self.resolution = unit, resolution


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
        below = self.most is None or self.value <= self.most
        return above and below


_OF_THE_SET = {
    FigureKind.PLATE_ROPES,
    FigureKind.CROSSED,
    FigureKind.GROOVE_SHARED,
    FigureKind.RUNBY,
    FigureKind.ROPE_TO_TAKE_OUT,
    FigureKind.RUNBY_LATER,
    FigureKind.STRETCH_LEFT,
}


@dataclass(frozen=True, kw_only=True, slots=True)
class _Case:
    """One check with what it is computed from; the rules named are those of all.

    Its own rule decides, else the one named for all, if it is one.
    """

    check: Check
    item: AcceptanceItem
    named: tuple[AcceptanceRule, ...]
    lift: Lift
    rope_set: RopeSet

    @property
    def diameter(self) -> Fraction | None:
        """Nominal diameter [m]."""
        return _typed(self.rope_set.diameter)

    @property
    def rule(self) -> AcceptanceRule | None:
        """The rule that decides."""
        if self.check.rule:
            return self.item.find_rule(self.check.rule)
        return self.named[0] if len(self.named) == 1 else None

    def figure(
        self,
        kind: FigureKind,
        value: Fraction,
        least: Fraction | None = None,
        most: Fraction | None = None,
    ) -> Figure:
        """One figure of the check, of its rope if it is of one."""
        rope = None if kind in _OF_THE_SET else self.check.rope
        return Figure(kind=kind, value=value, rope=rope, least=least, most=most)

    def judged(self, figure: Figure) -> Figure:
        """The same by the rule that decides, or not judged: others name several."""
        is_left = len(self.named) > 1 and not self.check.rule
        name = self.rule.name if self.rule else ""
        return replace(figure, rule=name, is_unjudged=is_left)


def named_rules(
    item: AcceptanceItem, checks: Sequence[Check]
) -> tuple[AcceptanceRule, ...]:
    """Find the rules that were named at an item, in the order of the form."""
    names = {check.rule for check in checks}
    return tuple(rule for rule in item.rules if rule.name in names)


def compute_item(
    item: AcceptanceItem, checks: Sequence[Check], *, lift: Lift, rope_set: RopeSet
) -> tuple[Figure, ...]:
    """Compute the figures of one item."""
    named = named_rules(item, checks)
    of_item = _Case(
        check=Check(item=CheckItem(item.name)),
        item=item,
        named=named,
        lift=lift,
        rope_set=rope_set,
    )
    make = _OF_CHECK.get(of_item.check.item)
    if make is None:
        return ()
    cases = [replace(of_item, check=check) for check in checks]
    figures = [figure for case in cases for figure in make(case)]
    if make is _diameters:
        means = [mean for check in checks for mean in _mean_diameters(check)]
        if len(means) > 1:
            apart = max(means) - min(means)
            figures.append(of_item.figure(FigureKind.DIAMETER_RANGE, apart))
    return tuple(figures)


def _typed(quantity: Quantity | None) -> Fraction | None:
    """A quantity exactly, if it is given."""
    return as_typed(quantity) if quantity else None


def _bound(number: float | None) -> Fraction | None:
    """A bound of a rule exactly, if it has it."""
    return None if number is None else as_decimal(number)


def _tag(case: _Case) -> Iterator[Figure]:
    """Tag against plate, plate against the set."""
    check = case.check
    tag, plate = _typed(check.tag_diameter), _typed(check.plate_diameter)
    if tag is not None and plate is not None:
        kind, same = FigureKind.TAG_DIAMETER, SAME_DIAMETER
        yield case.figure(kind, tag - plate, least=-same, most=same)
    tag, plate = _typed(check.tag_strength), _typed(check.plate_strength)
    if tag is not None and plate is not None:
        kind, same = FigureKind.TAG_STRENGTH, SAME_STRENGTH
        yield case.figure(kind, tag / plate, least=1 - same, most=1 + same)
    if check.plate_ropes is not None:
        more, none = case.rope_set.n_ropes - check.plate_ropes, Fraction(0)
        yield case.figure(FigureKind.PLATE_ROPES, Fraction(more), none, none)


def _mean_diameters(check: Check) -> list[Fraction]:
    """Mean of two readings at right angles, at each place. [m]."""
    pairs = zip(check.diameters[::2], check.diameters[1::2], strict=True)
    return [(as_typed(one) + as_typed(other)) / 2 for one, other in pairs]


def _diameters(case: _Case) -> Iterator[Figure]:
    """New diameters against the nominal one."""
    if case.diameter is None:
        return
    rule, core = case.rule, case.check.core or _core(case.rope_set)
    most = None
    if rule is not None and core is not None:
        most = _bound(rule.over_fibre if core is Core.FIBRE else rule.over_steel)
    least = None if most is None else Fraction(0)
    for mean in _mean_diameters(case.check):
        over = mean / case.diameter - 1
        yield case.judged(case.figure(FigureKind.NEW_DIAMETER, over, least, most))


def _core(rope_set: RopeSet) -> Core | None:
    """Core by the abbreviation in the construction."""
    words = set(rope_set.construction.upper().replace(",", " ").split())
    if words & {"FC", "NFC", "SFC", "FIBRE", "FIBER"}:
        return Core.FIBRE
    if words & {"IWRC", "WSC", "SC", "STEEL", "IWRC-SZ"}:
        return Core.STEEL
    return None


def _lays(case: _Case) -> Iterator[Figure]:
    """Lay lengths, also in diameters, as the baseline."""
    length = _typed(case.check.length)
    if length is None:
        return
    lay = length / (case.check.lays or 1)
    yield case.figure(FigureKind.LAY, lay)
    if case.diameter is not None:
        yield case.figure(FigureKind.LAY_IN_DIAMETERS, lay / case.diameter)


def _crossings(case: _Case) -> Iterator[Figure]:
    """Crossed pairs, and ropes that share a groove."""
    grooves, none = case.check.grooves, Fraction(0)
    if grooves:
        crossed = Fraction(n_crossings(grooves))
        shared = Fraction(len(grooves) - len(set(grooves)))
        yield case.figure(FigureKind.CROSSED, crossed, most=none)
        yield case.figure(FigureKind.GROOVE_SHARED, shared, most=none)


def _clips(case: _Case) -> Iterator[Figure]:
    """Number and places of the clips, in diameters."""
    distances, rule = case.check.distances, case.rule
    if not distances or case.diameter is None:
        return
    places = clip_places([as_typed(d) for d in distances], case.diameter)
    least = None if rule is None or rule.n_clips is None else Fraction(rule.n_clips)
    figures = [case.figure(FigureKind.CLIPS, Fraction(len(places)), least)]
    for number, (from_socket, from_previous) in enumerate(places, start=1):
        ways = [(FigureKind.CLIP_FROM_SOCKET, from_socket, CountedFrom.SOCKET)]
        if number > 1:
            before = CountedFrom.FIRST_CLIP
            ways.append((FigureKind.CLIP_FROM_CLIP, from_previous, before))
        for kind, value, counted_from in ways:
            most = _clip_bound(rule, number, counted_from)
            figures.append(replace(case.figure(kind, value, most=most), clip=number))
    judged = [case.judged(figure) for figure in figures]
    yield from (replace(figure, is_unjudged=False) for figure in judged[:-1])
    yield judged[-1]


def _clip_bound(
    rule: AcceptanceRule | None, number: int, counted_from: CountedFrom
) -> Fraction | None:
    """Largest distance by the rule; the first clip counts from the socket."""
    if rule is not None and number == 1:
        return _bound(rule.first_most)
    if rule is not None and number == 2 and rule.second_from is counted_from:
        return _bound(rule.second_most)
    return None


def _tails(case: _Case) -> Iterator[Figure]:
    """Tails in diameters."""
    length = _typed(case.check.length)
    if length is not None and case.diameter is not None:
        yield case.figure(FigureKind.TAIL, length / case.diameter)


def _nuts(case: _Case) -> Iterator[Figure]:
    """Sets of nuts and pins, one for each rope at each end."""
    check = case.check
    if check.count is not None:
        ends = Fraction(2 * (1 if check.rope else case.rope_set.n_ropes))
        yield case.figure(FigureKind.ROD_ENDS, Fraction(check.count), ends)


def _springs(case: _Case) -> Iterator[Figure]:
    """Margin of a spring to solid at 125 % of rated load."""
    check = case.check
    of_hitches = [
        (hitch.spring_free_length, hitch.spring_solid_length)
        for hitch in case.rope_set.hitches
        if hitch.spring_free_length and hitch.spring_solid_length
    ]
    of_hitch = of_hitches[0] if of_hitches else (None, None)
    length = _typed(check.length)
    free = _typed(check.free_length or of_hitch[0])
    solid = _typed(check.solid_length or of_hitch[1])
    if length is None or free is None or solid is None or free <= solid:
        return
    margin = spring_margin(length, free, solid)
    yield case.figure(FigureKind.SPRING_TRAVEL, margin, least=as_decimal(1e-6))


def _runby(case: _Case) -> Iterator[Figure]:
    """The runby now, and the rope to take out for the one wanted."""
    check, rule, roping = case.check, case.rule, case.lift.roping
    now, wanted = _typed(check.now), _typed(check.wanted)
    if now is None:
        return
    least = _typed(check.least or (rule.least if rule else None))
    most = _typed(check.most or (rule.most if rule else None))
    yield case.judged(case.figure(FigureKind.RUNBY, now, least, most))
    if wanted is not None and roping is not Roping.ONE_TO_TWO:
        taken = runby_shortening(now, wanted, roping.n_falls)
        yield case.figure(FigureKind.ROPE_TO_TAKE_OUT, taken)


def _runby_later(case: _Case) -> Iterator[Figure]:
    """The runby after the stretch to come, and what uses it up."""
    check, n_falls = case.check, case.lift.roping.n_falls
    now, least = _typed(check.now), _typed(check.least)
    length = _typed(check.rope_length or case.rope_set.rope_length)
    if now is None or length is None:
        return
    if check.stretch is not None:
        later = runby_after_stretch(now, as_typed(check.stretch), length, n_falls)
        figure = case.figure(FigureKind.RUNBY_LATER, later, least)
        yield replace(figure, stretch=check.stretch)
    if least is not None:
        until = stretch_until(now, least, length, n_falls)
        yield case.figure(FigureKind.STRETCH_LEFT, until)


_OF_CHECK: Mapping[CheckItem, Callable[[_Case], Iterable[Figure]]] = {
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
