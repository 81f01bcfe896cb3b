"""Two ropes: whether a second string of the set rings about as loud as the first."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.comb import Combs
from tension.sound.hum import amplitudes
from tension.sound.joint import Reading
from tension.sound.numbering import Numbering, fit_combs, weigh_combs
from tension.sound.partials import StringFit, explained_share, fit_string
from tension.sound.rings import RingOf
from tension.sound.spectra import Lines, believed, below

Array = NDArray[np.float64]

FACTORS = np.concatenate(
    [np.arange(0.86, 0.9855, 0.002), np.arange(1.015, 1.1605, 0.002)]
)
"""Spacings of a second rope over the first's: a third of tension either way. Nearer
ones are two planes of one rope. The fit that follows bridges the steps. [1]"""
NEAREST = 0.014
"""Of the spacings of two ropes, after the fit, relative: see above. [1]"""
GATE = 0.12
"""First gate of that fit, in spacings. [1]"""
BESIDE = 0.003
"""Beside a partial stands its other plane, no second rope, relative. [1]"""
LEAST_SHARED = 4
"""Partials of one number that both have, to compare levels. [1]"""
LEAST_OF_EACH = 17.0
"""Evidence of the second in what the first leaves: what a rope by itself needs. [1]"""
AS_LOUD, MIXED_AS_LOUD = 5.5, 7.0
"""Largest difference in power of two ropes plucked at once: fingers differ by 3 dB, and
a neighbour that rings along is 10 dB lower. The second where the first explains less
than ``MIXED``: then more than two may sound. [dB]"""
MIXED = 0.5
"""Share of what is heard. [1]"""
HALF_AS_LOUD = 11.0
"""Largest median difference of their partials, which pluck and sensor scatter. [dB]"""
QUITE_AS_LOUD = -4.0
"""Power from which no partials are asked: some may have a node. [dB]"""
MARGIN = 10.0
"""By which two strings must explain more than the best reading, as one that is so much
worse than another in its own recording is none; and what must be left of the first
without the second, merged partials being taken from both. [1]"""
EXPLAINED = 0.85
"""A string that explains more of what is heard leaves no room for another as loud."""
READINGS = 5
"""Readings beside which strings are looked for: lines of two ropes mixed may have been
taken for one. [1]"""
MOST_FIRSTS = 12
"""Strings for which a second is looked for. [1]"""
COUNTS = (22.0, 15.0, 10.0)
"""Partials looked at by themselves: the upper ones die soon, and those of two ropes
nearly alike then merge. [1]"""
MERGE = 0.05
"""Farther apart all partials tell, and the low ones may not overrule them. [1]"""
ALIKE = 0.003
"""Such strings are one, relative. [1]"""
SAME_PITCH, SAME_ROPE = 0.012, 0.01
"""Distance of the same pitch in one recording, and of one rope's pitches in its own
recording and in that of another rope. [1]"""
EARLY = (0.0, 0.5)
LATE = (1.2, 2.4)
"""Parts of a ring compared, swinging wide and nearly at rest. [s]"""
DIES = 1.5
"""ln of amplitude early over late by which the partials over a guard fall more than
those of the free rope. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Second:
    """A string in what a first leaves unexplained.

    Attributes
    ----------
    fit : StringFit
        The string.
    evidence : float
        Its ln likelihood ratio against stray lines, without the first's lines. [1]
    level : float
        Against the first, median of the partials that both have. [dB]
    power : float
        The same, of their powers summed. [dB]
    """

    fit: StringFit
    evidence: float
    level: float
    power: float

    def is_as_loud(self, within: float) -> bool:
        """Tell whether both were plucked.

        Parameters
        ----------
        within : float
            Largest difference of their powers. [dB]

        Returns
        -------
        bool
            True if the partials that both have are about as loud, or all of them
            together quite as loud.
        """
        if abs(self.power) > within:
            return False
        return abs(self.level) < HALF_AS_LOUD or self.power > QUITE_AS_LOUD


