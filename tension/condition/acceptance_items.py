"""From what was measured at one item to its figures."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

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
from tension.condition.figure import Figure, bounded
from tension.installation import Lift, RopeSet, Roping
from tension.quantity.units import Dimension

SAME_DIAMETER = 0.05e-3
"""Tag and plate say the same diameter within this. [m]"""
SAME_STRENGTH = 0.005
"""Tag and plate say the same strength within this part: units are rounded. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Place:
    """What an item is computed from, beside its checks."""

    item: AcceptanceItem
    rule: AcceptanceRule | None
    lift: Lift
    rope_set: RopeSet


def compute_item(
    item: AcceptanceItem,
    checks: Sequence[Check],
    *,
    rule: AcceptanceRule | None,
    lift: Lift,
    rope_set: RopeSet,
) -> tuple[Figure, ...]:
    """Compute the figures of one item.

    Parameters
    ----------
    item : AcceptanceItem
        The item.
    checks : sequence of Check
        What was measured at it.
    rule : AcceptanceRule or None
        The rule that the person named.
    lift : Lift
        For the roping.
    rope_set : RopeSet
        The ropes.

    Returns
    -------
    tuple of Figure
        Empty for items without figures or without readings.
    """
    compute = _COMPUTE.get(CheckItem(item.name))
    if compute is None:
        return ()
    place = _Place(item=item, rule=rule, lift=lift, rope_set=rope_set)
    return tuple(
        replace(figure, is_met=bounded(figure)) if figure.is_met is None else figure
        for figure in compute(checks, place)
    )


