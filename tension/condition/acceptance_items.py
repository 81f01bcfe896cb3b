"""From what was measured at one item to its figures; each rope goes by its own rule."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from tension.catalogue.acceptance import AcceptanceItem, AcceptanceRule, CountedFrom
from tension.condition.acceptance_figures import (
    clip_places,
    n_crossings,
    runby_after_stretch,
    runby_shortening,
    spring_margin,
    stretch_until,
)
from tension.condition.checks import Check, CheckItem, Core
from tension.installation import Lift, RopeSet, Roping
from tension.quantity.comparison import as_decimal, as_typed
from tension.quantity.units import Dimension, Quantity

SAME_DIAMETER = as_decimal(0.05e-3)
"""Tag and plate say the same diameter within this. [m]"""
SAME_STRENGTH = as_decimal(0.005)
"""Tag and plate say the same strength within this part: units are rounded. [1]"""
NO_RULE_OF_ITS_OWN = "not judged: others go by different rules, none is named here"


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One computed figure, with the bound it is held against.

    Attributes
    ----------
    value : Fraction
        In the SI unit of its dimension, exactly from what was typed; a plain number or
        diameters without one.
    unit : str
        Unit to print where there is no dimension, such as "d".
    resolution : float
        To what it is known, at best, in the unit of the value.
    rope : int or None
        Rope number; None if of the set.
    least, most : Fraction or None
        Between what it must lie by the rule that was named.
    is_met : bool or None
        Whether it does; None where no rule was named.
    rule : str
        The rule that bounds it; empty if none does.
    note : str
        What a reader must know of it.
    """

    label: str
    value: Fraction
    dimension: Dimension | None = None
    unit: str = ""
    resolution: float = 0.0
    rope: int | None = None
    least: Fraction | None = None
    most: Fraction | None = None
    is_met: bool | None = None
    rule: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Case:
    """What an item is computed from, beside its checks; `named` rules were named."""

    item: AcceptanceItem
    named: tuple[AcceptanceRule, ...]
    lift: Lift
    rope_set: RopeSet

    @property
    def diameter(self) -> Fraction | None:
        """Nominal diameter. [m]."""
        return _typed(self.rope_set.diameter)

    def rule_of(self, check: Check) -> AcceptanceRule | None:
        """The rule named with a check; else the one named for all, if it is one."""
        if check.rule:
            return self.item.find_rule(check.rule)
        return self.named[0] if len(self.named) == 1 else None

    def note_of(self, check: Check) -> str:
        """Why a check is not judged though rules are named; empty if it is."""
        is_left = len(self.named) > 1 and not check.rule
        return NO_RULE_OF_ITS_OWN if is_left else ""


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
    case = _Case(item=item, named=named, lift=lift, rope_set=rope_set)
    name = CheckItem(item.name)
    make = _OF_CHECK.get(name)
    figures = [f for check in checks for f in make(check, case)] if make else []
    if name is CheckItem.NEW_DIAMETER:
        figures += _range_of_diameters(checks)
    return tuple(replace(figure, is_met=_is_met(figure)) for figure in figures)


def _is_met(figure: Figure) -> bool | None:
    """Whether a figure lies within its bounds; None without bounds."""
    if figure.least is None and figure.most is None:
        return None
    above = figure.least is None or figure.value >= figure.least
    below = figure.most is None or figure.value <= figure.most
    return above and below


def _typed(quantity: Quantity | None) -> Fraction | None:
    """A quantity exactly, if it is given."""
    return as_typed(quantity) if quantity else None


def _bound(number: float | None) -> Fraction | None:
    """A bound of a rule exactly, if it has it."""
    return None if number is None else as_decimal(number)


def _tag(check: Check, case: _Case) -> Iterator[Figure]:
    """Tag against plate, plate against the set."""
    tag, plate = check.tag_diameter, check.plate_diameter
    if tag and plate:
        yield Figure(
            label="diameter, tag less data plate",
            value=as_typed(tag) - as_typed(plate),
            dimension=Dimension.LENGTH,
            resolution=1e-5,
            rope=check.rope,
            least=-SAME_DIAMETER,
            most=SAME_DIAMETER,
        )
    if check.tag_strength and check.plate_strength:
        yield Figure(
            label="breaking strength, tag over data plate",
            value=as_typed(check.tag_strength) / as_typed(check.plate_strength),
            resolution=0.001,
            rope=check.rope,
            least=1 - SAME_STRENGTH,
            most=1 + SAME_STRENGTH,
        )
    if check.plate_ropes is not None:
        yield Figure(
            label="number of ropes, set less data plate",
            value=Fraction(case.rope_set.n_ropes - check.plate_ropes),
            least=Fraction(0),
            most=Fraction(0),
        )