@dataclass(frozen=True, kw_only=True, slots=True)
class Pair:
    """Two strings about as loud that together explain more than the best reading.

    Attributes
    ----------
    lower, higher : StringFit
        By their fundamentals.
    log_likelihood : float
        Of both together. [1]
    """

    lower: StringFit
    higher: StringFit
    log_likelihood: float


def find_second(lines: Lines, fit: StringFit) -> Second | None:
    """Find a second rope in what a first leaves unexplained.

    Parameters
    ----------
    lines : Lines
        Of the rings.
    fit : StringFit
        The first rope.

    Returns
    -------
    Second or None
        None if there is nothing to compare.

    Notes
    -----
    Ropes of one set have one EI/m, and about one length: the dispersion, 4 pi^2 (EI/m)
    over the fourth power of the wave speed, follows the spacing.
    """
    rest = _without(lines, fit)
    if np.count_nonzero(rest.weights > 0.5) < LEAST_SHARED:
        return None
    for one in _near(rest, fit, FACTORS):
        if abs(np.log(one.spacing / fit.spacing)) > NEAREST:
            second = fit_string(rest, one.spacing, one.dispersion, fit.n_clamped_ends)
            if second is None:
                return None
            return _compared(lines, fit, second, one.log_likelihood)
    return None


def find_pair(lines: Lines, readings: Sequence[Reading]) -> Pair | None:
    """Find two ropes that were plucked at once.

    Parameters
    ----------
    lines : Lines
        Of the rings.
    readings : sequence of Reading
        As one rope, likeliest first.

    Returns
    -------
    Pair or None
        None if one string explains what is heard about as well, or the second is no
        more than a neighbour that rings along.

    Notes
    -----
    Each of the two must stand in what the other leaves, so a comb that mixes partials
    of both is none of them; and both together must explain more than the best reading.
    """
    if not readings or explained_share(lines, readings[0].fit) > EXPLAINED:
        return None
    least = max(one.log_likelihood for one in readings)
    pair = _pair_of(lines, readings, least)
    for count in COUNTS if pair is None else ():
        low = below(lines, count * readings[0].fit.fundamental_frequency)
        if low.frequencies.size < 2 * LEAST_SHARED:
            break
        if pair is None and explained_share(low, readings[0].fit) < EXPLAINED:
            near = _pair_of(low, readings, -np.inf)
            if near is not None and _apart(near) < MERGE:
                pair = near
    return pair


def _pair_of(lines: Lines, readings: Sequence[Reading], least: float) -> Pair | None:
    """Find two strings that together explain more than one alone."""
    best: Pair | None = None
    ends = readings[0].fit.n_clamped_ends
    is_mixed = explained_share(lines, readings[0].fit) < MIXED
    within = MIXED_AS_LOUD if is_mixed else AS_LOUD
    firsts = _firsts(lines, readings)
    least = max([least, *(one.log_likelihood for one in firsts[:1])]) + MARGIN
    for one in firsts:
        first = fit_string(lines, one.spacing, one.dispersion, ends)
        second = None if first is None else find_second(lines, first)
        if first is None or second is None:
            continue
        if not second.is_as_loud(within):
            continue
        total = one.log_likelihood + second.evidence
        if second.evidence < LEAST_OF_EACH or total < least:
            continue
        alone = _near(_without(lines, second.fit), first, np.ones(1))
        if not alone or alone[0].log_likelihood < MARGIN:
            continue
        least = total
        lower, higher = sorted(
            (first, second.fit), key=lambda each: each.fundamental_frequency
        )
        best = Pair(lower=lower, higher=higher, log_likelihood=total)
    return best


def is_of_set(pair: Pair, own: StringFit, others: Sequence[float] | None) -> bool:
    """Tell whether one of two strings may be another rope of the set.

    Parameters
    ----------
    pair : Pair
        Heard in the recording of one rope.
    own : StringFit
        The string chosen for it.
    others : sequence of float or None
        Pitches of all other ropes, from their own recordings; None if not all are
        known. [Hz]

    Returns
    -------
    bool
        True if the second has the pitch of one of them, or they are not known.
    """
    if others is None:
        return True
    pitches = np.array([one.fundamental_frequency for one in (pair.lower, pair.higher)])
    apart = np.abs(np.log(pitches / own.fundamental_frequency))
    # a comb that mixes both is none of them: then either may be the other rope
    second = pitches[apart > SAME_PITCH] if np.any(apart < SAME_PITCH) else pitches
    away = np.abs(np.log(second[:, None] / np.array(others)[None, :]))
    return bool(np.any(away < SAME_ROPE))


