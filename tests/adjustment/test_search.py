from functools import partial

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from tension.adjustment.search import (
    StepProblem,
    _with_sum_zero,
    best_of_each_number,
    find_steps,
)
from tension.catalogue.rules import Metric
from tension.physics.hitch_statics import tension_changes
from tests.oracles.all_steps import smallest_spread


def problem(
    tensions: list[float],
    *,
    stiffnesses: list[float] | float = 133e3,
    step: float = 0.0005,
    lowest: list[int] | None = None,
    highest: list[int] | None = None,
    metric: Metric = Metric.BELOW_HIGHEST,
    keeps_sum: bool = False,
) -> StepProblem:
    n = len(tensions)
    k = np.broadcast_to(np.array(stiffnesses), n).astype(float)
    return StepProblem(
        tensions=np.array(tensions),
        stiffnesses=k,
        step=step,
        effects=tension_changes(step * np.eye(n), k),
        lowest=np.array(lowest if lowest is not None else [-12] * n),
        highest=np.array(highest if highest is not None else [12] * n),
        metric=metric,
        keeps_sum=keeps_sum,
    )


def spread_of(given: StepProblem, steps: np.ndarray) -> float:
    return float(given.spread_after(steps))


def test_four_ropes_by_hand() -> None:
    # 5300, 4850, 5150, 4700 N; 133 N/mm and M16: 66.5 N a quarter turn. Wanted before
    # steps -1.13, +0.56, -0.56, +1.13 turns; in quarters -5, +2, -2, +5: 65 N of range.
    given = problem([5300, 4850, 5150, 4700], keeps_sum=True)
    steps = find_steps(given)
    assert list(steps) == [-5, 2, -2, 5]
    after = given.tensions_after(steps)
    assert (after.max() - after.min()) / after.min() == pytest.approx(
        65.0 / 4967.5, rel=1e-9
    )


@pytest.mark.parametrize(
    ("steps", "bounds", "wanted"),
    [
        # 5300, 4850, 5150 and 4700 N; a step is 66.5 N on its rope
        ([2, 0, 0, 0], {}, [0, 0, 0, 0]),
        ([2, 0, 0, 0], {"lowest": [2, -9, -2, -9]}, [2, 0, -2, 0]),
        ([2, 0, 0, 0], {"lowest": [2, -9, -1, -9]}, [2, -1, -1, 0]),
        ([-2, 0, 0, 0], {}, [-2, 0, 0, 2]),
        ([-2, 0, 0, 0], {"highest": [9, 9, 9, 1]}, [-2, 1, 0, 1]),
    ],
)
def test_surplus_steps_are_taken_off_the_highest_and_added_to_the_lowest(
    steps: list[int], bounds: dict[str, list[int]], wanted: list[int]
) -> None:
    given = problem([5300, 4850, 5150, 4700], keeps_sum=True, **bounds)  # type: ignore[arg-type]
    assert _with_sum_zero(np.array(steps), given).tolist() == wanted


@pytest.mark.parametrize("metric", list(Metric))
@pytest.mark.parametrize("keeps_sum", [True, False])
def test_no_other_steps_are_better_for_ropes_of_one_stiffness(
    *, metric: Metric, keeps_sum: bool
) -> None:
    rng = np.random.default_rng(7)
    for _ in range(12):
        n = int(rng.integers(2, 5))
        tensions = 5000 * (1 + rng.normal(0, 0.06, n))
        lowest = -rng.integers(0, 5, n)
        highest = rng.integers(0, 5, n)
        given = problem(
            list(tensions),
            step=0.0008,
            lowest=list(lowest),
            highest=list(highest),
            metric=metric,
            keeps_sum=keeps_sum,
        )
        steps = find_steps(given)
        best = smallest_spread(
            tensions=tensions,
            stiffnesses=given.stiffnesses,
            step=0.0008,
            lowest=list(lowest),
            highest=list(highest),
            metric=metric.value,
            keeps_sum=keeps_sum,
        )
        assert np.all((steps >= lowest) & (steps <= highest))
        assert not keeps_sum or steps.sum() == 0
        assert given.spread_after(steps) == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("keeps_sum", [True, False])
