"""What was concluded from a pattern: causes with weights, numbers, the next act."""

from dataclasses import dataclass
from enum import StrEnum

from tension.diagnosis.conditions import Condition, FloatArray, Pattern
from tension.notes import Note


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
"""Causes at work together: none, one or two."""

NONE: Causes = ()
"""Nothing beyond what readings and a careful adjustment leave."""


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
    next_measurement: NextMeasurement | None  # The one of greatest expected gain
    curves: tuple[Curve, ...] = ()  # Of the first suspects, to be drawn
    notes: tuple[Note, ...] = ()

    @property
    def named(self) -> tuple[Suspect, ...]:
        """Hypotheses worth naming: the first, and others of 5 % or more."""
        return tuple(
            s for i, s in enumerate(self.suspects) if i == 0 or s.weight >= 0.05
        )[:5]
