"""Kinds of evidence on one set, combined and held against each other.

The logarithm of each reading is the logarithm of the rope's tension, plus an error
common to its kind, plus one of its own; generalised least squares over all kinds gives
the tensions and their covariance. A kind that knows no newtons has a common error
without bound, so it tells shares alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from itertools import combinations, product
from math import inf, isclose, isfinite, log1p, nan, pi, prod, sqrt
from typing import Any

import numpy as np

from tension.installation import Span
from tension.measurement.readings import Method, Series
from tension.measurement.rope_figures import LengthKnowledge, Site
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray as Array
from tension.quantity.estimate import Estimate, Sharing, Source, budget
from tension.shown import Shown
from tension.sound.hearing import Rival

_HEAVIEST = 64  # numberings of all kinds together that are kept, the likeliest

_UNKNOWN_OFFSET = 1e4
"""Variance of ln of a factor of which nothing is known. [1]"""

_STANDARD_DEVIATIONS = 3.0  # from which the means of two kinds disagree [1]

_APART = 4.0
"""Standard deviations from which a rope has no number: chance alone makes 3 of them on
one rope in four hundred. [1]"""


def read_only(values: object) -> Array:
    """Copy as an array of floats that cannot be written to."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


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
                "tension": known and known.value,
                "relative_uncertainty": known and known.relative_uncertainty(),
                "methods": ", ".join(method.value for method in rope.methods),
                "reason": rope.refusal.text if rope.refusal else "",
            }
            for rope, known in ((rope, rope.tension) for rope in self.ropes)
        ]


@dataclass(frozen=True, kw_only=True, slots=True)
class SetEvidence:
    """What one kind of reading says of a set."""

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

    def of_ropes(self, estimates: Mapping[int, Estimate]) -> "SetEvidence":
        """The same of ropes by number, of which each errs by itself."""
        own = tuple(estimate.sources for estimate in estimates.values())
        return replace(
            self,
            numbers=tuple(estimates),
            hypotheses=single_hypothesis([one.value for one in estimates.values()]),
            covariance=covariance_of_own(own),
            own_sources=own,
        )

    def part(self, numbers: Sequence[int]) -> tuple[Array, Array]:
        """Logarithms of the tensions of some ropes, and their covariance."""
        where = [self.numbers.index(n) for n in numbers]
        return np.log(self.tensions[where]), self.covariance[np.ix_(where, where)]

    def without(self, refusals: Mapping[int, Refusal]) -> "SetEvidence":
        """Take ropes out; the reasons stand with the refusals."""
        keep = [i for i, n in enumerate(self.numbers) if n not in refusals]
        both = np.ix_(keep, keep)
        left = [
            replace(
                one,
                tensions=one.tensions[keep],
                covariance=None if one.covariance is None else one.covariance[both],
            )
            for one in self.hypotheses
        ]
        return replace(
            self,
            numbers=tuple(self.numbers[i] for i in keep),
            hypotheses=tuple(left) if keep else (),
            covariance=self.covariance[both],
            own_sources=tuple(self.own_sources[i] for i in keep),
            fundamentals=tuple(self.fundamentals[i] for i in keep if self.fundamentals),
            refusals={**self.refusals, **refusals},
        )


def covariance_of_own(budgets: Sequence[Sequence[Source]]) -> Array:
    """Covariance [1] of the logarithms of ropes of which each errs by itself."""
    return read_only(
        np.diag([sum(source.relative**2 for source in one) for one in budgets])
    )


def single_hypothesis(tensions: object) -> tuple[TensionHypothesis, ...]:
    """The one hypothesis of a kind where nothing is ambiguous; none without ropes."""
    given = read_only(tensions)
    return (TensionHypothesis(weight=1.0, tensions=given),) if given.size else ()


@dataclass(frozen=True, kw_only=True, slots=True)
class _Combination:
    """Tensions of all ropes given, from all kinds together."""

    kinds: Sequence[SetEvidence]  # those that give a number
    # what they say together, on the level of the one that knows it best
    whole: SetEvidence
    # for each hypothesis, that of each kind which it takes
    choices: Sequence[tuple[TensionHypothesis, ...]]


