import numpy as np
import pytest

from tension.errors import InvalidValueError
from tension.physics.hitch_statics import stiffness_in_series
from tension.physics.sheave import (
    SheaveSystem,
    round_trip_matrix,
)
from tests.oracles.rolling_rope import roll
from tests.oracles.running_ropes import hang
from tests.oracles.two_sides import (
    SheaveSystem as TwoSides,
)
from tests.oracles.two_sides import (
    SideDeviations,
    let_ropes_slip,
    run_round_trips,
    turn_nuts,
)
from tests.tolerances import computed

LEVEL = SideDeviations(car=np.zeros(4), counterweight=np.zeros(4))
ONE_TURN = np.array([0.002, 0.0, 0.0, 0.0])
CENTRED = ONE_TURN - ONE_TURN.mean()


def line(
    springs: int, *, travel: float = 30.0, n_falls: int = 1, car_fall: float = 4.0
) -> SheaveSystem:
    return SheaveSystem(
        car_fall=car_fall,
        counterweight_fall=38.0 - car_fall,
        travel=travel,
        n_falls=n_falls,
        axial_rigidity=4.6e6,
        car_spring_compliance=1 / 150e3 if springs > 0 else 0.0,
        counterweight_spring_compliance=1 / 150e3 if springs > 1 else 0.0,
    )


def closed_form(springs: int, travel: float = 30.0) -> TwoSides:
    return TwoSides(
        axial_rigidity=4.6e6,
        car_fall=4.0,
        counterweight_fall=34.0,
        travel=travel,
        car_spring_compliance=1 / 150e3 if springs > 0 else 0.0,
        counterweight_spring_compliance=1 / 150e3 if springs > 1 else 0.0,
    )


def spread_of_a_turn(
    falls: SheaveSystem, n_round_trips: int, *, is_at_far_end: bool = False
) -> np.ndarray:
    """Change of tension of every fall for unit travel of the nut, after trips [N/m]."""
    place = len(falls.compliances) - 1 if is_at_far_end else 0
    turned = np.zeros(len(falls.compliances))
    turned[place] = 1.0 / falls.compliances[place]
    trips = np.linalg.matrix_power(round_trip_matrix(falls), n_round_trips)
    return np.asarray(trips @ turned)


def test_a_turn_changes_only_its_own_fall_until_the_car_runs() -> None:
    after = spread_of_a_turn(line(2), 0)
    k_now = stiffness_in_series(
        free_length=4.0, axial_rigidity=4.6e6, spring_rates=[150e3]
    )
    assert after == pytest.approx([k_now, 0.0], rel=1e-12)
    far = spread_of_a_turn(line(2), 0, is_at_far_end=True)
    assert far[0] == 0.0
    assert far[1] > 0.0


@pytest.mark.parametrize("springs", [0, 1, 2])
@pytest.mark.parametrize("n_falls", [1, 2, 4])
def test_many_round_trips_end_at_the_stiffness_of_the_whole_rope(
    springs: int, n_falls: int
) -> None:
    after = spread_of_a_turn(line(springs, n_falls=n_falls), 3000)
    k_run = stiffness_in_series(
        free_length=38.0 * n_falls,
        axial_rigidity=4.6e6,
        spring_rates=[150e3] * springs,
    )
    assert after == pytest.approx(np.full(2 * n_falls, k_run), rel=1e-6)


@pytest.mark.parametrize("springs", [0, 1, 2])
@pytest.mark.parametrize("trips", [1, 2, 3, 7])
def test_one_to_one_is_the_closed_form(springs: int, trips: int) -> None:
    system = closed_form(springs)
    after = run_round_trips(turn_nuts(LEVEL, ONE_TURN, system), trips, system)
    spread = spread_of_a_turn(line(springs), trips)
    assert spread[0] * CENTRED == pytest.approx(after.car, rel=1e-9)
    assert spread[1] * CENTRED == pytest.approx(after.counterweight, rel=1e-9)


@pytest.mark.parametrize("n_falls", [1, 2])
def test_the_stretch_of_all_falls_together_never_changes(n_falls: int) -> None:
    falls = line(2, n_falls=n_falls)
    for trips in (0, 1, 2, 5):
        spread = spread_of_a_turn(falls, trips)
        assert float(spread @ np.array(falls.compliances)) == pytest.approx(1.0)


