"""How stiff steel rope and spring steel are, with source and standing."""

import re
from dataclasses import dataclass
from math import hypot

from tension.catalogue.standing import Standing


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
    """Find a spring steel by name.

    Parameters
    ----------
    material : str
        Name, in any case; an empty text is spring steel of unknown kind.

    Returns
    -------
    ShearModulus or None
        The row, or None if the catalogue does not have it.
    """
    wanted = " ".join(material.lower().split()) or "spring steel"
    return next((row for row in SHEAR_MODULI if row.material == wanted), None)


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeElasticity:
    """Metal area and modulus of a class of ropes.

    Attributes
    ----------
    construction : str
        Class and core, such as "8x19 FC".
    area_factor : float
        Metal area over the square of the nominal diameter. [1]
    modulus : float
        Of the rope on its metal area, at the loads of a lift. [Pa]
    area_source : str
        Where the area factor is published.
    modulus_standing : Standing
        How the modulus is known.
    """

    construction: str
    area_factor: float
    modulus: float
    area_source: str = "K. Feyrer, Wire Ropes, table 1.9, after EN 12385"
    modulus_standing: Standing = Standing.MEMORY


# The modulus grows with load and age; figures for lift ropes were sought in public
# pages and not found, so those below are from memory and carry 15 %.
ROPE_MODULUS_UNCERTAINTY = 0.15
"""Relative standard uncertainty of a modulus from memory. [1]"""

ROPE_ELASTICITIES = (
    RopeElasticity(construction="6x19 FC", area_factor=0.384, modulus=78e9),
    RopeElasticity(construction="8x19 FC", area_factor=0.349, modulus=59e9),
    RopeElasticity(construction="6x36 FC", area_factor=0.393, modulus=76e9),
    RopeElasticity(construction="8x36 FC", area_factor=0.357, modulus=59e9),
    RopeElasticity(construction="6x19 steel", area_factor=0.449, modulus=97e9),
    RopeElasticity(construction="8x19 steel", area_factor=0.457, modulus=91e9),
    RopeElasticity(construction="6x36 steel", area_factor=0.460, modulus=97e9),
    RopeElasticity(construction="8x36 steel", area_factor=0.468, modulus=91e9),
)

_ANY_CONSTRUCTION_UNCERTAINTY = 0.30
"""Where only the diameter is known: the rows above differ by as much. [1]"""

_STEEL_CORES = ("iwrc", "iwr", "wsc", "wrc", "steel")


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
    """Find the axial rigidity of a rope from its diameter and class.

    Parameters
    ----------
    diameter : float
        Nominal. [m]
    construction : str
        As typed, such as "8x19 S FC"; a class that is not in the table, or none, gives
        the middle of all classes with a wider uncertainty.

    Returns
    -------
    AxialRigidity
        The figure and how it is known.

    Examples
    --------
    >>> found = find_axial_rigidity(diameter=0.013, construction="8x19 FC")
    >>> round(found.value / 1e6, 2)
    3.48
    """
    row = _row_of(construction)
    if row is None:
        middle = sum(r.area_factor * r.modulus for r in ROPE_ELASTICITIES)
        return AxialRigidity(
            value=middle / len(ROPE_ELASTICITIES) * diameter**2,
            relative_uncertainty=_ANY_CONSTRUCTION_UNCERTAINTY,
            construction="",
            source="middle of the classes in the table, for the construction is not "
            "known; modulus from memory",
        )
    return AxialRigidity(
        value=row.area_factor * row.modulus * diameter**2,
        relative_uncertainty=hypot(ROPE_MODULUS_UNCERTAINTY, 0.02),
        construction=row.construction,
        source=f"area of {row.construction} by {row.area_source}; modulus "
        f"{row.modulus / 1e9:.0f} GPa from memory",
    )


def _row_of(construction: str) -> RopeElasticity | None:
    """Find the row of a construction as typed."""
    text = construction.lower().replace("×", "x")
    strands = re.search(r"\b([68])\s*x\s*(19|36)", text)
    if strands is None:
        return None
    is_steel = any(core in text for core in _STEEL_CORES)
    key = f"{strands[1]}x{strands[2]} {'steel' if is_steel else 'FC'}"
    return next((r for r in ROPE_ELASTICITIES if r.construction == key), None)
