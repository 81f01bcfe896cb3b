"""What holds between readings with no run of the car between them."""

from collections.abc import Sequence

import numpy as np
import pytest

from tension.diagnosis.evidence import make_model, weigh, weights_of
from tension.diagnosis.forms import Form, Prior, forms_of
from tension.diagnosis.outcome import Cause, Condition
from tests.diagnosis.lifts import MEAN, condition, pattern

EQUAL = np.zeros(4)
TOP_TWICE = (condition(0.0), condition(0.0, mean=1.4 * MEAN))
AFTER_RUNS = (condition(30.0, arrived="down"), condition(0.0))


def forms(
    cause: Cause, taken: Sequence[Condition], further: Sequence[Condition] = ()
) -> tuple[Form, ...]:
    seen = pattern([(c, EQUAL) for c in taken])
    return forms_of(seen, (*seen.conditions, *further), Prior())[cause]


def correlations(form: Form) -> np.ndarray:
    size = np.sqrt(np.diag(form.spread))
    return np.asarray(form.spread / np.outer(size, size))


def test_a_twisted_rope_keeps_its_force_where_the_car_may_not_have_run() -> None:
    found = [correlations(f) for f in forms(Cause.TWIST, (*TOP_TWICE, *AFTER_RUNS))]
    stayed = np.eye(4)
    stayed[0, 1] = stayed[1, 0] = 1.0
    for way in (np.eye(4), stayed):
        assert sum(np.array_equal(way, each) for each in found) == len(found) // 2


def test_what_is_foretold_of_a_twisted_rope_is_after_a_run() -> None:
    found = forms(Cause.TWIST, TOP_TWICE, [condition(0.0)])
    assert all(correlations(f)[:2, 2] == pytest.approx(0.0) for f in found)


def test_more_of_one_rope_under_a_load_is_no_twist() -> None:
    # nothing ran between the load put on and taken off, twice
    heavy = np.array([0.09, -0.03, -0.03, -0.03])
    taken = [
        (condition(0.0), EQUAL),
        (condition(0.0, mean=1.4 * MEAN), heavy),
        (condition(30.0, arrived="down"), EQUAL),
        (condition(30.0, arrived="down", mean=1.4 * MEAN), heavy),
    ]
    seen = pattern(taken)
    weights = weights_of(weigh(make_model(seen, Prior()), Prior()))
    assert weights[(Cause.TWIST,)] < 0.02
