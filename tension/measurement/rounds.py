"""Several recordings of one rope: each heard for itself, then held against the others.

A round holds one recording of a rope at most. What the rounds say of a rope is one
reading each; none is chosen by its place.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import exp, inf, isfinite, log
from statistics import median
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from tension.measurement.repeats import agree, coverage_widening, settle_readings
from tension.notes import Note, NoteKind, Refusal
from tension.sound.hearing import (
    Pluck,
    RopeHearing,
    SetHearing,
    joint_hypotheses,
)

_OUTLYING = 4.0
"""Variance ratio from which a rope's own scatter stands for it alone. [1]"""

_LEAST_COMMON = 3
"""Ropes from which a move common to a round is told from a wrong rope. [1]"""

Item = TypeVar("Item")


@dataclass(frozen=True, kw_only=True, slots=True)
class HeardRound:
    """What was heard in one round."""

    # of the whole set; ropes that are not of this round lend their sound alone
    hearing: SetHearing
    recordings: Mapping[int, str]  # ropes of this round, and in which recording each is


@dataclass(frozen=True, kw_only=True, slots=True)
class _Reading:
    """One recording of one rope: which round, and what was heard."""

    place: int
    recording: str
    rope: RopeHearing

    @property
    def logarithm(self) -> float:
        """Of the tension, up to a common term [1]."""
        return 2 * log(self.rope.fundamental_frequency)

    @property
    def uncertainty(self) -> float:
        """Relative, of the tension [1]."""
        return 2 * self.rope.relative_uncertainty

    @property
    def text(self) -> str:
        """File and figure."""
        return f"{self.recording} {self.rope.fundamental_frequency:.2f} Hz"


def merge_rounds(rounds: Sequence[HeardRound]) -> SetHearing:
    """Put together what was heard in several rounds.

    As heard, if there is one round. Else each rope by the mean of its readings; a rope
    whose readings contradict each other has no number.
    """
    if len(rounds) == 1:
        return rounds[0].hearing
    readings = _readings(rounds)
    levels = _levels(readings, len(rounds))
    settled = {n: _settle(n, own, levels) for n, own in readings.items()}
    settled = _with_swaps(settled, readings, levels)
    scatters = _scatters({n: used for n, (_, used) in settled.items()}, levels)
    ropes = tuple(
        _merged(rope, used, levels, scatters[n]) for n, (rope, used) in settled.items()
    )
    given = {
        rope.number: settled[rope.number][1] for rope in ropes if rope.refusal is None
    }
    return replace(
        min((one.hearing for one in rounds), key=_stiffness_spread),
        ropes=ropes,
        given=tuple(given),
        hypotheses=joint_hypotheses([rope for rope in ropes if rope.number in given]),
        covariance=_covariance(given, rounds, scatters),
        notes=_unique(note for one in rounds for note in one.hearing.notes),
    )


def _stiffness_spread(hearing: SetHearing) -> float:
    """Relative uncertainty of the stiffness common to the set [1]."""
    spread = hearing.rigidity_per_density_uncertainty
    return spread if isfinite(spread) else inf


def _unique(items: Iterable[Item]) -> tuple[Item, ...]:
    """Each once, in order."""
    return tuple(dict.fromkeys(items))


def _readings(rounds: Sequence[HeardRound]) -> dict[int, list[_Reading]]:
    """Readings of each rope, heard or refused, in the order of the rounds."""
    first = {rope.number: rope for rope in rounds[0].hearing.ropes}
    found: dict[int, list[_Reading]] = {number: [] for number in first}
    for place, one in enumerate(rounds):
        for rope in one.hearing.ropes:
            if rope.number in one.recordings:
                name = one.recordings[rope.number]
                found[rope.number].append(
                    _Reading(place=place, recording=name, rope=rope)
                )
    return {
        number: own or [_Reading(place=0, recording="", rope=first[number])]
        for number, own in found.items()
    }


def _heard(readings: Sequence[_Reading]) -> list[_Reading]:
    """Those that give a number."""
    return [one for one in readings if one.rope.refusal is None]


