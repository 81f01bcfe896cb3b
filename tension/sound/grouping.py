"""Grouping: which plucks of a long recording are of which rope."""

from dataclasses import dataclass

import numpy as np

from tension.sound.recording import Array

SURE = 0.98
"""Probability from which a pluck is given to a rope. [1]"""
GAP_WIDTH = 0.22
"""Of the logarithm of gaps, within a rope and between ropes. [1]"""
ODD_GAP = 0.06
"""Share of gaps that follow no rule: a pluck not heard, a chat. [1]"""
GAP_RANGE = 4.0
"""Of the logarithm of odd gaps. [1]"""
LONGER = 1.2
"""Gaps between ropes are this much longer than within, at least. [1]"""
COUNT_COST = 4.0
"""ln odds against each pluck more or less than announced. [1]"""
SKIP_COST = 5.0
"""ln odds against a ring that is no pluck of the set. [1]"""
MISSING_COST = 10.0
"""ln odds against a rope not plucked at all. [1]"""
MOST_SKIPS = 4
"""Rings left out in a row. [1]"""
MOST_EACH = 8
"""Plucks of one rope in a row. [1]"""
ALIKE = 0.68
"""Likeness above which two rings are rather of one rope. [1]"""
ALIKE_SLOPE = 12.0
"""ln odds per likeness. [1]"""
ALIKE_BOUNDS = (-5.0, 1.5)
"""Equal ropes sound alike; one rope hardly ever does not. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Grouping:
    """Ropes of the rings of one recording.

    Attributes
    ----------
    entries : tuple of int
        For each ring the place in the order announced, counted from 0; -1 for none.
    probabilities : ndarray, shape (n_rings,)
        That the ring is of the rope at that place, whichever round. [1]
    plucks_each : int
        Announced, or found.
    """

    entries: tuple[int, ...]
    probabilities: Array
    plucks_each: int


def group_plucks(
    starts: Array,
    alike: Array,
    ropes: tuple[int, ...],
    plucks_each: int | None = None,
) -> Grouping:
    """Give the rings of a long recording to the ropes announced, in order.

    `starts` (n_rings,) [s]: onsets, increasing; `alike` (n_rings, n_rings) [1]:
    likeness of their spectra; `plucks_each`: how many plucks each got; found if not
    given.

    Notes
    -----
    A chain over the rings: each is the next pluck of the same rope, the first of the
    next rope, or of none. Gaps between ropes are longer than within; plucks of one rope
    sound alike. Sums over all ways (forward and backward) give the probabilities; the
    two typical gaps are found by repeating.
    """
    counts = [plucks_each] if plucks_each else list(range(1, 6))
    best: tuple[float, Array, int] | None = None
    for count in counts:
        for gaps in _first_gaps(starts, len(ropes), count):
            log_total, shares = _settle(starts, alike, ropes, count, gaps)
            # known too well to be changed by a rounding error
            if best is None or log_total > best[0] + 1e-9:
                best = (log_total, shares, count)
    if best is None or not np.isfinite(best[0]):
        return Grouping(
            entries=(-1,) * starts.size,
            probabilities=np.zeros(starts.size),
            plucks_each=plucks_each or 0,
        )
    return _conclude(best[1], ropes, best[2])


def _conclude(shares: Array, ropes: tuple[int, ...], count: int) -> Grouping:
    """Choose the likeliest entry of each ring; its rope counts in every round."""
    entries, probabilities = [], []
    numbers = np.array(ropes)
    for row in shares:
        none = 1.0 - row.sum()
        place = int(np.argmax(row))
        if none > row[place]:
            entries.append(-1)
            probabilities.append(none)
        else:
            entries.append(place)
            probabilities.append(row[numbers == numbers[place]].sum())
    return Grouping(
        entries=tuple(entries),
        probabilities=np.array(probabilities),
        plucks_each=count,
    )


def _first_gaps(starts: Array, n_ropes: int, count: int) -> list[tuple[float, float]]:
    """Typical gaps to begin with: shorter and longer ones by their expected share."""
    gaps = np.sort(np.diff(starts))
    if not gaps.size:
        return [(2.0, 4.0)]
    n_longer = min(max(n_ropes - 1, 1), gaps.size)
    longer = float(np.median(gaps[-n_longer:]))
    if count == 1:
        return [(longer / 3.0, longer)]
    shorter = float(np.median(gaps[: max(1, gaps.size - n_longer)]))
    return [(shorter, max(longer, LONGER * shorter))]


def _settle(
    starts: Array,
    alike: Array,
    ropes: tuple[int, ...],
    count: int,
    gaps: tuple[float, float],
) -> tuple[float, Array]:
    """Find the typical gaps and the shares of the entries that follow."""
    within, between = gaps
    log_total, shares = -np.inf, np.zeros((starts.size, len(ropes)))
    for _ in range(3):
        chain = _Chain(starts, alike, ropes, count, (within, between))
        log_total, shares, used = chain.solve()
        if not np.isfinite(log_total):
            break
        new = []
        for old, weights in zip((within, between), used, strict=True):
            gap, weight = weights
            total = float(weight.sum())
            mean = float(np.sum(weight * np.log(gap)) / total) if total > 0.5 else 0.0
            new.append(float(np.exp(mean)) if total > 0.5 else old)
        within, between = new[0], max(new[1], LONGER * new[0])
    return log_total, shares


class _Chain:
    """Sums over all ways to give rings to entries."""

    def __init__(
        self,
        starts: Array,
        alike: Array,
        ropes: tuple[int, ...],
        count: int,
        gaps: tuple[float, float],
    ) -> None:
        self.n = starts.size
        self.n_entries = len(ropes)
        self.most = min(MOST_EACH, count + 3)
        self.finish = -COUNT_COST * np.abs(np.arange(1, self.most + 1) - count)
        low, high = ALIKE_BOUNDS
        numbers = np.array(ropes)
        self.turns = numbers[1:] == numbers[:-1]
        self.steps = []
        for i in range(self.n):
            for j in range(i + 1, min(self.n, i + 2 + MOST_SKIPS)):
                gap = float(starts[j] - starts[i])
                same = float(np.clip(ALIKE_SLOPE * (alike[i, j] - ALIKE), low, high))
                skips = -SKIP_COST * (j - i - 1)
                stay = _log_gap(gap, gaps[0]) + same + skips
                move = _log_gap(gap, gaps[1]) + skips
                moves = np.where(self.turns, move + same, move)
                self.steps.append((i, j, gap, stay, moves, move))

    def solve(
        self,
    ) -> tuple[float, Array, tuple[tuple[Array, Array], tuple[Array, Array]]]:
        """Log of the sum, share of each entry, gaps with their weights."""
        forward = np.full((self.n, self.n_entries, self.most), -np.inf)
        for i in range(min(self.n, MOST_SKIPS + 1)):
            forward[i, 0, 0] = -SKIP_COST * i
            if self.n_entries > 1:
                forward[i, 1, 0] = -SKIP_COST * i - MISSING_COST
        for i, j, _, stay, moves, move in self.steps:
            here = forward[i]
            there = forward[j]
            there[:, 1:] = np.logaddexp(there[:, 1:], here[:, :-1] + stay)
            ended = _log_sum(here + self.finish)
            there[1:, 0] = np.logaddexp(there[1:, 0], ended[:-1] + moves)
            there[2:, 0] = np.logaddexp(there[2:, 0], ended[:-2] + move - MISSING_COST)
        backward = np.full_like(forward, -np.inf)
        for i in range(max(0, self.n - MOST_SKIPS - 1), self.n):
            rest = -SKIP_COST * (self.n - 1 - i)
            backward[i, -1] = self.finish + rest
            if self.n_entries > 1:
                backward[i, -2] = self.finish + rest - MISSING_COST
        within, between = [], []
        for i, j, gap, stay, moves, move in reversed(self.steps):
            here, there = backward[i], backward[j]
            here[:, :-1] = np.logaddexp(here[:, :-1], there[:, 1:] + stay)
            after = np.full(self.n_entries, -np.inf)
            after[:-1] = there[1:, 0] + moves
            after[:-2] = np.logaddexp(after[:-2], there[2:, 0] + move - MISSING_COST)
            here[:] = np.logaddexp(here, self.finish + after[:, None])
            within.append((gap, forward[i][:, :-1] + stay + there[:, 1:]))
            ended = _log_sum(forward[i] + self.finish)
            between.append((gap, ended + after))
        both = forward + backward
        log_total = self._total(forward)
        shares = np.zeros((self.n, self.n_entries))
        if np.isfinite(log_total):
            shares = np.exp(both - log_total).sum(axis=2)
        return (
            log_total,
            shares,
            (
                _weights(within, log_total),
                _weights(between, log_total),
            ),
        )

    def _total(self, forward: Array) -> float:
        """Log of the sum over all ways."""
        ends = []
        for i in range(max(0, self.n - MOST_SKIPS - 1), self.n):
            rest = -SKIP_COST * (self.n - 1 - i)
            ended = _log_sum(forward[i] + self.finish) + rest
            ends.append(ended[-1])
            if self.n_entries > 1:
                ends.append(ended[-2] - MISSING_COST)
        return float(np.logaddexp.reduce(np.array(ends))) if ends else -np.inf


def _weights(steps: list[tuple[float, Array]], log_total: float) -> tuple[Array, Array]:
    """Gaps and their probabilities."""
    if not np.isfinite(log_total):
        return np.ones(1), np.zeros(1)
    gaps = np.array([gap for gap, _ in steps] or [1.0])
    weights = np.array([np.exp(log - log_total).sum() for _, log in steps] or [0.0])
    return gaps, weights


def _log_sum(values: Array) -> Array:
    """Log of the sum of exponentials along the last axis."""
    result: Array = np.logaddexp.reduce(values, axis=-1)
    return result


def _log_gap(gap: float, typical: float) -> float:
    """Log-density of a gap, per unit of its logarithm."""
    offset = np.log(gap / typical) / GAP_WIDTH
    usual = np.log1p(-ODD_GAP) - 0.5 * offset**2 - np.log(GAP_WIDTH * 2.5066)
    return float(np.logaddexp(usual, np.log(ODD_GAP / GAP_RANGE)))
