"""The imaginary lift of the demo: its ropes, its true tensions, its hitch.

Everything here is invented. Statics of the turns: ropes as springs that share a car.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.synthesis.ropes import GRAVITY, RopeSpec, solid_rod_rigidity

Array = NDArray[np.float64]

N_ROPES = 6
DIAMETER = 0.013
LINEAR_DENSITY = 0.575
FLEXURAL_RIGIDITY = 0.035 * solid_rod_rigidity(DIAMETER)
FREE_LENGTH = 3.40
STAGGER = np.array([0.0, 0.150, 0.0, 0.155, 0.002, 0.150])
CAR_MASS = 1840.0  # with the two people on the car top
# percent of an even share: rope 2 slack, rope 5 tight; they sum to 600
SHARES = np.array([100.9, 86.3, 101.6, 99.6, 112.1, 99.5])
ROPE_LENGTH = 38.0
THREAD_PITCH = 2.0e-3  # M16
SPRING_FREE_LENGTH = 0.160
# what is marked on the drawing, and what is there
SPRING_RATE, TRUE_SPRING_RATE = 150e3, 146e3
AXIAL_RIGIDITY, TRUE_AXIAL_RIGIDITY = 4.6e6, 4.4e6
# full turns of the nut, positive towards the plate
TURNS = np.array([-0.25, 4.5, -0.5, 0.0, -4.0, 0.0])


@dataclass(frozen=True, kw_only=True)
class DemoRopes:
    """Tensions at the car hitch and what follows from them.

    Attributes
    ----------
    tensions : ndarray, shape (6,)
        At the hitch. [N]
    """

    tensions: Array

    @property
    def specs(self) -> tuple[RopeSpec, ...]:
        """The spans that are plucked."""
        return tuple(
            RopeSpec(
                free_length=float(FREE_LENGTH + stagger),
                linear_density=LINEAR_DENSITY,
                flexural_rigidity=FLEXURAL_RIGIDITY,
                hitch_tension=float(tension),
            )
            for stagger, tension in zip(STAGGER, self.tensions, strict=True)
        )

    @property
    def spring_lengths(self) -> Array:
        """Under load. [m]"""
        out: Array = SPRING_FREE_LENGTH - self.tensions / TRUE_SPRING_RATE
        return out


def as_found() -> DemoRopes:
    """Before any nut is turned."""
    return DemoRopes(tensions=SHARES / SHARES.sum() * CAR_MASS * GRAVITY)


def as_left() -> DemoRopes:
    """After the turns and six round trips: both sides of the sheave alike."""
    stiffness = 1.0 / (2.0 / TRUE_SPRING_RATE + ROPE_LENGTH / TRUE_AXIAL_RIGIDITY)
    travel = TURNS * THREAD_PITCH
    return DemoRopes(
        tensions=as_found().tensions + stiffness * (travel - travel.mean())
    )
