"""The interval of the true spread: what it must hold, and how often."""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from tension.assessment.interval import Interval, SetSimulation, SpreadShape
from tension.catalogue.rules import Metric
from tension.measurement.combine import TensionHypothesis

REFERENCE = Path(__file__).parents[1] / "reference" / "range_statistics.csv"


def interval(
    tensions: list[float] | np.ndarray,
    relative: float | list[float],
    metric: Metric = Metric.BELOW_HIGHEST,
) -> Interval:
    row = np.asarray(tensions, dtype=float)
    own = np.broadcast_to(np.asarray(relative, dtype=float), row.shape)
    simulation = SetSimulation(
        [TensionHypothesis(weight=1.0, tensions=row)], np.diag(own**2)
    )
    return simulation.interval(metric)


def printed_rows() -> list[tuple[int, float, float]]:
    lines = [
        line
        for line in REFERENCE.read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    ]
    return [
        (int(r["n"]), float(r["d2"]), float(r["d3"])) for r in csv.DictReader(lines)
    ]


@pytest.mark.parametrize(("n_ropes", "d2", "d3"), printed_rows())
def test_equal_ropes_spread_by_the_printed_range_statistics(
    n_ropes: int, d2: float, d3: float
) -> None:
    relative = 0.001
    simulation = SetSimulation(
        [TensionHypothesis(weight=1.0, tensions=np.full(n_ropes, 5000.0))],
        relative**2 * np.eye(n_ropes),
        n_draws=200_000,
    )
    case = simulation.cases(SpreadShape.LOG_RANGE)[0]
    ranges = case.spreads(np.zeros(n_ropes)) / relative
    # half a unit of the last digit and five standard errors of 200 000 draws
    assert ranges.mean() == pytest.approx(d2, abs=0.0005 + 5 * d3 / 200_000**0.5)
    assert ranges.std() == pytest.approx(d3, abs=0.0005 + 5 * d3 / 400_000**0.5)


def test_two_ropes_far_apart_have_the_interval_of_a_difference() -> None:
    # ln of the ratio is normal with u sqrt(2): exact, folding is negligible here
    u = 0.01
    found = interval([100.0, 120.0], u, Metric.ABOVE_LOWEST)
    half = 1.959964 * u * np.sqrt(2)
    assert np.log1p(found.lower) == pytest.approx(np.log(1.2) - half, rel=0.01)
    assert np.log1p(found.upper) == pytest.approx(np.log(1.2) + half, rel=0.01)


def test_without_uncertainty_the_interval_is_the_observed_spread() -> None:
    for metric in Metric:
        found = interval([95.0, 100.0, 105.0], 0.0, metric)
        assert found.lower == pytest.approx(found.observed, abs=1e-6)
        assert found.upper == pytest.approx(found.observed, abs=1e-6)


def test_a_set_known_to_be_equal_without_any_doubt_has_no_spread() -> None:
    simulation = SetSimulation(
        [TensionHypothesis(weight=1.0, tensions=np.full(4, 100.0))], np.zeros((4, 4))
    )
    for metric in Metric:
        assert simulation.interval(metric).lower == 0.0
        # readings simulated from it show just what was read
        assert simulation.probability_over(0.0, metric) == 1.0


def test_one_uncertain_rope_widens_the_interval() -> None:
    narrow = interval([100.0, 104.0, 98.0, 101.0], 0.005)
    wide = interval([100.0, 104.0, 98.0, 101.0], [0.005, 0.03, 0.005, 0.005])
    assert wide.upper - wide.lower > 2 * (narrow.upper - narrow.lower)


def test_order_of_the_ropes_does_not_matter() -> None:
    tensions = [100.0, 107.0, 96.0, 101.0, 99.0]
    own = [0.01, 0.02, 0.005, 0.01, 0.03]
    first = interval(tensions, own)
    last = interval(tensions[::-1], own[::-1])
    # the draws are dealt to the ropes in order, so only sampling differs
    assert first.lower == pytest.approx(last.lower, abs=0.002)
    assert first.upper == pytest.approx(last.upper, abs=0.002)


def test_the_last_digit_of_a_covariance_moves_no_bound() -> None:
    # ropes alike have equal eigenvalues, of which any axes are eigenvectors
    tensions = np.array([5300.0, 4850.0, 5150.0, 4700.0])
    alike = 0.02**2 * np.eye(4)
    noise = np.random.default_rng(3).standard_normal((4, 4))
    found = [
        SetSimulation(
            [TensionHypothesis(weight=1.0, tensions=tensions)], covariance
        ).interval(Metric.OFF_MEAN)
        for covariance in (alike, alike + 1e-19 * (noise + noise.T))
    ]
    assert found[0].lower == pytest.approx(found[1].lower, rel=1e-6)
    assert found[0].upper == pytest.approx(found[1].upper, rel=1e-6)


def test_readings_that_are_all_alike_are_not_taken_for_certainty() -> None:
    found = interval([100.0] * 6, 0.028, Metric.OFF_MEAN)
    assert found.observed < 1e-12
    assert found.lower == 0
    assert found.upper > 0.04


