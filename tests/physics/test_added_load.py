"""Shares of an added load, and readings taken with a wrong length."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import InvalidValueError
from tension.physics.added_load import added_load_shares
from tension.physics.length_error import apparent_tension_ratio
from tension.physics.taut_rope import EndCondition, squared_wave_speed_from_frequency
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


@given(st.floats(1.0, 60.0), st.floats(-0.3, 0.3))
def test_a_small_error_of_length_counts_twice(length: float, part: float) -> None:
    error = 1e-5 * part * length
    ratio = apparent_tension_ratio(length_taken=length + error, length_true=length)
    assert ratio - 1.0 == pytest.approx(2.0 * error / length, rel=1e-4, abs=1e-14)


def test_a_wrong_length_is_wrong_as_the_string_says() -> None:
    # another way: the string solved for its tension with either length
    speeds = squared_wave_speed_from_frequency(
        frequency=12.0,
        mode_number=1,
        free_length=np.array([3.15, 3.0]),
        rigidity_per_density=0.0,
        ends=EndCondition.PINNED_PINNED,
    )
    ratio = apparent_tension_ratio(length_taken=3.15, length_true=3.0)
    assert speeds[0] / speeds[1] == pytest.approx(ratio, rel=1e-12)


def test_lengths_must_be_above_nought() -> None:
    with pytest.raises(InvalidValueError, match="free length"):
        apparent_tension_ratio(length_taken=3.0, length_true=0.0)
