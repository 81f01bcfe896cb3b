"""One figure computed from what was measured, with the bound it is held against."""

from dataclasses import dataclass

from tension.quantity.units import Dimension


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One computed figure.

    Attributes
    ----------
    label : str
        What it is.
    value : float
        In the SI unit of its dimension; a plain number or diameters without one.
    dimension : Dimension or None
        What it measures; None for a plain number.
    unit : str
        Unit to print where there is no dimension, such as "d".
    resolution : float
        To what it is known, at best, in the unit of the value.
    rope : int or None
        Rope number; None if of the set.
    least, most : float or None
        Between what it must lie by the rule that was named.
    is_met : bool or None
        Whether it does; None where no rule was named.
    note : str
        What a reader must know of it.
    """

    label: str
    value: float
    dimension: Dimension | None = None
    unit: str = ""
    resolution: float = 0.0
    rope: int | None = None
    least: float | None = None
    most: float | None = None
    is_met: bool | None = None
    note: str = ""


def bounded(figure: Figure, *, hair: float = 1e-9) -> bool | None:
    """Tell whether a figure lies within its bounds.

    Parameters
    ----------
    figure : Figure
        The figure with its bounds.
    hair : float, optional
        Forgives binary rounding, in the unit of the value.

    Returns
    -------
    bool or None
        None without bounds.
    """
    if figure.least is None and figure.most is None:
        return None
    above = figure.least is None or figure.value >= figure.least - hair
    below = figure.most is None or figure.value <= figure.most + hair
    return above and below
