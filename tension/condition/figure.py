"""One figure computed from what was measured, with the bound it is held against."""

from dataclasses import dataclass
from fractions import Fraction

from tension.quantity.units import Dimension


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One computed figure.

    Attributes
    ----------
    label : str
        What it is.
    value : Fraction
        In the SI unit of its dimension, exactly from what was typed; a plain number or
        diameters without one.
    dimension : Dimension or None
        What it measures; None for a plain number.
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


def bounded(figure: Figure) -> bool | None:
    """Tell whether a figure lies within its bounds.

    Returns
    -------
    bool or None
        None without bounds.
    """
    if figure.least is None and figure.most is None:
        return None
    above = figure.least is None or figure.value >= figure.least
    below = figure.most is None or figure.value <= figure.most
    return above and below
