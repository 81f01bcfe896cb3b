"""Grouping: which rings of a recording are of which rope, or of none."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tension.sound.events import Event
from tension.sound.hearing import Array, Take

SURE = 0.98  # probability from which a pluck is given to a rope [1]
GAP_WIDTH = 0.22  # of the logarithm of gaps, within a rope and between ropes [1]
ODD_GAP = 0.06  # share of gaps that follow no rule: a pluck not heard, a chat [1]
GAP_RANGE = 4.0  # of the logarithm of odd gaps [1]
LONGER = 1.2  # gaps between ropes are this much longer than within, at least [1]
COUNT_COST = 4.0  # ln odds against each pluck more or less than announced [1]
SKIP_COST = 5.0  # ln odds against a ring that is no pluck of the set [1]
MISSING_COST = 10.0  # ln odds against a rope not plucked at all [1]
MOST_SKIPS = 4  # rings left out in a row [1]
MOST_EACH = 8  # plucks of one rope in a row [1]
ALIKE = 0.68  # likeness above which two rings are rather of one rope [1]
ALIKE_SLOPE = 12.0  # ln odds per likeness [1]
ALIKE_BOUNDS = (-5.0, 1.5)  # equal ropes sound alike; one rope hardly ever does not [1]
UNLIKE = 0.4  # likeness under which a ring is of something else than all the others [1]
SOUNDS_UNLIKE = "does not sound like the other plucks"


def group_rings(take: Take, rings: Sequence[Event]) -> int:
    """Give the rings to the ropes of a take, or tell them why they are of none.

    Gives how many plucks each rope got, announced or found; 0 if nobody knows.
    """
    spectra = np.array([one.log_spectrum for one in rings])
    # correlation: near 1 for plucks of one rope, near 0 for ropes a few percent apart
    alike = spectra @ spectra.T if rings else np.zeros((0, 0))
    if len(set(take.ropes)) > 1:
        starts = np.array([one.start for one in rings])
        found = group_plucks(starts, alike, take.ropes, take.plucks_each)
        entries, probabilities, plucks_each = found
        for one, entry, probability in zip(rings, entries, probabilities, strict=True):
            one.entry, one.is_sure = int(entry), bool(probability >= SURE)
            if entry < 0:
                one.reason = "fits no rope in the order announced"
        return plucks_each
    # a ring that sounds like none of three or more others that sound alike
    nearest = np.max(alike - 2.0 * np.eye(len(alike)), axis=1, initial=-1.0)
    are_alike = len(alike) > 2 and float(np.median(nearest)) >= UNLIKE + 0.2
    for one, likeness in zip(rings, nearest, strict=True):
        one.entry = 0
        one.reason = SOUNDS_UNLIKE if are_alike and likeness < UNLIKE else ""
    return take.plucks_each or 0


def group_plucks(
    starts: Array, alike: Array, ropes: tuple[int, ...], plucks_each: int | None = None
) -> tuple[NDArray[np.intp], Array, int]:
    """Give the rings of a long recording to the ropes announced, in order.

    `starts` (n_rings,) [s]: onsets, increasing; `alike` (n_rings, n_rings) [1]:
    likeness of their spectra; `plucks_each`: how many plucks each got; found if not
    given. Gives for each ring the place in the order announced, counted from 0, -1 for
    none; the probability [1] that it is of the rope at that place, whichever round;
    and how many plucks each got.

    Notes
    -----
    A chain over the rings: each is the next pluck of the same rope, the first of the
    next rope, or of none. Gaps between ropes are longer than within; plucks of one rope
    sound alike. Sums over all ways (forward and backward) give the probabilities; the
    two typical gaps are found by repeating.
    """
    best = -np.inf, np.empty(0), 0
    for count in [plucks_each] if plucks_each else range(1, 6):
        log_total, shares = _settle(starts, alike, ropes, count)
        # known too well to be changed by a rounding error
        if log_total > best[0] + 1e-9:
            best = log_total, shares, count
    if not np.isfinite(best[0]):
        nothing = np.zeros(starts.size)
        return nothing.astype(np.intp) - 1, nothing, plucks_each or 0
    _, shares, count = best
    likeliest = np.argmax(shares, axis=1)
    highest = shares.max(axis=1)
    none = 1.0 - shares.sum(axis=1)
    # the rope of the likeliest entry counts in every round
    numbers = np.array(ropes)
    same = numbers[None, :] == numbers[likeliest][:, None]
    return (
        np.where(none > highest, -1, likeliest),
        np.where(none > highest, none, np.sum(shares * same, axis=1)),
        count,
    )


def _first_gaps(starts: Array, n_ropes: int, count: int) -> tuple[float, float]:
    """Typical gaps to begin with: shorter and longer ones by their expected share."""
    gaps = np.sort(np.diff(starts))
    if not gaps.size:
        return 2.0, 4.0
    n_longer = min(max(n_ropes - 1, 1), gaps.size)
    longer = float(np.median(gaps[-n_longer:]))
    if count == 1:
        return longer / 3.0, longer
    shorter = float(np.median(gaps[: max(1, gaps.size - n_longer)]))
    return shorter, max(longer, LONGER * shorter)


def _settle(
    starts: Array, alike: Array, ropes: tuple[int, ...], count: int
) -> tuple[float, Array]:
    """Find the typical gaps; ln of the sum, and the share of each entry in each ring.

    The shares are of shape (n_rings, n_entries).
    """
    gaps = _first_gaps(starts, len(ropes), count)
    most = min(MOST_EACH, count + 3)
    finish = np.zeros((len(ropes) + 2, most))
    finish[1:-1] = -COUNT_COST * np.abs(np.arange(1, most + 1) - count)
    log_total, shares = -np.inf, np.zeros((starts.size, len(ropes)))
    for _ in range(3):
        steps = _steps_of(starts, alike, ropes, gaps)
        log_total, both, weights = _sum_over(steps, finish, starts.size + 2)
        if not np.isfinite(log_total):
            break
        shares = np.exp(both[1:-1, 1:-1] - log_total).sum(axis=2)
        gap = np.array([one.gap for one in steps])
        real = np.isfinite(gap)
        within, between = (
            # weighted mean of the logarithms; that before if there are none
            float(np.exp(np.sum(of * np.log(gap[real])) / of.sum()))
            if of.sum() > 0.5
            else old
            for of, old in zip(weights[real].T, gaps, strict=True)
        )
        gaps = within, max(between, LONGER * within)
    return log_total, shares


class _Step(NamedTuple):
    """From one ring to the next that counts; what is before and after are rings too."""

    first: int
    next: int
    gap: float
    stay: float  # ln density of another pluck of the same entry [1]
    moves: Array | float  # of the first pluck of the next entry [1]
    jump: float  # of the first pluck of the one after that [1]


def _steps_of(
    starts: Array, alike: Array, ropes: tuple[int, ...], gaps: tuple[float, float]
) -> list[_Step]:
    """All steps, from before the first ring until after the last."""
    n_rings = starts.size
    again = np.pad(np.equal(ropes[1:], ropes[:-1]), 1)
    steps = []
    for i in range(-1, n_rings):
        for j in range(i + 1, min(n_rings, i + 1 + MOST_SKIPS) + 1):
            skips = -SKIP_COST * (j - i - 1)
            if i >= 0 and j < n_rings:
                gap = float(starts[j] - starts[i])
                same = ALIKE_SLOPE * (float(alike[i, j]) - ALIKE)
                same = min(max(same, ALIKE_BOUNDS[0]), ALIKE_BOUNDS[1])
                stay = _log_gap(gap, gaps[0]) + same + skips
                move = _log_gap(gap, gaps[1]) + skips
                moves = np.where(again, move + same, move)
                steps.append(_Step(i + 1, j + 1, gap, stay, moves, move - MISSING_COST))
            elif i >= 0 or j < n_rings:
                edge = i + 1, j + 1, np.nan, -np.inf
                steps.append(_Step(*edge, skips, skips - MISSING_COST))
    return steps


def _sum_over(
    steps: Sequence[_Step], finish: Array, n_rings: int
) -> tuple[float, Array, Array]:
    """Sum over all ways from before the first entry until after the last.

    `finish` (n_entries, n_most): ln odds of ending with each count. Gives ln of the
    sum; that of all ways through each ring as each pluck of each entry; and how often
    each step stays and moves, (n_steps, 2).
    """
    forward = np.full((n_rings, *finish.shape), -np.inf)
    backward = forward.copy()
    forward[0, 0, 0] = backward[-1, -1, 0] = 0.0
    for one in steps:
        here, there = forward[one.first], forward[one.next]
        there[:, 1:] = np.logaddexp(there[:, 1:], here[:, :-1] + one.stay)
        ended = np.logaddexp.reduce(here + finish, axis=1)
        there[1:, 0] = np.logaddexp(there[1:, 0], ended[:-1] + one.moves)
        there[2:, 0] = np.logaddexp(there[2:, 0], ended[:-2] + one.jump)
    total = float(forward[-1, -1, 0])
    weights = np.zeros((len(steps), 2))
    if not np.isfinite(total):
        return total, forward, weights
    for k, one in reversed(list(enumerate(steps))):
        here, there = backward[one.first], backward[one.next]
        stay = there[:, 1:] + one.stay
        after = np.append(there[1:, 0] + one.moves, -np.inf)
        after[:-2] = np.logaddexp(after[:-2], there[2:, 0] + one.jump)
        here[:, :-1] = np.logaddexp(here[:, :-1], stay)
        here[:] = np.logaddexp(here, finish + after[:, None])
        before = forward[one.first]
        ended = np.logaddexp.reduce(before + finish, axis=1)
        weights[k, 0] = np.exp(before[:, :-1] + stay - total).sum()
        weights[k, 1] = np.exp(ended + after - total).sum()
    return total, forward + backward, weights


def _log_gap(gap: float, typical: float) -> float:
    """Log-density of a gap, per unit of its logarithm."""
    offset = np.log(gap / typical) / GAP_WIDTH
    usual = np.log1p(-ODD_GAP) - 0.5 * offset**2 - np.log(GAP_WIDTH * 2.5066)
    return float(np.logaddexp(usual, np.log(ODD_GAP / GAP_RANGE)))
