import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tension.errors import InvalidValueError
from tension.physics.hitch_statics import stiffness_in_series, tension_changes
from tests.oracles.hitch_frame import tensions_after_travel
from tests.oracles.influence import (
    influence_matrix,
)

STIFFNESSES = st.lists(
    st.floats(min_value=15e3, max_value=900e3), min_size=2, max_size=12
)


# --- limits and identities ---


@given(STIFFNESSES)
def test_rows_and_columns_sum_to_zero(k: list[float]) -> None:
    m = influence_matrix(k)
    assert np.abs(m.sum(axis=0)).max() < 1e-9 * max(k)
    assert np.abs(m.sum(axis=1)).max() < 1e-9 * max(k)


@given(STIFFNESSES, st.floats(min_value=-0.02, max_value=0.02))
def test_all_nuts_alike_change_no_tension(k: list[float], travel: float) -> None:
    travels = np.full(len(k), travel)
    assert np.abs(tension_changes(travels, k)).max() < 1e-9 * max(k)


@pytest.mark.parametrize("k", [[0.0, 1e5], [-1.0, 1e5], [np.inf, 1e5]])
def test_a_stiffness_that_is_none_is_refused(k: list[float]) -> None:
    with pytest.raises(InvalidValueError, match="stiffness"):
        tension_changes([0.001, 0.0], k)


def test_a_long_rope_forgets_its_spring_and_a_short_one_its_length() -> None:
    long = stiffness_in_series(
        free_length=1e6, axial_rigidity=4.6e6, spring_rates=[150e3]
    )
    short = stiffness_in_series(
        free_length=1e-6, axial_rigidity=4.6e6, spring_rates=[150e3]
    )
    assert long == pytest.approx(4.6, rel=1e-4)
    assert short == pytest.approx(150e3, rel=1e-6)


# --- another mathematics: direct stiffness solve of the whole frame ---


def test_tensions_agree_with_a_direct_stiffness_solve() -> None:
    rng = np.random.default_rng(4)
    for n in (2, 3, 6, 12):
        lengths = rng.uniform(3.0, 60.0, n)
        springs = rng.uniform(50e3, 200e3, (n, 2))
        rigidity = 4.6e6
        chains = [
            [springs[i, 0]] + [rigidity / (lengths[i] / 5)] * 5 + [springs[i, 1]]
            for i in range(n)
        ]
        k = [
            stiffness_in_series(
                free_length=lengths[i],
                axial_rigidity=rigidity,
                spring_rates=list(springs[i]),
            )
            for i in range(n)
        ]
        travels = rng.uniform(-0.008, 0.008, n)
        before = tensions_after_travel(
            chains=chains, nut_travels=[0.0] * n, load=5000.0 * n
        )
        after = tensions_after_travel(
            chains=chains, nut_travels=list(travels), load=5000.0 * n
        )
        assert tension_changes(travels, k) == pytest.approx(after - before, rel=1e-8)
        assert influence_matrix(k) @ travels == pytest.approx(after - before, rel=1e-8)


def test_a_tilting_hitch_agrees_with_a_direct_stiffness_solve() -> None:
    k = np.array([120e3, 100e3, 90e3, 80e3])
    levers = np.array([-0.3, -0.1, 0.1, 0.3])
    holding = 4.0e3  # [N m] what guides and load hold against tilting
    compliance = np.diag(1.0 / k) + np.outer(levers, levers) / holding
    travels = np.array([0.004, -0.002, 0.001, 0.003])
    after = tensions_after_travel(
        chains=[[rate] for rate in k],
        nut_travels=list(travels),
        load=20e3,
        load_positions=list(levers),
        tilt_stiffness=holding,
    )
    before = tensions_after_travel(
        chains=[[rate] for rate in k],
        nut_travels=[0.0] * 4,
        load=20e3,
        load_positions=list(levers),
        tilt_stiffness=holding,
    )
    # C^-1 less what a common rise takes back; diag(1/k) makes the program's matrix
    assert _from_compliance(compliance) @ travels == pytest.approx(
        after - before, rel=1e-7
    )
    assert _from_compliance(np.diag(1 / k)) == pytest.approx(
        influence_matrix(k), rel=1e-9
    )


