"""Repeats: pooled scatter, widened for being estimated."""

import numpy as np
import pytest
from scipy.stats import norm, t

from tension.measurement.repeats import coverage_widening, uncertainty_of_means


@pytest.mark.parametrize("degrees", [4, 5, 8, 12, 30, 200])
def test_widening_is_that_of_students_t(degrees: int) -> None:
    wanted = t.ppf(0.975, degrees) / norm.ppf(0.975)
    # the fourth order left out falls with the cube of the degrees or faster
    assert coverage_widening(degrees) == pytest.approx(wanted, rel=0.2 / degrees**3)


def test_many_repeats_forget_the_declared_uncertainty() -> None:
    rng = np.random.default_rng(2)
    readings = 0.01 * rng.standard_normal((6, 200))
    found = uncertainty_of_means([list(row) for row in readings], [0.03] * 6)
    assert found == pytest.approx(np.full(6, 0.01 / np.sqrt(200)), rel=0.05)


def test_a_single_reading_is_widened_for_showing_no_scatter() -> None:
    found = uncertainty_of_means([[0.0], [0.1]], [0.028, 0.028])
    assert found == pytest.approx([0.028 * coverage_widening(5)] * 2)


def test_a_rope_that_scatters_stands_for_itself() -> None:
    quiet = [[0.0, 0.004, -0.004]] * 5
    found = uncertainty_of_means([*quiet, [-0.1, 0.0, 0.1]], [0.005] * 6)
    assert found[5] > 5 * found[0]
    alone = uncertainty_of_means(quiet, [0.005] * 5)
    assert found[0] == pytest.approx(alone[0], rel=1e-12)


@pytest.mark.parametrize("n_repeats", [2, 3, 5])
def test_intervals_of_means_hold_the_truth_at_95_per_cent(n_repeats: int) -> None:
    rng = np.random.default_rng(n_repeats)
    held = []
    for _ in range(1500):
        readings = 0.02 * rng.standard_normal((4, n_repeats))
        found = uncertainty_of_means([list(row) for row in readings], [0.02] * 4)
        held += list(np.abs(readings.mean(axis=1)) <= 1.959964 * found)
    assert 0.94 < np.mean(held) < 0.98
