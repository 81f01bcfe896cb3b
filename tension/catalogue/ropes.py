"""Stranded steel ropes and spring steel: mass, metal area, strength, stiffness.

And what can be of a rope by its construction: strands, wires, class, length of a lay.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from math import hypot, pi

from tension.catalogue import Standing, published, read_row
from tension.notes import NoteKind, Refusal
from tension.quantity.estimate import Estimate, Sharing, budget
from tension.quantity.units import Quantity, as_typed

WIRE_MODULUS = 196e9
"""Modulus of steel wire, common engineering value. [Pa]"""

LOOSE_WIRES, BONDED_WIRES = 0.00167, 0.564
"""Flexural rigidity of an ideal 8x19 Seale rope over that of a solid rod: the least,
wires sliding freely and as thin as the published metal area has them; the most, wires
touching and not sliding at all. Computed from the geometry; no published table for lift
ropes was found. [1]"""

TABLE_MASS_UNCERTAINTY = 0.05
"""Relative standard uncertainty of a mass from the table, common to a set: published
tables differ by 8 to 15 %, and a new rope may be 5 % thicker than its name. [1]"""

_WIRES_OF_CLASS = {7: 7, 19: 19, 21: 19, 25: 19, 26: 19, 31: 36, 36: 36, 41: 36}
"""Number of wires in a strand, and the class it belongs to; common practice. [1]"""

CLASSES = {7: (5, 9), 19: (15, 26), 36: (27, 57)}
"""Wires of one strand in the classes named after 7, 19 and 36 wires (from memory:
EN 12385-2). [1]"""

LEAST_LAY, MOST_LAY = 4, 10
"""One lay of a usual lift rope is near 6.5 diameters (as on a rope maker's sheet that
reproduces A17.1b-2009); outside of this, in diameters, it is another length. [1]"""

_STRANDS = re.compile(
    r"(?<![0-9])([0-9]{1,2})\s*[x×]\s*(k?)\s*([0-9]{1,3})(?![0-9])", re.IGNORECASE
)
_FILLER = re.compile(r"\bfill|\dF\b|\bF\b(?!C)|\bFi\b", re.IGNORECASE)
_SEALE = re.compile(r"seale|\dS\b|\bS\b", re.IGNORECASE)
_WARRINGTON = re.compile(r"warrington|\dWS?\b|\bWS?\b", re.IGNORECASE)
_STEEL_CORE = re.compile(r"iwrc?|wrc|wsc|\bsc\b|steel")
_FIBRE_CORE = re.compile(r"\b[ns]?fc\b|fib(?:re|er)|hemp|sisal|(?<=[0-9swf])[ns]?fc\b")
_NOT_ORDINARY = re.compile(
    r"coat|belt|plastic|jacket|polyureth|aramid|synthetic|\bpu\b|\bep|compact|pwrc|"
    r"swaged|hammered"
)


class Core(StrEnum):
    """Core of a rope."""

    FIBRE = "fibre"
    STEEL = "steel"


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeClass:
    """One class of ropes."""

    name: str  # strands, wires and core, such as "8x19 FC" or "8x19 steel"
    # W: kilograms per 100 m over the diameter in mm squared [kg/(100 m mm2)]
    mass_factor: float
    area_factor: float  # C: metal area over the diameter squared [1]
    strength_factor: float  # K: breaking force over grade and diameter squared [1]
    modulus_gpa: tuple[float, float]  # of the rope on its metal area, its bounds [GPa]
    source: str  # where the factors are published
    standing: Standing  # how the factors are known
    modulus_source: str  # where the modulus comes from
    modulus_standing: Standing  # how the modulus is known

    @property
    def modulus(self) -> float:
        """Middle of the moduli. [Pa]."""
        return 1e9 * sum(self.modulus_gpa) / 2


@cache
def rope_classes() -> tuple[RopeClass, ...]:
    """Give the classes of the catalogue."""
    document = published("ropes.toml")
    rows = document.pop("class")
    return tuple(read_row(RopeClass, document | row) for row in rows)


def find_rope_class(construction: str) -> RopeClass | Refusal:
    """Find the class of a rope as typed, or why the table does not hold it.

    Examples
    --------
    >>> find_rope_class("8×19 Seale FC").name
    '8x19 FC'
    """
    plain = _plain(construction)
    strands = _STRANDS.search(plain)
    if _NOT_ORDINARY.search(plain) or (strands and strands[2]):
        return NoteKind.ROPE_NEEDS_DATA_SHEET.refusal(construction=construction)
    if not plain.strip():
        return NoteKind.ROPE_NOT_SAID.refusal()
    if strands is None:
        return NoteKind.ROPE_NOT_IN_TABLE.refusal(construction=construction)
    size = f"{int(strands[1])}x{_WIRES_OF_CLASS.get(int(strands[3]), 0)}"
    if not any(row.name.startswith(f"{size} ") for row in rope_classes()):
        return NoteKind.ROPE_NOT_IN_TABLE.refusal(construction=construction)
    core = core_of(construction)
    if core is None:
        return NoteKind.ROPE_CORE_NOT_SAID.refusal(construction=construction, size=size)
    name = f"{size} {'steel' if core is Core.STEEL else 'FC'}"
    return next(row for row in rope_classes() if row.name == name)


def _plain(construction: str) -> str:
    """A construction in small letters, its parts at blanks."""
    plain = construction.lower().replace("×", "x")
    return plain.replace("-", " ").replace("+", " ")


def core_of(construction: str) -> Core | None:
    """Read the core off a construction; None if it says none or both."""
    plain = _plain(construction)
    is_fibre = _FIBRE_CORE.search(plain) is not None
    if is_fibre == (_STEEL_CORE.search(plain) is not None):
        return None
    return Core.FIBRE if is_fibre else Core.STEEL


def linear_density_from_class(rope_class: RopeClass, diameter: float) -> Estimate:
    """Take the linear density [kg/m] from the table by the nominal diameter. [m].

    Its error is common to the set.

    Notes
    -----
    m = W d²/100 with d in millimetres.

    References
    ----------
    .. [1] K. Feyrer, Wire Ropes, table 1.9, after EN 12385.

    Examples
    --------
    >>> ordinary = find_rope_class("8x19 FC")
    >>> round(linear_density_from_class(ordinary, 0.013).value, 3)
    0.575
    """
    millimetres = 1e3 * diameter
    return Estimate(
        value=rope_class.mass_factor * millimetres**2 / 100,
        sources=budget(
            {"linear density from table": TABLE_MASS_UNCERTAINTY}, Sharing.SET
        ),
    )


def metal_area(rope_class: RopeClass, diameter: float) -> float:
    """Take the area of all wires [m2] from the table by the nominal diameter. [m]."""
    return rope_class.area_factor * diameter**2


def flexural_rigidity_bounds(diameter: float) -> tuple[float, float]:
    """Bound the flexural rigidity [N m2] by the nominal diameter. [m].

    Notes
    -----
    The wires of an ideal 8x19 Seale rope bend each by itself (0.00167 of a solid rod of
    the same diameter) or as one body (0.564). Other constructions lie near.
    """
    rod = WIRE_MODULUS * pi * diameter**4 / 64
    return LOOSE_WIRES * rod, BONDED_WIRES * rod


@dataclass(frozen=True, kw_only=True, slots=True)
class ShearModulus:
    """Shear modulus of a spring steel."""

    material: str  # key in the catalogue
    modulus_gpa: float  # shear modulus [GPa]
    relative_uncertainty: float  # standard uncertainty, the program's own estimate [1]
    source: str  # where it is published
    standing: Standing  # how it is known

    @property
    def value(self) -> float:
        """Shear modulus. [Pa]."""
        return 1e9 * self.modulus_gpa


@cache
def _shear_moduli() -> dict[str, ShearModulus]:
    """All spring steels by name, read once."""
    rows = published("springs.toml")["material"]
    return {row["material"]: read_row(ShearModulus, row) for row in rows}


def find_shear_modulus(material: str) -> ShearModulus | None:
    """Find a spring steel by name; an empty one is steel of unknown kind."""
    return _shear_moduli().get(" ".join(material.lower().split()) or "spring steel")


# The modulus grows with load and age; figures for lift ropes were sought in public
# pages and not found, so those of the table are from memory and carry 20 %.
ROPE_MODULUS_UNCERTAINTY = 0.20
"""Relative standard uncertainty of a modulus from memory. [1]"""

_ANY_CONSTRUCTION_UNCERTAINTY = 0.30
"""Where only the diameter is known: the classes differ by as much. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class AxialRigidity:
    """Axial rigidity of a rope from diameter and class."""

    value: float  # EA [N]
    relative_uncertainty: float  # standard uncertainty [1]
    construction: str  # the class it was taken for; empty where none was known
    source: str  # where it comes from, in words
    is_typed: bool = False  # whether a person typed it


