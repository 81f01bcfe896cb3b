"""The closest tensions against a general constrained minimiser."""

import numpy as np
import pytest
from scipy.optimize import minimize, nnls

from tension.assessment.interval import (
    ClosestTensions,
    SpreadShape,
    _planes,
    closest_from_readings,
)


def spread_of(logarithms: np.ndarray, shape: SpreadShape) -> float:
    tensions = np.exp(logarithms)
    mean = tensions.mean()
    if shape is SpreadShape.LOG_RANGE:
        return float(np.ptp(logarithms))
    if shape is SpreadShape.RANGE_OF_MEAN:
        return float(np.ptp(tensions) / mean)
    return float(np.abs(tensions / mean - 1).max())


def distance(search: ClosestTensions, logarithms: np.ndarray) -> float:
    place = logarithms
    if search.shape is not SpreadShape.LOG_RANGE:
        place = np.exp(logarithms)
    apart = search.reading - place
    return float(apart @ np.linalg.solve(search.covariance, apart))


def least_distance(search: ClosestTensions, spread: float) -> float:
    """Smallest distance of a set of at most this spread, by quadratic programming."""
    n = len(search.reading)

    def within(place: np.ndarray) -> np.ndarray:
        pairs = place[:, None] - place[None, :]
        if search.shape is SpreadShape.LOG_RANGE:
            return np.asarray((spread - pairs).ravel())
        mean = place.mean()
        if search.shape is SpreadShape.RANGE_OF_MEAN:
            return np.asarray((spread * mean - pairs).ravel())
        away = place - mean
        return np.concatenate([spread * mean - away, spread * mean + away])

    start = np.full(n, search.reading.mean())
    inverse = np.linalg.inv(search.covariance)
    found = minimize(
        lambda x: float((search.reading - x) @ inverse @ (search.reading - x)),
        start,
        jac=lambda x: -2 * inverse @ (search.reading - x),
        constraints={"type": "ineq", "fun": within},
        method="SLSQP",
        options={"maxiter": 500, "ftol": 1e-12},
    )
    return float(found.fun)


@pytest.mark.parametrize("shape", list(SpreadShape))
@pytest.mark.parametrize("n_ropes", [2, 5, 9])
@pytest.mark.parametrize("coupling", [0.0, 0.3])
def test_closest_set_has_the_spread_and_no_nearer_set_exists(
    shape: SpreadShape, n_ropes: int, coupling: float
) -> None:
    rng = np.random.default_rng(n_ropes)
    logarithms = rng.normal(0, 0.05, n_ropes)
    covariance = np.diag(rng.uniform(0.005, 0.03, n_ropes) ** 2)
    mixing = np.eye(n_ropes) + coupling * rng.normal(0, 1, (n_ropes, n_ropes))
    covariance = mixing @ covariance @ mixing.T
    search = closest_from_readings(logarithms, covariance, shape)
    for share in (0.2, 0.6, 0.95):
        wanted = share * search.observed
        found = search.at(wanted)
        assert spread_of(found, shape) == pytest.approx(wanted, rel=1e-6)
        least = least_distance(search, wanted)
        # with these nearly singular covariances rounding in either search costs up to
        # 2e-4 of the squared distance, differently from processor to processor
        assert distance(search, found) == pytest.approx(least, rel=1e-3)


@pytest.mark.parametrize("shape", list(SpreadShape))
def test_a_larger_spread_is_reached_from_the_readings_by_the_shortest_way(
    shape: SpreadShape,
) -> None:
    rng = np.random.default_rng(3)
    logarithms = rng.normal(0, 0.03, 5)
    covariance = np.diag(rng.uniform(0.005, 0.03, 5) ** 2)
    search = closest_from_readings(logarithms, covariance, shape)
    wanted = 1.4 * search.observed
    found = search.at(wanted)
    assert spread_of(found, shape) == pytest.approx(wanted, rel=1e-9)
    nearest = distance(search, found)
    for _ in range(3000):  # no random set of that spread or more is nearer
        step = rng.multivariate_normal(np.zeros(5), covariance)
        trial = logarithms - logarithms.mean() + step * rng.uniform(0, 4)
        if shape is not SpreadShape.LOG_RANGE:
            trial = trial - np.log(np.exp(trial).mean())
        if spread_of(trial, shape) >= wanted:
            assert distance(search, trial) >= nearest * (1 - 1e-9)


def test_the_readings_themselves_are_closest_to_their_own_spread() -> None:
    logarithms = np.log(np.array([5300.0, 4850.0, 5150.0, 4700.0]))
    for shape in SpreadShape:
        search = closest_from_readings(logarithms, 1e-4 * np.eye(4), shape)
        found = search.at(search.observed)
        assert np.ptp(found - logarithms) < 1e-9


def test_a_spread_of_nothing_is_an_equal_set() -> None:
    search = closest_from_readings(
        np.array([0.0, 0.1, 0.2]), 1e-4 * np.eye(3), SpreadShape.OFF_MEAN
    )
    assert np.ptp(search.at(0.0)) == 0


@pytest.mark.parametrize("shape", list(SpreadShape))
@pytest.mark.parametrize("seed", [2, 28, 46, 194, 360, 412, 471, 475, 503])
def test_ropes_that_err_together_are_projected_as_another_solver_does(
    shape: SpreadShape, seed: int
) -> None:
    # sets on which a solver that only drops the worst plane ends on the wrong ones
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 13))
    logarithms = rng.normal(0, rng.choice([0.02, 0.1, 0.4]), n)
    covariance = np.diag(rng.uniform(0.002, 0.05, n) ** 2)
    if seed % 4:
        mixing = rng.normal(0, 1, (n, seed % 4))
        covariance += rng.choice([0.002, 0.02, 0.2]) ** 2 * mixing @ mixing.T
    search = closest_from_readings(logarithms, covariance, shape)
    for share in (0.02, 0.3, 0.6, 0.9):
        wanted = share * search.observed
        found = search.at(wanted)
        rows, right = _planes(shape, wanted, n)
        place = found if shape is SpreadShape.LOG_RANGE else np.exp(found)
        assert float((rows @ place - right).max()) <= 1e-6 * search.observed
        # least distance to the planes: of Ly with y least, by Lawson and Hanson 23.27
        white = rows @ np.linalg.cholesky(search.covariance)
        system = np.vstack([white.T, rows @ search.reading - right])
        last = np.eye(n + 1)[-1]
        weights, _ = nnls(system, last, maxiter=100_000)
        rest = system @ weights - last
        least = float(((rest[:-1] / rest[-1]) ** 2).sum())
        assert distance(search, found) == pytest.approx(least, rel=1e-5)


def test_readings_are_about_their_mean() -> None:
    logarithms = np.log([90.0, 100.0, 140.0])
    log_range = closest_from_readings(logarithms, np.eye(3), SpreadShape.LOG_RANGE)
    assert log_range.reading == pytest.approx(logarithms - logarithms.mean())
    shares = closest_from_readings(logarithms, np.eye(3), SpreadShape.OFF_MEAN)
    assert shares.reading == pytest.approx(np.array([90, 100, 140]) / 110)


def test_no_tension_falls_under_a_millionth_of_the_mean() -> None:
    search = closest_from_readings(
        np.log([1.0, 1.1]), 1e-4 * np.eye(2), SpreadShape.RANGE_OF_MEAN
    )
    # three times the mean between two ropes leaves less than nothing of one
    assert np.exp(search.at(3.0)).min() == pytest.approx(1e-6)
