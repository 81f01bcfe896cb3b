"""Which steps of the nuts: by strategy, and no nut for less than it is known."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.outcome import Strategy
from tension.adjustment.plan_basis import LARGEST_TRAVEL, PlanBasis
from tension.adjustment.search import StepProblem, best_of_each_number, find_steps

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_NEAR_BEST = 0.005
"""Where the goal is out of reach: fewest nuts this near to the best. [1]"""

_KNOWN = 2.0
"""A nut is turned from so many standard uncertainties on."""

_FAR = 10_000
"""Steps where nothing limits a nut."""


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
    rule = basis.assessment.rule

    def upper(steps: IntArray) -> float:
        return simulation.upper_bound(np.asarray(steps * basis.step, float), rule)

    best = find_steps(problem)
    if best is None:
        best = np.zeros(len(basis.tensions), dtype=np.int64)
    with_all = upper(best)
    n_all = int(np.count_nonzero(best))
    whole = Choice(
        steps=best,
        upper=with_all,
        upper_with_fewer=None,
        upper_with_all=with_all,
        n_with_all=n_all,
    )
    if basis.request.strategy is not Strategy.FEWEST_NUTS:
        return whole
    fewest = _fewest(basis, whole, problem, upper)
    most = int(LARGEST_TRAVEL / basis.step + 1e-9)
    stages = _stages_of(fewest.steps, most)
    enough = max(basis.goal, fewest.upper)
    candidates = [fewest]
    for cap in sorted({1, stages // 2, stages - 1} - {0, stages}):
        within = replace(
            problem,
            lowest=np.maximum(problem.lowest, -cap * most),
            highest=np.minimum(problem.highest, cap * most),
        )
        tried = _fewest(basis, whole, within, upper)
        if tried.upper <= enough:
            candidates.append(tried)
    return min(candidates, key=lambda each: _work_of(each.steps, most))


def _stages_of(steps: IntArray, most: int) -> int:
    """Stages that the furthest nut asks for."""
    return int(np.ceil(np.abs(steps).max() / most))


def _work_of(steps: IntArray, most: int) -> int:
    """Nuts opened, one that goes far more than once, and runs of the car."""
    openings = int(np.ceil(np.abs(steps) / most).sum())
    return openings + _stages_of(steps, most)


def _fewest(
    basis: PlanBasis,
    whole: Choice,
    problem: StepProblem,
    upper: Callable[[IntArray], float],
) -> Choice:
    """The fewest nuts that reach the goal, or come near to what all of them reach."""
    fewer: float | None = None
    lowest: Choice | None = None
    for found, steps in best_of_each_number(problem, upper):
        tried = replace(whole, steps=steps, upper=found, upper_with_fewer=fewer)
        if found <= max(basis.goal, whole.upper_with_all + _NEAR_BEST):
            return tried
        if lowest is None or found < lowest.upper:
            lowest = tried
        fewer = found
    is_better = lowest is not None and lowest.upper < whole.upper_with_all
    return lowest if lowest is not None and is_better else whole


def problem_of(basis: PlanBasis, *, is_limited: bool = True) -> StepProblem:
    """Put the question that the strategy asks, as far as the threads go or beyond."""
    n = len(basis.tensions)
    far = np.full(n, _FAR, dtype=np.int64)
    lowest = basis.limits.lowest_steps.copy() if is_limited else -far
    highest = basis.limits.highest_steps.copy() if is_limited else far
    strategy = basis.request.strategy
    if strategy is Strategy.TAKE_UP_ONLY:
        lowest = np.zeros(n, dtype=np.int64)
    if strategy is Strategy.EASE_ONLY:
        highest = np.zeros(n, dtype=np.int64)
    known = is_known_off(basis)
    lowest[~known], highest[~known] = 0, 0
    return StepProblem(
        tensions=basis.aimed,
        stiffnesses=basis.stiffness.after_running,
        step=basis.step,
        lowest=lowest,
        highest=highest,
        metric=basis.assessment.rule.metric,
        keeps_sum=strategy is Strategy.KEEP_HEIGHT,
    )


def is_known_off(basis: PlanBasis) -> NDArray[np.bool_]:
    """Find the ropes that are off by more than is known of them, shape (n_ropes,).

    From the mean; where all are taken up from the highest rope, where all are eased
    from the lowest.
    """
    tensions = basis.tensions
    covariance = basis.simulation.covariance
    n = len(tensions)
    towards = np.full((n, n), 1.0 / n)
    if basis.request.strategy is Strategy.TAKE_UP_ONLY:
        towards = np.eye(n)[np.full(n, int(np.argmax(tensions)))]
    if basis.request.strategy is Strategy.EASE_ONLY:
        towards = np.eye(n)[np.full(n, int(np.argmin(tensions)))]
    apart = np.eye(n) - towards
    off = np.abs(apart @ tensions) / tensions.mean()
    variance = np.einsum("ij,jk,ik->i", apart, covariance, apart)
    return np.asarray(off > _KNOWN * np.sqrt(np.maximum(variance, 0.0)))
