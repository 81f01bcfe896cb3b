"""The check of the springs, in words and as a table."""

from tension.adjustment.origins import KnownFrom, Origin
from tension.adjustment.plan_details import origin_lines
from tension.adjustment.spring_check import SpringCheck, are_level
from tension.adjustment.spring_doubts import SpringLoad
from tension.adjustment.text import (
    TextLine,
    force_text,
    heading,
    hitch_text,
    reason_lines,
    sentence,
    small_length,
)
from tension.quantity.units import Dimension, UnitSystem, show_quantity

_POUND_FORCE = 4.4482216152605

SPRING_HEADERS = ("Spring", "Length", "By length", "Otherwise", "Way left", "")
"""Columns: rope number, working length, both loads, margin at 125 % load, in words."""


def spring_rows(check: SpringCheck, units: UnitSystem) -> tuple[tuple[str, ...], ...]:
    """Write each spring as a row of a table.

    Returns
    -------
    tuple of tuple of str
        As many cells as there are headers; "-" where nothing is known.
    """
    return tuple(
        (
            str(spring.rope),
            small_length(spring.length, units),
            _load(spring.by_length, spring.by_length_uncertainty, units),
            _load(spring.by_reading, spring.by_reading_uncertainty, units),
            "-" if spring.margin is None else f"{100 * spring.margin:.0f} %",
            _word(spring, check),
        )
        for spring in check.springs
    )


def _word(spring: SpringLoad, check: SpringCheck) -> str:
    """What is odd about one spring."""
    solid, free = check.solid_length, check.free_length
    if free is not None and spring.length >= free.value:
        return "NOT PRESSED"
    if (
        solid is not None
        and spring.by_length is None
        and spring.length < (solid.value + 0.001)
    ):
        return "SOLID"
    return "STANDS OUT" if spring.stands_out else ""


def _load(value: float | None, uncertainty: float | None, units: UnitSystem) -> str:
    """A load and its standard uncertainty in one unit."""
    if value is None or uncertainty is None:
        return "-"
    is_us = units is UnitSystem.US
    unit, name = (_POUND_FORCE, "lbf") if is_us else (1.0, "N")
    step = 10.0 if uncertainty / unit >= 30.0 else 1.0
    shown = step * round(value / unit / step)
    return f"{shown:.0f} ± {uncertainty / unit:.0f} {name}"


def spring_heading(check: SpringCheck) -> TextLine:
    """Name the hitch."""
    return heading(f"SPRINGS at the {hitch_text(check.hitch.at)}")


def spring_lines(check: SpringCheck, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what stands under the table of the springs.

    Returns
    -------
    tuple of TextLine
        The slope of the set, where every number comes from, notes.
    """
    lines = []
    if are_level(check):
        lines.append(sentence("The springs look level; that does not decide."))
    slope = check.slope
    if slope is not None:
        rate = show_quantity(
            slope.rate, Dimension.STIFFNESS, units, uncertainty=slope.uncertainty
        )
        lines.append(sentence(f"Slope of the set, tension against length: {rate}."))
    if check.rated_tension is not None:
        lines.append(
            sentence(
                "An even share at 125 % of rated load is "
                f"{force_text(check.rated_tension, units)} a rope."
            )
        )
    known = [
        origin
        for origin in (
            check.rate,
            check.free_length,
            check.solid_length,
            _preload(check),
        )
        if origin is not None
    ]
    if known:
        lines += origin_lines(tuple(known), units)
    if check.notes:
        lines += [heading("To know"), *reason_lines(check.notes)]
    return tuple(lines)


def _preload(check: SpringCheck) -> Origin | None:
    """The preload as typed."""
    if check.preload is None:
        return None
    return Origin(
        name="spring preload",
        value=check.preload.value,
        dimension=Dimension.FORCE,
        known_from=KnownFrom.TYPED,
        source=check.preload.text,
    )
