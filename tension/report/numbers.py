"""The one function through which every number of a report goes."""

from tension.quantity.showing import UnitSystem, rounded_text, show_quantity
from tension.quantity.units import Dimension, Quantity

FINEST_PERCENT = 0.003
"""Percentages of a result get one decimal at most. [1]"""


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

    Parameters
    ----------
    quantity : Quantity or None
        The reading.

    Returns
    -------
    str
        Such as ``10 ft 6 in (3.2004 m)``; once if both are the same; a dash for None.
    """
    if quantity is None:
        return "–"
    if quantity.dimension is Dimension.TURNS:
        return quantity.text
    si = written(quantity.value, quantity.dimension)
    return quantity.text if quantity.text.strip() == si else f"{quantity.text} ({si})"
