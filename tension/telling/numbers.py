"""Numbers with their units and digits, as every surface shows them."""

import re
from fractions import Fraction

from tension.quantity.showing import (
    POUND_FORCE,
    UnitSystem,
    rounded_text,
    show_quantity,
)
from tension.quantity.units import Dimension, Quantity

_IN_SI = re.compile(r"(?<![A-Za-z])(m|cm|mm|N|kN|MN|kg|kg/m|N/mm|Hz|s|%)$")
ECHO_DIGITS = 4
"""Of what was typed in other units, beside it; the text itself is what counts. [1]"""
COVERAGE_FACTOR = 1.96  # standard uncertainties of what is shown as 95 % [1]
FINEST_PERCENT = 0.003
"""Percentages of a result get one decimal at most. [1]"""


def load_text(value: float | None, uncertainty: float | None, units: UnitSystem) -> str:
    """Write a load and its standard uncertainty [N] in one unit; "-" without them."""
    if value is None or uncertainty is None:
        return "-"
    unit, name = (POUND_FORCE, "lbf") if units is UnitSystem.US else (1.0, "N")
    step = 10.0 if uncertainty / unit >= 30.0 else 1.0
    shown = step * round(value / unit / step)
    return f"{shown:.0f} ± {uncertainty / unit:.0f} {name}"


def turns_text(turns: float) -> str:
    """Write how far a nut is turned [turns], whichever way: "1 1/4 turns"."""
    return show_quantity(abs(turns), Dimension.TURNS).removeprefix("+")


def chance_text(chance: float) -> str:
    """Write a chance [1] that does not promise: over 99 or under 1 at the ends."""
    if chance >= 0.99:
        return "over 99 %"
    return "under 1 %" if chance <= 0.01 else f"{100 * chance:.0f} %"


def count_text(number: int | None) -> str:
    """Write a whole number; a dash for None."""
    return written(None if number is None else float(number))


def written_apart(
    value: float | Fraction,
    bound: float | Fraction,
    dimension: Dimension | None = None,
    *,
    decimals: int,
    units: UnitSystem = UnitSystem.SI,
    unit: str = "",
) -> tuple[str, str]:
    """Write a value and its bound so that they differ in writing if they differ at all.

    To so many decimals [1] in SI, or more until the texts differ; without a dimension
    they are plain numbers with a unit.

    Examples
    --------
    >>> written_apart(4.023, 4.0, decimals=1, unit="d")
    ('4.02 d', '4.00 d')
    """

    def pair(system: UnitSystem, place: int) -> tuple[str, str]:
        known = 10.0 ** (1 - place)
        one, other = (
            f"{rounded_text(float(number), known)} {unit}".strip()
            if dimension is None
            else show_quantity(float(number), dimension, system, known)
            for number in (value, bound)
        )
        return one, other

    pairs = [
        pair(system, place)
        for system in (units, UnitSystem.SI)  # feet and inches end at 1/64 in
        for place in range(decimals, decimals + 8)
    ]
    same = value == bound
    return next((one for one in pairs if same or one[0] != one[1]), pairs[0])


def written(
    value: float | None,
    dimension: Dimension | None = None,
    *,
    uncertainty: float | None = None,
    units: UnitSystem = UnitSystem.SI,
    unit: str = "",
) -> str:
    """Write a number with its unit, rounded to what is known of it.

    The uncertainty is a standard one or a resolution [SI]; without it a number stands
    as it was typed, up to six digits. Without a dimension it is a plain number with a
    unit; None is a dash.

    Examples
    --------
    >>> written(0.18234, Dimension.FRACTION, uncertainty=0.0007)
    '18.2 %'
    >>> written(2746.2, Dimension.FORCE, uncertainty=137.0)
    '2750 N'
    """
    if value is None:
        return "–"
    if dimension is None:
        number = rounded_text(value, uncertainty)
        return f"{number} {unit}".strip()
    if dimension is Dimension.FRACTION and uncertainty is not None:
        uncertainty = max(uncertainty, FINEST_PERCENT)
    return show_quantity(value, dimension, units, uncertainty=uncertainty)


def percent(fraction: float | None, uncertainty: float | None) -> str:
    """Write a share or a change of one [1] with its standard uncertainty."""
    return written(fraction, Dimension.FRACTION, uncertainty=uncertainty)


def typed_and_si(quantity: Quantity | None) -> str:
    """Write what a person typed, and beside it what it is in SI.

    Such as ``10 ft 6 in (3.200 m)``; once if it was typed in SI; a dash for None.
    """
    if quantity is None:
        return "–"
    if quantity.dimension is Dimension.TURNS:
        return quantity.text
    if _IN_SI.search(quantity.text.strip()):
        return quantity.text
    si = show_quantity(quantity.value, quantity.dimension, digits=ECHO_DIGITS)
    return f"{quantity.text} ({si})"


def named(
    read: list[tuple[str, Quantity | None]], otherwise: str = "–", by: str = "; "
) -> str:
    """Write what was read of several, by name, as typed and in SI."""
    return by.join(f"{name} {typed_and_si(one)}" for name, one in read if one) or (
        otherwise
    )
