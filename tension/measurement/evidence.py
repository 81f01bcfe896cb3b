"""What one kind of reading says of a set, and how it holds against other kinds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from tension.measurement.outcome import TensionHypothesis
from tension.measurement.readings import Method
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.estimate import Estimate, Sharing, Source
from tension.sound.hearing import Rival

Array = NDArray[np.float64]

_UNKNOWN_OFFSET = 1e4
"""Variance of ln of a factor of which nothing is known. [1]"""

_STANDARD_DEVIATIONS = 3.0

_APART = 4.0
"""Standard deviations from which a rope has no number: chance alone makes 3 of them on
one rope in four hundred. [1]"""


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


def covariance_of_own(budgets: Sequence[Sequence[Source]]) -> Array:
    """Covariance [1] of the logarithms of ropes of which each errs by itself."""
    return read_only(
        np.diag([sum(source.relative**2 for source in one) for one in budgets])
    )


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


def offset_variance(one: Evidence, other: Evidence) -> float:
    """Variance of the logarithm [1] of the error common to one kind against another.

    Without bound where only one of them knows newtons. What the whole set shares, such
    as its linear density, drops out if both rest on it.
    """
    if one.is_absolute != other.is_absolute:
        return _UNKNOWN_OFFSET
    common = {s.name for s in one.shared_sources if s.sharing is Sharing.SET} & {
        s.name for s in other.shared_sources if s.sharing is Sharing.SET
    }
    return sum(
        source.relative**2
        for kind in (one, other)
        for source in kind.shared_sources
        if source.name not in common
    )


def find_contradictions(
    kinds: Sequence[Evidence],
) -> tuple[tuple[Note, ...], dict[int, Refusal]]:
    """Find where kinds of evidence contradict each other.

    Notes where the kinds differ as a whole, by their means: shares are left untouched.
    Refusals of ropes that carry another share by one kind than by another, with both
    figures.
    """
    notes: list[Note] = []
    refusals: dict[int, Refusal] = {}
    for one, other in combinations(kinds, 2):
        common = [n for n in one.numbers if n in other.numbers]
        if not common:
            continue
        first = _part(one, common)
        second = _part(other, common)
        difference = first - second
        variance = _covariance(one, common) + _covariance(other, common)
        level = _level_note(one, other, common, variance)
        notes += [level] if level else []
        found = _ropes_apart(one, other, common, difference, variance)
        refusals |= {n: r for n, r in found.items() if n not in refusals}
    return tuple(notes), refusals


def _part(kind: Evidence, numbers: Sequence[int]) -> Array:
    """Logarithms of the tensions of some ropes."""
    return np.asarray(np.log(kind.tensions[[kind.numbers.index(n) for n in numbers]]))


def _covariance(kind: Evidence, numbers: Sequence[int]) -> Array:
    """Covariance of the logarithms of the tensions of some ropes."""
    where = [kind.numbers.index(n) for n in numbers]
    return kind.covariance[np.ix_(where, where)]


def _level_note(
    one: Evidence, other: Evidence, common: Sequence[int], variance: Array
) -> Note | None:
    """Both means, where both are newtons and they do not agree."""
    if not (one.is_absolute and other.is_absolute):
        return None
    first, second = _part(one, common), _part(other, common)
    width = sqrt(float(variance.mean()) + offset_variance(one, other))
    if abs(float((first - second).mean())) <= _STANDARD_DEVIATIONS * width:
        return None
    return NoteKind.KINDS_DISAGREE.note(
        one=one.label,
        other=other.label,
        first=_newtons(float(np.exp(first).mean())),
        second=_newtons(float(np.exp(second).mean())),
    )


def _newtons(value: float) -> str:
    """Three digits, written out."""
    return f"{float(f'{value:.3g}'):.0f}"


def _ropes_apart(
    one: Evidence,
    other: Evidence,
    common: Sequence[int],
    difference: Array,
    variance: Array,
) -> dict[int, Refusal]:
    """Ropes whose shares differ between the kinds by more than chance."""
    n = len(common)
    if n < 2:
        return {}
    # the median, so that one rope that is off does not make the others look so
    apart = difference - np.median(difference)
    own = np.diag(variance)
    # the median of n normal readings has pi/2 times the variance of their mean
    widths = np.sqrt(np.maximum(own + pi / 2 * own.mean() / n, 1e-16))
    first, second = (
        np.exp(_part(k, common) - _part(k, common).mean()) for k in (one, other)
    )
    far = np.abs(apart) > _APART * widths
    return {
        common[i]: NoteKind.ROPE_CONTRADICTS.refusal(
            rope=common[i],
            one=one.label,
            other=other.label,
            first=f"{100 * first[i]:.1f}",
            second=f"{100 * second[i]:.1f}",
        )
        for i in range(n)
        if far[i]
    }
