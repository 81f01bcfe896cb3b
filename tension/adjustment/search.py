"""Whole steps of the nuts that bring a set nearest to equal, found in those steps.

Nothing is rounded afterwards: the unknowns are the steps themselves.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.outcome import Shortage, Shortfall
from tension.adjustment.plan_basis import Limits
from tension.assessment.metrics import spread_from_tensions
from tension.catalogue.rules import Metric
from tension.physics.hitch_statics import tension_changes

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_HAIR = 1e-9
"""Difference of spread under which two choices are alike. [1]"""

_GRID = 16
"""Starts a step and per rope where the ropes are not alike in stiffness."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StepProblem:
    """Which steps are allowed and what they do."""

    tensions: FloatArray  # before [N], shape (n_ropes,)
    stiffnesses: FloatArray  # once the car has run [N/m], shape (n_ropes,)
    step: float  # travel of the nut in one step [m]
    # steps allowed, away from the plate (negative) and towards it, shape (n_ropes,)
    lowest: IntArray
    highest: IntArray
    metric: Metric  # what the spread is of
    # whether the steps must sum to zero, so that the car keeps its height
    keeps_sum: bool = False

    def tensions_after(self, steps: IntArray) -> FloatArray:
        """Tensions [N] once the steps are made and the car has run; (..., n_ropes)."""
        changes = tension_changes(steps * self.step, self.stiffnesses)
        return np.asarray(self.tensions + changes)

    def spread_after(self, steps: IntArray) -> FloatArray:
        """Spread [1] by the metric of the problem after the same; (..., n_ropes)."""
        return np.asarray(spread_from_tensions(self.tensions_after(steps), self.metric))


def find_steps(problem: StepProblem) -> IntArray | None:
    """Find the steps after which the spread is smallest, shape (n_ropes,).

    Of equal spreads those that touch the fewest nuts, then turn the least. None if no
    steps are allowed.

    Ropes of one stiffness: with the sum of the steps given, raise the lowest rope step
    by step from the lowest steps allowed. No other steps of that sum have a lower
    highest or a higher lowest rope: a rope raised further than this ends above every
    rope that could still be lowered, and one raised less below every rope that could
    still be raised. So one pass over the sums is exact, whatever the metric. Ropes of
    different stiffness: the same filling for a grid of car heights, each bettered by
    single and paired steps until none helps; held against all steps in the tests.
    """
    if np.any(problem.lowest > problem.highest):
        return None
    if problem.keeps_sum and not problem.lowest.sum() <= 0 <= problem.highest.sum():
        return None
    k = problem.stiffnesses
    if float(np.ptp(k)) <= 1e-9 * float(k.max()):
        return _best(_filled(problem), problem)
    return _best(np.array(_climbed(problem)), problem)


def _best(every: IntArray, problem: StepProblem) -> IntArray:
    """Pick the smallest spread, then the fewest nuts, then the least turning."""
    spreads = problem.spread_after(every)
    return min(every[spreads <= spreads.min() + _HAIR], key=_effort)


def _effort(steps: IntArray) -> tuple[int, int, list[int]]:
    """Nuts touched, then steps made, then the steps themselves for a fixed choice."""
    return int(np.count_nonzero(steps)), int(np.abs(steps).sum()), list(steps)


def _filled(problem: StepProblem) -> IntArray:
    """Steps of every sum worth trying, for ropes of one stiffness."""
    # raising the lowest rope step by step takes the steps of all ropes in the order of
    # the levels from which they are made; so one sort gives every state on the way
    gain = float(problem.stiffnesses[0]) * problem.step
    lowest, highest = _worth_trying(problem, gain)
    n_steps = highest - lowest
    rope = np.repeat(np.arange(len(lowest)), n_steps)
    made = np.arange(n_steps.sum()) - np.repeat(np.cumsum(n_steps) - n_steps, n_steps)
    level = problem.tensions[rope] + gain * (lowest[rope] + made)
    order = np.lexsort((rope, level))
    raised = np.zeros((len(rope) + 1, len(lowest)), dtype=np.int64)
    raised[np.arange(1, len(rope) + 1), rope[order]] = 1
    every = lowest + np.cumsum(raised, axis=0)
    if problem.keeps_sum:
        every = every[every.sum(axis=1) == 0]
    return every if len(every) else lowest[None, :]


def _worth_trying(problem: StepProblem, gain: float) -> tuple[IntArray, IntArray]:
    """Bounds no wider than from the lowest to the highest rope and one step more."""
    away = (problem.tensions - problem.tensions.min()) / gain
    towards = (problem.tensions.max() - problem.tensions) / gain
    n = len(problem.tensions)
    margin = n + 1 + (int(max(away.max(), towards.max())) if problem.keeps_sum else 0)
    lowest = np.maximum(problem.lowest, -(np.ceil(away).astype(np.int64) + margin))
    highest = np.minimum(problem.highest, np.ceil(towards).astype(np.int64) + margin)
    lowest = np.minimum(lowest, problem.highest)
    return lowest, np.maximum(highest, problem.lowest)


def _climbed(problem: StepProblem) -> list[IntArray]:
    """Good steps for ropes of different stiffness, by filling and then bettering."""
    k, mean = problem.stiffnesses, float(problem.tensions.mean())
    wanted = (mean - problem.tensions) / (k * problem.step)
    heights = _heights(problem, wanted)[:, None, None]
    offsets = np.linspace(-0.5, 0.5, 9)[None, :, None] * k.mean() / k
    raw = np.round(wanted + heights + offsets).reshape(-1, len(k))
    steps = np.clip(raw, problem.lowest, problem.highest).astype(np.int64)
    starts = np.unique(steps, axis=0)
    if problem.keeps_sum:
        starts = np.unique([_with_sum_zero(each, problem) for each in starts], axis=0)
    ranked = np.argsort(problem.spread_after(starts), kind="stable")
    return [_better(each, problem) for each in starts[ranked[:_GRID]]]


