"""The one function through which every number of a report goes."""

import re
from fractions import Fraction

from tension.quantity.showing import UnitSystem, rounded_text, show_quantity
from tension.quantity.units import Dimension, Quantity

_IN_SI = re.compile(r"(?<![A-Za-z])(m|cm|mm|N|kN|MN|kg|kg/m|N/mm|Hz|s|%)$")
ECHO_DIGITS = 4
"""Of what was typed in other units, beside it; the text itself is what counts. [1]"""
FINEST_PERCENT = 0.003
"""Percentages of a result get one decimal at most. [1]"""


def written_apart(
    value: float | Fraction,
    bound: float | Fraction,
    dimension: Dimension | None = None,
    *,
    resolution: float = 0.0,
    units: UnitSystem = UnitSystem.SI,
    unit: str = "",
) -> tuple[str, str]:
    """Write a value and its bound so that they differ in writing if they differ at all.

    Parameters
    ----------
    value, bound : float or Fraction
        The numbers that are compared. [SI]
    dimension : Dimension, optional
        What they measure; plain numbers if left out.
    resolution : float, optional
        To what they are known; made finer until the texts differ. [SI]
    units : UnitSystem, optional
        Units shown.
    unit : str, optional
        Unit of plain numbers.

    Returns
    -------
    tuple of (str, str)
        Value and bound.

    Examples
    --------
    >>> written_apart(4.023, 4.0, resolution=0.3, unit="d")
    ('4.02 d', '4.00 d')
    """
    finer = [resolution / 10.0**n for n in range(8)] if resolution else [0.0]
    pairs = [
        tuple(
            _at(float(number), dimension, fine, system, unit)
            for number in (value, bound)
        )
        for system in (units, UnitSystem.SI)  # feet and inches end at 1/64 in
        for fine in finer
    ]
    same = value == bound
    one, other = next((p for p in pairs if same or p[0] != p[1]), pairs[0])
    return one, other


def _at(
    value: float,
    dimension: Dimension | None,
    resolution: float,
    units: UnitSystem,
    unit: str,
) -> str:
    """A number at just this resolution."""
    if dimension is None:
        return f"{rounded_text(value, resolution or None)} {unit}".strip()
    return show_quantity(value, dimension, units, uncertainty=resolution or None)


def written(
    value: float | None,
    dimension: Dimension | None = None,
    *,
    uncertainty: float | None = None,
    units: UnitSystem = UnitSystem.SI,
    unit: str = "",
) -> str:
    """Write a number with its unit, rounded to what is known of it.

    Parameters
    ----------
    value : float or None
        The number. [SI]
    dimension : Dimension, optional
        What it measures; a plain number if left out.
    uncertainty : float, optional
        Standard uncertainty or resolution; as it was typed, up to six digits, if left
        out. [SI]
    units : UnitSystem, optional
        Units shown.
    unit : str, optional
        Unit of a plain number.

    Returns
    -------
    str
        The text; a dash for None.

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


def typed_and_si(quantity: Quantity | None) -> str:
    """Write what a person typed, and beside it what it is in SI.

    Returns
    -------
    str
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
