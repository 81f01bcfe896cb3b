"""Runby of the counterweight: now, wanted, and after the stretch to come."""

from collections.abc import Sequence
from fractions import Fraction

from tension.condition.acceptance_figures import (
    runby_after_stretch,
    runby_shortening,
    stretch_until,
)
from tension.condition.acceptance_place import Place
from tension.condition.checks import Check
from tension.condition.figure import Figure
from tension.installation import Roping
from tension.quantity.comparison import as_typed
from tension.quantity.units import Dimension


def runby_figures(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Work out the runby now, and the rope to take out for the one wanted."""
    figures = []
    for check in checks:
        if check.now is None:
            continue
        rule, now = place.rule_of(check), as_typed(check.now)
        least = check.least or (rule.least if rule else None)
        most = check.most or (rule.most if rule else None)
        figures.append(
            Figure(
                label="runby now",
                value=now,
                dimension=Dimension.LENGTH,
                resolution=1e-3,
                least=as_typed(least) if least else None,
                most=as_typed(most) if most else None,
                rule=rule.name if rule else "",
                note=place.note_of(check) or _runby_note(now),
            )
        )
        if check.wanted is not None and place.lift.roping is not Roping.ONE_TO_TWO:
            taken = runby_shortening(
                now, as_typed(check.wanted), place.lift.roping.n_falls
            )
            figures.append(
                Figure(
                    label="rope to take out of each rope for the runby wanted",
                    value=taken,
                    dimension=Dimension.LENGTH,
                    resolution=1e-3,
                    note="shortening lifts the counterweight"
                    if taken >= 0
                    else "negative: let rope in, which lowers the counterweight",
                )
            )
    return figures


def _runby_note(runby: Fraction) -> str:
    """What a runby means, by its sign."""
    if runby < 0:
        return "negative: the counterweight lands before the car is level"
    if runby == 0:
        return "the counterweight touches its buffer when the car is level"
    return "space is left above the buffer when the car is level"


def runby_later_figures(checks: Sequence[Check], place: Place) -> list[Figure]:
    """Work out the runby after the stretch to come, and what uses it up."""
    figures = []
    for check in checks:
        length = check.rope_length or place.rope_set.rope_length
        if check.now is None or length is None:
            continue
        now, long = as_typed(check.now), as_typed(length)
        n_falls = place.lift.roping.n_falls
        least = as_typed(check.least) if check.least else None
        if check.stretch is not None:
            later = runby_after_stretch(now, as_typed(check.stretch), long, n_falls)
            figures.append(
                Figure(
                    label=f"runby after {check.stretch.text} stretch",
                    value=later,
                    dimension=Dimension.LENGTH,
                    resolution=1e-3,
                    least=least,
                    note=_runby_note(later),
                )
            )
        if least is not None:
            figures.append(
                Figure(
                    label="stretch at which the least runby is reached",
                    value=stretch_until(now, least, long, n_falls),
                    dimension=Dimension.FRACTION,
                    resolution=1e-4,
                )
            )
    return figures