def combine(
    kinds: Sequence[SetEvidence], *, n_ropes: int, series: Series, site: Site | None
) -> SetMeasurement:
    """Combine kinds of evidence into one measurement of the set.

    Kinds that give no rope a number keep their refusals; a rope on which kinds
    contradict each other has no number. No site for spring lengths alone.
    """
    combined = _combination(kinds)
    likeliest = combined.choices[0] if combined.choices else ()
    told, apart = find_contradictions(
        [
            replace(kind, hypotheses=(taken,))
            for kind, taken in zip(combined.kinds, likeliest, strict=True)
        ]
    )
    if apart:
        kinds = [kind.without(apart) for kind in kinds]
        combined = _combination(kinds)
    whole, lengths = combined.whole, site.lengths if site else None
    needs_length = any(kind.method is not Method.SPRING for kind in combined.kinds)
    notes = [note for kind in kinds for note in kind.notes]
    return SetMeasurement(
        series=series,
        span=site.span if site else None,
        ropes=tuple(_rope(n, kinds, combined) for n in range(1, n_ropes + 1)),
        is_absolute=whole.is_absolute,
        hypotheses=whole.hypotheses,
        covariance=whole.covariance,
        lengths=lengths.knowledge
        if lengths and needs_length
        else LengthKnowledge.NOT_NEEDED,
        free_lengths=tuple(
            lengths.lengths.get(number, nan) if lengths else nan
            for number in whole.numbers
        ),
        notes=tuple(dict.fromkeys([*notes, *told])),
    )


def _combination(every: Sequence[SetEvidence]) -> _Combination:
    """Tensions under every joint choice of hypotheses, for one kind those of its own.

    Beside other kinds one normal distribution stands for cases that are no numberings:
    where each has a covariance of its own, that of the kind holds all of them.
    """
    kinds = [kind for kind in every if kind.numbers]
    if len(kinds) < 2:
        whole = kinds[0] if kinds else SetEvidence(method=Method.PLUCK, label="")
        alone = [(one,) for one in whole.hypotheses]
        return _Combination(kinds=kinds, whole=whole, choices=alone)
    kinds = [
        replace(kind, hypotheses=single_hypothesis(kind.tensions))
        if any(h.covariance is not None for h in kind.hypotheses)
        else kind
        for kind in kinds
    ]
    # newtons first, then the least shared error
    reference = min(kinds, key=lambda one: (not one.is_absolute, one.shared_variance))
    numbers = tuple(sorted({n for kind in kinds for n in kind.numbers}))
    design, variance = _design(kinds, reference, numbers)
    precision = np.linalg.inv(variance)
    covariance = np.linalg.inv(design.T @ precision @ design)
    choices = sorted(
        product(*(kind.hypotheses[:_HEAVIEST] for kind in kinds)),
        key=lambda choice: -prod(one.weight for one in choice),
    )[:_HEAVIEST]
    readings = np.log([np.concatenate([h.tensions for h in one]) for one in choices]).T
    found = covariance @ design.T @ precision @ readings
    residuals = readings - design @ found
    misfits = np.einsum("ij,ij->j", residuals, precision @ residuals)
    priors = [prod(h.weight for h in one) for one in choices]
    scores = np.log(np.maximum(priors, 1e-300)) - misfits / 2
    weights = np.exp(scores - scores.max())
    weights /= weights.sum()
    # what is too unlikely for a number does not stand
    order = [i for i in np.argsort(-weights, kind="stable") if weights[i] > 0]
    spare = len(readings) - len(numbers)
    excess = float(misfits[order[0]]) / spare if spare > 0 else 0.0
    tensions = read_only(np.exp(found.T))
    whole = replace(
        reference,
        numbers=numbers,
        hypotheses=tuple(
            TensionHypothesis(weight=float(weights[i]), tensions=tensions[i])
            for i in order
        ),
        covariance=read_only(covariance * max(1.0, excess)),
    )
    return _Combination(kinds=kinds, whole=whole, choices=[choices[i] for i in order])


def _design(
    kinds: Sequence[SetEvidence], reference: SetEvidence, numbers: tuple[int, ...]
) -> tuple[Array, Array]:
    """Which reading is of which rope, and the covariance of all readings."""
    rows = [number for kind in kinds for number in kind.numbers]
    design = np.array([[float(row == n) for n in numbers] for row in rows])
    variance = 1e-14 * np.eye(len(rows))
    start = 0
    for kind in kinds:
        block = slice(start, start + len(kind.numbers))
        variance[block, block] += kind.covariance
        if kind is not reference:
            variance[block, block] += _offset_variance(kind, reference)
        start = block.stop
    return design, variance


