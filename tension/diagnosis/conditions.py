"""Several series of one set, each with its condition, and shapes over conditions.

A shape is how a deviation goes over conditions for one unit of its cause: mechanics of
two sides over one sheave (`tension.physics.sheave`) read at their places, sides and
directions, shape (n_conditions,).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tension.installation import Side
from tension.physics.sheave import (
    SheaveSystem,
    compliances_at,
    run_to,
    settled_ends,
    side_deviations,
)

FloatArray = NDArray[np.float64]

_ONE_LOAD = 0.05
"""Loads that differ by less count as one, for readings differ as much. [1]"""

_SMALL_RADIUS = 1e-4
"""Radius deviation for which shapes are worked out; without slip all are alike. [1]"""

_WAYS = ("up", "down")


@dataclass(frozen=True, kw_only=True, slots=True)
class Condition:
    """Where, when and how a series was or would be measured."""

    name: str  # What to call it in a sentence
    side: Side
    rope_passed: float  # Rope passed to the car side since its highest place [m]
    arrived: str  # Direction the car came from: "up", "down", or empty if not recorded
    mean_tension: float  # Mean of the set there, in the common scale of all series [N]
    # The same as far as the load differs from that of the first series of its side:
    # readings of one load count as one, see `with_loads` [N]
    load_tension: float
    free_length: float  # Of the span that was plucked or pulled; nan where none [m]
    span: str = ""
    weeks: float = 0.0  # Time since the first series [week]
    visit: int = 0  # Which visit, from 0
    epoch: int = 0  # Counts up each time nuts were turned
    # Since nuts were turned last; None once run in, or if not recorded
    round_trips: int | None = None
    # Rope passed where the nuts of this epoch were turned; None if they never were, or
    # at more than one place [m]
    turned_at: float | None = None
    turned_side: Side = Side.CAR  # At whose hitch
    is_by_pitch: bool = True  # By plucks or wave returns, through length and mass
    is_by_span: bool = True  # From a span at all rather than from spring lengths
    are_lengths_read: bool = False  # Whether each rope's free length was read by itself


@dataclass(frozen=True, kw_only=True, slots=True)
class PatternSeries:
    """Tensions of one series, all ropes of the pattern given."""

    condition: Condition
    tensions: FloatArray  # In the common scale of all series, shape (n_ropes,) [N]
    covariance: FloatArray  # Of the logarithms, what all share left out [1]
    # Part of it that comes from the free length of each rope, the same error in all
    # series of one span and visit, shape (n_ropes,) [1]
    length_uncertainties: FloatArray

    @property
    def tension_covariance(self) -> FloatArray:
        """Covariance of the tensions, shape (n_ropes, n_ropes). [N^2]."""
        return np.asarray(self.covariance * np.outer(self.tensions, self.tensions))


@dataclass(frozen=True, kw_only=True, slots=True)
class Pattern:
    """All series of one set, one at least, that are held against the causes."""

    numbers: tuple[int, ...]  # Rope numbers, in the order of the arrays
    series: tuple[PatternSeries, ...]
    system: SheaveSystem  # The start being the car at its highest
    rows: tuple[int, ...] = ()  # Hitch row of each rope, from 0; empty if not recorded
    has_sheave: bool = True  # Whether the ropes run over a traction sheave
    is_absolute: bool = True  # Whether the common scale is newtons, not nearly so

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The condition of each series."""
        return tuple(one.condition for one in self.series)

    @property
    def mean_tension(self) -> float:
        """Mean of all series. [N]."""
        return float(np.mean([c.mean_tension for c in self.conditions]))

    @property
    def settings(self) -> list[list[int]]:
        """Places of the series between two turns of nuts, setting by setting."""
        epochs = [c.epoch for c in self.conditions]
        return [
            [i for i, one in enumerate(epochs) if one == epoch]
            for epoch in dict.fromkeys(epochs)
        ]

    @property
    def n_series_of_one_setting(self) -> int:
        """Most series between two turns of nuts. [1]."""
        return max(map(len, self.settings))

    @property
    def deviations(self) -> FloatArray:
        """Tension less the mean of its series, shape (n_series, n_ropes). [N]."""
        tensions = np.array([one.tensions for one in self.series])
        return np.asarray(tensions - tensions.mean(axis=1, keepdims=True))

    @property
    def uncertainties(self) -> FloatArray:
        """Standard uncertainty of each deviation, shape (n_series, n_ropes). [N]."""
        n = len(self.numbers)
        away = np.eye(n) - 1.0 / n
        return np.array(
            [
                np.sqrt(np.diag(away @ one.tension_covariance @ away))
                for one in self.series
            ]
        )


