"""Repeats of one rope: do they agree, a vote if not, and how widely they scatter.

Readings by hand, and recordings: each heard for itself, then held against the others. A
round holds one recording of a rope at most. What the rounds say of a rope is one
reading each; none is chosen by its place.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from math import exp, expm1, hypot, isnan, log, nan, sqrt
from statistics import fmean, median
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from tension.measurement.readings import PullReading, ReturnsReading, SpringReading
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray as Array
from tension.sound.hearing import RopeHearing, SetHearing, joint_hypotheses

Read = TypeVar("Read", PullReading, ReturnsReading, SpringReading)
Found = TypeVar("Found")
HeardRound = tuple[SetHearing, Mapping[int, str]]
"""What was heard of the whole set, and in which recording each rope of a round is; the
ropes that are not of this round lend their sound alone."""

_DECLARED_FREEDOM = 5.0
"""Degrees of freedom that the declared uncertainty of one reading counts for. [1]"""

_OUTLYING = 9.0
"""Variance ratio from which a rope's own scatter stands for it alone. [1]"""

_TWO_SIDED = 1.959964  # normal quantile of 95 %, two-sided [1]

REPEATABILITY = 0.02
"""By how much readings of one rope may differ anyway: how hard it is plucked, how it is
held; the program's own figure, of tension. [1]"""

_STANDARD_DEVIATIONS = 3.0  # by which readings of one rope may differ [1]

_OUTLYING_ROUND = 4.0
"""Variance ratio from which the scatter of a rope's recordings stands for it alone. [1]
"""

_LEAST_COMMON = 3
"""Ropes from which a move common to a round is told from a wrong rope. [1]"""


def coverage_widening(degrees_of_freedom: float) -> float:
    """Ratio of Student's t to the normal quantile, two-sided 95 %.

    From 3 degrees of freedom on [1]. Expansion of Cornish and Fisher to the third
    order; 0.4 % low at 4 degrees.
    """
    z, n = _TWO_SIDED, degrees_of_freedom
    quantile = (
        z
        + (z**3 + z) / (4 * n)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
    )
    return quantile / z


def uncertainty_of_means(
    logarithms: Sequence[Sequence[float]],
    declared: Sequence[float],
    *,
    declared_freedom: float = _DECLARED_FREEDOM,
) -> Array:
    """Relative uncertainty of the mean of each rope's repeats, shape (n_ropes,).

    `logarithms` are of the repeated tensions, rope by rope; `declared` is the relative
    uncertainty of one reading of each rope [1], which counts for `declared_freedom`
    degrees. The scatter is pooled over the ropes and blended with the declared
    uncertainty; the result is widened by Student's t. A reading that was not repeated
    shows no scatter and is widened all the more. A rope that scatters far more than the
    others stands for itself.
    """
    counts = np.array([len(one) for one in logarithms], dtype=float)
    wanted = np.asarray(declared, dtype=float)
    squares = np.array([float(np.var(one)) * len(one) for one in logarithms])
    freedom = counts - 1
    # in units of the declared variance of each rope, so that ropes can be pooled
    relative = squares / np.maximum(wanted, 1e-9) ** 2

    def pooled(ropes: NDArray[np.bool_]) -> tuple[float, float]:
        """Variance in units of the declared one, and its degrees of freedom."""
        degrees = declared_freedom + freedom[ropes].sum()
        return float((declared_freedom + relative[ropes].sum()) / degrees), degrees

    alone = relative / np.maximum(freedom, 1)  # nought where nothing is repeated
    others = ~np.eye(len(counts), dtype=bool)
    is_usual = alone <= _OUTLYING * np.array([pooled(apart)[0] for apart in others])
    variance, degrees = pooled(is_usual)
    variances = np.where(is_usual, variance, alone)
    degrees_of_each = np.where(is_usual, degrees, np.maximum(freedom, 3.0))
    widening = [coverage_widening(each) for each in degrees_of_each]
    return np.asarray(wanted * np.sqrt(variances / counts) * widening)


