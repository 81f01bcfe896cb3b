"""How a deviation goes over conditions for one unit of its cause.

Mechanics of two sides over one sheave (`tension.physics.sheave`) read at the
places, sides and directions of the series. A shape has shape (n_conditions,).
"""

from collections.abc import Sequence
from functools import cache
from itertools import pairwise, product

import numpy as np

from tension.diagnosis.conditions import MANY_TRIPS, Condition, FloatArray
from tension.installation import Side
from tension.physics.hitch_statics import added_load_shares
from tension.physics.sheave import (
    SheaveSystem,
    SideDeviations,
    compliances_at,
    run_to,
    settled_ends,
    side_deviations,
)

_SMALL_RADIUS = 1e-4
"""Radius deviation for which shapes are worked out; without slip all are alike. [1]"""


def groove_shape(
    conditions: Sequence[Condition], system: SheaveSystem, *, slip: float
) -> FloatArray:
    """Compute the deviation by a radius difference, 1 where largest on the car side.

    A direction not recorded is the mean of both. Ropes slip at a difference of `slip`
    over the largest without slip; infinity for never. [1]
    """
    small, travel = np.array([_SMALL_RADIUS]), system.travel
    top = settled_ends(radius_deviations=small, system=system)[0]
    limit = slip * float(np.abs(top[0]))
    ends = settled_ends(radius_deviations=small, system=system, slip_difference=limit)

    @cache
    def settled(passed: float, *, is_down: bool) -> SideDeviations:
        u = run_to(
            ends[0 if is_down else 1],
            radius_deviations=small,
            start=0.0 if is_down else travel,
            end=passed,
            system=system,
            slip_difference=limit,
        )
        return side_deviations(
            differences=u, excess_lengths=np.zeros(1), rope_passed=passed, system=system
        )

    ends_of_travel = product((0.0, travel), (True, False))
    largest = max(abs(settled(at, is_down=down).car[0]) for at, down in ends_of_travel)
    ways = {"up": (False,), "down": (True,)}
    found = [
        np.mean(
            [
                _of_side(settled(c.rope_passed, is_down=down), c)
                for down in ways.get(c.arrived, (True, False))
            ]
        )
        for c in conditions
    ]
    return np.array(found) / max(float(largest), 1e-12)


def _of_side(both: SideDeviations, condition: Condition) -> float:
    """The deviation of the side of a condition."""
    here = both.car if condition.side is Side.CAR else both.counterweight
    return float(here[0])


def creep_shape(conditions: Sequence[Condition], system: SheaveSystem) -> FloatArray:
    """Compute the deviation by a difference of both sides that runs keep up.

    For a difference of 1, nuts set equal where each epoch was begun. [1]
    """
    found = [
        _of_side(
            side_deviations(
                differences=np.ones(1),
                excess_lengths=np.zeros(1),
                rope_passed=c.rope_passed,
                system=system,
            ),
            c,
        )
        for c in conditions
    ]
    return where_adjusted(np.array(found), conditions)


def where_adjusted(shape: FloatArray, conditions: Sequence[Condition]) -> FloatArray:
    """Set the nuts so that ropes are equal where each epoch was begun.

    The same newtons are taken off everywhere from `shape`, the deviation for nuts set
    to equal lengths. [1]
    """
    epochs = [c.epoch for c in conditions]
    return np.array([shape[i] - shape[epochs.index(e)] for i, e in enumerate(epochs)])


def turned_shape(condition: Condition, system: SheaveSystem) -> float:
    """Compute a deviation over that right after a nut was turned at one hitch. [1]."""
    if condition.turned_at is None:
        return 0.0
    place, passed = condition.turned_at, condition.rope_passed
    car, other = compliances_at(place, system)
    is_car = condition.turned_side is Side.CAR
    own = float(car if is_car else other)
    if condition.round_trips >= MANY_TRIPS:
        u = np.zeros(1)
    else:
        u = np.array([1.0 / own if is_car else -1.0 / own])
        trips = [0.0, system.travel] * condition.round_trips
        way = [place, *trips, *([0.0] if trips else []), passed]
        for start, end in pairwise(way):
            u = run_to(
                u, radius_deviations=np.zeros(1), start=start, end=end, system=system
            )
    both = side_deviations(
        differences=u, excess_lengths=np.ones(1), rope_passed=passed, system=system
    )
    return _of_side(both, condition) * own


def settled_shape(
    conditions: Sequence[Condition], *, life: float, left: float, n_series: int
) -> FloatArray:
    """Compute the part of a stretch that shows, slower each time. [1].

    Since the first of the `n_series` measured, or since nuts were turned last, where a
    part `left` [1] is still to come at first, which falls to 1/e in `life` [week].
    """
    weeks = np.array([c.weeks for c in conditions])
    epochs = np.array([c.epoch for c in conditions])
    coming = left * np.exp(-weeks / life)
    shape = 1.0 - coming
    for epoch in set(epochs[:n_series].tolist()) - {int(epochs[0])}:
        inside = epochs == epoch
        begun = weeks[:n_series][inside[:n_series]].min()
        shape[inside] = (left * np.exp(-begun / life) - coming)[inside]
    return np.asarray(shape)


def bound_share(*, compliance: float, spring: float, n_ropes: int) -> float:
    """Compute how much more a rope takes of an added load whose spring is bound.

    Over the load added to an even share, such that the other ropes, which lose it, come
    out right once the mean is taken off [1]; compliance of spring and fall together,
    and of the spring alone. [m/N]
    """
    stiffnesses = np.full(n_ropes, 1.0 / compliance)
    stiffnesses[0] = 1.0 / (compliance - spring)
    more = float(n_ropes * added_load_shares(stiffnesses)[0]) - 1.0
    return more / (1.0 - 1.0 / n_ropes)
