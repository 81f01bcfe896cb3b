"""Lengths that are called one lay: whether they can be."""

from tension.quantity.comparison import as_typed
from tension.quantity.showing import rounded_text
from tension.quantity.units import Quantity

LEAST, MOST = 4, 10
"""One lay of a usual lift rope is near 6.5 diameters (as on a rope maker's sheet that
reproduces A17.1b-2009); outside of this, in diameters, it is another length. [1]"""


def lay_fault(length: Quantity | None, diameter: Quantity | None, lays: int = 1) -> str:
    """Say why a length cannot be that of so many lays of a rope.

    Parameters
    ----------
    length : Quantity or None
        As typed. [m]
    diameter : Quantity or None
        Nominal diameter of the rope. [m]
    lays : int, optional
        How many lays it is. [1]

    Returns
    -------
    str
        The reason; empty if it can be, or if either is not known.
    """
    if length is None or diameter is None or not diameter.value > 0:
        return ""
    in_diameters = as_typed(length) / lays / as_typed(diameter)
    if LEAST <= in_diameters <= MOST:
        return ""
    what = "one lay" if lays == 1 else f"each of {lays} lays"
    shown = rounded_text(float(in_diameters), digits=2)
    return (
        f"{length.text} makes {what} {shown} diameters long; a lay is about 6.5, so it "
        f"must lie between {LEAST} and {MOST}; check what was measured"
    )
