"""Several recordings of one rope: each heard for itself, then held against the others.

A round holds one recording of a rope at most. What the rounds say of a rope is one
reading each; none is chosen by its place.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import exp, inf, isfinite, log, nan
from statistics import median

import numpy as np
from numpy.typing import NDArray

from tension.measurement.repeats import agree, coverage_widening, settle_readings
from tension.notes import Note, NoteKind
from tension.sound.hearing import RopeHearing, SetHearing, joint_hypotheses

_OUTLYING = 4.0
"""Variance ratio from which a rope's own scatter stands for it alone. [1]"""

_LEAST_COMMON = 3
"""Ropes from which a move common to a round is told from a wrong rope. [1]"""


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
    level: float = 0.0  # logarithm of what its round reads higher on all ropes [1]

    @property
    def logarithm(self) -> float:
        """Of the tension, up to a common term, its round's level taken off. [1]."""
        return 2 * log(self.rope.fundamental_frequency) - self.level

    @property
    def uncertainty(self) -> float:
        """Relative, of the tension. [1]."""
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
    readings, n_levels = _levelled(_readings(rounds), len(rounds))
    settled = _with_swaps({n: _settle(n, own) for n, own in readings.items()}, readings)
    scatters = _scatters({n: used for n, (_, used) in settled.items()}, n_levels)
    weights = {n: _weights(used, scatters[n]) for n, (_, used) in settled.items()}
    ropes = tuple(
        _merged(rope, used, weights[n], scatters[n])
        for n, (rope, used) in settled.items()
    )
    given = {rope.number: settled[rope.number][1] for rope in ropes if not rope.refusal}
    return replace(
        min((one.hearing for one in rounds), key=_stiffness_spread),
        ropes=ropes,
        given=tuple(given),
        hypotheses=joint_hypotheses([rope for rope in ropes if rope.number in given]),
        covariance=_covariance(given, rounds, weights, scatters),
        notes=tuple(dict.fromkeys(n for one in rounds for n in one.hearing.notes)),
    )


def _stiffness_spread(hearing: SetHearing) -> float:
    """Relative uncertainty of the stiffness common to the set [1]."""
    spread = hearing.rigidity_per_density_uncertainty
    return spread if isfinite(spread) else inf


_Readings = dict[int, list[_Reading]]


def _readings(rounds: Sequence[HeardRound]) -> _Readings:
    """Readings of each rope, heard or refused, in the order of the rounds."""
    found: _Readings = {rope.number: [] for rope in rounds[0].hearing.ropes}
    for place, one in enumerate(rounds):
        for rope in one.hearing.ropes:
            if rope.number in one.recordings:
                name = one.recordings[rope.number]
                reading = _Reading(place=place, recording=name, rope=rope)
                found[rope.number].append(reading)
    for rope in rounds[0].hearing.ropes:
        if not found[rope.number]:
            found[rope.number] = [_Reading(place=0, recording="", rope=rope)]
    return found


def _heard(readings: Sequence[_Reading]) -> list[_Reading]:
    """Those that give a number."""
    return [one for one in readings if one.rope.refusal is None]


def _levelled(readings: _Readings, n_rounds: int) -> tuple[_Readings, int]:
    """Take off what each round reads higher on all ropes, and count the levels."""
    # a move is common if two thirds of three ropes or more make it alike
    by_round: list[dict[int, _Reading]] = [
        {n: one for n, own in readings.items() for one in _heard(own) if one.place == i}
        for i in range(n_rounds)
    ]
    first = by_round[0]
    levels = [0.0]
    for here in by_round[1:]:
        both = [(one, first[n]) for n, one in here.items() if n in first]
        moves = [one.logarithm - other.logarithm for one, other in both]
        usual = median(moves) if moves else 0.0
        alike = sum(
            agree(move, usual, one.uncertainty, other.uncertainty)
            for move, (one, other) in zip(moves, both, strict=True)
        )
        is_common = len(moves) >= _LEAST_COMMON and 3 * alike >= 2 * len(moves)
        levels.append(usual if is_common else 0.0)
    middle = float(np.mean(levels))
    levelled = {
        number: [replace(one, level=levels[one.place] - middle) for one in own]
        for number, own in readings.items()
    }
    return levelled, len(set(levels))


_Settled = tuple[RopeHearing, list[_Reading]]
"""A rope with all its plucks and notes, and the readings that count."""