def _offset_variance(one: SetEvidence, other: SetEvidence) -> float:
    """Variance of the logarithm [1] of the error common to one kind against another.

    Without bound where only one of them knows newtons. What the whole set shares, such
    as its linear density, drops out if both rest on it.
    """
    if one.is_absolute != other.is_absolute:
        return _UNKNOWN_OFFSET
    of_set = [
        {s.name for s in kind.shared_sources if s.sharing is Sharing.SET}
        for kind in (one, other)
    ]
    return sum(
        source.relative**2
        for kind in (one, other)
        for source in kind.shared_sources
        if source.name not in of_set[0] & of_set[1]
    )


def find_contradictions(
    kinds: Sequence[SetEvidence],
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
        (first, of_first), (second, of_second) = one.part(common), other.part(common)
        apart, variance = first - second, of_first + of_second
        level = sqrt(float(variance.mean()) + _offset_variance(one, other))
        is_off = abs(float(apart.mean())) > _STANDARD_DEVIATIONS * level
        if is_off and one.is_absolute and other.is_absolute:
            means = [float(np.exp(part).mean()) for part in (first, second)]
            told = [f"{float(f'{mean:.3g}'):.0f}" for mean in means]
            kind = NoteKind.KINDS_DISAGREE
            note = kind.note(
                one=one.label, other=other.label, first=told[0], second=told[1]
            )
            notes.append(note)
        # the median, so that one rope that is off does not make the others look so
        away = apart - np.median(apart)
        own = np.diag(variance)
        # the median of n normal readings has pi/2 times the variance of their mean
        widths = np.sqrt(np.maximum(own + pi / 2 * own.mean() / len(own), 1e-16))
        shares = 100 * np.exp([part - part.mean() for part in (first, second)])
        # of one rope alone nothing is away from the median
        refusals = {
            number: NoteKind.ROPE_CONTRADICTS.refusal(
                rope=number,
                one=one.label,
                other=other.label,
                first=f"{shares[0, i]:.1f}",
                second=f"{shares[1, i]:.1f}",
            )
            for i, number in enumerate(common)
            if abs(away[i]) > _APART * widths[i]
        } | refusals
    return tuple(notes), refusals


def _rope(
    number: int, kinds: Sequence[SetEvidence], combined: _Combination
) -> RopeMeasurement:
    """What all kinds say of one rope."""
    whole = combined.whole
    refusals = [kind.refusals[number] for kind in kinds if number in kind.refusals]
    if number not in whole.numbers:
        refusal = next(iter(refusals), NoteKind.NOT_MEASURED.refusal(rope=number))
        return RopeMeasurement(number=number, tension=None, refusal=refusal)
    index = whole.numbers.index(number)
    giving = [kind for kind in kinds if number in kind.numbers]
    fundamental, rivals = _numbering(number, combined)
    methods = tuple(dict.fromkeys(kind.method for kind in giving))
    # the budget of its one kind in detail, of several kinds as a whole
    variance = whole.covariance[index, index]
    own = giving[0].own_sources[giving[0].numbers.index(number)]
    if len(giving) > 1 or not isclose(sum(s.relative**2 for s in own), variance):
        name = " and ".join(methods)
        own = budget({f"{name}, combined": sqrt(variance)})
    return RopeMeasurement(
        number=number,
        tension=Estimate(
            value=float(whole.tensions[index]), sources=(*own, *whole.shared_sources)
        ),
        methods=methods,
        fundamental=fundamental,
        rivals=rivals,
        notes=tuple(refusal.as_note(number) for refusal in refusals),
    )


def _numbering(
    number: int, combined: _Combination
) -> tuple[Estimate | None, tuple[Rival, ...]]:
    """Fundamental heard and its rivals, by the weights that all kinds together give."""
    methods = [kind.method for kind in combined.kinds]
    place = methods.index(Method.PLUCK) if Method.PLUCK in methods else None
    if place is None or number not in combined.kinds[place].numbers:
        return None, ()
    kind = combined.kinds[place]
    index = kind.numbers.index(number)
    heard = kind.fundamentals[index]
    if len(combined.kinds) == 1:
        return heard, kind.rivals.get(number, ())
    chances: dict[float, float] = {}
    for choice, joint in zip(combined.choices, combined.whole.hypotheses, strict=True):
        taken = choice[place].tensions[index]
        # tension goes with the square of the fundamental, up to bending
        fundamental = heard.value * round(sqrt(taken / kind.tensions[index]), 3)
        chances[fundamental] = chances.get(fundamental, 0.0) + joint.weight
    first, *others = chances
    rivals = [
        Rival(fundamental_frequency=f, probability=chances[f])
        for f in sorted(others, key=lambda f: -chances[f])
        if chances[f] > 1e-6
    ]
    return replace(heard, value=first), tuple(rivals)