def _from_compliance(compliance: NDArray[np.float64]) -> NDArray[np.float64]:
    stiffness = np.linalg.inv(compliance)
    row = stiffness.sum(axis=1)
    return np.asarray(stiffness - np.outer(row, row) / row.sum())


# --- our own numbers, worked out again here: arithmetic checks, no outside source ---
# Published tables of k for rope and spring in series were sought and not found.


@pytest.mark.parametrize("length", [3.0, 5.0, 10.0, 20.0, 40.0, 80.0])
@pytest.mark.parametrize("rate", [50.0, 100.0, 200.0, None])
def test_stiffness_of_ten_millimetre_rope_by_arithmetic(
    length: float, rate: float | None
) -> None:
    # N/mm by hand: rope 2.5 MN over length in mm, spring added as reciprocals.
    rope = 2.5e6 / (1000 * length)
    by_hand = rope if rate is None else rope * rate / (rope + rate)
    found = stiffness_in_series(
        free_length=length,
        axial_rigidity=2.5e6,
        spring_rates=[] if rate is None else [1000 * rate],
    )
    assert found / 1000 == pytest.approx(by_hand, rel=1e-9)


@pytest.mark.parametrize(
    ("length", "rates", "own", "other"),
    [
        # one M16 turn of 2 mm, four ropes of 4.6 MN, spring 150 N/mm, before it has run
        (4.0, [150e3], 199.0, -66.0),
        (10.0, [150e3], 170.0, -57.0),
        (30.0, [150e3], 114.0, -38.0),
        (60.0, [150e3], 76.0, -25.0),
        (4.0, [], 1725.0, None),
        (10.0, [], 690.0, None),
        (30.0, [], 230.0, None),
        (60.0, [], 115.0, None),
        # after running, 38 m hitch to hitch: springs at both ends, one end, none
        (38.0, [150e3, 150e3], 69.0, None),
        (38.0, [150e3], 100.0, None),
        (38.0, [], 182.0, None),
    ],
)
def test_one_turn_changes_its_own_rope_and_the_others(
    length: float, rates: list[float], own: float, other: float | None
) -> None:
    k = stiffness_in_series(
        free_length=length, axial_rigidity=4.6e6, spring_rates=rates
    )
    changes = tension_changes([0.002, 0.0, 0.0, 0.0], [k] * 4)
    assert changes[0] == pytest.approx(own, abs=0.6)
    if other is not None:
        assert changes[1] == pytest.approx(other, abs=0.6)


def test_unequal_ropes_share_a_turn_by_their_stiffness() -> None:
    # By hand: M11 = 120 - 120^2/390, M12 = -120*100/390 N/mm.
    m = influence_matrix([120e3, 100e3, 90e3, 80e3]) / 1000
    assert m[0, 1] == pytest.approx(-12000 / 390, rel=1e-12)
    diagonal = [83.0769, 74.3590, 69.2308, 63.5897]
    assert np.diag(m) == pytest.approx(np.array(diagonal), abs=5e-5)


@pytest.mark.parametrize(
    ("n", "factor"), [(3, 0.125), (4, 0.111), (6, 0.110), (8, 0.112)]
)
def test_one_rope_at_a_time_shrinks_the_spread_about_ninefold_a_round(
    n: int, factor: float
) -> None:
    # The whole round as one matrix: each nut brings its own rope to the mean.
    m = influence_matrix(np.full(n, 1.0))
    whole = np.eye(n)
    for i in range(n):
        step = np.eye(n)
        step -= np.outer(m[:, i], np.eye(n)[i]) / m[i, i]
        whole = step @ whole
    found = max(abs(np.linalg.eigvals(whole @ (np.eye(n) - 1.0 / n))))
    assert found == pytest.approx(factor, abs=6e-4)