@dataclass(frozen=True, kw_only=True, slots=True)
class Settled:
    """Which readings of one rope count."""

    used: tuple[int, ...]  # their places; empty if the readings contradict each other
    refusal: Refusal | None = None  # why none counts
    notes: tuple[Note, ...] = ()  # which one was outvoted


def settle_readings(
    rope: int,
    logarithms: Sequence[float],
    uncertainties: Sequence[float],
    texts: Sequence[str],
) -> Settled:
    """Find which readings of one rope count, whatever their order.

    Logarithms of the tensions read, up to a common term, relative standard
    uncertainties [1] and what was read, in words; shape (n_readings,) each. All count,
    if they agree. If not, those that agree with each other and are two thirds of all or
    more, with a note; else none, with the reason.
    """
    n = len(logarithms)
    order = sorted(range(n), key=lambda i: (logarithms[i], texts[i]))
    groups = [_group_from(order[k:], logarithms, uncertainties) for k in range(n)]
    largest = max(groups, key=len, default=[])
    if len(largest) == n:
        return Settled(used=tuple(range(n)))
    if 3 * len(largest) >= 2 * n and sum(len(g) == len(largest) for g in groups) == 1:
        note = NoteKind.READING_OUTVOTED.note(
            ropes=(rope,),
            rope=rope,
            count=n,
            agreeing=len(largest),
            readings=" and ".join(sorted(texts[i] for i in largest)),
            odd=" and ".join(sorted(texts[i] for i in range(n) if i not in largest)),
        )
        return Settled(used=tuple(sorted(largest)), notes=(note,))
    widest = expm1(max(logarithms) - min(logarithms))
    refusal = NoteKind.READINGS_APART.refusal(
        rope=rope, readings=" against ".join(sorted(texts)), apart=f"{100 * widest:.0f}"
    )
    return Settled(used=(), refusal=refusal)


def settle_repeats(
    own: Sequence[Read], logarithms: Sequence[float], uncertainties: Sequence[float]
) -> Settled:
    """Find which repeats by hand count; logarithms and relative uncertainties [1]."""
    names = [name for reading in own for name in reading.names]
    return settle_readings(own[0].rope, logarithms, uncertainties, names)


def agree(one: float, other: float, *uncertainties: float) -> bool:
    """Tell whether two readings can be of one tension.

    By their logarithms [1] and the relative standard uncertainty of each [1]: they
    differ by no more than three standard deviations, or than readings of one rope do
    anyway.
    """
    allowed = max(REPEATABILITY, _STANDARD_DEVIATIONS * hypot(*uncertainties))
    return abs(one - other) <= allowed


def _group_from(
    order: Sequence[int], logarithms: Sequence[float], uncertainties: Sequence[float]
) -> list[int]:
    """Readings from the first on of which every two can be of one tension."""
    group: list[int] = []
    for i in order:
        if not all(
            agree(logarithms[i], logarithms[j], uncertainties[i], uncertainties[j])
            for j in group
        ):
            break
        group.append(i)
    return group


def rope_by_rope(
    readings: Sequence[Read],
    read: Callable[[int, list[Read]], tuple[Found, Sequence[Note]] | Refusal],
) -> tuple[list[Found], dict[int, Refusal], list[Note]]:
    """Read the ropes one after the other: what each says, or why it says nothing.

    Readings of a rope, and the repeats in each, come in an order of their names,
    however they were typed, so that sums over them are the same to the last digit.
    """
    found: list[Found] = []
    refusals: dict[int, Refusal] = {}
    notes: list[Note] = []
    for number in sorted({reading.rope for reading in readings}):
        own = [reading.in_order() for reading in readings if reading.rope == number]
        told = read(number, sorted(own, key=lambda reading: reading.names))
        if isinstance(told, Refusal):
            refusals[number] = told
            continue
        found.append(told[0])
        notes += told[1]
    return found, refusals, notes


