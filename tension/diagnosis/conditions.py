"""Several series of one set, each with the condition it holds for."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.installation import Side
from tension.physics.sheave import SheaveSystem

FloatArray = NDArray[np.float64]

MANY_TRIPS = 1000
"""Round trips after which a set counts as run in. [1]"""

_ONE_LOAD = 0.05
"""Loads that differ by less count as one, for readings differ as much. [1]"""


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
    round_trips: int = MANY_TRIPS  # Since nuts were turned last, if recorded
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
    rows = []
    for k in range(1, n_ropes):
        row = np.zeros(n_ropes)
        row[:k] = 1.0
        row[k] = -float(k)
        rows.append(row / np.sqrt(k * (k + 1.0)))
    return np.array(rows)


def without_a_run(conditions: Sequence[Condition], *, n_series: int) -> FloatArray:
    """Find the conditions between which the car may not have run.

    Series that follow each other at one place of one visit, nuts not turned between
    them; what was not measured, after the first `n_series`, comes after a run. One for
    each two of one stay, else zero, shape (n_conditions, n_conditions). [1]
    """
    keys = [(c.visit, c.epoch, c.rope_passed, c.arrived) for c in conditions]
    moved = [
        not 0 < i < n_series or keys[i] != keys[i - 1] for i in range(len(conditions))
    ]
    stays = np.cumsum(moved)
    return np.asarray(stays[:, None] == stays[None, :], dtype=float)


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
