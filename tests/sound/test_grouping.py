"""Sharing out the plucks of a long memo, with likeness made by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tension.sound.grouping import SURE, group_plucks

THERE_AND_BACK = (1, 2, 3, 4, 4, 3, 2, 1)


def likeness(ropes: list[int], same: float = 0.9, other: float = 0.2) -> np.ndarray:
    number = np.array(ropes)
    return np.where(number[:, None] == number[None, :], same, other)


def times(order: tuple[int, ...], each: int, seed: int = 10_003) -> np.ndarray:
    rng = np.random.default_rng(seed)
    starts, now = [], 1.0
    for _ in order:
        for _ in range(each):
            starts.append(now)
            now += 2.4 * rng.uniform(0.85, 1.15)
        now += 2.6 * rng.uniform(0.85, 1.15)
    return np.array(starts)


def ropes_of(entries: np.ndarray, order: tuple[int, ...]) -> list[int]:
    return [0 if entry < 0 else order[entry] for entry in entries]


@given(st.integers(0, 10_000), st.integers(2, 4), st.sampled_from(["told", "found"]))
@settings(max_examples=25, deadline=None, derandomize=True)
def test_longer_gaps_part_the_ropes(seed: int, each: int, count: str) -> None:
    truth = [rope for rope in THERE_AND_BACK for _ in range(each)]
    starts = times(THERE_AND_BACK, each, seed)
    # equal ropes, all alike: gaps alone must do
    alike = likeness(truth, 0.85, 0.85)
    entries, probabilities, plucks_each = group_plucks(
        starts, alike, THERE_AND_BACK, each if count == "told" else None
    )
    assert ropes_of(entries, THERE_AND_BACK) == truth
    assert plucks_each == each
    assert np.all(probabilities > SURE)


def test_a_missing_third_pluck_is_told_by_the_gaps() -> None:
    truth = [rope for rope in THERE_AND_BACK for _ in range(3)]
    starts = times(THERE_AND_BACK, 3)
    keep = np.delete(np.arange(24), 5)
    entries, probabilities, _ = group_plucks(
        starts[keep], likeness([truth[k] for k in keep]), THERE_AND_BACK, 3
    )
    assert ropes_of(entries, THERE_AND_BACK) == [truth[k] for k in keep]
    assert np.all(probabilities > SURE)


def test_a_ring_of_something_else_belongs_to_no_rope() -> None:
    truth = [rope for rope in THERE_AND_BACK for _ in range(3)]
    starts = times(THERE_AND_BACK, 3)
    after = 6
    starts = np.insert(starts, after, starts[after - 1] + 2.5)
    truth.insert(after, 0)
    entries, _, _ = group_plucks(starts, likeness(truth), THERE_AND_BACK, 3)
    assert ropes_of(entries, THERE_AND_BACK) == truth


def test_single_plucks_with_one_missing_and_nothing_to_tell_are_doubtful() -> None:
    order = (1, 2, 3, 4, 5)
    starts = np.array([1.0, 4.0, 7.0, 10.0])
    _, probabilities, _ = group_plucks(starts, likeness([1, 1, 1, 1]), order, 1)
    assert np.any(probabilities < SURE)


@pytest.mark.parametrize("n_rings", [0, 1])
def test_next_to_nothing_is_no_crash(n_rings: int) -> None:
    starts = np.arange(n_rings, dtype=np.float64)
    alike = np.ones((n_rings, n_rings))
    entries, probabilities, _ = group_plucks(starts, alike, (1, 2, 3), 3)
    assert entries.shape == probabilities.shape == (n_rings,)
