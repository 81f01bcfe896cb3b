import numpy as np
import pytest

from tension.errors import InvalidValueError
from tension.physics.hitch_statics import stiffness_in_series, tension_changes
from tension.physics.sheave_transport import (
    SheaveSystem,
    SideDeviations,
    let_ropes_slip,
    run_round_trips,
    turn_nuts,
)
from tests.oracles.rolling_rope import roll
from tests.tolerances import computed

LEVEL = SideDeviations(car=np.zeros(4), counterweight=np.zeros(4))
ONE_TURN = np.array([0.002, 0.0, 0.0, 0.0])


def system(springs: int, **changed: float) -> SheaveSystem:
    return SheaveSystem(
        axial_rigidity=4.6e6,
        car_fall=4.0,
        counterweight_fall=34.0,
        travel=changed.pop("travel", 30.0),
        car_spring_compliance=1 / 150e3 if springs > 0 else 0.0,
        counterweight_spring_compliance=1 / 150e3 if springs > 1 else 0.0,
        **changed,
    )


def test_a_turn_changes_only_its_own_side_until_the_car_runs() -> None:
    after = turn_nuts(LEVEL, ONE_TURN, system(2))
    k_now = stiffness_in_series(
        free_length=4.0, axial_rigidity=4.6e6, spring_rates=[150e3]
    )
    assert after.car == pytest.approx(tension_changes(ONE_TURN, [k_now] * 4), rel=1e-12)
    assert np.all(after.counterweight == 0.0)


@pytest.mark.parametrize("springs", [0, 1, 2])
def test_many_round_trips_end_at_the_stiffness_of_the_whole_rope(springs: int) -> None:
    after = run_round_trips(
        turn_nuts(LEVEL, ONE_TURN, system(springs)), 60, system(springs)
    )
    k_run = stiffness_in_series(
        free_length=38.0, axial_rigidity=4.6e6, spring_rates=[150e3] * springs
    )
    expected = tension_changes(ONE_TURN, [k_run] * 4)
    assert after.car == pytest.approx(expected, rel=1e-9)
    assert after.counterweight == pytest.approx(expected, rel=1e-9)


def test_the_stretch_of_both_sides_together_never_changes() -> None:
    s = system(2)
    turned = turn_nuts(LEVEL, ONE_TURN, s)
    stretch = s.car_compliance * turned.car
    for trips in (1, 2, 5):
        after = run_round_trips(turned, trips, s)
        found = (
            s.car_compliance * after.car
            + s.counterweight_compliance * after.counterweight
        )
        assert found == pytest.approx(stretch, rel=1e-12)


def test_a_car_that_does_not_move_spreads_nothing() -> None:
    s = system(2, travel=0.0)
    turned = turn_nuts(LEVEL, ONE_TURN, s)
    after = run_round_trips(turned, 3, s)
    assert after.car == pytest.approx(turned.car, rel=1e-12)


@pytest.mark.parametrize("springs", [0, 1, 2])
def test_three_round_trips_come_within_a_few_percent_of_the_end(springs: int) -> None:
    s = system(springs)
    turned = turn_nuts(LEVEL, ONE_TURN, s)
    after = run_round_trips(turned, 3, s).car[0]
    end = run_round_trips(turned, 60, s).car[0]
    assert abs(after - end) < 0.05 * end
    assert after != end


@pytest.mark.parametrize("trips", [1, 3])
def test_spreading_agrees_with_rope_rolled_piece_by_piece(trips: int) -> None:
    # Pieces of 10 mm keep their strain on a wrap that is next to nothing; what is left
    # is the strain of 0.1 % itself, which the closed form takes as small.
    s = system(2)
    turned = turn_nuts(LEVEL, ONE_TURN, s)
    closed = run_round_trips(turned, trips, s)
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
    near = computed(2e-3, "strain of 0.1 % in the pieces, left out in closed form")
    assert at_turn[0] - 5000.0 == pytest.approx(turned.car[0], rel=near)
    assert car[0] - 5000.0 == pytest.approx(closed.car[0], rel=near)
    assert other[0] - 5000.0 == pytest.approx(closed.counterweight[0], rel=near)


def test_a_metre_of_wrap_changes_little() -> None:
    s = system(2)
    closed = run_round_trips(turn_nuts(LEVEL, ONE_TURN, s), 3, s)
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
    assert car[0] - 5000.0 == pytest.approx(closed.car[0], abs=0.05 * 199.0)


def test_no_rope_holds_more_than_its_groove_grips() -> None:
    s = system(2, grip=0.05)
    turned = turn_nuts(LEVEL, 3 * ONE_TURN, s)
    after = let_ropes_slip(turned, car_mean=5000.0, counterweight_mean=5000.0, system=s)
    ratio = (5000.0 + after.car) / (5000.0 + after.counterweight)
    assert np.max(np.maximum(ratio, 1 / ratio)) <= 1.05 + 1e-6
    assert np.max(ratio) == pytest.approx(1.05, abs=1e-6)
    assert after.car.sum() == pytest.approx(0.0, abs=1e-6)
    assert after.counterweight.sum() == pytest.approx(0.0, abs=1e-6)


def test_a_groove_that_grips_holds_every_difference() -> None:
    s = system(2)
    turned = turn_nuts(LEVEL, ONE_TURN, s)
    after = let_ropes_slip(turned, car_mean=5000.0, counterweight_mean=5000.0, system=s)
    assert np.array_equal(after.car, turned.car)


def test_impossible_systems_are_refused() -> None:
    with pytest.raises(InvalidValueError, match="less than the fall of the other side"):
        system(2, travel=40.0)
    with pytest.raises(
        InvalidValueError, match="round trips must be 0 or more, got -1"
    ):
        run_round_trips(LEVEL, -1, system(2))
