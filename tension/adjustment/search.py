"""Which steps of the nuts: the nearest to equal, found in whole steps, by strategy.

Nothing is rounded afterwards: the unknowns are the steps themselves. No nut is turned
for less than it is known.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.outcome import Shortage, Shortfall, Strategy
from tension.adjustment.plan_basis import HAIR, IntArray, Limits, PlanBasis
from tension.assessment.interval import spread_from_tensions
from tension.catalogue.rules import Metric
from tension.physics import FloatArray

_STARTS = 16  # roundings that are bettered where ropes differ in stiffness [1]
# where the goal is out of reach: fewest nuts this near to the best [1]
_NEAR_BEST = 0.005
_FAR = np.iinfo(np.int32).max  # steps where nothing limits a nut


@dataclass(frozen=True, kw_only=True, slots=True)
class StepProblem:
    """Which steps are allowed and what they do."""

    tensions: FloatArray  # before [N], shape (n_ropes,)
    stiffnesses: FloatArray  # once the car has run [N/m], shape (n_ropes,)
    step: float  # travel of the nut in one step [m]
    # of one step of every nut on every rope [N], shape (n_ropes, n_ropes)
    effects: FloatArray
    # steps allowed, away from the plate (negative) and towards it, shape (n_ropes,)
    lowest: IntArray
    highest: IntArray
    metric: Metric  # what the spread is of
    # whether the steps must sum to zero, so that the car keeps its height
    keeps_sum: bool = False

    def tensions_after(self, steps: IntArray) -> FloatArray:
        """Tensions [N] once the steps are made and the car has run; (..., n_ropes)."""
        return np.asarray(self.tensions + steps @ self.effects)

    def spread_after(self, steps: IntArray) -> FloatArray:
        """Spread [1] by the metric of the problem after the same; (..., n_ropes)."""
        after = self.tensions_after(steps)
        return np.asarray(spread_from_tensions(after, self.metric))

    def allows(self, steps: IntArray) -> NDArray[np.bool_]:
        """Tell which steps are within what is allowed of their nuts; (..., n_ropes)."""
        return np.asarray((steps >= self.lowest) & (steps <= self.highest))

    def holding(self, untouched: NDArray[np.intp] | NDArray[np.bool_]) -> "StepProblem":
        """Make the same problem with some nuts left alone, by place, shape (n,)."""
        lowest, highest = self.lowest.copy(), self.highest.copy()
        lowest[untouched], highest[untouched] = 0, 0
        return replace(self, lowest=lowest, highest=highest)


def find_steps(problem: StepProblem) -> IntArray:
    """Find the steps after which the spread is smallest, shape (n_ropes,).

    Of equal spreads those that touch the fewest nuts, then turn the least.

    Ropes of one stiffness: with the sum of the steps given, raise the lowest rope step
    by step from the lowest steps allowed. No other steps of that sum have a lower
    highest or a higher lowest rope: a rope raised further than this ends above every
    rope that could still be lowered, and one raised less below every rope that could
    still be raised. So one pass over the sums is exact, whatever the metric. Ropes of
    different stiffness: each rope's nearest step at every height of the car, the best
    of these bettered by single and paired steps until none helps; held against all
    steps in the tests.
    """
    k = problem.stiffnesses
    is_alike = np.allclose(k, k.max(), rtol=HAIR, atol=0.0)
    every = _filled(problem) if is_alike else _climbed(problem)
    spreads = problem.spread_after(every)
    best: IntArray = min(every[spreads <= spreads.min() + HAIR], key=_effort)
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
    raised = np.eye(len(lowest), dtype=np.int64)[rope[order]]
    every = np.cumsum(np.vstack([lowest, raised]), axis=0)
    return every[every.sum(axis=1) == 0] if problem.keeps_sum else every


def _worth_trying(problem: StepProblem, gain: float) -> tuple[IntArray, IntArray]:
    """Bounds no wider than twice from the lowest rope to the highest, and a step each.

    No nut need go further, be the sum of the steps kept or not.
    """
    n = len(problem.tensions)
    furthest = 2 * int(np.ceil(np.ptp(problem.tensions) / gain)) + n
    return np.maximum(problem.lowest, -furthest), np.minimum(problem.highest, furthest)


def _climbed(problem: StepProblem) -> IntArray:
    """Good steps for ropes of different stiffness, by rounding and then bettering."""
    starts = _rounded(problem)
    if problem.keeps_sum:
        near = starts[np.abs(starts.sum(axis=1)) <= len(problem.tensions)]
        starts = np.unique([_with_sum_zero(each, problem) for each in near], axis=0)
    ranked = np.argsort(problem.spread_after(starts), kind="stable")
    return np.array([_better(each, problem) for each in starts[ranked[:_STARTS]]])


def _rounded(problem: StepProblem) -> IntArray:
    """The nearest steps of every rope at every height of the car, each once.

    They change only where a rope is halfway between two of its steps: between two such
    heights all are alike.
    """
    away = problem.tensions.mean() - problem.tensions
    wanted = away / (problem.stiffnesses * problem.step)
    lowest, highest = _worth_trying(problem, problem.stiffnesses.min() * problem.step)
    halfway = [
        np.arange(low, high) + 0.5 - one
        for low, high, one in zip(lowest, highest, wanted, strict=True)
    ]
    edges = np.unique(np.concatenate(halfway))
    between = 0.5 * (edges[1:] + edges[:-1])
    heights = np.concatenate([[-np.inf], between, [np.inf]])
    steps = np.clip(np.round(wanted + heights[:, None]), lowest, highest)
    return np.unique(steps.astype(np.int64), axis=0)


def _with_sum_zero(steps: IntArray, problem: StepProblem) -> IntArray:
    """Take surplus steps off the highest ropes, add missing ones to the lowest."""
    steps = steps.copy()
    while surplus := np.sign(steps.sum()):
        higher = surplus * problem.tensions_after(steps)
        allowed = problem.allows(steps - surplus)
        steps[np.argmax(np.where(allowed, higher, -np.inf))] -= surplus
    return steps


def _better(steps: IntArray, problem: StepProblem) -> IntArray:
    """Make single or paired steps as long as the spread falls."""
    one = np.eye(len(steps), dtype=np.int64)
    moves = np.array([a - b for a, b in permutations(one, 2)])  # two against each other
    if not problem.keeps_sum:
        moves = np.vstack([one, -one, moves])
    while True:
        tried = steps + moves
        tried = np.vstack([steps, tried[problem.allows(tried).all(axis=1)]])
        best = int(np.argmin(problem.spread_after(tried)))
        if best == 0:
            return steps
        steps = tried[best]


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
        found = [(upper_bound(steps), steps) for steps in every]
        yield min(found, key=lambda each: (each[0], _effort(each[1])))


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """Steps chosen, beside what more or fewer nuts, or more thread, would bring."""

    steps: IntArray  # steps of each nut, shape (n_ropes,)
    spread: float  # after them, as if what was measured were exact [1]
    upper: float  # upper bound of the spread after them [1]
    # the same with one nut fewer; None where none was tried [1]
    upper_with_fewer: float | None = None
    # the same with every nut that is off by more than is known of it [1]
    upper_with_all: float
    n_with_all: int  # how many nuts those are
    shortfalls: tuple[Shortfall, ...] = ()  # what keeps the set from being made equal
    # ropes whose nuts would go further, had somebody told the thread left, and the
    # travel wanted [m]
    untold: tuple[tuple[int, float], ...] = ()


def choose_steps(basis: PlanBasis) -> Choice:
    """Choose the steps by the strategy, and tell what is short."""
    limit, limits = basis.assessment.rule.limit, basis.limits
    problem = _problem_of(basis, limits)
    chosen = _chosen(basis, problem)
    untold = np.isinf(limits.take_up_left + limits.ease_left)
    free = chosen.steps
    if chosen.spread > limit or untold.any():
        far = np.full(len(free), _FAR, dtype=np.int64)
        endless = replace(limits, lowest_steps=-far, highest_steps=far)
        free = _chosen(basis, _problem_of(basis, endless)).steps
    beyond = (free > limits.highest_steps) & np.isinf(limits.take_up_left)
    beyond |= (free < limits.lowest_steps) & np.isinf(limits.ease_left)
    return replace(
        chosen,
        shortfalls=find_shortfalls(problem, chosen.steps, free, limits, limit),
        untold=tuple(
            (int(place) + 1, float(free[place] * basis.step))
            for place in np.flatnonzero(beyond)
        ),
    )


def _problem_of(basis: PlanBasis, limits: Limits) -> StepProblem:
    """Put the question that the strategy asks, within the steps that threads allow."""
    strategy, none = basis.request.strategy, 0 * limits.lowest_steps
    every = StepProblem(
        tensions=basis.aimed,
        stiffnesses=basis.stiffness.after_running,
        step=basis.step,
        effects=basis.step * basis.stiffness.effects_after_running,
        lowest=none if strategy is Strategy.TAKE_UP_ONLY else limits.lowest_steps,
        highest=none if strategy is Strategy.EASE_ONLY else limits.highest_steps,
        metric=basis.assessment.rule.metric,
        keeps_sum=strategy is Strategy.KEEP_HEIGHT,
    )
    return every.holding(~basis.simulation.is_known_off(strategy))


def _chosen(basis: PlanBasis, problem: StepProblem) -> Choice:
    """The steps by the strategy."""
    simulation = replace(basis.simulation, tensions=basis.aimed)
    rule, most = basis.assessment.rule, basis.most_steps

    def upper(steps: IntArray) -> float:
        travels = np.asarray(steps * basis.step, dtype=np.float64)
        return simulation.forecast(travels, rule).upper

    def opened(choice: Choice) -> FloatArray:
        """How often each nut is opened; a stage takes it so far and no further."""
        return np.asarray(np.ceil(np.abs(choice.steps) / most))

    best = find_steps(problem)
    bound = upper(best)
    whole = Choice(
        steps=best,
        spread=float(problem.spread_after(best)),
        upper=bound,
        upper_with_all=bound,
        n_with_all=int(np.count_nonzero(best)),
    )
    if basis.request.strategy is not Strategy.FEWEST_NUTS:
        return whole
    candidates = [fewest := _fewest(basis, whole, problem, upper)]
    for cap in range(most, most * int(opened(fewest).max()), most):
        within = replace(
            problem,
            lowest=np.maximum(problem.lowest, -cap),
            highest=np.minimum(problem.highest, cap),
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
    lowest, fewer = whole, None
    for found, steps in best_of_each_number(problem, upper):
        spread = float(problem.spread_after(steps))
        tried = replace(
            whole, steps=steps, spread=spread, upper=found, upper_with_fewer=fewer
        )
        if found <= max(basis.goal, whole.upper_with_all + _NEAR_BEST):
            return tried
        lowest, fewer = min(lowest, tried, key=lambda each: each.upper), found
    return lowest


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
    after, spread = problem.tensions_after(steps), float(problem.spread_after(steps))
    needed, available = after, np.full(len(after), limits.solid_load)
    kinds = [Shortage.SPRING_WAY] * len(after)
    if not (needed > available).any() and spread > limit:
        if problem.spread_after(free_steps) > limit:
            kind = Shortage.FINE_STEPS
            return (Shortfall(kind=kind, rope=None, needed=limit, available=spread),)
        # thread that the best steps would need and the rods do not have
        towards, away = Shortage.THREAD_TOWARDS_PLATE, Shortage.THREAD_AWAY
        kinds = [towards if step > 0 else away for step in free_steps]
        needed = np.abs(free_steps * problem.step)
        available = np.where(free_steps > 0, limits.take_up_left, limits.ease_left)
    return tuple(
        Shortfall(
            kind=kinds[place],
            rope=place + 1,
            needed=float(needed[place]),
            available=float(available[place]),
        )
        for place in np.flatnonzero(needed > available).tolist()
    )
