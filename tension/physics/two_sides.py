"""Two sides of a set of ropes over one sheave, and how their tensions deviate."""

from dataclasses import dataclass

import numpy as np

from tension.errors import InvalidValueError
from tension.physics.domain import FloatArray


@dataclass(frozen=True, kw_only=True, slots=True)
class SheaveSystem:
    """Two sides of a set of ropes over one sheave, all ropes with the same sheave turn.

    Attributes
    ----------
    axial_rigidity : float
        EA of one rope. [N]
    car_fall, counterweight_fall : float
        Free rope on each side where the car stands at the start. [m]
    travel : float
        How much rope passes the sheave from one end of the travel to the other. [m]
    car_spring_compliance, counterweight_spring_compliance : float
        Reciprocal of the spring rate at that hitch; 0 without a spring. [m/N]
    grip : float
        Largest ratio of the two tensions of one rope that the groove holds, over and
        above 1; infinity where the rope never slips. [1]
    """

    axial_rigidity: float
    car_fall: float
    counterweight_fall: float
    travel: float
    car_spring_compliance: float = 0.0
    counterweight_spring_compliance: float = 0.0
    grip: float = np.inf

    def __post_init__(self) -> None:
        positive = (self.axial_rigidity, self.car_fall, self.counterweight_fall)
        if min(positive) <= 0.0:
            raise InvalidValueError(
                f"rigidity and both falls must be above 0, got {positive}"
            )
        if not 0.0 <= self.travel < self.counterweight_fall:
            raise InvalidValueError(
                "travel must be from 0 m to less than the fall of the other side, "
                f"got {self.travel} m"
            )

    @property
    def car_compliance(self) -> float:
        """Stretch of the car side for unit tension at the start [m/N]."""
        return self.car_spring_compliance + self.car_fall / self.axial_rigidity

    @property
    def counterweight_compliance(self) -> float:
        """Stretch of the counterweight side for unit tension at the start [m/N]."""
        return (
            self.counterweight_spring_compliance
            + self.counterweight_fall / self.axial_rigidity
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class SideDeviations:
    """Tension of each rope on either side, less the mean of that side.

    Attributes
    ----------
    car, counterweight : ndarray, shape (n_ropes,)
        Deviations; each sums to zero. [N]
    """

    car: FloatArray
    counterweight: FloatArray