def _levels(readings: Mapping[int, Sequence[_Reading]], n_rounds: int) -> list[float]:
    """Logarithm of what each round reads higher on all ropes, as with another load."""
    # a move is common if two thirds of three ropes or more make it alike
    by_round: list[dict[int, _Reading]] = [{} for _ in range(n_rounds)]
    for number, own in readings.items():
        for one in _heard(own):
            by_round[one.place][number] = one
    levels = [0.0]
    for here in by_round[1:]:
        moves = [
            (one.logarithm - by_round[0][n].logarithm, one, by_round[0][n])
            for n, one in here.items()
            if n in by_round[0]
        ]
        usual = median(move for move, _, _ in moves) if moves else 0.0
        alike = sum(
            agree(move, usual, one.uncertainty, other.uncertainty)
            for move, one, other in moves
        )
        is_common = len(moves) >= _LEAST_COMMON and 3 * alike >= 2 * len(moves)
        levels.append(usual if is_common else 0.0)
    middle = float(np.mean(levels))
    return [level - middle for level in levels]


_Settled = tuple[RopeHearing, list[_Reading]]
"""A rope with all its plucks and notes, and the readings that count."""


def _settle(number: int, own: Sequence[_Reading], levels: Sequence[float]) -> _Settled:
    """Find which readings of a rope count; tell of the others."""
    heard = _heard(own)
    silent = [one for one in own if one.rope.refusal is not None]
    notes = [note for one in own for note in one.rope.notes]
    if not heard:
        missing = NoteKind.FILE_MISSING.code
        told = sorted(silent, key=lambda one: _code(one.rope.refusal) == missing)
        notes += [_unheard(number, one) for one in told[1:]]
        return _gathered(told[0].rope, own, notes, set()), []
    notes += [_unheard(number, one) for one in silent]
    settled = settle_readings(
        number,
        [one.logarithm - levels[one.place] for one in heard],
        [one.uncertainty for one in heard],
        [one.text for one in heard],
    )
    used = [heard[i] for i in settled.used]
    if settled.note is not None:
        notes.append(settled.note)
    counting = {one.place for one in used}
    if settled.refusal is not None:
        return _refused(_gathered(heard[0].rope, own, notes, counting), settled.refusal)
    best = min(used, key=lambda one: (_doubt(one.rope), one.uncertainty, one.text))
    return _gathered(best.rope, own, notes, counting), used


def _refused(rope: RopeHearing, refusal: Refusal) -> _Settled:
    """A rope without a number."""
    nothing = float("nan")
    refused = replace(
        rope,
        fundamental_frequency=nothing,
        relative_uncertainty=nothing,
        rivals=(),
        refusal=refusal,
    )
    return refused, []


def _code(refusal: Refusal | None) -> str:
    """Code of a refusal."""
    return refusal.code if refusal else ""


def _doubt(rope: RopeHearing) -> float:
    """Probability that its partials are numbered otherwise."""
    return sum(rival.probability for rival in rope.rivals)


def _unheard(number: int, reading: _Reading) -> Note:
    """Tell of a recording that gives no number beside others that do."""
    refusal = reading.rope.refusal
    return NoteKind.REPEAT_UNHEARD.note(
        ropes=(number,),
        rope=number,
        recording=reading.recording,
        reason=refusal.text if refusal else "",
        next_act=refusal.next_act if refusal else "",
    )


def _gathered(
    rope: RopeHearing,
    own: Sequence[_Reading],
    notes: Sequence[Note],
    counting: set[int],
) -> RopeHearing:
    """One rope with the plucks, hum and notes of all its recordings."""
    return replace(
        rope,
        plucks=tuple(
            pluck if one.place in counting else _left_out(pluck)
            for one in own
            for pluck in one.rope.plucks
        ),
        hum=_unique(line for one in own for line in one.rope.hum),
        notes=_unique(notes),
    )


def _left_out(pluck: Pluck) -> Pluck:
    """A pluck of a reading that does not count."""
    if not pluck.is_used:
        return pluck
    return replace(
        pluck, is_used=False, reason="its recording and others of the rope disagree"
    )