def _mean_diameters(check: Check) -> list[Fraction]:
    """Mean of two readings at right angles, at each place. [m]."""
    pairs = zip(check.diameters[::2], check.diameters[1::2], strict=True)
    return [(as_typed(one) + as_typed(other)) / 2 for one, other in pairs]


def _diameters(check: Check, case: _Case) -> Iterator[Figure]:
    """New diameters against the nominal one."""
    if case.diameter is None:
        return
    rule = case.rule_of(check)
    core = check.core or _core(case.rope_set)
    most = None
    if rule is not None and core is not None:
        most = _bound(rule.over_fibre if core is Core.FIBRE else rule.over_steel)
    for mean in _mean_diameters(check):
        yield Figure(
            label="new diameter over nominal",
            value=mean / case.diameter - 1,
            dimension=Dimension.FRACTION,
            resolution=0.001,
            rope=check.rope,
            least=None if most is None else Fraction(0),
            most=most,
            rule=rule.name if rule else "",
            note=case.note_of(check),
        )


def _range_of_diameters(checks: Sequence[Check]) -> Iterator[Figure]:
    """New diameters against each other."""
    means = [mean for check in checks for mean in _mean_diameters(check)]
    if len(means) > 1:
        yield Figure(
            label="largest less smallest new diameter of the set",
            value=max(means) - min(means),
            dimension=Dimension.LENGTH,
            resolution=1e-5,
        )


def _core(rope_set: RopeSet) -> Core | None:
    """Core by the abbreviation in the construction."""
    words = set(rope_set.construction.upper().replace(",", " ").split())
    if words & {"FC", "NFC", "SFC", "FIBRE", "FIBER"}:
        return Core.FIBRE
    if words & {"IWRC", "WSC", "SC", "STEEL", "IWRC-SZ"}:
        return Core.STEEL
    return None


def _lays(check: Check, case: _Case) -> Iterator[Figure]:
    """Lay lengths, also in diameters, as the baseline."""
    if check.length is None:
        return
    lay = as_typed(check.length) / (check.lays or 1)
    yield Figure(
        label="one lay",
        value=lay,
        dimension=Dimension.LENGTH,
        resolution=1e-4,
        rope=check.rope,
        note="kept as the baseline",
    )
    if case.diameter is not None:
        yield Figure(
            label="one lay",
            value=lay / case.diameter,
            unit="d",
            resolution=0.01,
            rope=check.rope,
            note="usual lift ropes are near 6.5 d",
        )


def _crossings(check: Check, case: _Case) -> Iterator[Figure]:
    """Crossed pairs, and ropes that share a groove."""
    del case
    counts = {
        "pairs of ropes crossed between hitch and sheave": n_crossings(check.grooves),
        "ropes that share a groove": len(check.grooves) - len(set(check.grooves)),
    }
    for label, count in counts.items() if check.grooves else ():
        yield Figure(label=label, value=Fraction(count), most=Fraction(0))


def _clips(check: Check, case: _Case) -> Iterator[Figure]:
    """Number and places of the clips, in diameters."""
    if not check.distances or case.diameter is None:
        return
    rule = case.rule_of(check)
    places = clip_places([as_typed(d) for d in check.distances], case.diameter)
    name = rule.name if rule else ""
    figures = [
        Figure(
            label="clips",
            value=Fraction(len(places)),
            rope=check.rope,
            least=None
            if rule is None or rule.n_clips is None
            else Fraction(rule.n_clips),
            rule=name,
        )
    ]
    for number, clip in enumerate(places, start=1):
        ways = [("the socket", clip.from_socket, CountedFrom.SOCKET)]
        if number > 1:
            before = f"clip {number - 1}"
            ways.append((before, clip.from_previous, CountedFrom.FIRST_CLIP))
        figures += [
            Figure(
                label=f"clip {number} from {origin}",
                value=value,
                unit="d",
                resolution=0.3,
                rope=check.rope,
                most=_clip_bound(rule, number, counted_from),
                rule=name,
            )
            for origin, value, counted_from in ways
        ]
    if note := case.note_of(check):
        figures[-1] = replace(figures[-1], note=note)
    yield from figures


