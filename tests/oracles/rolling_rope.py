"""A rope rolled over a sheave piece by piece, each piece keeping its own strain.

Time stepping with material pieces: on each side a fall that stretches evenly and a
spring; on the sheave a queue of pieces that keep the strain with which they came on.
All ropes of the set are stepped together, the load of either side being constant.
Imports nothing from the package.
"""

from collections import deque

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def roll(
    *,
    axial_rigidity: float,
    car_fall: float,
    counterweight_fall: float,
    spring_compliances: tuple[float, float],
    means: tuple[float, float],
    nut_travels: Array,
    travel: float,
    n_round_trips: int,
    wrap: float,
    step: float,
) -> tuple[Array, Array, Array]:
    """Tensions at the start after the turn, and on both sides after the round trips.

    Works with unstretched lengths: what a side holds, what lies on the sheave, and the
    geometric length that both hitches leave.
    """
    n = len(nut_travels)
    car_mean, other_mean = means
    # unstretched rope on each side, all ropes alike to begin with
    held_car = np.full(n, car_fall / (1.0 + car_mean / axial_rigidity))
    held_other = np.full(n, counterweight_fall / (1.0 + other_mean / axial_rigidity))

    def side_tensions(
        held: Array, geometric: float, spring: float, mean: float, pulled: Array
    ) -> tuple[Array, float]:
        # held (1 + T/EA) + spring T = geometric + pulled + lift; lift common, sum fixed
        compliance = held / axial_rigidity + spring
        gap = geometric + pulled - held
        lift = (n * mean - float((gap / compliance).sum())) / float(
            (1.0 / compliance).sum()
        )
        return (gap + lift) / compliance, lift

    zero = np.zeros(n)
    car, _ = side_tensions(held_car, car_fall, spring_compliances[0], car_mean, zero)
    other, _ = side_tensions(
        held_other, counterweight_fall, spring_compliances[1], other_mean, zero
    )
    n_wrap = max(1, round(wrap / step))
    # strain on the sheave: halfway between the two sides at first
    sheave = deque([0.5 * (car + other) / axial_rigidity for _ in range(n_wrap)])
    car, _ = side_tensions(
        held_car, car_fall, spring_compliances[0], car_mean, nut_travels
    )
    at_turn = car.copy()
    length_car, length_other = car_fall, counterweight_fall
    n_steps = round(travel / step)
    for _ in range(n_round_trips):
        for direction in (1.0, -1.0):
            for _ in range(n_steps):
                if direction > 0:  # car goes down: rope passes from other to car
                    sheave.append(other / axial_rigidity)
                    leaving = sheave.popleft()
                    held_other = held_other - step / (1.0 + other / axial_rigidity)
                    held_car = held_car + step / (1.0 + leaving)
                else:
                    sheave.appendleft(car / axial_rigidity)
                    leaving = sheave.pop()
                    held_car = held_car - step / (1.0 + car / axial_rigidity)
                    held_other = held_other + step / (1.0 + leaving)
                length_car += direction * step
                length_other -= direction * step
                car, _ = side_tensions(
                    held_car, length_car, spring_compliances[0], car_mean, nut_travels
                )
                other, _ = side_tensions(
                    held_other, length_other, spring_compliances[1], other_mean, zero
                )
    return at_turn, car, other
