"""From what was measured at one item to its figures."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from tension.catalogue.acceptance import AcceptanceItem, AcceptanceRule, CountedFrom
from tension.condition.acceptance_figures import (
    clip_places,
    n_crossings,
    spring_margin,
)
from tension.condition.acceptance_place import Place, named_rules
from tension.condition.acceptance_runby import runby_figures, runby_later_figures
from tension.condition.checks import Check, CheckItem, Core
from tension.condition.figure import Figure, bounded
from tension.installation import Lift, RopeSet
from tension.quantity.comparison import as_decimal, as_typed
from tension.quantity.units import Dimension

SAME_DIAMETER = as_decimal(0.05e-3)
"""Tag and plate say the same diameter within this. [m]"""
SAME_STRENGTH = as_decimal(0.005)
"""Tag and plate say the same strength within this part: units are rounded. [1]"""


def compute_item(
    item: AcceptanceItem,
    checks: Sequence[Check],
    *,
    lift: Lift,
    rope_set: RopeSet,
) -> tuple[Figure, ...]:
    """Compute the figures of one item."""
    compute = _COMPUTE.get(CheckItem(item.name))
    if compute is None:
        return ()
    named = named_rules(item, checks)
    place = Place(item=item, named=named, lift=lift, rope_set=rope_set)
    return tuple(
        replace(figure, is_met=bounded(figure)) if figure.is_met is None else figure
        for figure in compute(checks, place)
    )


def _tag(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Tag against plate, plate against the set."""
    figures = []
    for check in checks:
        tag, plate = check.tag_diameter, check.plate_diameter
        if tag and plate:
            figures.append(
                Figure(
                    label="diameter, tag less data plate",
                    value=as_typed(tag) - as_typed(plate),
                    dimension=Dimension.LENGTH,
                    resolution=1e-5,
                    rope=check.rope,
                    least=-SAME_DIAMETER,
                    most=SAME_DIAMETER,
                )
            )
        if check.tag_strength and check.plate_strength:
            ratio = as_typed(check.tag_strength) / as_typed(check.plate_strength)
            figures.append(
                Figure(
                    label="breaking strength, tag over data plate",
                    value=ratio,
                    resolution=0.001,
                    rope=check.rope,
                    least=1 - SAME_STRENGTH,
                    most=1 + SAME_STRENGTH,
                )
            )
        if check.plate_ropes is not None:
            figures.append(
                Figure(
                    label="number of ropes, set less data plate",
                    value=Fraction(place.rope_set.n_ropes - check.plate_ropes),
                    least=Fraction(0),
                    most=Fraction(0),
                )
            )
    return figures


def _diameters(checks: Sequence[Check], place: Place) -> list[Figure]:
    """New diameters against the nominal one, and against each other."""
    nominal = place.rope_set.diameter
    figures, means = [], []
    for check in checks:
        pairs = list(zip(check.diameters[::2], check.diameters[1::2], strict=True))
        for one, other in pairs:
            mean = (as_typed(one) + as_typed(other)) / 2
            means.append(mean)
            if nominal is None:
                continue
            rule = place.rule_of(check)
            most = _largest_excess(check.core or _core(place.rope_set), rule)
            figures.append(
                Figure(
                    label="new diameter over nominal",
                    value=mean / as_typed(nominal) - 1,
                    dimension=Dimension.FRACTION,
                    resolution=0.001,
                    rope=check.rope,
                    least=None if most is None else Fraction(0),
                    most=most,
                    rule=rule.name if rule else "",
                    note=place.note_of(check),
                )
            )
    if len(means) > 1:
        figures.append(
            Figure(
                label="largest less smallest new diameter of the set",
                value=max(means) - min(means),
                dimension=Dimension.LENGTH,
                resolution=1e-5,
            )
        )
    return figures


def _core(rope_set: RopeSet) -> Core | None:
    """Core by the abbreviation in the construction."""
    words = rope_set.construction.upper().replace(",", " ").split()
    if any(word in {"FC", "NFC", "SFC", "FIBRE", "FIBER"} for word in words):
        return Core.FIBRE
    if any(word in {"IWRC", "WSC", "SC", "STEEL", "IWRC-SZ"} for word in words):
        return Core.STEEL
    return None


def _largest_excess(core: Core | None, rule: AcceptanceRule | None) -> Fraction | None:
    """Tolerance of a new rope by its core."""
    if rule is None or core is None:
        return None
    most = rule.over_fibre if core is Core.FIBRE else rule.over_steel
    return None if most is None else as_decimal(most)