@dataclass(frozen=True, kw_only=True, slots=True)
class _Recorded:
    """One recording of one rope: which round, and what was heard."""

    place: int
    recording: str
    rope: RopeHearing
    level: float  # logarithm of what its round reads higher on all ropes [1]

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
    def doubt(self) -> tuple[float, float, str]:
        """Chance that its partials are numbered otherwise, and how well it is read."""
        rivals = sum(rival.probability for rival in self.rope.rivals)
        return rivals, self.uncertainty, self.text

    @property
    def is_missing(self) -> bool:
        """Whether there is no file."""
        refusal = self.rope.refusal
        return refusal is not None and refusal.kind is NoteKind.FILE_MISSING


@dataclass(frozen=True, kw_only=True, slots=True)
class _SettledRope:
    """One rope with all its plucks and notes, and the recordings that count."""

    rope: RopeHearing
    used: list[_Recorded] = field(default_factory=list)
    scatter: float = 0.0  # variance of its readings beyond what was heard [1]

    @property
    def excess(self) -> float:
        """Squares about the mean, less those by the uncertainty of what was heard."""
        values = np.array([one.logarithm for one in self.used])
        heard = sum(one.uncertainty**2 for one in self.used)
        squares = float(((values - values.mean()) ** 2).sum())
        return squares - heard * (1 - 1 / len(self.used))

    @property
    def weights(self) -> list[float]:
        """Of the recordings that count; they sum to one. [1]."""
        wanted = [1 / (one.uncertainty**2 + self.scatter) for one in self.used]
        return [weight / sum(wanted) for weight in wanted]

    def merged(self) -> RopeHearing:
        """The rope by the mean of the recordings that count."""
        if not self.used:
            return self.rope
        weighed = list(zip(self.weights, self.used, strict=True))
        mean = sum(w * one.logarithm for w, one in weighed)
        variance = sum(w**2 * (u.uncertainty**2 + self.scatter) for w, u in weighed)
        factor = exp(mean / 2) / self.rope.fundamental_frequency
        return replace(
            self.rope,
            fundamental_frequency=exp(mean / 2),
            relative_uncertainty=sqrt(variance) / 2,
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
    first = rounds[0][0]
    if len(rounds) == 1:
        return first
    levels = _levels(rounds)
    every = {
        rope.number: [
            _Recorded(place=i, recording=names[rope.number], rope=here, level=levels[i])
            for i, (hearing, names) in enumerate(rounds)
            for here in hearing.ropes
            if here.number == rope.number and rope.number in names
        ]
        or [_Recorded(place=0, recording="", rope=rope, level=levels[0])]
        for rope in first.ropes
    }
    settled = {number: _settle(number, own) for number, own in every.items()}
    _name_swapped(settled, every)
    _scatter(settled, len(set(levels)))
    ropes = tuple(one.merged() for one in settled.values())
    given = {rope.number: settled[rope.number] for rope in ropes if not rope.refusal}
    spreads = [hearing.rigidity_per_density_uncertainty for hearing, _ in rounds]
    best = min(range(len(rounds)), key=lambda i: (isnan(spreads[i]), spreads[i]))
    return replace(
        rounds[best][0],
        ropes=ropes,
        given=tuple(given),
        hypotheses=joint_hypotheses([rope for rope in ropes if rope.number in given]),
        covariance=_covariance(given, rounds),
        notes=tuple(dict.fromkeys(n for hearing, _ in rounds for n in hearing.notes)),
    )


def _levels(rounds: Sequence[HeardRound]) -> list[float]:
    """What each round reads higher than all do on all ropes, a logarithm. [1].

    A move is common if two thirds of three ropes or more make it alike.
    """
    first, *others = (
        {r.number: r for r in hearing.ropes if r.number in names and not r.refusal}
        for hearing, names in rounds
    )
    levels = [0.0]
    for here in others:
        both = [(one, first[n]) for n, one in here.items() if n in first]
        if len(both) < _LEAST_COMMON:
            levels.append(0.0)
            continue
        moves = [
            2 * log(one.fundamental_frequency) - 2 * log(other.fundamental_frequency)
            for one, other in both
        ]
        usual = median(moves)
        alike = sum(
            agree(move, usual, *(2 * rope.relative_uncertainty for rope in pair))
            for move, pair in zip(moves, both, strict=True)
        )
        levels.append(usual if 3 * alike >= 2 * len(moves) else 0.0)
    middle = fmean(levels)
    return [level - middle for level in levels]


def _settle(number: int, own: Sequence[_Recorded]) -> _SettledRope:
    """Find which recordings of a rope count, with the plucks, hum and notes of all."""
    heard = [one for one in own if one.rope.refusal is None]
    silent = [one for one in own if one.rope.refusal is not None]
    settled = settle_readings(
        number,
        [one.logarithm for one in heard],
        [one.uncertainty for one in heard],
        [one.text for one in heard],
    )
    used = [heard[i] for i in settled.used]
    if heard:
        best = min(used or heard[:1], key=lambda one: one.doubt)
    else:
        # a file that is missing says the least
        best, *silent = sorted(silent, key=lambda one: one.is_missing)
    rope, why = best.rope, "its recording and others of the rope disagree"
    if settled.refusal is not None:
        rope = replace(
            rope,
            fundamental_frequency=nan,
            relative_uncertainty=nan,
            rivals=(),
            refusal=settled.refusal,
        )
    notes = [note for one in own for note in one.rope.notes]
    notes += [
        NoteKind.REPEAT_UNHEARD.note(
            ropes=(number,),
            rope=number,
            recording=one.recording,
            reason=refusal.text,
            next_act=refusal.next_act,
        )
        for one in silent
        if (refusal := one.rope.refusal) is not None
    ]
    rope = replace(
        rope,
        plucks=tuple(
            replace(pluck, is_used=False, reason=why)
            if pluck.is_used and one not in used
            else pluck
            for one in own
            for pluck in one.rope.plucks
        ),
        hum=tuple(dict.fromkeys(line for one in own for line in one.rope.hum)),
        notes=tuple(dict.fromkeys([*notes, *settled.notes])),
    )
    return _SettledRope(rope=rope, used=used)


def _name_swapped(
    settled: dict[int, _SettledRope], every: Mapping[int, Sequence[_Recorded]]
) -> None:
    """Name two ropes that read crosswise alike in two rounds."""
    twice = {
        number: heard
        for number, one in settled.items()
        if one.rope.refusal and one.rope.refusal.kind is NoteKind.READINGS_APART
        if len(heard := [r for r in every[number] if r.rope.refusal is None]) == 2
    }
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


def _scatter(settled: dict[int, _SettledRope], n_levels: int) -> None:
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
        is_outlying = excess / degrees > _OUTLYING_ROUND * usual
        scatter = excess / degrees if is_outlying else usual
        settled[number] = replace(one, scatter=scatter)


def _covariance(
    given: Mapping[int, _SettledRope], rounds: Sequence[HeardRound]
) -> Array:
    """Of the logarithms of the merged fundamentals; rounds err apart."""
    # the scatter is of tensions, the covariance of fundamentals
    own = [sum(w**2 for w in one.weights) * one.scatter / 4 for one in given.values()]
    total = np.diag(np.array(own, dtype=float))
    for place, (hearing, _) in enumerate(rounds):
        heard = list(hearing.given)
        load = np.zeros((len(given), len(heard)))
        for row, (number, settled) in enumerate(given.items()):
            for weight, used in zip(settled.weights, settled.used, strict=True):
                if used.place == place:
                    load[row, heard.index(number)] = weight
        total += load @ hearing.covariance @ load.T
    return np.asarray(total)