def _clip_bound(
    rule: AcceptanceRule | None, number: int, counted_from: CountedFrom
) -> Fraction | None:
    """Largest distance by the rule; the first clip counts from the socket."""
    if rule is not None and number == 1:
        return _bound(rule.first_most)
    if rule is not None and number == 2 and rule.second_from is counted_from:
        return _bound(rule.second_most)
    return None


def _tails(check: Check, case: _Case) -> Iterator[Figure]:
    """Tails in diameters."""
    if check.length is not None and case.diameter is not None:
        yield Figure(
            label="tail",
            value=as_typed(check.length) / case.diameter,
            unit="d",
            resolution=0.3,
            rope=check.rope,
        )


def _nuts(check: Check, case: _Case) -> Iterator[Figure]:
    """Sets of nuts and pins, one for each rope at each end."""
    if check.count is not None:
        yield Figure(
            label="rod ends with two nuts and a new split pin",
            value=Fraction(check.count),
            rope=check.rope,
            least=Fraction(2 * (1 if check.rope else case.rope_set.n_ropes)),
            note="one at each end of each rope",
        )


def _springs(check: Check, case: _Case) -> Iterator[Figure]:
    """Margin of a spring to solid at 125 % of rated load."""
    springs = [
        (h.spring_free_length, h.spring_solid_length)
        for h in case.rope_set.hitches
        if h.spring_free_length and h.spring_solid_length
    ]
    of_hitch = springs[0] if springs else (None, None)
    free = _typed(check.free_length or of_hitch[0])
    solid = _typed(check.solid_length or of_hitch[1])
    if check.length is None or free is None or solid is None or free <= solid:
        return
    yield Figure(
        label="spring travel left at 125 % of rated load",
        value=spring_margin(as_typed(check.length), free, solid),
        dimension=Dimension.FRACTION,
        resolution=0.01,
        rope=check.rope,
        least=as_decimal(1e-6),
        note="level springs do not mean level tension",
    )


def _runby(check: Check, case: _Case) -> Iterator[Figure]:
    """The runby now, and the rope to take out for the one wanted."""
    if check.now is None:
        return
    rule, now = case.rule_of(check), as_typed(check.now)
    yield Figure(
        label="runby now",
        value=now,
        dimension=Dimension.LENGTH,
        resolution=1e-3,
        least=_typed(check.least or (rule.least if rule else None)),
        most=_typed(check.most or (rule.most if rule else None)),
        rule=rule.name if rule else "",
        note=case.note_of(check) or _runby_note(now),
    )
    if check.wanted is not None and case.lift.roping is not Roping.ONE_TO_TWO:
        taken = runby_shortening(now, as_typed(check.wanted), case.lift.roping.n_falls)
        yield Figure(
            label="rope to take out of each rope for the runby wanted",
            value=taken,
            dimension=Dimension.LENGTH,
            resolution=1e-3,
            note="shortening lifts the counterweight"
            if taken >= 0
            else "negative: let rope in, which lowers the counterweight",
        )


def _runby_note(runby: Fraction) -> str:
    """What a runby means, by its sign."""
    if runby < 0:
        return "negative: the counterweight lands before the car is level"
    if runby == 0:
        return "the counterweight touches its buffer when the car is level"
    return "space is left above the buffer when the car is level"


def _runby_later(check: Check, case: _Case) -> Iterator[Figure]:
    """The runby after the stretch to come, and what uses it up."""
    length = check.rope_length or case.rope_set.rope_length
    if check.now is None or length is None:
        return
    now, long = as_typed(check.now), as_typed(length)
    n_falls = case.lift.roping.n_falls
    least = _typed(check.least)
    if check.stretch is not None:
        later = runby_after_stretch(now, as_typed(check.stretch), long, n_falls)
        yield Figure(
            label=f"runby after {check.stretch.text} stretch",
            value=later,
            dimension=Dimension.LENGTH,
            resolution=1e-3,
            least=least,
            note=_runby_note(later),
        )
    if least is not None:
        yield Figure(
            label="stretch at which the least runby is reached",
            value=stretch_until(now, least, long, n_falls),
            dimension=Dimension.FRACTION,
            resolution=1e-4,
        )


_OF_CHECK: dict[CheckItem, Callable[[Check, _Case], Iterator[Figure]]] = {
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