def _with_swaps(
    settled: dict[int, _Settled],
    readings: Mapping[int, Sequence[_Reading]],
    levels: Sequence[float],
) -> dict[int, _Settled]:
    """Name two ropes that read crosswise alike in two rounds."""
    apart = [
        number
        for number, (rope, _) in settled.items()
        if _code(rope.refusal) == NoteKind.READINGS_APART.code
        and len(_heard(readings[number])) == 2
    ]
    for one, other in combinations(apart, 2):
        first, second = _heard(readings[one]), _heard(readings[other])
        if all(
            agree(
                a.logarithm - levels[a.place],
                b.logarithm - levels[b.place],
                a.uncertainty,
                b.uncertainty,
            )
            for a, b in zip(first, reversed(second), strict=True)
        ):
            note = NoteKind.SWAPPED_ROPES.note(ropes=(one, other), one=one, other=other)
            for number in (one, other):
                rope, used = settled[number]
                settled[number] = (replace(rope, notes=(*rope.notes, note)), used)
    return settled


def _scatters(
    every: Mapping[int, Sequence[_Reading]], levels: Sequence[float]
) -> dict[int, float]:
    """Variance of readings of each rope beyond what was heard [1]."""
    # moment estimate of the variance between repeats in a model of random effects
    found: dict[int, tuple[float, int]] = {}
    for number, used in every.items():
        values = np.array([one.logarithm - levels[one.place] for one in used])
        heard = np.array([one.uncertainty**2 for one in used])
        n = len(used)
        excess = float(((values - values.mean()) ** 2).sum()) if n else 0.0
        found[number] = (excess - float(heard.sum()) * (1 - 1 / max(n, 1)), n - 1)
    # a level taken off a round is one degree of freedom less
    freedom = sum(degrees for _, degrees in found.values() if degrees > 0)
    freedom = max(freedom - len(set(levels)) + 1, min(freedom, 1))
    pooled = sum(excess for excess, degrees in found.values() if degrees > 0)
    usual = max(0.0, pooled / freedom) if freedom else 0.0
    usual *= coverage_widening(max(freedom, 3.0)) ** 2
    return {
        number: own
        if degrees > 0 and (own := excess / degrees) > _OUTLYING * usual
        else usual
        for number, (excess, degrees) in found.items()
    }


def _weights(used: Sequence[_Reading], scatter: float) -> list[float]:
    """Weights of the readings of one rope; they sum to one."""
    wanted = [1 / (one.uncertainty**2 + scatter + 1e-12) for one in used]
    return [weight / sum(wanted) for weight in wanted]


def _merged(
    rope: RopeHearing, used: Sequence[_Reading], levels: Sequence[float], scatter: float
) -> RopeHearing:
    """One rope by the mean of the readings that count."""
    if not used:
        return rope
    weights = _weights(used, scatter)
    mean = sum(
        weight * (one.logarithm - levels[one.place])
        for weight, one in zip(weights, used, strict=True)
    )
    variance = sum(
        weight**2 * (one.uncertainty**2 + scatter)
        for weight, one in zip(weights, used, strict=True)
    )
    factor = exp(mean / 2) / rope.fundamental_frequency
    return replace(
        rope,
        fundamental_frequency=exp(mean / 2),
        relative_uncertainty=float(np.sqrt(variance)) / 2,
        rivals=tuple(
            replace(rival, fundamental_frequency=factor * rival.fundamental_frequency)
            for rival in rope.rivals
        ),
    )


def _covariance(
    given: Mapping[int, Sequence[_Reading]],
    rounds: Sequence[HeardRound],
    scatters: Mapping[int, float],
) -> NDArray[np.float64]:
    """Of the logarithms of the merged fundamentals; rounds err apart."""
    numbers = list(given)
    total = np.zeros((len(numbers), len(numbers)))
    own = np.zeros(len(numbers))
    for place, one in enumerate(rounds):
        heard = list(one.hearing.given)
        load = np.zeros((len(numbers), len(heard)))
        for row, number in enumerate(numbers):
            for weight, used in zip(
                _weights(given[number], scatters[number]), given[number], strict=True
            ):
                if used.place == place:
                    load[row, heard.index(number)] = weight
                    own[row] += weight**2
        total += load @ one.hearing.covariance @ load.T
    # the scatter is of tensions, the covariance of fundamentals
    scatter = np.array([scatters[number] for number in numbers])
    return np.asarray(total + np.diag(own * scatter / 4))
