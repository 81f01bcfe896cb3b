"""How stiff steel rope and spring steel are, with source and standing."""

from dataclasses import dataclass
from math import hypot

from tension.catalogue.ropes import (
    RopeClass,
    find_rope_class,
    metal_area,
    rope_classes,
)
from tension.catalogue.standing import Standing
from tension.notes import Refusal


@dataclass(frozen=True, kw_only=True, slots=True)
class ShearModulus:
    """Shear modulus of a spring steel.

    Attributes
    ----------
    material : str
        Key in the catalogue.
    value : float
        Shear modulus. [Pa]
    relative_uncertainty : float
        Standard uncertainty, the program's own estimate. [1]
    source : str
        Where it is published.
    standing : Standing
        How it is known.
    """

    material: str
    value: float
    relative_uncertainty: float
    source: str
    standing: Standing


SHEAR_MODULI = (
    ShearModulus(
        material="music wire",
        value=79.3e9,
        relative_uncertainty=0.02,
        source="79.293 GPa in a public module for drawing springs",
        standing=Standing.SEEN,
    ),
    ShearModulus(
        material="patented and cold-drawn steel",
        value=81.37e9,
        relative_uncertainty=0.02,
        source="V. B. Bhandari, Design of Machine Elements, chapter 10, as worked in "
        "the public code files FOSSEE/Scilab-TBC-Uploads 764/CH10",
        standing=Standing.SEEN,
    ),
    ShearModulus(
        material="oil-tempered",
        value=79.0e9,
        relative_uncertainty=0.02,
        source="no source seen",
        standing=Standing.MEMORY,
    ),
    ShearModulus(
        material="chrome-vanadium",
        value=79.0e9,
        relative_uncertainty=0.02,
        source="no source seen",
        standing=Standing.MEMORY,
    ),
    ShearModulus(
        material="stainless",
        value=69.0e9,
        relative_uncertainty=0.03,
        source="no source seen",
        standing=Standing.MEMORY,
    ),
    ShearModulus(
        material="spring steel",
        value=79.3e9,
        relative_uncertainty=0.03,
        source="taken as music wire where the kind of spring steel is not known",
        standing=Standing.PROGRAM,
    ),
)


def find_shear_modulus(material: str) -> ShearModulus | None:
    """Find a spring steel by name; an empty one is steel of unknown kind."""
    wanted = " ".join(material.lower().split()) or "spring steel"
    return next((row for row in SHEAR_MODULI if row.material == wanted), None)


# The modulus grows with load and age; figures for lift ropes were sought in public
# pages and not found, so those of the table are from memory and carry 20 %.
ROPE_MODULUS_UNCERTAINTY = 0.20
"""Relative standard uncertainty of a modulus from memory. [1]"""

_ANY_CONSTRUCTION_UNCERTAINTY = 0.30
"""Where only the diameter is known: the classes differ by as much. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class AxialRigidity:
    """Axial rigidity of a rope from diameter and class.

    Attributes
    ----------
    value : float
        EA. [N]
    relative_uncertainty : float
        Standard uncertainty. [1]
    construction : str
        The class it was taken for; empty where none was known.
    source : str
        Where it comes from, in words.
    """

    value: float
    relative_uncertainty: float
    construction: str
    source: str


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
        middle = sum(_middle_modulus(each) * each.area_factor for each in usual)
        return AxialRigidity(
            value=middle / len(usual) * diameter**2,
            relative_uncertainty=_ANY_CONSTRUCTION_UNCERTAINTY,
            construction="",
            source="middle of the classes in the table, for the construction is not "
            "known; modulus from memory",
        )
    modulus = _middle_modulus(row)
    return AxialRigidity(
        value=modulus * metal_area(row, diameter),
        relative_uncertainty=hypot(ROPE_MODULUS_UNCERTAINTY, 0.02),
        construction=row.name,
        source=f"area of {row.name} by {row.source}; modulus "
        f"{modulus / 1e9:.0f} GPa {row.modulus_standing}",
    )


def _middle_modulus(row: RopeClass) -> float:
    """Middle of the moduli of a class. [Pa]."""
    return (row.modulus_lowest + row.modulus_highest) / 2