def _apart(pair: Pair) -> float:
    """Distance of the two fundamentals, of their log. [1]."""
    low, high = pair.lower.fundamental_frequency, pair.higher.fundamental_frequency
    return float(np.log(high / low))


def higher_dies(rings: Sequence[RingOf], lines: Lines, pair: Pair) -> bool:
    """Tell one rope that comes free of a guard from two ropes.

    Parameters
    ----------
    rings : sequence of RingOf
        Of one rope.
    lines : Lines
        Of the rings.
    pair : Pair
        The two strings heard.

    Returns
    -------
    bool
        True if the higher, of the span that the guard leaves, dies while the lower, of
        the whole span, stays.
    """
    falls = []
    for one in rings:
        rate = one.ring.sampling_rate
        parts = [
            one.ring.samples[round(begin * rate) : round(end * rate)]
            for begin, end in (EARLY, LATE)
        ]
        if parts[1].size < parts[0].size:
            continue
        medians = []
        for fit in (pair.lower, pair.higher):
            early, late = (
                amplitudes(part, rate, lines.frequencies[fit.lines])[0]
                for part in parts
            )
            medians.append(float(np.median(np.log((early + 1e-30) / (late + 1e-30)))))
        falls.append(medians[1] - medians[0])
    return bool(falls) and float(np.median(falls)) > DIES


def _without(lines: Lines, fit: StringFit) -> Lines:
    """The lines, none of them believed that belongs to a string."""
    place = fit.places(lines.frequencies)
    nearest = np.maximum(np.rint(place), 1.0)
    own = np.abs(place - nearest) * fit.spacing < BESIDE * lines.frequencies
    own[fit.lines] = True
    return believed(lines, np.where(own, 0.0, lines.weights))


def _near(lines: Lines, fit: StringFit, factors: Array) -> list[Numbering]:
    """Combs beside a string that lines fall on, likeliest first."""
    start = Combs(
        spacings=fit.spacing * factors, dispersions=fit.dispersion / factors**4
    )
    ends = fit.n_clamped_ends
    found = weigh_combs(lines, fit_combs(lines, start, ends, gate=GATE), ends)
    low, high = 0.98 * fit.spacing * factors[0], 1.02 * fit.spacing * factors[-1]
    kept = [one for one in found if low < one.spacing < high]
    return sorted(kept, key=lambda one: -one.log_likelihood)


def _firsts(lines: Lines, readings: Sequence[Reading]) -> list[Numbering]:
    """Strings at and beside the readings, likeliest first, no two alike."""
    factors = np.concatenate([FACTORS, np.arange(0.987, 1.0145, 0.002)])
    factors.sort()
    found = [
        one
        for reading in readings[:READINGS]
        for one in _near(lines, reading.fit, factors)
    ]
    kept: list[Numbering] = []
    for one in sorted(found, key=lambda each: -each.log_likelihood):
        if all(abs(np.log(one.spacing / other.spacing)) > ALIKE for other in kept):
            kept.append(one)
        if len(kept) == MOST_FIRSTS:
            break
    return kept


def _compared(
    lines: Lines, first: StringFit, second: StringFit, evidence: float
) -> Second | None:
    """Levels of the second against the first; None with too few partials."""
    _, at_first, at_second = np.intersect1d(
        first.modes, second.modes, return_indices=True
    )
    if at_first.size < LEAST_SHARED:
        return None
    one = lines.levels[first.lines[at_first]]
    other = lines.levels[second.lines[at_second]]
    return Second(
        fit=second,
        evidence=evidence,
        level=float(10.0 * np.median(np.log10(other / one))),
        power=float(10.0 * np.log10(np.sum(other) / np.sum(one))),
    )