def _lays(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Lay lengths in diameters, as the baseline."""
    figures = []
    for check in checks:
        if check.length is None:
            continue
        lay = as_typed(check.length) / (check.lays or 1)
        figures.append(
            Figure(
                label="one lay",
                value=lay,
                dimension=Dimension.LENGTH,
                resolution=1e-4,
                rope=check.rope,
                note="kept as the baseline",
            )
        )
        if place.rope_set.diameter is not None:
            figures.append(
                Figure(
                    label="one lay",
                    value=lay / as_typed(place.rope_set.diameter),
                    unit="d",
                    resolution=0.01,
                    rope=check.rope,
                    note="usual lift ropes are near 6.5 d",
                )
            )
    return figures


def _crossings(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Crossed pairs, and ropes that share a groove."""
    del place
    figures = []
    for check in checks:
        if not check.grooves:
            continue
        figures += [
            Figure(
                label="pairs of ropes crossed between hitch and sheave",
                value=Fraction(n_crossings(check.grooves)),
                most=Fraction(0),
            ),
            Figure(
                label="ropes that share a groove",
                value=Fraction(len(check.grooves) - len(set(check.grooves))),
                most=Fraction(0),
            ),
        ]
    return figures


def _clips(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Clip distances in diameters, each rope against its own rule."""
    diameter = place.rope_set.diameter
    figures: list[Figure] = []
    for check in checks:
        if check.distances and diameter is not None:
            figures += _clips_of(check, place.rule_of(check), as_typed(diameter))
            if note := place.note_of(check):
                figures[-1] = replace(figures[-1], note=note)
    return figures


def _clips_of(
    check: Check, rule: AcceptanceRule | None, diameter: Fraction
) -> list[Figure]:
    """Number and places of the clips of one check."""
    places = clip_places([as_typed(d) for d in check.distances], diameter)
    name = rule.name if rule else ""
    least = None if rule is None or rule.n_clips is None else Fraction(rule.n_clips)
    figures = [
        Figure(
            label="clips",
            value=Fraction(len(places)),
            rope=check.rope,
            least=least,
            rule=name,
        )
    ]
    for number, clip in enumerate(places, start=1):
        ways = [("the socket", clip.from_socket, CountedFrom.SOCKET)]
        if number > 1:
            ways.append(
                (f"clip {number - 1}", clip.from_previous, CountedFrom.FIRST_CLIP)
            )
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
    return figures


def _clip_bound(
    rule: AcceptanceRule | None, number: int, counted_from: CountedFrom
) -> Fraction | None:
    """Largest distance by the rule; the first clip counts from the socket."""
    most = None
    if rule is not None and number == 1:
        most = rule.first_most
    elif rule is not None and number == 2 and rule.second_from is counted_from:
        most = rule.second_most
    return None if most is None else as_decimal(most)


def _tails(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Tails in diameters."""
    diameter = place.rope_set.diameter
    if diameter is None:
        return []
    return [
        Figure(
            label="tail",
            value=as_typed(check.length) / as_typed(diameter),
            unit="d",
            resolution=0.3,
            rope=check.rope,
        )
        for check in checks
        if check.length is not None
    ]


def _nuts(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Sets of nuts and pins, one for each rope at each end."""
    return [
        Figure(
            label="rod ends with two nuts and a new split pin",
            value=Fraction(check.count),
            rope=check.rope,
            least=Fraction(2 * (1 if check.rope else place.rope_set.n_ropes)),
            note="one at each end of each rope",
        )
        for check in checks
        if check.count is not None
    ]


def _springs(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Margin of each spring to solid at 125 % of rated load."""
    hitch = next(
        (
            h
            for h in place.rope_set.hitches
            if h.spring_free_length and h.spring_solid_length
        ),
        None,
    )
    figures = []
    for check in checks:
        free = check.free_length or (hitch.spring_free_length if hitch else None)
        solid = check.solid_length or (hitch.spring_solid_length if hitch else None)
        if check.length is None or free is None or solid is None:
            continue
        if as_typed(free) <= as_typed(solid):
            continue
        figures.append(
            Figure(
                label="spring travel left at 125 % of rated load",
                value=spring_margin(
                    as_typed(check.length), as_typed(free), as_typed(solid)
                ),
                dimension=Dimension.FRACTION,
                resolution=0.01,
                rope=check.rope,
                least=as_decimal(1e-6),
                note="level springs do not mean level tension",
            )
        )
    return figures


_COMPUTE: dict[CheckItem, Callable[[Sequence[Check], Place], list[Figure]]] = {
    CheckItem.RIGHT_ROPE: _tag,
    CheckItem.NEW_DIAMETER: _diameters,
    CheckItem.NEW_LAY: _lays,
    CheckItem.NOT_CROSSED: _crossings,
    CheckItem.CLIPS: _clips,
    CheckItem.TAIL: _tails,
    CheckItem.NUTS_AND_PINS: _nuts,
    CheckItem.SPRINGS: _springs,
    CheckItem.RUNBY: runby_figures,
    CheckItem.RUNBY_LATER: runby_later_figures,
}