def find_axial_rigidity(*, diameter: float, construction: str) -> AxialRigidity:
    """Find the axial rigidity of a rope from its nominal diameter [m] and class.

    A class that is not in the table, or none, gives the middle of all classes with a
    wider uncertainty.

    Examples
    --------
    >>> found = find_axial_rigidity(diameter=0.013, construction="8x19 FC")
    >>> round(found.value / 1e6, 2)
    3.48
    """
    row = find_rope_class(construction)
    if isinstance(row, Refusal):
        usual = [each for each in rope_classes() if not each.name.startswith("6x7")]
        middle = sum(each.modulus * each.area_factor for each in usual)
        return AxialRigidity(
            value=middle / len(usual) * diameter**2,
            relative_uncertainty=_ANY_CONSTRUCTION_UNCERTAINTY,
            construction="",
            source="middle of the classes in the table, for the construction is not "
            "known; modulus from memory",
        )
    return AxialRigidity(
        value=row.modulus * metal_area(row, diameter),
        relative_uncertainty=hypot(ROPE_MODULUS_UNCERTAINTY, 0.02),
        construction=row.name,
        source=f"area of {row.name} by {row.source}; modulus "
        f"{row.modulus / 1e9:.0f} GPa {row.modulus_standing}",
    )


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
    found = _STRANDS.search(construction)
    if found is None or found[2]:
        return None
    n_strands, n_wires = int(found[1]), int(found[3])
    says_filler = _FILLER.search(construction) is not None
    fits = n_wires in {21, 25, 29}
    is_other = _SEALE.search(construction) or _WARRINGTON.search(construction)
    n_filler: int | None = 0
    if fits and (says_filler or not is_other):
        n_filler = (n_wires - 1) // 4
    elif says_filler:
        n_filler = None
    # at the surface as many as within, or twice as many (Warrington)
    most_outer = 2 * (n_wires - 1) // 3 if n_wires > 7 else n_wires - 1
    is_seale = _SEALE.search(construction) and not _WARRINGTON.search(construction)
    if n_filler or is_seale:
        most_outer = (n_wires - 1) // 2
    return Strands(
        n_strands=n_strands, n_wires=n_wires, n_filler=n_filler, most_outer=most_outer
    )


def rope_class_of(construction: str) -> str:
    """Read the class off a construction; empty if it cannot be read off.

    Examples
    --------
    >>> rope_class_of("8 x 19 Seale, fibre core")
    '8x19'
    """
    found = re.match(r"\s*(\d{1,2})\s*[xX×]\s*(\d{1,3})\b", construction)
    return f"{int(found[1])}x{int(found[2])}" if found else ""


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
    if LEAST_LAY <= in_diameters <= MOST_LAY:
        return None
    return LayFault(length=length, lays=lays, diameters=float(in_diameters))
