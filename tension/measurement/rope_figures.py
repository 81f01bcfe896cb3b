"""What is known of the rope itself: linear density and bounds of its stiffnesses."""

from dataclasses import dataclass, replace
from math import sqrt

from tension.catalogue.ropes import (
    find_rope_class,
    flexural_rigidity_bounds,
    linear_density_from_class,
)
from tension.installation import RopeSet
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.estimate import Estimate, Sharing, Source

_USUAL_DIAMETER = 0.013
_USUAL_DIAMETERS = (0.006, 0.020)

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

    Returns
    -------
    RopeFigures
        The linear density as typed, else from the table, marked so; none for ropes that
        the table does not hold.
    """
    density, notes = _linear_density(rope_set)
    diameter = rope_set.diameter.value if rope_set.diameter else _USUAL_DIAMETER
    return RopeFigures(
        linear_density=density,
        rigidity_per_density=_rigidity_range(rope_set),
        usual_density=_DENSITY_PER_SQUARE * diameter**2,
        notes=notes,
    )


def _linear_density(rope_set: RopeSet) -> tuple[Estimate | None, tuple[Note, ...]]:
    """Linear density as typed or from the table, and where it comes from."""
    typed = rope_set.linear_density
    if typed is not None:
        source = Source(
            name="linear density",
            relative=rope_set.uncertainties.linear_density,
            sharing=Sharing.SET,
        )
        return Estimate(value=typed.value, sources=(source,)), ()
    found = find_rope_class(rope_set.construction)
    if isinstance(found, Refusal):
        return None, (found.as_note(),) if rope_set.construction else ()
    if rope_set.diameter is None:
        return None, ()
    density = linear_density_from_class(found, rope_set.diameter.value)
    if "linear_density" in rope_set.uncertainties.typed:
        relative = rope_set.uncertainties.linear_density
        density = replace(
            density,
            sources=tuple(replace(s, relative=relative) for s in density.sources),
        )
    note = NoteKind.FROM_TABLE.note(
        density=f"{density.value:.3g}",
        source=found.source,
        diameter=f"{1000 * rope_set.diameter.value:g}",
        construction=found.name,
    )
    return density, (note,)


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
    """Bounds of EI/m, by diameter and linear density."""
    diameter = rope_set.diameter
    ends = (diameter.value, diameter.value) if diameter else _USUAL_DIAMETERS
    lowest, highest = (
        _DENSITY_PER_SQUARE * end**2
        if rope_set.linear_density is None or diameter is None
        else rope_set.linear_density.value
        for end in ends
    )
    least = flexural_rigidity_bounds(ends[0]).lowest / lowest
    most = flexural_rigidity_bounds(ends[1]).highest / highest
    return RigidityRange(lowest=least, likely=sqrt(least * most), highest=most)
