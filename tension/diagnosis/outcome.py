"""The pattern of a set, which is asked about, and what it was found to suggest."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from tension.installation import Side
from tension.notes import Note
from tension.physics import FloatArray
from tension.physics.sheave import SheaveSystem

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
    # Since nuts were turned last; None once run in, or if not recorded
    round_trips: int | None = None
    # Rope passed where the nuts of this epoch were turned; None if they never were, or
    # at more than one place [m]
    turned_at: float | None = None
    turned_side: Side = Side.CAR  # At whose hitch
    is_by_pitch: bool = True  # By plucks or wave returns, through length and mass
    is_by_span: bool = True  # From a span at all rather than from spring lengths
    are_lengths_read: bool = False  # Whether each rope's free length was read by itself

    def at(
        self, rope_passed: float, system: SheaveSystem, side: Side = Side.CAR
    ) -> "Condition":
        """Move it to a place of the car [m], on a span of its own, the whole fall."""
        fall = system.car_fall + rope_passed
        if side is Side.COUNTERWEIGHT:
            fall = system.counterweight_fall - rope_passed
        moved = replace(self, side=side, rope_passed=rope_passed, free_length=fall)
        return replace(moved, span=f"{side.value} {rope_passed:.3f}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Pattern:
    """All series of one set, one at least, that are held against the causes."""

    numbers: tuple[int, ...]  # Rope numbers, in the order of the arrays
    conditions: tuple[Condition, ...]  # Of each series
    # In the common scale of all series, shape (n_series, n_ropes) [N]
    tensions: FloatArray
    # Of the tensions of each series, what all share left out, shape (n_series, n_ropes,
    # n_ropes) [N^2]
    covariances: FloatArray
    # Part of it that comes from the free length of each rope, the same error in all
    # series of one span and visit, shape (n_series, n_ropes) [N]
    length_uncertainties: FloatArray
    system: SheaveSystem  # The start being the car at its highest
    rows: tuple[int, ...] = ()  # Hitch row of each rope, from 0; empty if not recorded
    has_sheave: bool = True  # Whether the ropes run over a traction sheave
    is_absolute: bool = True  # Whether the common scale is newtons, not nearly so

    @property
    def mean_tension(self) -> float:
        """Mean of all series. [N]."""
        return float(np.mean([c.mean_tension for c in self.conditions]))

    @property
    def settings(self) -> list[list[int]]:
        """Places of the series between two turns of nuts, setting by setting."""
        of_epoch: dict[int, list[int]] = {}
        for place, condition in enumerate(self.conditions):
            of_epoch.setdefault(condition.epoch, []).append(place)
        return list(of_epoch.values())

    @property
    def n_series_of_one_setting(self) -> int:
        """Most series between two turns of nuts. [1]."""
        return max(map(len, self.settings))

    @property
    def deviations(self) -> FloatArray:
        """Tension less the mean of its series, shape (n_series, n_ropes). [N]."""
        return np.asarray(self.tensions - self.tensions.mean(axis=1, keepdims=True))

    @property
    def uncertainties(self) -> FloatArray:
        """Standard uncertainty of each deviation, shape (n_series, n_ropes). [N]."""
        away = np.eye(len(self.numbers)) - 1.0 / len(self.numbers)
        variances = np.diagonal(away @ self.covariances @ away, axis1=1, axis2=2)
        return np.asarray(np.sqrt(variances))


def with_loads(
    conditions: Sequence[Condition], tensions: FloatArray
) -> tuple[Condition, ...]:
    """Tell changes of load from errors of reading, shape (n_series, n_ropes) [N].

    `load_tension` becomes the mean where most ropes read more than 5 % above or under
    the first series of that side, else the mean of that first series.
    """
    first: dict[Side, int] = {}
    told = []
    for place, condition in enumerate(conditions):
        base = first.setdefault(condition.side, place)
        ratio = float(np.median(tensions[place] / tensions[base]))
        alike = base if abs(ratio - 1.0) <= _ONE_LOAD else place
        told.append(replace(condition, load_tension=conditions[alike].mean_tension))
    return tuple(told)


class Cause(StrEnum):
    """One thing that makes ropes of a set unequal, or seem so."""

    LENGTH = "rope-length"
    GROOVE = "groove-radius"
    NOT_RUN_IN = "not-run-in"
    SETTLING = "settling"
    STIFFNESS = "stiffness"
    MASS = "mass"
    BOUND_SPRING = "bound-spring"
    STAGGER = "stagger"
    TWIST = "twist"
    TOUCHING = "touching"
    UNKNOWN = "unknown"


Causes = tuple[Cause, ...]
"""Causes at work together: one or two; none is nothing beyond what readings and a
careful adjustment leave."""


class Conclusion(StrEnum):
    """How far the pattern says something."""

    SUGGESTS = "suggests"
    TWO_CAUSES = "two-causes"
    NOTHING_TO_EXPLAIN = "nothing-to-explain"
    UNKNOWN_PATTERN = "unknown-pattern"
    NOTHING_CONCLUDED = "nothing-can-be-concluded"


class Step(StrEnum):
    """A kind of further measurement."""

    OTHER_END = "other-end"
    MIDDLE = "middle"
    OTHER_ARRIVAL = "other-arrival"
    OTHER_SIDE = "other-side"
    ADDED_LOAD = "added-load"
    LATER = "later"
    MORE_ROUND_TRIPS = "more-round-trips"
    BY_PULL = "by-pull"
    AFTER_A_RUN = "after-a-run"


@dataclass(frozen=True, kw_only=True, slots=True)
class Suspect:
    """One hypothesis: no cause, one, or two at once."""

    causes: Causes
    weight: float  # After looking, of all hypotheses together 1 [1]
    ropes: tuple[int, ...] = ()  # Numbers where the likeliest form is of one rope alone


@dataclass(frozen=True, kw_only=True, slots=True)
class Telltale:
    """The number that tells for a cause, read off the measurements.

    In the unit that belongs to the cause: newtons, or for a stagger metres, or a
    fraction.
    """

    cause: Cause
    rope: int  # Rope on which it shows most
    value: float
    uncertainty: float
    # What it is read against: the same elsewhere, before, or of an even share
    against: float = 0.0
    where: str = ""  # Conditions it was read in
    elsewhere: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class NextMeasurement:
    """A further measurement and how much it would settle."""

    step: Step
    condition: Condition
    gain: float  # Expected gain of information on the causes [bit]
    open_now: float  # What is open before it [bit]


@dataclass(frozen=True, kw_only=True, slots=True)
class Curve:
    """Deviations that a hypothesis in its likeliest form gives along the travel."""

    suspect: Suspect
    rope_passed: FloatArray  # Place of the car, shape (n_places,) [m]
    # On the car side, arrived up and arrived down, shape (2, n_places, n_ropes) [N]
    deviations: FloatArray


@dataclass(frozen=True, kw_only=True, slots=True)
class Diagnosis:
    """What a pattern suggests."""

    pattern: Pattern
    conclusion: Conclusion
    suspects: tuple[Suspect, ...]  # Heaviest first, all hypotheses
    telltales: tuple[Telltale, ...]  # For the causes of the first suspects
    next_measurement: NextMeasurement  # The one of greatest expected gain
    curves: tuple[Curve, ...] = ()  # Of the first suspects, to be drawn
    notes: tuple[Note, ...] = ()

    @property
    def named(self) -> tuple[Suspect, ...]:
        """Hypotheses worth naming: the first, and others of 5 % or more."""
        others = (s for s in self.suspects[1:5] if s.weight >= 0.05)
        return (self.suspects[0], *others)
