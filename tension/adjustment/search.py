"""Which steps of the nuts: the nearest to equal, found in whole steps, by strategy.

Nothing is rounded afterwards: the unknowns are the steps themselves. No nut is turned
for less than it is known.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.fit import uncertainties_of
from tension.adjustment.outcome import Shortage, Shortfall, Strategy
from tension.adjustment.plan_basis import IntArray, Limits, PlanBasis
from tension.assessment.metrics import spread_from_tensions
from tension.catalogue.rules import Metric
from tension.physics.domain import FloatArray
from tension.physics.hitch_statics import tension_changes

_HAIR = 1e-9  # difference of spread under which two choices are alike [1]
_GRID = 16  # starts a step and per rope where the ropes are not alike in stiffness
# where the goal is out of reach: fewest nuts this near to the best [1]
_NEAR_BEST = 0.005
_KNOWN = 2.0  # a nut is turned from so many standard uncertainties on
_FAR = 10_000  # steps where nothing limits a nut


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

    def holding(self, untouched: NDArray[np.intp] | NDArray[np.bool_]) -> "StepProblem":
        """Make the same problem with some nuts left alone, by place, shape (n,)."""
        lowest, highest = self.lowest.copy(), self.highest.copy()
        lowest[untouched], highest[untouched] = 0, 0
        return replace(self, lowest=lowest, highest=highest)


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
    is_alike = float(np.ptp(k)) <= 1e-9 * float(k.max())
    every = _filled(problem) if is_alike else np.array(_climbed(problem))
    spreads = problem.spread_after(every)
    best: IntArray = min(every[spreads <= spreads.min() + _HAIR], key=_effort)
    return best


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
    low = max(float((problem.lowest - wanted).min()), -float(wanted.max()) - 2.0)
    high = min(float((problem.highest - wanted).max()), -float(wanted.min()) + 2.0)
    n = max(2, round((high - low) * _GRID) + 1)
    return np.linspace(low, high, min(n, 40 * _GRID))


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
    one = np.eye(len(steps), dtype=np.int64)
    moves = np.array([a - b for a, b in permutations(one, 2)])  # two against each other
    if not problem.keeps_sum:
        moves = np.vstack([one, -one, moves])
    current, spread = steps, float(problem.spread_after(steps))
    while True:
        tried = current + moves
        within = (tried >= problem.lowest) & (tried <= problem.highest)
        tried = tried[within.all(axis=1)]
        if not len(tried):
            return current
        spreads = problem.spread_after(tried)
        best = int(np.argmin(spreads))
        if spreads[best] >= spread - _HAIR:
            return current
        current, spread = tried[best], float(spreads[best])


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
        held = (order[start : start + n - n_nuts] for start in range(n_nuts + 1))
        every = [find_steps(problem.holding(places)) for places in held]
        found = [(upper_bound(steps), steps) for steps in every if steps is not None]
        if found:
            yield min(found, key=lambda each: (each[0], _effort(each[1])))


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """Steps chosen, beside what more or fewer nuts would bring."""

    steps: IntArray  # steps of each nut, shape (n_ropes,)
    upper: float  # upper bound of the spread after them [1]
    # the same with one nut fewer; None where none was tried [1]
    upper_with_fewer: float | None
    # the same with every nut that is off by more than is known of it [1]
    upper_with_all: float
    n_with_all: int  # how many nuts those are


def choose_steps(basis: PlanBasis, *, is_limited: bool = True) -> Choice:
    """Choose the steps by the strategy; none where nothing is allowed."""
    problem = problem_of(basis, is_limited=is_limited)
    simulation = replace(basis.simulation, tensions=basis.aimed)

    def upper(steps: IntArray) -> float:
        travels = np.asarray(steps * basis.step, dtype=np.float64)
        return simulation.upper_bound(travels, basis.assessment.rule)

    best = find_steps(problem)
    if best is None:
        best = np.zeros(len(basis.tensions), dtype=np.int64)
    with_all = upper(best)
    whole = Choice(
        steps=best,
        upper=with_all,
        upper_with_fewer=None,
        upper_with_all=with_all,
        n_with_all=int(np.count_nonzero(best)),
    )
    if basis.request.strategy is not Strategy.FEWEST_NUTS:
        return whole
    fewest = _fewest(basis, whole, problem, upper)
    most = basis.most_steps

    def opened(choice: Choice) -> FloatArray:
        """How often each nut is opened; a stage takes it so far and no further."""
        return np.asarray(np.ceil(np.abs(choice.steps) / most))

    stages = int(opened(fewest).max())
    candidates = [fewest]
    for cap in sorted({1, stages // 2, stages - 1} - {0, stages}):
        within = replace(
            problem,
            lowest=np.maximum(problem.lowest, -cap * most),
            highest=np.minimum(problem.highest, cap * most),
        )
        tried = _fewest(basis, whole, within, upper)
        if tried.upper <= max(basis.goal, fewest.upper):
            candidates.append(tried)
    # nuts opened and runs of the car
    return min(candidates, key=lambda each: opened(each).sum() + opened(each).max())


def _fewest(
    basis: PlanBasis,
    whole: Choice,
    problem: StepProblem,
    upper: Callable[[IntArray], float],
) -> Choice:
    """The fewest nuts that reach the goal, or come near to what all of them reach."""
    fewer: float | None = None
    lowest = whole
    for found, steps in best_of_each_number(problem, upper):
        tried = replace(whole, steps=steps, upper=found, upper_with_fewer=fewer)
        if found <= max(basis.goal, whole.upper_with_all + _NEAR_BEST):
            return tried
        if found < lowest.upper:
            lowest = tried
        fewer = found
    return lowest


def problem_of(basis: PlanBasis, *, is_limited: bool = True) -> StepProblem:
    """Put the question that the strategy asks, as far as the threads go or beyond."""
    strategy, limits = basis.request.strategy, basis.limits
    far = np.full(len(basis.tensions), _FAR, dtype=np.int64)
    lowest = limits.lowest_steps if is_limited else -far
    highest = limits.highest_steps if is_limited else far
    every = StepProblem(
        tensions=basis.aimed,
        stiffnesses=basis.stiffness.after_running,
        step=basis.step,
        lowest=0 * far if strategy is Strategy.TAKE_UP_ONLY else lowest,
        highest=0 * far if strategy is Strategy.EASE_ONLY else highest,
        metric=basis.assessment.rule.metric,
        keeps_sum=strategy is Strategy.KEEP_HEIGHT,
    )
    return every.holding(~is_known_off(basis))


def is_known_off(basis: PlanBasis) -> NDArray[np.bool_]:
    """Find the ropes that are off by more than is known of them, shape (n_ropes,).

    From the mean; where all are taken up from the highest rope, where all are eased
    from the lowest.
    """
    tensions, strategy = basis.tensions, basis.request.strategy
    n = len(tensions)
    towards = np.full(n, 1.0 / n)
    if strategy in {Strategy.TAKE_UP_ONLY, Strategy.EASE_ONLY}:
        is_up = strategy is Strategy.TAKE_UP_ONLY
        towards = np.eye(n)[tensions.argmax() if is_up else tensions.argmin()]
    apart = np.eye(n) - towards
    off = np.abs(apart @ tensions) / tensions.mean()
    known = uncertainties_of(apart, basis.simulation.covariance)
    return np.asarray(off > _KNOWN * known)


def find_shortfalls(
    problem: StepProblem,
    steps: IntArray,
    free_steps: IntArray,
    limits: Limits,
    limit: float,
) -> tuple[Shortfall, ...]:
    """Find what keeps a set from being made equal; nothing if it can be.

    The best steps allowed, shape (n_ropes,), the best if thread had no end, and the
    limit of the rule [1].
    """
    solid = tuple(
        Shortfall(
            kind=Shortage.SPRING_WAY,
            rope=place + 1,
            needed=float(tension),
            available=limits.solid_load,
        )
        for place, tension in enumerate(problem.tensions_after(steps))
        if tension > limits.solid_load
    )
    spread = float(problem.spread_after(steps))
    if solid or spread <= limit:
        return solid
    if problem.spread_after(free_steps) > limit:
        coarse = Shortage.FINE_STEPS
        return (Shortfall(kind=coarse, rope=None, needed=limit, available=spread),)
    # thread that the best steps would need and the rods do not have
    return tuple(
        Shortfall(
            kind=kind, rope=place + 1, needed=float(needed), available=float(available)
        )
        for place, travel in enumerate(free_steps * problem.step)
        for kind, needed, available in (
            (Shortage.THREAD_TOWARDS_PLATE, travel, limits.take_up_left[place]),
            (Shortage.THREAD_AWAY, -travel, limits.ease_left[place]),
        )
        if needed > available
    )