def _tag(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """Tag against plate, plate against the set."""
    figures = []
    for check in checks:
        tag, plate = check.tag_diameter, check.plate_diameter
        if tag and plate:
            figures.append(
                Figure(
                    label="diameter, tag less data plate",
                    value=tag.value - plate.value,
                    dimension=Dimension.LENGTH,
                    resolution=1e-5,
                    rope=check.rope,
                    least=-SAME_DIAMETER,
                    most=SAME_DIAMETER,
                )
            )
        if check.tag_strength and check.plate_strength:
            ratio = check.tag_strength.value / check.plate_strength.value
            figures.append(
                Figure(
                    label="breaking strength, tag over data plate",
                    value=ratio,
                    resolution=0.001,
                    rope=check.rope,
                    least=1.0 - SAME_STRENGTH,
                    most=1.0 + SAME_STRENGTH,
                )
            )
        if check.plate_ropes is not None:
            figures.append(
                Figure(
                    label="number of ropes, set less data plate",
                    value=float(place.rope_set.n_ropes - check.plate_ropes),
                    least=0.0,
                    most=0.0,
                )
            )
    return figures


def _diameters(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """New diameters against the nominal one, and against each other."""
    nominal = place.rope_set.diameter
    figures, means = [], []
    for check in checks:
        pairs = list(zip(check.diameters[::2], check.diameters[1::2], strict=True))
        for one, other in pairs:
            mean = 0.5 * (one.value + other.value)
            means.append(mean)
            if nominal is None:
                continue
            most = _largest_excess(check.core or _core(place.rope_set), place.rule)
            figures.append(
                Figure(
                    label="new diameter over nominal",
                    value=mean / nominal.value - 1.0,
                    dimension=Dimension.FRACTION,
                    resolution=0.001,
                    rope=check.rope,
                    least=None if most is None else 0.0,
                    most=most,
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


def _largest_excess(core: Core | None, rule: AcceptanceRule | None) -> float | None:
    """Tolerance of a new rope by its core."""
    if rule is None or core is None:
        return None
    return rule.over_fibre if core is Core.FIBRE else rule.over_steel


def _lays(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """Lay lengths in diameters, as the baseline."""
    figures = []
    for check in checks:
        if check.length is None:
            continue
        lay = check.length.value / (check.lays or 1)
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
                    value=lay / place.rope_set.diameter.value,
                    unit="d",
                    resolution=0.01,
                    rope=check.rope,
                    note="usual lift ropes are near 6.5 d",
                )
            )
    return figures


def _crossings(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """Crossed pairs, and ropes that share a groove."""
    del place
    figures = []
    for check in checks:
        if not check.grooves:
            continue
        figures += [
            Figure(
                label="pairs of ropes crossed between hitch and sheave",
                value=float(n_crossings(check.grooves)),
                most=0.0,
            ),
            Figure(
                label="ropes that share a groove",
                value=float(len(check.grooves) - len(set(check.grooves))),
                most=0.0,
            ),
        ]
    return figures


def _clips(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """Clip distances in diameters, against the rule named."""
    diameter, rule = place.rope_set.diameter, place.rule
    figures = []
    for check in checks:
        if not check.distances or diameter is None:
            continue
        places = clip_places([d.value for d in check.distances], diameter.value)
        figures.append(
            Figure(
                label="clips",
                value=float(len(places)),
                rope=check.rope,
                least=rule.n_clips if rule else None,
            )
        )
        for number, clip in enumerate(places, start=1):
            figures.append(
                Figure(
                    label=f"clip {number} from the socket",
                    value=clip.from_socket,
                    unit="d",
                    resolution=0.3,
                    rope=check.rope,
                    most=_clip_bound(rule, number, CountedFrom.SOCKET),
                )
            )
            if number > 1:
                figures.append(
                    Figure(
                        label=f"clip {number} from clip {number - 1}",
                        value=clip.from_previous,
                        unit="d",
                        resolution=0.3,
                        rope=check.rope,
                        most=_clip_bound(rule, number, CountedFrom.FIRST_CLIP),
                    )
                )
    return figures


def _clip_bound(
    rule: AcceptanceRule | None, number: int, counted_from: CountedFrom
) -> float | None:
    """Largest distance by the rule; the first clip counts from the socket."""
    if rule is None:
        return None
    if number == 1:
        return rule.first_most
    if number == 2 and rule.second_from is counted_from:
        return rule.second_most
    return None


def _tails(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """Tails in diameters."""
    diameter = place.rope_set.diameter
    if diameter is None:
        return []
    return [
        Figure(
            label="tail",
            value=check.length.value / diameter.value,
            unit="d",
            resolution=0.3,
            rope=check.rope,
        )
        for check in checks
        if check.length is not None
    ]


def _nuts(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """Sets of nuts and pins, one for each rope at each end."""
    return [
        Figure(
            label="rod ends with two nuts and a new split pin",
            value=float(check.count),
            rope=check.rope,
            least=2.0 * place.rope_set.n_ropes if check.rope is None else 2.0,
            note="one at each end of each rope",
        )
        for check in checks
        if check.count is not None
    ]


def _springs(checks: Sequence[Check], place: _Place) -> list[Figure]:
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
        if free.value <= solid.value:
            continue
        figures.append(
            Figure(
                label="spring travel left at 125 % of rated load",
                value=spring_margin(check.length.value, free.value, solid.value),
                dimension=Dimension.FRACTION,
                resolution=0.01,
                rope=check.rope,
                least=1e-6,
                note="level springs do not mean level tension",
            )
        )
    return figures


def _runby(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """Runby now, and the rope to take out for the one wanted."""
    rule = place.rule
    figures = []
    for check in checks:
        if check.now is None:
            continue
        least = check.least or (rule.least if rule else None)
        most = check.most or (rule.most if rule else None)
        figures.append(
            Figure(
                label="runby now",
                value=check.now.value,
                dimension=Dimension.LENGTH,
                resolution=1e-3,
                least=least.value if least else None,
                most=most.value if most else None,
                note="negative: the counterweight lands before the car is level",
            )
        )
        if check.wanted is not None and place.lift.roping is not Roping.ONE_TO_TWO:
            figures.append(
                Figure(
                    label="rope to take out of each rope for the runby wanted",
                    value=runby_shortening(
                        check.now.value, check.wanted.value, place.lift.roping.n_falls
                    ),
                    dimension=Dimension.LENGTH,
                    resolution=1e-3,
                    note="shortening lifts the counterweight",
                )
            )
    return figures


def _runby_later(checks: Sequence[Check], place: _Place) -> list[Figure]:
    """Runby after the stretch to come, and the stretch that uses it up."""
    figures = []
    for check in checks:
        length = check.rope_length or place.rope_set.rope_length
        if check.now is None or length is None:
            continue
        n_falls = place.lift.roping.n_falls
        if check.stretch is not None:
            figures.append(
                Figure(
                    label=f"runby after {check.stretch.text} stretch",
                    value=runby_after_stretch(
                        check.now.value, check.stretch.value, length.value, n_falls
                    ),
                    dimension=Dimension.LENGTH,
                    resolution=1e-3,
                    least=check.least.value if check.least else None,
                )
            )
        if check.least is not None:
            figures.append(
                Figure(
                    label="stretch at which the least runby is reached",
                    value=stretch_until(
                        check.now.value, check.least.value, length.value, n_falls
                    ),
                    dimension=Dimension.FRACTION,
                    resolution=1e-4,
                )
            )
    return figures


_COMPUTE: dict[CheckItem, Callable[[Sequence[Check], _Place], list[Figure]]] = {
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
