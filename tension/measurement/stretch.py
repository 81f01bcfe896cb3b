"""How stiff a rope with its springs is against a side pull, and between what bounds."""

from dataclasses import dataclass

from tension.catalogue.elasticity import find_axial_rigidity, find_shear_modulus
from tension.installation import Buffer, Hitch, HitchPlace, RopeSet, Side, Span
from tension.physics.hitch_statics import stiffness_in_series
from tension.physics.springs import spring_rate_from_wire

_USUAL_DIAMETER = 0.013

HITCHES_OF_SIDE = {
    Side.CAR: (HitchPlace.CAR, HitchPlace.DEAD_END_CAR),
    Side.COUNTERWEIGHT: (HitchPlace.COUNTERWEIGHT, HitchPlace.DEAD_END_COUNTERWEIGHT),
}
"""Where the ropes of a side may be fastened."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StretchStiffness:
    """Between what the axial stiffness against a side pull lies.

    Attributes
    ----------
    lowest : float
        Of the whole rope, hitch to hitch, with all springs; 0 if not known. [N/m]
    highest : float
        Of this fall alone with the spring at its hitch, the sheave holding. [N/m]
    is_known : bool
        Whether the spring at this hitch and the rope are known.
    """

    lowest: float
    highest: float
    is_known: bool

    @property
    def likely(self) -> float:
        """Middle of the bounds."""
        return (self.lowest + self.highest) / 2


def spring_rate_of(hitch: Hitch) -> float | None:
    """Rate of the springs at a hitch, typed or from wire and coil.

    Parameters
    ----------
    hitch : Hitch
        The hitch.

    Returns
    -------
    float or None
        Rate of one spring; None if it is not known. [N/m]
    """
    if hitch.spring_rate is not None:
        return hitch.spring_rate.value
    wire, coil, n_coils = (
        hitch.spring_wire,
        hitch.spring_coil,
        hitch.spring_active_coils,
    )
    modulus = find_shear_modulus(hitch.spring_material)
    if wire is None or coil is None or n_coils is None or modulus is None:
        return None
    return spring_rate_from_wire(
        wire_diameter=wire.value,
        mean_coil_diameter=coil.value,
        n_active_coils=n_coils,
        shear_modulus=modulus.value,
    )


def find_stretch_stiffness(
    rope_set: RopeSet, span: Span, free_length: float
) -> StretchStiffness:
    """Find how stiff a rope is against being pulled aside.

    Parameters
    ----------
    rope_set : RopeSet
        The ropes, with their hitches.
    span : Span
        Where the rope is pulled.
    free_length : float
        Its free length there. [m]

    Returns
    -------
    StretchStiffness
        Its bounds: while the rope grips the sheave this fall alone gives way; should it
        creep, the whole rope does. Springs of which nothing is known leave everything
        open between no stiffness and that of the bare fall.
    """
    rigidity = _axial_rigidity(rope_set)
    here = [h for h in rope_set.hitches if h.at in HITCHES_OF_SIDE[span.side]]
    near = _rates(here)
    if near is None:
        return StretchStiffness(
            lowest=0.0,
            highest=stiffness_in_series(
                free_length=free_length, axial_rigidity=rigidity
            ),
            is_known=False,
        )
    highest = stiffness_in_series(
        free_length=free_length, axial_rigidity=rigidity, spring_rates=near
    )
    far = _rates([h for h in rope_set.hitches if h not in here])
    length = rope_set.rope_length
    if length is None:
        return StretchStiffness(
            lowest=0.0, highest=highest, is_known=rope_set.diameter is not None
        )
    lowest = stiffness_in_series(
        free_length=max(length.value, free_length),
        axial_rigidity=rigidity,
        spring_rates=[*near, *(near if far is None else far)],
    )
    return StretchStiffness(lowest=lowest, highest=highest, is_known=True)


def _axial_rigidity(rope_set: RopeSet) -> float:
    """EA as typed, else by diameter and class, else of a usual rope."""
    if rope_set.axial_rigidity is not None:
        return rope_set.axial_rigidity.value
    diameter = rope_set.diameter.value if rope_set.diameter else _USUAL_DIAMETER
    return find_axial_rigidity(
        diameter=diameter, construction=rope_set.construction
    ).value


def _rates(hitches: list[Hitch]) -> list[float] | None:
    """Spring rates in the line; None if there is no telling."""
    if not hitches:
        return None
    rates = []
    for hitch in hitches:
        if hitch.buffer is Buffer.NONE:
            continue
        rate = spring_rate_of(hitch) if hitch.buffer is Buffer.SPRING else None
        if rate is None:
            return None
        rates.append(rate)
    return rates
