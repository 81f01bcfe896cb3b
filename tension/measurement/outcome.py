"""Outcome of measuring one series: tension or relative tension of each rope."""

from dataclasses import dataclass
from enum import Enum
from math import inf, isfinite, log1p
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tension.installation import Span
from tension.measurement.readings import Method, Series
from tension.notes import Note, Refusal
from tension.quantity.estimate import Estimate
from tension.shown import Shown
from tension.sound.hearing import Rival

Array = NDArray[np.float64]


class LengthKnowledge(Enum):
    """What is known of the free lengths, rope against rope."""

    PER_ROPE = "per rope"
    ONE_HEIGHT = "sockets at one height"
    UNKNOWN = "one length, sockets not said to be at one height"
    NOT_NEEDED = "not needed"


class Premise(Enum):
    """What is taken of the hitch, where the record does not say it."""

    NOTHING = "nothing"
    SPRINGS = "springs at the hitch"
    NO_SPRINGS = "no springs at the hitch"
    RATE_UNKNOWN = "springs or rubber of unknown rate"


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeMeasurement:
    """What was measured of one rope in one series."""

    number: int  # rope number
    # at the hitch; relative to an unknown common factor unless the set is absolute;
    # None if refused [N], or [m^2/s^2] where relative
    tension: Estimate | None
    methods: tuple[Method, ...] = ()  # kinds of evidence used
    fundamental: Estimate | None = None  # fundamental frequency heard [Hz]
    rivals: tuple[Rival, ...] = ()  # other numberings of the partials
    refusal: Refusal | None = None  # why there is no number
    notes: tuple[Note, ...] = ()  # what was doubtful


@dataclass(frozen=True, kw_only=True, slots=True)
class TensionHypothesis:
    """Tensions of all given ropes, under one joint numbering or one premise."""

    weight: float  # probability [1]
    # in the order of the given ropes [N] or relative, shape (n_given,)
    tensions: Array
    # of their logarithms, if this is so; None for that of the measurement [1],
    # of shape (n_given, n_given)
    covariance: Array | None = None
    premise: Premise = Premise.NOTHING  # what is taken of the hitch


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class SetMeasurement(Shown):
    """What was measured of a set in one series."""

    series: Series  # the condition it holds for
    span: Span | None  # where; None for spring lengths alone
    ropes: tuple[RopeMeasurement, ...]  # all ropes of the set, in order of number
    is_absolute: bool  # whether tensions are newtons
    # joint alternatives, heaviest first; one of weight 1 where nothing is ambiguous
    hypotheses: tuple[TensionHypothesis, ...]
    # of the logarithms of the tensions, what is shared by the set left out; where
    # hypotheses have their own, of all of them together [1]; shape (n_given, n_given)
    covariance: Array
    lengths: LengthKnowledge  # what is known of the free lengths
    # free length used per given rope; nan where none [m]
    free_lengths: tuple[float, ...] = ()
    notes: tuple[Note, ...] = ()  # of the set as a whole
    # those of the notes that must be settled before anything is told of the set: until
    # then its true spread is not bounded
    doubts: tuple[Note, ...] = ()
    # why the set as a whole gives no result, whatever its ropes say
    refusal: Refusal | None = None

    @property
    def given(self) -> tuple[int, ...]:
        """Numbers of the ropes that have a number."""
        return tuple(rope.number for rope in self.ropes if rope.tension is not None)

    @property
    def missing(self) -> tuple[int, ...]:
        """Numbers of the ropes that have none."""
        return tuple(rope.number for rope in self.ropes if rope.tension is None)

    def effect_of_stagger(self, stagger: float) -> float:
        """Largest change of ln(tension) [1] between two ropes by a stagger [m]."""
        lengths = [length for length in self.free_lengths if isfinite(length)]
        if not lengths or min(lengths) <= stagger:
            return inf
        return -2 * log1p(-stagger / min(lengths))

    def summary(self) -> str:
        """Say what was measured of how many ropes."""
        unit = "N" if self.is_absolute else "relative"
        told = ", ".join(
            f"{rope.number}: {rope.tension.value:.4g}"
            for rope in self.ropes
            if rope.tension
        )
        return f"{len(self.given)} of {len(self.ropes)} ropes, {unit}: {told}"

    def to_rows(self) -> list[dict[str, Any]]:
        """Turn it into one row per rope, all SI."""
        return [
            {
                "rope": rope.number,
                "tension": rope.tension.value if rope.tension else None,
                "relative_uncertainty": rope.tension.relative_uncertainty()
                if rope.tension
                else None,
                "methods": ", ".join(method.value for method in rope.methods),
                "reason": rope.refusal.text if rope.refusal else "",
            }
            for rope in self.ropes
        ]