def _settle(number: int, own: Sequence[_Reading]) -> _Settled:
    """Find which readings of a rope count; tell of the others."""
    heard = _heard(own)
    silent = [one for one in own if one.rope.refusal is not None]
    notes = [note for one in own for note in one.rope.notes]
    if not heard:
        first, *others = sorted(
            silent, key=lambda one: _is_refused(one.rope, NoteKind.FILE_MISSING)
        )
        notes += [_unheard(number, one) for one in others]
        return _gathered(first.rope, own, notes, []), []
    notes += [_unheard(number, one) for one in silent]
    settled = settle_readings(
        number,
        [one.logarithm for one in heard],
        [one.uncertainty for one in heard],
        [one.text for one in heard],
    )
    notes += settled.notes
    used = [heard[i] for i in settled.used]
    if settled.refusal is None:
        best = min(used, key=lambda one: (_doubt(one.rope), one.uncertainty, one.text))
        return _gathered(best.rope, own, notes, used), used
    refused = replace(
        _gathered(heard[0].rope, own, notes, used),
        fundamental_frequency=nan,
        relative_uncertainty=nan,
        rivals=(),
        refusal=settled.refusal,
    )
    return refused, []


def _is_refused(rope: RopeHearing, kind: NoteKind) -> bool:
    """Whether a rope has no number for a reason."""
    return rope.refusal is not None and rope.refusal.kind is kind


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
    used: Sequence[_Reading],
) -> RopeHearing:
    """One rope with the plucks, hum and notes of all its recordings."""
    counting = {one.place for one in used}
    why = "its recording and others of the rope disagree"
    return replace(
        rope,
        plucks=tuple(
            replace(pluck, is_used=False, reason=why)
            if pluck.is_used and one.place not in counting
            else pluck
            for one in own
            for pluck in one.rope.plucks
        ),
        hum=tuple(dict.fromkeys(line for one in own for line in one.rope.hum)),
        notes=tuple(dict.fromkeys(notes)),
    )


def _with_swaps(
    settled: dict[int, _Settled], readings: _Readings
) -> dict[int, _Settled]:
    """Name two ropes that read crosswise alike in two rounds."""
    apart = {
        number: _heard(readings[number])
        for number, (rope, _) in settled.items()
        if _is_refused(rope, NoteKind.READINGS_APART)
    }
    twice = {number: heard for number, heard in apart.items() if len(heard) == 2}
    for one, other in combinations(twice, 2):
        if all(
            agree(a.logarithm, b.logarithm, a.uncertainty, b.uncertainty)
            for a, b in zip(twice[one], reversed(twice[other]), strict=True)
        ):
            note = NoteKind.SWAPPED_ROPES.note(ropes=(one, other), one=one, other=other)
            for number in (one, other):
                rope, used = settled[number]
                settled[number] = (replace(rope, notes=(*rope.notes, note)), used)
    return settled


def _scatters(
    every: Mapping[int, Sequence[_Reading]], n_levels: int
) -> dict[int, float]:
    """Variance of readings of each rope beyond what was heard [1]."""
    # moment estimate of the variance between repeats in a model of random effects
    found: dict[int, tuple[float, int]] = {}
    for number, used in every.items():
        values = np.array([one.logarithm for one in used])
        heard = np.array([one.uncertainty**2 for one in used])
        n = len(used)
        excess = float(((values - values.mean()) ** 2).sum()) if n else 0.0
        found[number] = (excess - float(heard.sum()) * (1 - 1 / max(n, 1)), n - 1)
    # a level taken off a round is one degree of freedom less
    freedom = sum(degrees for _, degrees in found.values() if degrees > 0)
    freedom = max(freedom - n_levels + 1, min(freedom, 1))
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
    rope: RopeHearing,
    used: Sequence[_Reading],
    weights: Sequence[float],
    scatter: float,
) -> RopeHearing:
    """One rope by the mean of the readings that count."""
    if not used:
        return rope
    both = list(zip(weights, used, strict=True))
    mean = sum(weight * one.logarithm for weight, one in both)
    variance = sum(w**2 * (one.uncertainty**2 + scatter) for w, one in both)
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
    weights: Mapping[int, Sequence[float]],
    scatters: Mapping[int, float],
) -> NDArray[np.float64]:
    """Of the logarithms of the merged fundamentals; rounds err apart."""
    # the scatter is of tensions, the covariance of fundamentals
    own = [sum(w**2 for w in weights[n]) * scatters[n] / 4 for n in given]
    total = np.diag(np.array(own, dtype=float))
    for place, one in enumerate(rounds):
        heard = list(one.hearing.given)
        load = np.zeros((len(given), len(heard)))
        for row, (number, readings) in enumerate(given.items()):
            for weight, used in zip(weights[number], readings, strict=True):
                if used.place == place:
                    load[row, heard.index(number)] = weight
        total += load @ one.hearing.covariance @ load.T
    return np.asarray(total)
