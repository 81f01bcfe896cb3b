"""What is known of the rope itself: linear density and bounds of its stiffnesses."""

from dataclasses import dataclass
from math import pi, sqrt

from tension.installation import RopeSet
from tension.notes import Note
from tension.quantity.estimate import Estimate, Sharing, Source

_STEEL_MODULUS = 2.0e11
_USUAL_DIAMETER = 0.013
_USUAL_DIAMETERS = (0.006, 0.020)
_LOOSE_WIRES, _BONDED_WIRES = 0.002, 0.51
"""Flexural rigidity of a stranded rope over that of a solid rod, wires sliding freely
and not at all; computed from the geometry of 8-strand ropes, no published table. [1]"""

TRIANGULAR = sqrt(24)
"""Width over standard deviation of a triangular distribution. Loose and bonded wires
are limits that no rope reaches, so what lies between is likelier in the middle. [1]"""

_DENSITY_PER_SQUARE = 3500.0
"""Linear density over diameter squared, about that of any stranded rope. [kg/m^3]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class RigidityRange:
    """Between what EI/m may lie.

    Attributes
    ----------
    lowest, likely, highest : float
        Loose wires, a value between, bonded wires. [m^4/s^2]
    relative_uncertainty : float
        Of the likely value, where it was measured; 0 where only the range is known. [1]
    """

    lowest: float
    likely: float
    highest: float
    relative_uncertainty: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeFigures:
    """Figures of one rope of the set.

    Attributes
    ----------
    linear_density : Estimate or None
        Mass per length; None if neither typed nor to be had from a table. [kg/m]
    rigidity_per_density : RigidityRange
        Bounds of EI/m from the diameter.
    usual_density : float
        About that of any rope of this diameter, for own weight and bending. [kg/m]
    notes : tuple of Note
        Where the figures come from.
    """

    linear_density: Estimate | None
    rigidity_per_density: RigidityRange
    usual_density: float
    notes: tuple[Note, ...] = ()

    @property
    def linear_density_or_usual(self) -> float:
        """Linear density, or about that of any rope of this diameter. [kg/m]."""
        return self.linear_density.value if self.linear_density else self.usual_density


def find_rope_figures(rope_set: RopeSet) -> RopeFigures:
    """Find what is known of the ropes of a set.

    Parameters
    ----------
    rope_set : RopeSet
        The set.

    Returns
    -------
    RopeFigures
        Typed figures first, then those of the catalogue.
    """
    source = Source(
        name="linear density",
        relative=rope_set.uncertainties.linear_density,
        sharing=Sharing.SET,
    )
    typed = rope_set.linear_density
    density = Estimate(value=typed.value, sources=(source,)) if typed else None
    diameter = rope_set.diameter.value if rope_set.diameter else _USUAL_DIAMETER
    return RopeFigures(
        linear_density=density,
        rigidity_per_density=_rigidity_range(rope_set),
        usual_density=_DENSITY_PER_SQUARE * diameter**2,
    )


def rigidity_from_partials(
    measured: float, relative_uncertainty: float, known: RigidityRange
) -> RigidityRange:
    """Take the stiffness heard from the set's own partials, if there is one.

    Parameters
    ----------
    measured : float
        EI/m of the set; nan if not determined. [m^4/s^2]
    relative_uncertainty : float
        Its relative standard uncertainty. [1]
    known : RigidityRange
        Bounds from the construction.

    Returns
    -------
    RigidityRange
        The bounds if nothing was heard.
    """
    if not measured >= 0 or not relative_uncertainty < 1:
        return known
    return RigidityRange(
        lowest=known.lowest,
        likely=measured,
        highest=known.highest,
        relative_uncertainty=max(relative_uncertainty, 1e-3),
    )


def _rigidity_range(rope_set: RopeSet) -> RigidityRange:
    """Bounds of EI/m: both EI and m follow from the diameter, to the ends of steel."""
    if rope_set.diameter:
        smallest = largest = rope_set.diameter.value
    else:
        smallest, largest = _USUAL_DIAMETERS
    rod = _STEEL_MODULUS * pi / 64 / _DENSITY_PER_SQUARE
    lowest = _LOOSE_WIRES * rod * smallest**2
    highest = _BONDED_WIRES * rod * largest**2
    return RigidityRange(lowest=lowest, likely=sqrt(lowest * highest), highest=highest)
