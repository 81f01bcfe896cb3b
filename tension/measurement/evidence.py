"""What one kind of reading says of the ropes of a set, before kinds are combined."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tension.measurement.outcome import TensionHypothesis
from tension.measurement.readings import Method
from tension.notes import Note, Refusal
from tension.quantity.estimate import Estimate, Source
from tension.sound.hearing import Rival

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Evidence:
    """One kind of evidence on one set."""

    method: Method  # which kind
    label: str  # its name in a sentence, such as "the plucks"
    numbers: tuple[int, ...] = ()  # ropes it gives a number for, in order
    # tensions at the hitch of those ropes, heaviest first [N], or [m^2/s^2]
    hypotheses: tuple[TensionHypothesis, ...] = ()
    # of their logarithms, what is shared left out [1]; n_given rows and columns
    covariance: Array = field(default_factory=lambda: read_only(np.empty((0, 0))))
    own_sources: tuple[tuple[Source, ...], ...] = ()  # budget of each rope, not shared
    shared_sources: tuple[Source, ...] = ()  # budget common to the kind or the set
    is_absolute: bool = False  # whether tensions are newtons
    # ropes it was tried on in vain
    refusals: Mapping[int, Refusal] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()  # what was doubtful
    # fundamental of each rope given, where it was heard [Hz]
    fundamentals: tuple[Estimate, ...] = ()
    # other numberings of the partials
    rivals: Mapping[int, tuple[Rival, ...]] = field(default_factory=dict)

    @property
    def tensions(self) -> Array:
        """Tensions under the heaviest hypothesis."""
        return self.hypotheses[0].tensions if self.hypotheses else np.empty(0)

    @property
    def shared_variance(self) -> float:
        """Relative variance common to all its ropes."""
        return sum(source.relative**2 for source in self.shared_sources)


def read_only(values: object) -> Array:
    """Copy as an array of floats that cannot be written to."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def single_hypothesis(tensions: object) -> tuple[TensionHypothesis, ...]:
    """The one hypothesis of a kind where nothing is ambiguous; none without ropes."""
    given = read_only(tensions)
    return (TensionHypothesis(weight=1.0, tensions=given),) if given.size else ()


def as_one(kind: Evidence) -> Evidence:
    """Let one normal distribution stand for cases that are no numberings.

    With the heaviest hypothesis alone where each has a covariance of its own, for the
    covariance of the kind holds all of them; the same otherwise.
    """
    if all(h.covariance is None for h in kind.hypotheses):
        return kind
    return replace(kind, hypotheses=single_hypothesis(kind.tensions))


def without_ropes(kind: Evidence, refusals: Mapping[int, Refusal]) -> Evidence:
    """Take ropes out of one kind of evidence; the reasons stand with its refusals."""
    told = {**kind.refusals, **refusals}
    keep = [i for i, n in enumerate(kind.numbers) if n not in refusals]
    if len(keep) == len(kind.numbers):
        return replace(kind, refusals=told)
    return replace(
        kind,
        numbers=tuple(kind.numbers[i] for i in keep),
        hypotheses=tuple(
            replace(
                h,
                tensions=h.tensions[keep],
                covariance=None
                if h.covariance is None
                else h.covariance[keep][:, keep],
            )
            for h in kind.hypotheses
            if keep
        ),
        covariance=kind.covariance[keep][:, keep],
        own_sources=tuple(kind.own_sources[i] for i in keep),
        fundamentals=tuple(kind.fundamentals[i] for i in keep if kind.fundamentals),
        refusals=told,
    )