def test_rows_of_a_round_trip_sum_to_one() -> None:
    # ropes that carry alike everywhere are changed by no run
    for n_falls in (1, 2, 4):
        rows = round_trip_matrix(line(1, n_falls=n_falls)).sum(axis=1)
        assert rows == pytest.approx(np.ones(2 * n_falls), rel=1e-12)


def test_a_car_that_does_not_move_spreads_nothing() -> None:
    assert np.array_equal(round_trip_matrix(line(2, travel=0.0)), np.eye(2))


@pytest.mark.parametrize("trips", [1, 3])
def test_spreading_agrees_with_rope_rolled_piece_by_piece(trips: int) -> None:
    # Pieces of 10 mm keep their strain on a wrap that is next to nothing; what is left
    # is the strain of 0.1 % itself, which the formula takes as small.
    at_turn, car, other = roll(
        axial_rigidity=4.6e6,
        car_fall=4.0,
        counterweight_fall=34.0,
        spring_compliances=(1 / 150e3, 1 / 150e3),
        means=(5000.0, 5000.0),
        nut_travels=ONE_TURN,
        travel=30.0,
        n_round_trips=trips,
        wrap=0.01,
        step=0.01,
    )
    near = computed(2e-3, "strain of 0.1 % in the pieces, left out in the formula")
    first = spread_of_a_turn(line(2), 0)[0] * CENTRED
    spread = spread_of_a_turn(line(2), trips)
    assert at_turn - 5000.0 == pytest.approx(first, rel=near)
    assert car - 5000.0 == pytest.approx(spread[0] * CENTRED, rel=near)
    assert other - 5000.0 == pytest.approx(spread[1] * CENTRED, rel=near)


@pytest.mark.parametrize("springs", [0, 1, 2])
def test_spreading_agrees_with_unstretched_lengths_of_finite_strain(
    springs: int,
) -> None:
    n = np.ones(4)
    ropes = hang(
        tensions=5000.0 * n,
        other_mean=6000.0,
        car_springs=n / 150e3 if springs > 0 else 0.0 * n,
        other_springs=n / 150e3 if springs > 1 else 0.0 * n,
        rigidity=4.6e6 * n,
        car_fall=4.0,
        other_fall=34.0,
        travel=30.0,
    )
    ropes.turn(0, 0.002)
    near = computed(5e-3, "strain of 0.1 % and pieces of a quarter of the travel")
    for trips in range(4):
        expected = spread_of_a_turn(line(springs), trips)[0] * CENTRED
        # against the whole turn, for without springs hardly any of it is left
        whole = spread_of_a_turn(line(springs), 0)[0] * 0.002
        assert ropes.tensions - 5000.0 == pytest.approx(expected, abs=near * whole)
        ropes.run(1)


def test_a_metre_of_wrap_changes_little() -> None:
    _, car, _ = roll(
        axial_rigidity=4.6e6,
        car_fall=4.0,
        counterweight_fall=34.0,
        spring_compliances=(1 / 150e3, 1 / 150e3),
        means=(5000.0, 5000.0),
        nut_travels=ONE_TURN,
        travel=30.0,
        n_round_trips=3,
        wrap=1.0,
        step=0.02,
    )
    expected = spread_of_a_turn(line(2), 3)[0] * CENTRED[0]
    assert car[0] - 5000.0 == pytest.approx(expected, abs=0.05 * 199.0)


def test_two_to_one_is_slower_than_one_to_one() -> None:
    # the fall at the dead end takes rope in over the sheave of the car alone
    def left(n_falls: int) -> float:
        spread = spread_of_a_turn(line(2, n_falls=n_falls), 3)[0]
        return float(spread / spread_of_a_turn(line(2, n_falls=n_falls), 3000)[0])

    assert left(2) > left(1) > 1.0


def test_the_pieces_of_a_journey_are_fine_enough(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    usual = spread_of_a_turn(line(2, n_falls=2), 3)
    monkeypatch.setattr("tension.physics.sheave._PIECES", 400)
    assert usual == pytest.approx(spread_of_a_turn(line(2, n_falls=2), 3), rel=0.01)


def test_no_rope_holds_more_than_its_groove_grips() -> None:
    system = closed_form(2)
    turned = turn_nuts(LEVEL, 3 * ONE_TURN, system)
    gripping = let_ropes_slip(
        turned, car_mean=5000.0, counterweight_mean=5000.0, system=system
    )
    assert np.array_equal(gripping.car, turned.car)


def test_impossible_lines_are_refused() -> None:
    with pytest.raises(InvalidValueError, match="the fall that it takes up"):
        line(0, travel=40.0)
