from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from tension.adjustment.plan import Way, find_order, split_steps, trade_order
from tension.physics.hitch_statics import tension_changes
from tests.oracles.all_steps import tensions_after


def way(
    tensions: list[float],
    k: float,
    *,
    lowest: float,
    highest: float,
    margin: float = 0.0,
) -> Way:
    n = len(tensions)
    return Way(
        tensions=np.array(tensions),
        effects=tension_changes(np.eye(n), np.full(n, k)),
        stiffness_margin=margin,
        lowest=np.full(n, lowest),
        highest=np.full(n, highest),
    )


def test_the_slackest_rope_comes_first_then_the_tightest() -> None:
    tensions = np.array([5300.0, 4850.0, 5150.0, 4700.0])
    travels = np.array([-0.002, 0.001, -0.001, 0.002])
    assert trade_order(tensions, travels) == (3, 0, 1, 2)


def test_nuts_without_travel_are_left_out_of_the_order() -> None:
    assert trade_order(np.array([5300.0, 5000.0, 4700.0]), np.zeros(3)) == ()


def test_an_order_is_found_exactly_where_one_exists() -> None:
    # Every order tried, tensions by solving for the height of the hitch.
    rng = np.random.default_rng(12)
    found_some = missed_some = differs_from_trade = 0
    for _ in range(150):
        n = int(rng.integers(3, 6))
        tensions = 5000 * (1 + rng.normal(0, 0.12, n))
        travels = rng.uniform(-0.008, 0.008, n)
        k = 130e3
        low, high = 3500.0, 6500.0
        given = way(list(tensions), k, lowest=low, highest=high)

        def keeps(
            order: tuple[int, ...],
            *,
            start: np.ndarray = tensions,
            moved: np.ndarray = travels,
            rate: float = k,
        ) -> bool:
            so_far = np.zeros(len(start))
            for place in order:
                so_far[place] = moved[place]
                after = tensions_after(start, np.full(len(start), rate), so_far)
                if after.min() < 3500.0 or after.max() > 6500.0:
                    return False
            return True

        possible = [order for order in permutations(range(n)) if keeps(order)]
        order = find_order(given, travels)
        assert (order is None) == (not possible)
        if order is not None:
            assert keeps(order)
            found_some += 1
            differs_from_trade += order != trade_order(tensions, travels)
        else:
            missed_some += 1
    assert found_some > 10
    assert missed_some > 10
    assert differs_from_trade > 0


def test_an_order_that_begins_as_the_trade_does_and_goes_on_otherwise_is_found() -> (
    None
):
    # rope 4 is below 3500 N until it is taken up, so it comes first in both that do
    given = way([5390.0, 4760.0, 5230.0, 3330.0], 130e3, lowest=3500.0, highest=6500.0)
    travels = np.array([-0.0028, -0.0035, 0.0062, 0.0022])
    possible = [
        order
        for order in permutations(range(4))
        if given.least_room(order, travels) >= 0.0
    ]
    assert {order[0] for order in possible} == {3}
    assert trade_order(given.tensions, travels) not in possible
    assert find_order(given, travels) in possible


def test_room_on_the_way_by_solving_for_the_hitch_after_each_nut() -> None:
    tensions = [5300.0, 4850.0, 5150.0, 4700.0]
    travels = np.array([-0.004, 0.003, -0.002, 0.005])
    given = way(tensions, 133e3, lowest=3000.0, highest=7000.0)
    so_far, least = np.zeros(4), np.inf
    for place in (3, 0, 1, 2):
        so_far[place] = travels[place]
        after = tensions_after(np.array(tensions), np.full(4, 133e3), so_far)
        least = min(least, after.min() - 3000.0, 7000.0 - after.max())
    assert given.least_room((3, 0, 1, 2), travels) == pytest.approx(least, rel=1e-9)


def test_a_stiffness_margin_narrows_the_way() -> None:
    tensions = [5000.0, 5000.0, 5000.0]
    travels = np.array([0.0, 0.0, 0.01])
    kept = way(tensions, 133e3, lowest=3000.0, highest=6000.0)
    doubtful = way(tensions, 133e3, lowest=3000.0, highest=6000.0, margin=0.4)
    assert find_order(kept, travels) == (2,)
    assert find_order(doubtful, travels) is None


def test_split_steps_are_whole_and_sum_to_the_steps() -> None:
    steps = np.array([7, -5, 0, 1, -1, 12])
    for n_stages in range(1, 8):
        stages = split_steps(steps, n_stages)
        assert len(stages) == n_stages
        assert np.array_equal(sum(stages), steps)
        largest = max(int(np.abs(stage).max()) for stage in stages)
        assert largest <= int(np.ceil(12 / n_stages))


def test_an_order_that_just_touches_a_limit_is_taken() -> None:
    # either nut alone slackens the other rope to 384 N; rope 2 may not go so low
    given = replace(
        way([512.0, 512.0], 1024.0, lowest=384.0, highest=1000.0),
        lowest=np.array([384.0, 400.0]),
    )
    assert find_order(given, np.array([0.25, 0.25])) == (1, 0)
    given = replace(given, lowest=np.array([384.001, 400.0]))
    assert find_order(given, np.array([0.25, 0.25])) is None