def with_loads(series: Sequence[PatternSeries]) -> tuple[PatternSeries, ...]:
    """Tell changes of load from errors of reading.

    `load_tension` becomes the mean where most ropes read more than 5 % above or under
    the first series of that side, else the mean of that first series.
    """
    first: dict[Side, PatternSeries] = {}
    told = []
    for one in series:
        base = first.setdefault(one.condition.side, one)
        ratio = float(np.median(one.tensions / base.tensions))
        is_same = abs(ratio - 1.0) <= _ONE_LOAD
        load = (base if is_same else one).condition.mean_tension
        condition = replace(one.condition, load_tension=load)
        told.append(replace(one, condition=condition))
    return tuple(told)


def contrasts(n_ropes: int) -> FloatArray:
    """Build combinations of two ropes or more that leave their mean out.

    Orthonormal rows, each summing to zero (Helmert), shape (n_ropes - 1, n_ropes).
    """
    k = np.arange(float(n_ropes))
    rows = np.tril(np.ones((n_ropes, n_ropes)), -1) - np.diag(k)
    return np.asarray(rows[1:] / np.sqrt(k * (k + 1.0))[1:, None])


def at_place(
    base: Condition, *, side: Side, rope_passed: float, system: SheaveSystem
) -> Condition:
    """Move a condition to another place, on a span of its own as long as that fall.

    `rope_passed` is the place of the car. [m]
    """
    fall = system.car_fall + rope_passed
    if side is Side.COUNTERWEIGHT:
        fall = system.counterweight_fall - rope_passed
    return replace(
        base,
        side=side,
        rope_passed=rope_passed,
        free_length=fall,
        span=f"{side.value} {rope_passed:.3f}",
    )


def deviations_at(
    conditions: Sequence[Condition],
    system: SheaveSystem,
    *,
    differences: ArrayLike = 0.0,
    excess_length: float = 0.0,
) -> FloatArray:
    """Compute the deviation of one rope on the side of each condition. [N].

    By what runs keep up in each, the differences of both sides [N], and by how much
    shorter it was set at its nuts [m].
    """
    both = side_deviations(
        differences=differences,
        excess_lengths=excess_length,
        rope_passed=[c.rope_passed for c in conditions],
        system=system,
    )
    is_car = [c.side is Side.CAR for c in conditions]
    return np.where(is_car, both.car, both.counterweight)


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
    def difference(passed: float, arrived: str) -> float:
        is_down = arrived == "down"
        run = run_to(
            ends[0 if is_down else 1],
            radius_deviations=small,
            start=0.0 if is_down else travel,
            end=passed,
            system=system,
            slip_difference=limit,
        )
        return float(run[0])

    def arriving(there: Sequence[Condition], way: str) -> FloatArray:
        settled = [
            difference(c.rope_passed, c.arrived if c.arrived in _WAYS else way)
            for c in there
        ]
        return deviations_at(there, system, differences=settled)

    car = replace(conditions[0], side=Side.CAR, arrived="")
    ends_of_travel = [replace(car, rope_passed=place) for place in (0.0, travel)]
    largest = np.max(np.abs([arriving(ends_of_travel, way) for way in _WAYS]))
    found = np.mean([arriving(conditions, way) for way in _WAYS], axis=0)
    return np.asarray(found / max(float(largest), 1e-12))


def where_adjusted(shape: FloatArray, conditions: Sequence[Condition]) -> FloatArray:
    """Set the nuts so that ropes are equal where each epoch was begun.

    The same newtons are taken off everywhere from `shape`, the deviation for nuts set
    to equal lengths. [1]
    """
    epochs = [c.epoch for c in conditions]
    return shape - shape[[epochs.index(epoch) for epoch in epochs]]


def turned_shape(condition: Condition, system: SheaveSystem) -> float:
    """Compute a deviation over that right after a nut was turned at one hitch. [1]."""
    if condition.turned_at is None:
        return 0.0
    car, other = compliances_at(condition.turned_at, system)
    is_car = condition.turned_side is Side.CAR
    own, u = float(car if is_car else other), np.zeros(1)
    if condition.round_trips is not None:
        u = np.array([1.0 / own if is_car else -1.0 / own])
        trips = [0.0, system.travel] * condition.round_trips
        way = [condition.turned_at, *trips, *trips[:1], condition.rope_passed]
        for start, end in pairwise(way):
            u = run_to(
                u, radius_deviations=np.zeros(1), start=start, end=end, system=system
            )
    shown = deviations_at([condition], system, differences=u, excess_length=1.0)
    return float(shown[0]) * own
