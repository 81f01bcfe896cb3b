"""The mathematics of the side-pull benchmark, and a few of its sets."""

import numpy as np
import pytest

from tests.benchmarks.side_pulls import (
    CASES,
    bent_compliance,
    pulled_force,
    simulate,
)


def test_force_of_a_limp_rope_that_stretches_by_arithmetic() -> None:
    # 5000 N and 37 N/mm on 3 m, 30 mm aside: sides of 1.50030 m, worked out by hand
    side = (1.5**2 + 0.03**2) ** 0.5
    by_hand = 2 * (5000.0 + 37e3 * (2 * side - 3.0)) * 0.03 / side
    found = pulled_force(5000.0, 0.030, 3.0, 37e3, 1e-4)
    assert found == pytest.approx(by_hand, rel=1e-3)


def test_compliance_with_one_clamp_lies_between_pinned_and_clamped_by_formula() -> None:
    # mid-span: L/4H (1 - tanh(x)/x), x = xi/2 pinned and xi/4 clamped
    length, tension, rigidity = 3.0, 2000.0, 8.0
    xi = length * np.sqrt(tension / rigidity)
    limp = length / (4 * tension)
    pinned, clamped = (limp * (1 - np.tanh(x) / x) for x in (xi / 2, xi / 4))
    found = bent_compliance(tension, rigidity, length, length / 2)
    assert clamped < found < pinned
    # one clamp of two: half of what both take, to first order in 1/xi
    assert found == pytest.approx((pinned + clamped) / 2, rel=2 / xi**2)


@pytest.mark.slow
def test_a_few_sets_of_each_case_hold_their_truth() -> None:
    rows = simulate(3, seed=3)
    assert len(rows) == 3 * len(CASES)
    assert sum(row.covers for row in rows) >= len(rows) - 2
    assert not any(row.is_wrong for row in rows)
