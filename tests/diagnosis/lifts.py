"""Patterns of a made-up lift, worked out by hand or stepped."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tension.diagnosis.outcome import (
    Condition,
    Pattern,
    with_loads,
)
from tension.installation import Side
from tension.physics.sheave import SheaveSystem

Array = NDArray[np.float64]

MEAN = 5000.0
SYSTEM = SheaveSystem(
    axial_rigidity=4.6e6,
    car_fall=4.0,
    counterweight_fall=34.0,
    travel=30.0,
    car_spring_compliance=1 / 150e3,
    counterweight_spring_compliance=1 / 150e3,
)


def condition(
    place: float = 0.0,
    *,
    side: Side = Side.CAR,
    arrived: str = "up",
    mean: float = MEAN,
    **more: object,
) -> Condition:
    fall = 4.0 + place if side is Side.CAR else 34.0 - place
    base = Condition(
        name=f"{side.value} {place:g} {arrived}",
        side=side,
        rope_passed=place,
        arrived=arrived,
        mean_tension=mean,
        load_tension=mean,
        free_length=fall,
        span=f"{side.value} {place:g}",
    )
    return replace(base, **more)  # type: ignore[arg-type]


def pattern(
    taken: Sequence[tuple[Condition, Array]],
    *,
    relative: float = 0.01,
    rows: tuple[int, ...] = (),
    has_sheave: bool = True,
) -> Pattern:
    """Deviations over the mean tension of each series, read to so much."""
    n = len(taken[0][1])
    means = np.array([[c.mean_tension] for c, _ in taken])
    tensions = means * (1.0 + np.array([deviations for _, deviations in taken]))
    return Pattern(
        numbers=tuple(range(1, n + 1)),
        conditions=with_loads([c for c, _ in taken], tensions),
        tensions=tensions,
        covariances=np.eye(n) * (relative * tensions[:, None]) ** 2,
        length_uncertainties=np.zeros_like(tensions),
        system=SYSTEM,
        rows=rows,
        has_sheave=has_sheave,
    )
