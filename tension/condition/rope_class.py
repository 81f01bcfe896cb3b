"""What can be of a rope by its construction: strands, wires, class, length of a lay."""

import re
from dataclasses import dataclass

from tension.quantity.units import Quantity, as_typed

_LAYERS = re.compile(r"(\d{1,2})\s*[xX×]\s*(\d{1,3})")
_FILLER = re.compile(r"\bfill|\dF\b|\bF\b(?!C)|\bFi\b", re.IGNORECASE)
_SEALE = re.compile(r"seale|\dS\b|\bS\b", re.IGNORECASE)
_WARRINGTON = re.compile(r"warrington|\dWS?\b|\bWS?\b", re.IGNORECASE)
CLASSES = {7: (5, 9), 19: (15, 26), 36: (27, 57)}
"""Wires of one strand in the classes named after 7, 19 and 36 wires (from memory:
EN 12385-2). [1]"""

LEAST, MOST = 4, 10
"""One lay of a usual lift rope is near 6.5 diameters (as on a rope maker's sheet that
reproduces A17.1b-2009); outside of this, in diameters, it is another length. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Strands:
    """Outer strands of a rope, and the wires in each, filler wires among them. [1].

    Filler wires are thin and only fill gaps; None if their number is not known. At most
    so many wires of one strand can lie side by side at its surface.
    """

    n_strands: int
    n_wires: int
    n_filler: int | None
    most_outer: int


def strands_of(construction: str) -> Strands | None:
    """Read strands and wires off a construction; None if it cannot be read off.

    A strand with filler wires has one wire, n, n fillers and 2 n: 21, 25 or 29 in all.
    Where such a number stands without a word, it is taken for one with fillers.

    Examples
    --------
    >>> strands_of("8x25 filler FC")
    Strands(n_strands=8, n_wires=25, n_filler=6, most_outer=12)
    """
    found = _LAYERS.search(construction)
    if found is None:
        return None
    n_strands, n_wires = int(found.group(1)), int(found.group(2))
    says_filler = _FILLER.search(construction) is not None
    fits = n_wires in {21, 25, 29}
    is_other = _SEALE.search(construction) or _WARRINGTON.search(construction)
    n_filler: int | None = 0
    if fits and (says_filler or not is_other):
        n_filler = (n_wires - 1) // 4
    elif says_filler:
        n_filler = None
    return Strands(
        n_strands=n_strands,
        n_wires=n_wires,
        n_filler=n_filler,
        most_outer=_most_outer(construction, n_wires, n_filler),
    )


def _most_outer(construction: str, n_wires: int, n_filler: int | None) -> int:
    """Wires at the surface: as many as within, or twice as many (Warrington)."""
    is_seale = _SEALE.search(construction) and not _WARRINGTON.search(construction)
    if n_filler or is_seale:
        return (n_wires - 1) // 2
    return 2 * (n_wires - 1) // 3 if n_wires > 7 else n_wires - 1


def rope_class_of(construction: str) -> str:
    """Read the class off a construction; empty if it cannot be read off.

    Examples
    --------
    >>> rope_class_of("8 x 19 Seale, fibre core")
    '8x19'
    """
    found = re.match(r"\s*(\d{1,2})\s*[xX×]\s*(\d{1,3})\b", construction)
    return f"{int(found.group(1))}x{int(found.group(2))}" if found else ""


def contradicts(rope_class: str, construction: str) -> bool:
    """Tell whether a class that somebody names cannot be that of a construction.

    False where either says nothing of strands and wires.

    Examples
    --------
    >>> contradicts("9x19", "6x19 FC"), contradicts("8x19", "8x25 filler FC")
    (True, False)
    """
    named, built = strands_of(rope_class), strands_of(construction)
    if named is None or built is None:
        return False
    least, most = CLASSES.get(named.n_wires, (named.n_wires, named.n_wires))
    return named.n_strands != built.n_strands or not least <= built.n_wires <= most


@dataclass(frozen=True, kw_only=True, slots=True)
class LayFault:
    """A length that cannot be that of so many lays: one is so many diameters. [1]."""

    length: Quantity
    lays: int
    diameters: float


def lay_fault(
    length: Quantity | None, diameter: Quantity | None, lays: int = 1
) -> LayFault | None:
    """Tell whether a length cannot be that of so many lays [1] of a rope.

    None if it can be, or if the length or the nominal diameter is not known.
    """
    if length is None or diameter is None or not diameter.value > 0:
        return None
    in_diameters = as_typed(length) / lays / as_typed(diameter)
    if LEAST <= in_diameters <= MOST:
        return None
    return LayFault(length=length, lays=lays, diameters=float(in_diameters))
