"""Recordings of the demo lift: one phone, quiet shaft, some hum."""

import numpy as np
from numpy.typing import NDArray

from tests.synthesis.demo_lift import DIAMETER, FREE_LENGTH, DemoRopes
from tests.synthesis.mixing import PluckedRope, Scene, mix
from tests.synthesis.plucking import Damping, Planes, Pluck, Sensor, solve
from tests.synthesis.recorder import LowCut

RATE = 22050
LOW_CUT = LowCut(frequency=45.0, order=2)
DAMPING = Damping(at_zero=0.0018, at_400=0.005)
PLUCK_GAP = 2.4
ROPE_GAP = 5.0
QUIET = 0.9


def _plucks(rng: np.random.Generator, first: float) -> tuple[Pluck, ...]:
    """Three plucks by a hand at about a quarter of the span."""
    return tuple(
        Pluck(
            onset=first + i * PLUCK_GAP + float(rng.uniform(-0.15, 0.15)),
            place=float(rng.uniform(0.23, 0.27)),
            width=0.03,
            amplitude=float(rng.uniform(0.003, 0.006)),
            release=0.0012,
        )
        for i in range(3)
    )


def record(
    rng: np.random.Generator, ropes: DemoRopes, order: tuple[int, ...]
) -> NDArray[np.float32]:
    """Record ropes in an order, three plucks each, as one file."""
    modes = tuple(solve(spec) for spec in ropes.specs)
    slot = 2.0 * PLUCK_GAP + ROPE_GAP
    plucked = tuple(
        PluckedRope(
            index=rope - 1,
            plucks=_plucks(rng, QUIET + i * slot),
            stopped=QUIET + (i + 1) * slot - 1.4,
        )
        for i, rope in enumerate(order)
    )
    scene = Scene(
        duration=round(QUIET + len(order) * slot - 1.8, 1),
        plucked=plucked,
        modes=modes,
        planes=tuple(
            Planes(
                split=float(rng.uniform(-0.001, 0.001)),
                weak_level=float(rng.uniform(0.0, 0.5)),
            )
            for _ in modes
        ),
        damping=DAMPING,
        axial_stiffness=1.0 / (FREE_LENGTH / (27.2e9 * DIAMETER**2) + 1.0 / 146e3),
        sensor=Sensor.MICROPHONE,
        sensor_place=0.25,
        signal_to_noise=22.0,
        hum_level=-16.0,
        neighbour_level=-22.0,
        mains=50.0,
    )
    return mix(rng, scene, rate=RATE, low_cut=LOW_CUT)
