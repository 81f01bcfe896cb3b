"""Several recordings of one rope: each heard for itself, then held against the others.

A round holds one recording of a rope at most. What the rounds say of a rope is one
reading each; none is chosen by its place.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from math import exp, isnan, log, nan, sqrt
from statistics import fmean, median

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

    @property
    def doubt(self) -> float:
        """Probability that the partials are numbered otherwise. [1]."""
        return sum(rival.probability for rival in self.rope.rivals)

    def is_refused(self, kind: NoteKind) -> bool:
        """Whether there is no number for a reason."""
        refusal = self.rope.refusal
        return refusal is not None and refusal.kind is kind


@dataclass(frozen=True, kw_only=True, slots=True)
class _Settled:
    """One rope with all its plucks and notes, and the readings that count."""

    rope: RopeHearing
    used: list[_Reading] = field(default_factory=list)
    scatter: float = 0.0  # variance of its readings beyond what was heard [1]

    @property
    def excess(self) -> float:
        """Squares about the mean, less those by the uncertainty of what was heard."""
        values = np.array([one.logarithm for one in self.used])
        heard = sum(one.uncertainty**2 for one in self.used)
        squares = float(((values - values.mean()) ** 2).sum())
        return squares - heard * (1 - 1 / len(self.used))

    @property
    def variances(self) -> list[float]:
        """Of each reading that counts. [1]."""
        return [one.uncertainty**2 + self.scatter for one in self.used]

    @property
    def weights(self) -> list[float]:
        """Of the readings that count; they sum to one. [1]."""
        wanted = [1 / variance for variance in self.variances]
        return [weight / sum(wanted) for weight in wanted]

    def merged(self) -> RopeHearing:
        """The rope by the mean of the readings that count."""
        if not self.used:
            return self.rope
        weights = self.weights
        logarithms = [one.logarithm for one in self.used]
        mean = sum(w * one for w, one in zip(weights, logarithms, strict=True))
        spread = zip(weights, self.variances, strict=True)
        factor = exp(mean / 2) / self.rope.fundamental_frequency
        return replace(
            self.rope,
            fundamental_frequency=exp(mean / 2),
            relative_uncertainty=sqrt(sum(w**2 * v for w, v in spread)) / 2,
            rivals=tuple(
                replace(r, fundamental_frequency=factor * r.fundamental_frequency)
                for r in self.rope.rivals
            ),
        )


def merge_rounds(rounds: Sequence[HeardRound]) -> SetHearing:
    """Put together what was heard in several rounds.

    As heard, if there is one round. Else each rope by the mean of its readings; a rope
    whose readings contradict each other has no number.
    """
    if len(rounds) == 1:
        return rounds[0].hearing
    readings, n_levels = _levelled(_readings(rounds), len(rounds))
    settled = {number: _settle(number, own) for number, own in readings.items()}
    _name_swapped(settled, readings)
    _scatter(settled, n_levels)
    ropes = tuple(one.merged() for one in settled.values())
    given = {rope.number: settled[rope.number] for rope in ropes if not rope.refusal}
    spreads = [one.hearing.rigidity_per_density_uncertainty for one in rounds]
    best = min(range(len(rounds)), key=lambda i: (isnan(spreads[i]), spreads[i]))
    return replace(
        rounds[best].hearing,
        ropes=ropes,
        given=tuple(given),
        hypotheses=joint_hypotheses([rope for rope in ropes if rope.number in given]),
        covariance=_covariance(given, rounds),
        notes=tuple(dict.fromkeys(n for one in rounds for n in one.hearing.notes)),
    )


_Readings = dict[int, list[_Reading]]


def _readings(rounds: Sequence[HeardRound]) -> _Readings:
    """Readings of each rope, heard or refused, in the order of the rounds."""
    return {
        rope.number: [
            _Reading(place=place, recording=one.recordings[rope.number], rope=here)
            for place, one in enumerate(rounds)
            if rope.number in one.recordings
            for here in one.hearing.ropes
            if here.number == rope.number
        ]
        or [_Reading(place=0, recording="", rope=rope)]
        for rope in rounds[0].hearing.ropes
    }


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
        if len(both) < _LEAST_COMMON:
            levels.append(0.0)
            continue
        moves = [one.logarithm - other.logarithm for one, other in both]
        usual = median(moves)
        alike = sum(
            agree(move, usual, one.uncertainty, other.uncertainty)
            for move, (one, other) in zip(moves, both, strict=True)
        )
        levels.append(usual if 3 * alike >= 2 * len(moves) else 0.0)
    middle = fmean(levels)
    levelled = {
        number: [replace(one, level=levels[one.place] - middle) for one in own]
        for number, own in readings.items()
    }
    return levelled, len(set(levels))


def _settle(number: int, own: Sequence[_Reading]) -> _Settled:
    """Find which readings of a rope count; tell of the others."""
    heard = _heard(own)
    silent = [one for one in own if one.rope.refusal is not None]
    if not heard:
        # a file that is missing says the least
        first, *silent = sorted(
            silent, key=lambda one: one.is_refused(NoteKind.FILE_MISSING)
        )
        return _Settled(rope=_gathered(first.rope, own, silent, []))
    settled = settle_readings(
        number,
        [one.logarithm for one in heard],
        [one.uncertainty for one in heard],
        [one.text for one in heard],
    )
    used = [heard[i] for i in settled.used]
    best = min(
        used, key=lambda one: (one.doubt, one.uncertainty, one.text), default=None
    )
    rope = _gathered((best or heard[0]).rope, own, silent, used, settled.notes)
    if settled.refusal is None:
        return _Settled(rope=rope, used=used)
    refused = replace(
        rope,
        fundamental_frequency=nan,
        relative_uncertainty=nan,
        rivals=(),
        refusal=settled.refusal,
    )
    return _Settled(rope=refused)


def _unheard(reading: _Reading) -> Note:
    """Tell of a recording that gives no number beside others that do."""
    number, refusal = reading.rope.number, reading.rope.refusal
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
    silent: Sequence[_Reading],
    used: Sequence[_Reading],
    notes: Sequence[Note] = (),
) -> RopeHearing:
    """One rope with the plucks, hum and notes of all its recordings."""
    counting = {one.place for one in used}
    why = "its recording and others of the rope disagree"
    every = [note for one in own for note in one.rope.notes]
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
        notes=tuple(dict.fromkeys([*every, *map(_unheard, silent), *notes])),
    )


def _name_swapped(settled: dict[int, _Settled], readings: _Readings) -> None:
    """Name two ropes that read crosswise alike in two rounds."""
    apart = {
        number: _heard(readings[number])
        for number, one in settled.items()
        if one.rope.refusal and one.rope.refusal.kind is NoteKind.READINGS_APART
    }
    twice = {number: heard for number, heard in apart.items() if len(heard) == 2}
    for one, other in combinations(twice, 2):
        if all(
            agree(a.logarithm, b.logarithm, a.uncertainty, b.uncertainty)
            for a, b in zip(twice[one], reversed(twice[other]), strict=True)
        ):
            note = NoteKind.SWAPPED_ROPES.note(ropes=(one, other), one=one, other=other)
            for number in (one, other):
                rope = settled[number].rope
                rope = replace(rope, notes=(*rope.notes, note))
                settled[number] = replace(settled[number], rope=rope)


def _scatter(settled: dict[int, _Settled], n_levels: int) -> None:
    """Find by how much readings of each rope scatter beyond what was heard."""
    # moment estimate of the variance between repeats in a model of random effects
    found = {
        number: (one.excess, len(one.used) - 1)
        for number, one in settled.items()
        if len(one.used) > 1
    }
    # a level taken off a round is one degree of freedom less
    freedom = sum(degrees for _, degrees in found.values())
    freedom = max(freedom - n_levels + 1, min(freedom, 1))
    pooled = sum(excess for excess, _ in found.values())
    usual = max(0.0, pooled / freedom) if freedom else 0.0
    usual *= coverage_widening(max(freedom, 3.0)) ** 2
    for number, one in settled.items():
        excess, degrees = found.get(number, (0.0, 1))
        is_outlying = excess / degrees > _OUTLYING * usual
        scatter = excess / degrees if is_outlying else usual
        settled[number] = replace(one, scatter=scatter)


def _covariance(
    given: Mapping[int, _Settled], rounds: Sequence[HeardRound]
) -> NDArray[np.float64]:
    """Of the logarithms of the merged fundamentals; rounds err apart."""
    # the scatter is of tensions, the covariance of fundamentals
    own = [sum(w**2 for w in one.weights) * one.scatter / 4 for one in given.values()]
    total = np.diag(np.array(own, dtype=float))
    for place, one in enumerate(rounds):
        heard = list(one.hearing.given)
        load = np.zeros((len(given), len(heard)))
        for row, (number, settled) in enumerate(given.items()):
            for weight, used in zip(settled.weights, settled.used, strict=True):
                if used.place == place:
                    load[row, heard.index(number)] = weight
        total += load @ one.hearing.covariance @ load.T
    return np.asarray(total)
