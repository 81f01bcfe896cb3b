"""Densities and weights against sums and integrals done another way."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from tension.diagnosis import evidence
from tension.diagnosis.evidence import (
    contrasts,
    foretell,
    log_densities,
    make_model,
    weigh,
    weights_of,
)
from tension.diagnosis.forms import Prior, forms_of
from tension.diagnosis.outcome import Cause, Pattern
from tests.diagnosis.lifts import MEAN, condition, pattern

DEVIATIONS = np.array([0.08, -0.05, 0.02, -0.05])


def test_contrasts_are_orthonormal_and_leave_the_mean_out() -> None:
    for n in range(2, 13):
        rows = contrasts(n)
        assert rows @ rows.T == pytest.approx(np.eye(n - 1), abs=1e-12)
        assert rows @ np.ones(n) == pytest.approx(np.zeros(n - 1), abs=1e-12)


def test_densities_are_those_of_another_library() -> None:
    random = np.random.default_rng(3)
    roots = random.normal(size=(5, 6, 6))
    covariances = roots @ roots.transpose(0, 2, 1) + 0.1 * np.eye(6)
    residuals = random.normal(size=(5, 6))
    found = log_densities(residuals, covariances, least_variance=0.1)
    known = [
        multivariate_normal(cov=c).logpdf(r)
        for c, r in zip(covariances, residuals, strict=True)
    ]
    assert found == pytest.approx(np.array(known), rel=1e-9)


def test_the_likelihood_of_a_cause_is_the_integral_over_its_unknown() -> None:
    # one unknown of one rope, integrated numerically, against the closed form
    taken = [
        (condition(0.0), DEVIATIONS),
        (condition(30.0, arrived="down"), DEVIATIONS),
    ]
    seen = pattern(taken)
    model = make_model(seen, Prior())
    form = next(f for f in forms_of(seen, seen.conditions, Prior())[Cause.TOUCHING])
    assert form.direction is not None
    n = len(model.observed)
    level, spread = form.entries(model.rows)
    closed = log_densities(
        (model.observed - level)[None, :],
        (model.base + spread)[None, :, :],
        least_variance=float(np.linalg.eigvalsh(model.base)[0]),
    )[0]
    expected = form.expected * form.shape / form.shape.max()
    size = np.sqrt(np.diag(form.spread)).max() / form.shape.max()
    unknowns = np.linspace(-8, 8, 4001) * size + expected.max()
    along = np.kron(form.shape, contrasts(4) @ form.direction)
    density = multivariate_normal(cov=model.base)
    values = density.logpdf(model.observed - unknowns[:, None] * along)
    prior = -0.5 * ((unknowns - expected.max()) / size) ** 2
    top = values.max()
    integral = np.trapezoid(np.exp(values - top + prior), unknowns) / (
        size * np.sqrt(2 * np.pi)
    )
    assert n == 6
    assert closed == pytest.approx(top + np.log(integral), rel=1e-6)


def test_weights_sum_to_one_and_every_hypothesis_has_one() -> None:
    accounts = weigh(make_model(_three_places(), Prior()), Prior())
    weights = weights_of(accounts)
    assert sum(weights.values()) == pytest.approx(1.0, rel=1e-12)
    assert () in weights
    assert all(len(causes) <= 2 for causes in weights)


def test_a_cause_pays_for_unknowns_that_it_does_not_need() -> None:
    # the same newtons everywhere: a length explains them, so does every rope in every
    # series for itself, with many more unknowns
    prior = Prior()
    weights = weights_of(weigh(make_model(_three_places(), prior), prior))
    assert weights[Cause.LENGTH,] > 50 * weights[Cause.UNKNOWN,]
    pair = sum(w for causes, w in weights.items() if len(causes) == 2)
    before = prior.of_pairs / (prior.of_singles / 10)  # ten causes, equal beforehand
    assert pair < 0.12 * before * weights[Cause.LENGTH,]


def test_a_weak_cause_beside_a_strong_one_counts_in_all_its_forms(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # lengths, and a second cause of which nothing shows: which of eight ropes it would
    # be of is open, so no few of its forms hold most of its weight
    eight = np.array([0.08, -0.05, 0.02, -0.05, 0.03, -0.06, 0.01, 0.02])
    taken = [(condition(place, arrived=way), eight) for place, way in _PLACES]
    model = make_model(pattern(taken), Prior())
    some = weights_of(weigh(model, Prior()))
    monkeypatch.setattr(evidence, "_KEPT", 1000)
    every = weights_of(weigh(model, Prior()))
    for second in (Cause.STIFFNESS, Cause.MASS, Cause.TOUCHING):
        pair = (Cause.LENGTH, second)
        assert some[pair] == pytest.approx(every[pair], rel=0.1)


def test_equal_ropes_leave_nothing_to_explain() -> None:
    taken = [(condition(place, arrived=way), np.zeros(4)) for place, way in _PLACES]
    seen = pattern(taken, relative=0.004)
    weights = weights_of(weigh(make_model(seen, Prior()), Prior()))
    assert max(weights, key=lambda c: weights[c]) == ()


def test_a_foretold_series_is_the_mean_and_width_of_the_joint_normal() -> None:
    # measured again at the same place: the length carries over, only noise is new
    seen = _three_places()
    further = condition(0.0)
    model = make_model(seen, Prior(), [further])
    form = forms_of(seen, model.conditions, Prior())[Cause.LENGTH][1]
    expected, covariance, deviations = foretell(model, [form])
    rows = contrasts(4)
    assert expected == pytest.approx(MEAN * rows @ DEVIATIONS, rel=0.05)
    noise = (0.01**2 + 0.004**2) * MEAN**2
    assert np.diag(covariance) == pytest.approx(np.full(3, noise * 4 / 3), rel=0.1)
    assert deviations[-1] == pytest.approx(MEAN * DEVIATIONS, rel=0.05)
    assert deviations.sum(axis=1) == pytest.approx(np.zeros(4), abs=1e-6)


_PLACES = ((0.0, "up"), (15.0, "down"), (30.0, "down"))


def _three_places() -> Pattern:
    taken = [(condition(place, arrived=way), DEVIATIONS) for place, way in _PLACES]

    return pattern(taken)