def _heights(problem: StepProblem, wanted: FloatArray) -> FloatArray:
    """Heights of the car, in steps, that can be the best."""
    if problem.keeps_sum:
        return np.linspace(-1.0, 1.0, 2 * _GRID + 1)
    low = float(np.min(problem.lowest - wanted))
    high = float(np.max(problem.highest - wanted))
    inner = (
        max(low, -float(wanted.max()) - 2.0),
        min(high, -float(wanted.min()) + 2.0),
    )
    n = max(2, round((inner[1] - inner[0]) * _GRID) + 1)
    return np.linspace(inner[0], inner[1], min(n, 40 * _GRID))


def _with_sum_zero(steps: IntArray, problem: StepProblem) -> IntArray:
    """Take surplus steps off the highest ropes, add missing ones to the lowest."""
    steps = steps.copy()
    while steps.sum() != 0:
        after = problem.tensions_after(steps)
        if steps.sum() > 0:
            free = steps > problem.lowest
            steps[int(np.argmax(np.where(free, after, -np.inf)))] -= 1
        else:
            free = steps < problem.highest
            steps[int(np.argmin(np.where(free, after, np.inf)))] += 1
    return steps


def _better(steps: IntArray, problem: StepProblem) -> IntArray:
    """Make single or paired steps as long as the spread falls."""
    moves = _moves(len(steps), keeps_sum=problem.keeps_sum)
    current, spread = steps, float(problem.spread_after(steps))
    while True:
        tried = current + moves
        allowed = np.all((tried >= problem.lowest) & (tried <= problem.highest), axis=1)
        tried = tried[allowed]
        if not len(tried):
            return current
        spreads = problem.spread_after(tried)
        best = int(np.argmin(spreads))
        if spreads[best] >= spread - _HAIR:
            return current
        current, spread = tried[best], float(spreads[best])


def _moves(n: int, *, keeps_sum: bool) -> IntArray:
    """Steps of one nut, and of two against each other."""
    eye = np.eye(n, dtype=np.int64)
    pairs = np.array([eye[i] - eye[j] for i in range(n) for j in range(n) if i != j])
    return pairs if keeps_sum else np.vstack([eye, -eye, pairs])


def best_of_each_number(
    problem: StepProblem, upper_bound: Callable[[IntArray], float]
) -> Iterator[tuple[float, IntArray]]:
    """Find the best steps with no nut turned, with one, with two, and so on.

    Yields the smallest upper bound of the spread [1] with at most so many nuts, and its
    steps. Nuts left alone all move together, so of the ropes in order of tension those
    left alone may be taken side by side: one between two of them that is turned could
    be left alone as well. For m nuts there are m + 1 such choices.
    """
    order = np.argsort(problem.tensions, kind="stable")
    n = len(order)
    for n_nuts in range(n + 1):
        found: list[tuple[float, tuple[int, int, list[int]], IntArray]] = []
        for start in range(n_nuts + 1):
            steps = find_steps(_holding(problem, order[start : start + n - n_nuts]))
            if steps is not None:
                found.append((upper_bound(steps), _effort(steps), steps))
        if found:
            best = min(found, key=lambda each: each[:2])
            yield best[0], best[2]


def _holding(problem: StepProblem, untouched: NDArray[np.intp]) -> StepProblem:
    """Make the same problem with some nuts left alone."""
    lowest, highest = problem.lowest.copy(), problem.highest.copy()
    lowest[untouched] = 0
    highest[untouched] = 0
    return replace(problem, lowest=lowest, highest=highest, keeps_sum=False)


def find_shortfalls(
    *,
    problem: StepProblem,
    steps: IntArray,
    free_steps: IntArray | None,
    limits: Limits,
    limit: float,
) -> tuple[Shortfall, ...]:
    """Find what keeps a set from being made equal; nothing if it can be.

    The best steps allowed, shape (n_ropes,), the best if thread had no end, and the
    limit of the rule [1].
    """
    after = problem.tensions_after(steps)
    solid = [
        Shortfall(
            kind=Shortage.SPRING_WAY,
            rope=place + 1,
            needed=float(tension),
            available=limits.solid_load,
        )
        for place, tension in enumerate(after)
        if tension > limits.solid_load
    ]
    if solid:
        return tuple(solid)
    spread = float(problem.spread_after(steps))
    if spread > limit:
        free = None if free_steps is None else float(problem.spread_after(free_steps))
        if free is None or free > limit or free_steps is None:
            return (
                Shortfall(
                    kind=Shortage.FINE_STEPS, rope=None, needed=limit, available=spread
                ),
            )
        return _of_thread(problem, free_steps, limits)
    return ()


def _of_thread(
    problem: StepProblem, free_steps: IntArray, limits: Limits
) -> tuple[Shortfall, ...]:
    """Thread that the best steps would need and the rods do not have."""
    found = []
    for place, steps in enumerate(free_steps):
        travel = float(steps * problem.step)
        towards, away = limits.take_up_left[place], limits.ease_left[place]
        if travel > towards:
            found.append((Shortage.THREAD_TOWARDS_PLATE, place, travel, float(towards)))
        if -travel > away:
            found.append((Shortage.THREAD_AWAY, place, -travel, float(away)))
    return tuple(
        Shortfall(kind=kind, rope=place + 1, needed=needed, available=available)
        for kind, place, needed, available in found
    )
