"""Kinds of evidence on one set, combined and held against each other.

The logarithm of each reading is the logarithm of the rope's tension, plus an error
common to its kind, plus one of its own; generalised least squares over all kinds gives
the tensions and their covariance. A kind that knows no newtons has a common error
without bound, so it tells shares alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import nan, prod

import numpy as np

from tension.installation import RopeSet, Span
from tension.measurement.evidence import (
    Array,
    Evidence,
    as_one,
    find_contradictions,
    offset_variance,
    read_only,
    without_ropes,
)
from tension.measurement.outcome import (
    LengthKnowledge,
    RopeMeasurement,
    SetMeasurement,
    TensionHypothesis,
)
from tension.measurement.readings import Method, Series
from tension.measurement.rope_figures import FreeLengths
from tension.notes import NoteKind
from tension.quantity.estimate import Estimate, Source
from tension.sound.hearing import Rival

_HEAVIEST = 64


@dataclass(frozen=True, kw_only=True, slots=True)
class _Combination:
    """Tensions of all ropes given, from all kinds together."""

    numbers: tuple[int, ...]
    hypotheses: tuple[TensionHypothesis, ...]
    covariance: Array
    choices: tuple[tuple[int, ...], ...]
    """For each hypothesis, which one of each kind it takes."""


def combine(
    kinds: Sequence[Evidence],
    *,
    rope_set: RopeSet,
    span: Span | None,
    series: Series,
    lengths: FreeLengths | None,
) -> SetMeasurement:
    """Combine kinds of evidence into one measurement of the set.

    Kinds that give no rope a number keep their refusals; a rope on which kinds
    contradict each other has no number. No span for spring lengths alone.
    """
    speaking, reference, combination = _speaking(kinds)
    told, apart = find_contradictions(_as_chosen(speaking, combination))
    if apart:
        kinds = [without_ropes(kind, apart) for kind in kinds]
        speaking, reference, combination = _speaking(kinds)
    notes = [note for kind in kinds for note in kind.notes]
    notes += told
    ropes = tuple(
        _rope(number, kinds, combination, reference)
        for number in range(1, rope_set.n_ropes + 1)
    )
    needs_length = any(kind.method is not Method.SPRING for kind in speaking)
    known = lengths.lengths if lengths else {}
    return SetMeasurement(
        series=series,
        span=span,
        ropes=ropes,
        is_absolute=reference.is_absolute if reference else False,
        hypotheses=combination.hypotheses,
        covariance=combination.covariance,
        lengths=lengths.knowledge
        if lengths and needs_length
        else LengthKnowledge.NOT_NEEDED,
        free_lengths=tuple(known.get(number, nan) for number in combination.numbers),
        notes=tuple(dict.fromkeys(notes)),
    )


def _speaking(
    kinds: Sequence[Evidence],
) -> tuple[list[Evidence], Evidence | None, _Combination]:
    """Kinds that give a number, the one that sets the level, and all together."""
    speaking = [kind for kind in kinds if kind.numbers]
    if len(speaking) > 1:
        speaking = [as_one(kind) for kind in speaking]
    reference = _reference(speaking)
    return speaking, reference, _combine_all(speaking, reference)


def _as_chosen(
    kinds: Sequence[Evidence], combination: _Combination
) -> Sequence[Evidence]:
    """Each kind as the likeliest joint choice takes it."""
    if not combination.choices:
        return kinds
    return [
        replace(kind, hypotheses=(kind.hypotheses[i],))
        for kind, i in zip(kinds, combination.choices[0], strict=True)
    ]


def _reference(kinds: Sequence[Evidence]) -> Evidence | None:
    """The kind that sets the level: newtons first, then the least shared error."""
    if not kinds:
        return None
    return min(kinds, key=lambda kind: (not kind.is_absolute, kind.shared_variance))


def _combine_all(kinds: Sequence[Evidence], reference: Evidence | None) -> _Combination:
    """Solve for the tensions under every joint choice of hypotheses."""
    if reference is None:
        return _Combination(
            numbers=(),
            hypotheses=(),
            covariance=read_only(np.empty((0, 0))),
            choices=(),
        )
    if len(kinds) == 1:
        return _Combination(
            numbers=reference.numbers,
            hypotheses=reference.hypotheses,
            covariance=reference.covariance,
            choices=tuple((i,) for i in range(len(reference.hypotheses))),
        )
    numbers = tuple(sorted({n for kind in kinds for n in kind.numbers}))
    design, variance = _design(kinds, reference, numbers)
    precision = np.linalg.inv(variance)
    covariance = np.linalg.inv(design.T @ precision @ design)
    solve = covariance @ design.T @ precision
    choices = _choices(kinds)
    logarithms, scores, misfits = [], [], []
    for choice in choices:
        chosen = [k.hypotheses[i] for k, i in zip(kinds, choice, strict=True)]
        readings = np.concatenate([np.log(one.tensions) for one in chosen])
        found = solve @ readings
        residual = readings - design @ found
        misfit = float(residual @ precision @ residual)
        weight = prod(one.weight for one in chosen)
        logarithms.append(found)
        misfits.append(misfit)
        scores.append(np.log(max(weight, 1e-300)) - misfit / 2)
    weights = np.exp(np.array(scores) - max(scores))
    weights /= weights.sum()
    order = np.argsort(-weights, kind="stable")
    spare = sum(len(kind.numbers) for kind in kinds) - len(numbers)
    excess = misfits[int(order[0])] / spare if spare > 0 else 0.0
    return _Combination(
        numbers=numbers,
        hypotheses=tuple(
            TensionHypothesis(
                weight=float(weights[i]), tensions=read_only(np.exp(logarithms[i]))
            )
            for i in order
        ),
        covariance=read_only(covariance * max(1.0, excess)),
        choices=tuple(choices[i] for i in order),
    )


def _choices(kinds: Sequence[Evidence]) -> list[tuple[int, ...]]:
    """Joint choices of one hypothesis per kind, the heaviest ones."""
    every = product(*(range(min(len(k.hypotheses), _HEAVIEST)) for k in kinds))
    return sorted(
        every,
        key=lambda choice: (
            -prod(k.hypotheses[i].weight for k, i in zip(kinds, choice, strict=True))
        ),
    )[:_HEAVIEST]


def _design(
    kinds: Sequence[Evidence], reference: Evidence, numbers: tuple[int, ...]
) -> tuple[Array, Array]:
    """Which reading is of which rope, and the covariance of all readings."""
    rows = [number for kind in kinds for number in kind.numbers]
    design = np.array([[float(row == n) for n in numbers] for row in rows])
    variance = 1e-14 * np.eye(len(rows))
    start = 0
    for kind in kinds:
        stop = start + len(kind.numbers)
        variance[start:stop, start:stop] += kind.covariance
        if kind is not reference:
            variance[start:stop, start:stop] += offset_variance(kind, reference)
        start = stop
    return design, variance


def _rope(
    number: int,
    kinds: Sequence[Evidence],
    combination: _Combination,
    reference: Evidence | None,
) -> RopeMeasurement:
    """What all kinds say of one rope."""
    refusals = [kind.refusals[number] for kind in kinds if number in kind.refusals]
    if number not in combination.numbers or reference is None:
        refusal = (
            refusals[0] if refusals else NoteKind.NOT_MEASURED.refusal(rope=number)
        )
        return RopeMeasurement(number=number, tension=None, refusal=refusal)
    index = combination.numbers.index(number)
    giving = [kind for kind in kinds if number in kind.numbers]
    fundamental, rivals = _numbering(number, kinds, combination)
    return RopeMeasurement(
        number=number,
        tension=Estimate(
            value=float(combination.hypotheses[0].tensions[index]),
            sources=(
                *_own_sources(number, giving, combination.covariance[index, index]),
                *reference.shared_sources,
            ),
        ),
        methods=tuple(dict.fromkeys(kind.method for kind in giving)),
        fundamental=fundamental,
        rivals=rivals,
        notes=tuple(refusal.as_note(number) for refusal in refusals),
    )


def _own_sources(
    number: int, giving: Sequence[Evidence], variance: float
) -> tuple[Source, ...]:
    """Budget of one rope: of its one kind in detail, of several kinds as a whole."""
    if len(giving) == 1:
        own = giving[0].own_sources[giving[0].numbers.index(number)]
        total = sum(source.relative**2 for source in own)
        if abs(total - variance) <= 1e-9 * max(total, variance):
            return own
    name = " and ".join(dict.fromkeys(kind.method.value for kind in giving))
    return (Source(name=f"{name}, combined", relative=float(np.sqrt(variance))),)


def _numbering(
    number: int, kinds: Sequence[Evidence], combination: _Combination
) -> tuple[Estimate | None, tuple[Rival, ...]]:
    """Fundamental heard and its rivals; other kinds may have ranked a rival first."""
    speaking = [kind for kind in kinds if kind.numbers]
    for place, kind in enumerate(speaking):
        if kind.method is not Method.PLUCK or number not in kind.numbers:
            continue
        index = kind.numbers.index(number)
        heard, rivals = kind.fundamentals[index], kind.rivals.get(number, ())
        chosen = combination.choices[0][place]
        if chosen == 0 and len(speaking) == 1:
            return heard, rivals
        return _ranked_again(index, place, kind, combination)
    return None, ()


def _ranked_again(
    index: int, place: int, kind: Evidence, combination: _Combination
) -> tuple[Estimate, tuple[Rival, ...]]:
    """Fundamentals of one rope by the weights that all kinds together give."""
    heard = kind.fundamentals[index]
    base = kind.hypotheses[0].tensions[index]
    chances: dict[float, float] = {}
    for hypothesis, choice in zip(
        combination.hypotheses, combination.choices, strict=True
    ):
        # tension goes with the square of the fundamental, up to bending
        ratio = kind.hypotheses[choice[place]].tensions[index] / base
        fundamental = heard.value * float(np.round(np.sqrt(ratio), 3))
        chances[fundamental] = chances.get(fundamental, 0.0) + hypothesis.weight
    first = next(iter(chances))
    rivals = sorted(
        (
            Rival(fundamental_frequency=f, probability=p)
            for f, p in chances.items()
            if f != first and p > 1e-6
        ),
        key=lambda rival: -rival.probability,
    )
    return replace(heard, value=first), tuple(rivals)