def test_the_interval_falls_with_the_uncertainty() -> None:
    tensions = [100.0, 108.0, 95.0, 101.0, 99.0, 103.0]
    widths = []
    for u in (0.003, 0.006, 0.012, 0.024):
        found = interval(tensions, u)
        widths.append(found.upper - found.lower)
    assert widths == sorted(widths)


def test_chance_over_the_limit_agrees_with_the_bounds() -> None:
    rng = np.random.default_rng(8)
    for _ in range(40):
        row = 5000 * np.exp(rng.normal(0, 0.03, 5))
        simulation = SetSimulation(
            [TensionHypothesis(weight=1.0, tensions=row)], 1.5e-4 * np.eye(5)
        )
        for metric in Metric:
            found = simulation.interval(metric)
            at_upper = simulation.probability_over(found.upper, metric)
            assert at_upper == pytest.approx(0.025, abs=0.003)
            if found.lower > 0:
                at_lower = simulation.probability_over(found.lower, metric)
                assert at_lower == pytest.approx(0.975, abs=0.004)


def mixture(weight: float) -> Interval:
    tensions = np.array([100.0, 101.0, 99.0, 100.0, 101.0])
    counted_twice = tensions * np.array([1.0, 1.0, 4.0, 1.0, 1.0])
    simulation = SetSimulation(
        [
            TensionHypothesis(weight=1 - weight, tensions=tensions),
            TensionHypothesis(weight=weight, tensions=counted_twice),
        ],
        0.005**2 * np.eye(5),
    )
    return simulation.interval(Metric.BELOW_HIGHEST)


def test_a_small_chance_of_a_miscount_widens_and_never_flips() -> None:
    nothing, little, more = mixture(0.0), mixture(0.01), mixture(0.02)
    assert nothing.upper < little.upper < more.upper < 0.05
    likely_enough = mixture(0.03)
    assert likely_enough.upper > 0.7
    assert likely_enough.lower < 0.05


def test_weights_that_do_not_sum_to_one_count_against_both_bounds() -> None:
    tensions = np.array([100.0, 115.0, 99.0])
    half_known = SetSimulation(
        [TensionHypothesis(weight=0.96, tensions=tensions)], 0.005**2 * np.eye(3)
    )
    # 4 % unknown is over 2.5 %, so nothing bounds the spread from below
    found = half_known.interval(Metric.ABOVE_LOWEST)
    assert found.lower == 0
    assert found.upper == np.inf


def covered(
    tensions: np.ndarray, relative: float, metric: Metric, n: int, seed: int
) -> float:
    rng = np.random.default_rng(seed)
    mean = tensions.mean()
    truth = {
        Metric.BELOW_HIGHEST: np.ptp(tensions) / tensions.max(),
        Metric.ABOVE_LOWEST: np.ptp(tensions) / tensions.min(),
        Metric.OFF_MEAN: np.abs(tensions / mean - 1).max(),
        Metric.RANGE_OF_MEAN: np.ptp(tensions) / mean,
    }[metric]
    held = 0
    for _ in range(n):
        read = tensions * np.exp(relative * rng.standard_normal(len(tensions)))
        found = interval(read, relative, metric)
        held += found.lower <= truth <= found.upper
    return held / n


@pytest.mark.slow
@pytest.mark.parametrize("metric", [Metric.BELOW_HIGHEST, Metric.OFF_MEAN])
@pytest.mark.parametrize(
    "tensions",
    [
        [1.0] * 6,
        [1.0, 1.0, 1.0, 1.0, 1.08, 1.0],
        [1.0, 1.0, 1.05, 1.05, 1.0, 1.05, 1.05, 1.0],
        [1.0, 1.12],
        [0.9, 0.95, 1.0, 1.03, 1.1],
    ],
)
@pytest.mark.parametrize("relative", [0.005, 0.02])
def test_the_interval_holds_the_truth_at_its_level(
    tensions: list[float], relative: float, metric: Metric
) -> None:
    # 90 to 99 % is wanted; 200 sets have a standard error of 1.5 points at 95 %
    held = covered(np.array(tensions), relative, metric, 200, 17)
    assert held > 0.90 - 0.03


@pytest.mark.parametrize("u", [0.005, 0.02])
def test_equal_readings_of_two_ropes_are_as_those_at_a_sixth_of_all(u: float) -> None:
    # ln of the ratio is normal with u sqrt(2); equal readings are taken to be at the
    # 16 % quantile of its size, and the bound is where 2.5 % are no larger than that
    width = u * np.sqrt(2)
    alike = norm.ppf(0.58) * width
    bound = brentq(
        lambda s: (
            norm.cdf((alike - s) / width) - norm.cdf((-alike - s) / width) - 0.025
        ),
        0.0,
        10 * width,
    )
    found = interval([100.0, 100.0], u, Metric.ABOVE_LOWEST)
    assert np.log1p(found.upper) == pytest.approx(bound, rel=0.04)
