"""The four metrics on sets whose percentages can be worked out on paper."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tension.assessment.interval import (
    log_range_from_spread,
    spread_from_log_range,
    spread_from_tensions,
)
from tension.catalogue.rules import Metric

TENSIONS = st.lists(
    st.floats(min_value=100.0, max_value=20000.0), min_size=2, max_size=12
)

# Own arithmetic on round sets: the metrics a maintenance rule (highest within 10 % of
# lowest) and GB 50310-2002, clause 4.9.5 (each within 5 % of the mean) prescribe.
ARITHMETIC = [
    ([95.0, 100.0, 105.0], 10 / 95, 0.05),
    ([100.0, 100.0, 100.0, 109.0], 0.09, 109 / 102.25 - 1),
    ([96.0, 100.0, 100.0, 104.5], 8.5 / 96, 104.5 / 100.125 - 1),
    ([95.5, 100.0, 100.0, 100.0, 104.9], 9.4 / 95.5, 104.9 / 100.08 - 1),
]


def spread(tensions: NDArray[np.float64], metric: Metric) -> float:
    """The spread of one set."""
    return float(spread_from_tensions(tensions, metric))


@pytest.mark.parametrize(("tensions", "lowest", "mean"), ARITHMETIC)
def test_two_rules_disagree_on_the_same_set(
    tensions: list[float], lowest: float, mean: float
) -> None:
    assert spread(np.array(tensions), Metric.ABOVE_LOWEST) == pytest.approx(
        lowest, rel=1e-12
    )
    assert spread(np.array(tensions), Metric.OFF_MEAN) == pytest.approx(mean, rel=1e-12)


def test_the_four_metrics_of_one_set_are_not_interchangeable() -> None:
    # 950/1000/1050 N: 50/1000, 100/1000, 100/1050, 100/950
    tensions = np.array([950.0, 1000.0, 1050.0])
    assert spread(tensions, Metric.OFF_MEAN) == pytest.approx(0.05, rel=1e-12)
    assert spread(tensions, Metric.RANGE_OF_MEAN) == pytest.approx(0.10, rel=1e-12)
    assert spread(tensions, Metric.BELOW_HIGHEST) == pytest.approx(
        100 / 1050, rel=1e-12
    )
    assert spread(tensions, Metric.ABOVE_LOWEST) == pytest.approx(100 / 950, rel=1e-12)


def test_one_rope_of_five_fifteen_per_cent_up() -> None:
    # mean 103: 12/103, 15/103, 15/115, 15/100
    tensions = np.array([100.0, 100.0, 115.0, 100.0, 100.0])
    found = [float(spread_from_tensions(tensions, metric)) for metric in Metric]
    assert found == pytest.approx([15 / 115, 0.15, 12 / 103, 15 / 103], rel=1e-12)


@given(TENSIONS, st.sampled_from(list(Metric)))
def test_a_common_factor_changes_no_spread(
    tensions: list[float], metric: Metric
) -> None:
    row = np.array(tensions)
    once = float(spread_from_tensions(row, metric))
    assert float(spread_from_tensions(3.7 * row, metric)) == pytest.approx(
        once, rel=1e-9, abs=1e-12
    )


@given(TENSIONS)
def test_the_metrics_are_ordered(tensions: list[float]) -> None:
    row = np.array(tensions)
    assert (
        spread_from_tensions(row, Metric.BELOW_HIGHEST)
        <= spread(row, Metric.RANGE_OF_MEAN) + 1e-12
    )
    assert (
        spread_from_tensions(row, Metric.RANGE_OF_MEAN)
        <= spread(row, Metric.ABOVE_LOWEST) + 1e-12
    )
    assert (
        spread_from_tensions(row, Metric.OFF_MEAN)
        <= spread(row, Metric.RANGE_OF_MEAN) + 1e-12
    )


@given(st.lists(TENSIONS, min_size=1, max_size=4), st.sampled_from(list(Metric)))
def test_rows_are_taken_one_by_one(sets: list[list[float]], metric: Metric) -> None:
    n = min(len(one) for one in sets)
    rows = np.array([one[:n] for one in sets])
    together = spread_from_tensions(rows, metric)
    apart = [float(spread_from_tensions(row, metric)) for row in rows]
    assert together.tolist() == pytest.approx(apart, rel=1e-12)


@given(st.floats(min_value=0.0, max_value=0.9))
def test_log_range_and_ratio_metrics_are_inverse(spread: float) -> None:
    for metric in (Metric.BELOW_HIGHEST, Metric.ABOVE_LOWEST):
        log_range = log_range_from_spread(spread, metric)
        back = spread_from_log_range(log_range, metric)
        assert back == pytest.approx(spread, rel=1e-9, abs=1e-12)
        tensions = np.exp(np.array([0.3, 0.3 + log_range]))
        assert float(spread_from_tensions(tensions, metric)) == pytest.approx(
            spread, rel=1e-9, abs=1e-12
        )
