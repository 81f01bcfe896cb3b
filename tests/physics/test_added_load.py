"""Shares of an added load."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import InvalidValueError
from tension.physics.hitch_statics import added_load_shares
from tests.synthesis.lifts_with_a_cause import SteppedLift
from tests.tolerances import computed

stiffnesses = st.lists(st.floats(1e4, 1e6), min_size=2, max_size=12)


@given(stiffnesses)
def test_shares_of_an_added_load_make_one_and_follow_the_stiffness(
    k: list[float],
) -> None:
    shares = added_load_shares(k)
    assert shares.sum() == pytest.approx(1.0, rel=1e-12)
    assert shares / shares[0] == pytest.approx(np.array(k) / k[0], rel=1e-12)


def test_a_bound_spring_takes_what_a_stepped_lift_gives_it() -> None:
    soft = np.full(4, 1 / 150e3)
    soft[2] = 0.0
    lift = SteppedLift(
        n_ropes=4,
        rigidities=np.full(4, 4.6e6),
        springs=(soft, np.full(4, 1 / 150e3)),
        radii=np.ones(4),
        falls=(4.0, 34.0),
        travel=30.0,
        loads=(20000.0, 20000.0),
        grip=99.0,
    )
    before = lift.car.copy()
    lift.loads = (24000.0, 20000.0)
    lift.settle()
    k = 1.0 / (soft + 4.0 / 4.6e6)
    near = computed(3e-3, "strain of 0.1 % in the stepped lift")
    assert (lift.car - before) / 4000.0 == pytest.approx(added_load_shares(k), rel=near)


def test_no_rope_may_be_without_stiffness() -> None:
    with pytest.raises(InvalidValueError, match="stiffness"):
        added_load_shares([1e5, 0.0])