def test_no_other_steps_are_better_for_ropes_of_different_stiffness(
    *,
    keeps_sum: bool,
) -> None:
    rng = np.random.default_rng(8)
    for _ in range(12):
        n = int(rng.integers(2, 5))
        tensions = 5000 * (1 + rng.normal(0, 0.05, n))
        k = 100e3 * (1 + rng.normal(0, 0.12, n))
        lowest, highest = -rng.integers(0, 5, n), rng.integers(0, 5, n)
        given = problem(
            list(tensions),
            stiffnesses=list(k),
            step=0.001,
            lowest=list(lowest),
            highest=list(highest),
            keeps_sum=keeps_sum,
        )
        steps = find_steps(given)
        best = smallest_spread(
            tensions=tensions,
            stiffnesses=k,
            step=0.001,
            lowest=list(lowest),
            highest=list(highest),
            metric="below-highest",
            keeps_sum=keeps_sum,
        )
        assert np.all((steps >= lowest) & (steps <= highest))
        assert not keeps_sum or steps.sum() == 0
        assert given.spread_after(steps) == pytest.approx(best, abs=1e-6)


def test_steps_found_are_better_than_rounded_ones() -> None:
    # With no spring a step is large: rounding each nut leaves more than choosing them.
    rng = np.random.default_rng(9)
    worse = 0
    for _ in range(40):
        tensions = 5000 * (1 + rng.normal(0, 0.05, 6))
        given = problem(list(tensions), stiffnesses=460e3, step=0.00025)
        steps = find_steps(given)
        rounded = np.round((tensions.mean() - tensions) / (460e3 * 0.00025))
        by_rounding = float(given.spread_after(rounded.astype(np.int64)))
        assert given.spread_after(steps) <= by_rounding + 1e-12
        worse += by_rounding > 1.05 * float(given.spread_after(steps))
    assert worse > 10


def test_take_up_only_never_eases() -> None:
    given = problem([5300, 4850, 5150, 4700], lowest=[0] * 4)
    steps = find_steps(given)
    assert steps.min() == 0


def test_fewest_nuts_agrees_with_trying_every_choice_of_nuts() -> None:
    from itertools import combinations

    rng = np.random.default_rng(10)
    for _ in range(8):
        tensions = 5000 * (1 + rng.normal(0, 0.04, 4))
        given = problem(list(tensions), step=0.0008, lowest=[-4] * 4, highest=[4] * 4)
        goal = 0.035
        found = best_of_each_number(given, partial(spread_of, given))
        steps = next((steps for upper, steps in found if upper <= goal), None)
        fewest = next(
            (
                n_nuts
                for n_nuts in range(5)
                for touched in combinations(range(4), n_nuts)
                if smallest_spread(
                    tensions=tensions,
                    stiffnesses=given.stiffnesses,
                    step=0.0008,
                    lowest=[-4] * 4,
                    highest=[4] * 4,
                    metric="below-highest",
                    keeps_sum=False,
                    touched=touched,
                )
                <= goal
            ),
            None,
        )
        if fewest is None:
            assert steps is None
        else:
            assert steps is not None
            assert np.count_nonzero(steps) == fewest
            assert given.spread_after(steps) <= goal


def test_a_goal_out_of_reach_has_no_fewest_nuts() -> None:
    given = problem([5300, 4850, 5150, 4700])
    found = list(best_of_each_number(given, partial(spread_of, given)))
    assert len(found) == 5
    assert min(upper for upper, _ in found) > 0.001
    bounds = [upper for upper, _ in found]
    assert bounds == sorted(bounds, reverse=True)


@pytest.mark.parametrize("keeps_sum", [True, False])
def test_many_ropes_of_different_stiffness_by_whole_number_programming(
    *, keeps_sum: bool
) -> None:
    # least range of T + E s over whole s, exactly, by branch and bound of scipy
    rng = np.random.default_rng(44)
    n, over = 6, []
    for _ in range(10):
        tensions = 5000 * (1 + 0.07 * rng.standard_normal(n))
        given = problem(
            list(tensions),
            stiffnesses=list(45e3 * np.exp(0.12 * rng.standard_normal(n))),
            step=0.0015,
            metric=Metric.RANGE_OF_MEAN,
            keeps_sum=keeps_sum,
        )
        within, shares = given.effects.T / tensions.mean(), tensions / tensions.mean()
        low = np.hstack([within, -np.ones((n, 1)), np.zeros((n, 1))])
        high = np.hstack([within, np.zeros((n, 1)), -np.ones((n, 1))])
        total = np.array([[*np.ones(n), 0.0, 0.0]])
        reach = 0 if keeps_sum else np.inf
        exact = milp(
            c=[*np.zeros(n), -1.0, 1.0],
            constraints=[
                LinearConstraint(low, lb=-shares),
                LinearConstraint(high, ub=-shares),
                LinearConstraint(total, lb=-reach, ub=reach),
            ],
            integrality=[*np.ones(n), 0, 0],
            bounds=Bounds([*given.lowest, 0.0, 0.0], [*given.highest, np.inf, np.inf]),
        )
        assert exact.success
        over.append(float(given.spread_after(find_steps(given))) - exact.fun)
    assert min(over) > -1e-9
    assert max(over) < 1e-8
