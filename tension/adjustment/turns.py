"""Turns of nuts, as a person wrote them down."""

from dataclasses import dataclass

from tension.installation import HitchPlace
from tension.quantity.units import Quantity


@dataclass(frozen=True, kw_only=True, slots=True)
class Turn:
    """A turn of one nut.

    Attributes
    ----------
    after : str
        The series after which it was made.
    hitch : HitchPlace
        Which hitch.
    rope : int
        Rope number.
    turns : Quantity
        Positive: nut towards the plate, tension up. [turns]
    round_trips_after : int or None
        Round trips the car ran afterwards; None if not recorded: nothing is learned.
    """

    after: str
    hitch: HitchPlace
    rope: int
    turns: Quantity
    round_trips_after: int | None = None
