"""Grooves of different radius, on two legs: limits and identities, and a lift stepped
with unstretched lengths. No published figure was seen: the paper that shows tension
changing during a run until ropes slip (Nakazawa et al., J. Phys. Conf. Ser. 1048 (2018)
012006) was seen as an abstract without numbers.
"""

from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import InvalidValueError
from tension.physics.sheave import (
    SheaveSystem,
    compliances_at,
    run_to,
    settled_ends,
    side_deviations,
)
from tests.oracles import two_sides
from tests.synthesis.lifts_with_a_cause import SteppedLift
from tests.tolerances import computed

RADII = np.array([0.05, -0.02, 0.0, -0.03]) / 260.0


def system(springs: float = 1 / 150e3, travel: float = 30.0) -> SheaveSystem:
    return SheaveSystem(
        axial_rigidity=4.6e6,
        car_fall=4.0,
        counterweight_fall=34.0,
        travel=travel,
        car_spring_compliance=springs,
        counterweight_spring_compliance=springs,
    )


def stepped(radii: np.ndarray, springs: float, grip: float = 99.0) -> SteppedLift:
    n = len(radii)
    return SteppedLift(
        n_ropes=n,
        rigidities=np.full(n, 4.6e6),
        springs=(np.full(n, springs), np.full(n, springs)),
        radii=1.0 + radii,
        falls=(4.0, 34.0),
        travel=30.0,
        loads=(n * 5000.0, n * 5000.0),
        grip=grip,
        step=0.1,
    )


def settled_differences(
    *,
    radius_deviations: np.ndarray,
    rope_passed: float,
    is_arrived_down: bool,
    system: SheaveSystem,
    slip_difference: float = np.inf,
) -> np.ndarray:
    """Where the differences stand after many runs over the whole travel."""
    ends = settled_ends(
        radius_deviations=radius_deviations,
        system=system,
        slip_difference=slip_difference,
    )
    return run_to(
        ends[0] if is_arrived_down else ends[1],
        radius_deviations=radius_deviations,
        start=0.0 if is_arrived_down else system.travel,
        end=rope_passed,
        system=system,
        slip_difference=slip_difference,
    )


def settled(
    place: float, *, down: bool, s: SheaveSystem, **slip: float
) -> two_sides.SideDeviations:
    u = settled_differences(
        radius_deviations=RADII,
        rope_passed=place,
        is_arrived_down=down,
        system=s,
        **slip,
    )
    car, other = side_deviations(
        differences=u, excess_lengths=np.zeros(4), rope_passed=place, system=s
    )
    return two_sides.SideDeviations(car=car, counterweight=other)


def test_equal_grooves_are_the_round_trips_of_a_turned_nut() -> None:
    s = system()
    excess = np.array([0.002, 0.0, 0.0, 0.0])
    u = excess / s.compliances[0]
    trips = u
    for _ in range(3):
        for start, end in ((0.0, 30.0), (30.0, 0.0)):
            trips = run_to(
                trips, radius_deviations=np.zeros(4), start=start, end=end, system=s
            )
    car, other = side_deviations(
        differences=trips, excess_lengths=excess, rope_passed=0.0, system=s
    )
    known = two_sides.run_round_trips(
        two_sides.SideDeviations(car=u, counterweight=np.zeros(4)),
        3,
        two_sides.SheaveSystem(
            **{n: v for n, v in asdict(s).items() if n != "n_falls"}
        ),
    )
    assert car == pytest.approx(known.car, rel=1e-12)
    assert other == pytest.approx(known.counterweight, rel=1e-9)


def test_a_short_run_feeds_the_mismatch_into_the_side_that_takes_rope_in() -> None:
    # ds of rope: g ds too much on the car side, g ds too little on the other
    s, ds, g = system(), 1e-4, 1e-4
    u = run_to(
        np.zeros(1),
        radius_deviations=np.array([g]),
        start=10.0,
        end=10.0 + ds,
        system=s,
    )
    car, other = compliances_at(10.0, s)
    assert u[0] == pytest.approx(-g * ds * (1 / car + 1 / other), rel=1e-4)


def test_the_two_sides_deviate_in_opposite_senses_by_their_compliances() -> None:
    s = system()
    both = settled(20.0, down=True, s=s)
    car, other = compliances_at(20.0, s)
    assert car * both.car == pytest.approx(-other * both.counterweight, rel=1e-12)


def test_a_settled_cycle_repeats() -> None:
    s = system()
    top, far = settled_ends(radius_deviations=RADII, system=s)
    down = run_to(top, radius_deviations=RADII, start=0.0, end=30.0, system=s)
    up = run_to(down, radius_deviations=RADII, start=30.0, end=0.0, system=s)
    assert down == pytest.approx(far, rel=1e-12)
    assert up == pytest.approx(top, rel=1e-9)


def test_with_alike_sides_a_mirrored_travel_mirrors_the_deviations() -> None:
    # falls 4 and 34 m over 30 m: the bottom of the car side is the top of the other
    s = system()
    top = settled(0.0, down=False, s=s)
    bottom = settled(30.0, down=True, s=s)
    assert bottom.counterweight == pytest.approx(top.car, rel=1e-9)


@given(st.floats(0.2, 3.0), st.floats(0.0, 30.0), st.sampled_from([True, False]))
def test_without_slip_deviations_are_proportional(
    factor: float,
    place: float,
    down: bool,  # noqa: FBT001 (drawn)
) -> None:
    s = system()
    one = settled_differences(
        radius_deviations=RADII, rope_passed=place, is_arrived_down=down, system=s
    )
    more = settled_differences(
        radius_deviations=factor * RADII,
        rope_passed=place,
        is_arrived_down=down,
        system=s,
    )
    assert more == pytest.approx(factor * one, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("springs", [0.0, 1 / 150e3])
def test_a_settled_lift_agrees_with_one_stepped_piece_by_piece(springs: float) -> None:
    lift = stepped(RADII, springs)
    lift.cycle(6 if springs else 3)
    s = system(springs)
    near = computed(8e-3, "steps of 0.1 m on a fall of 4 m, shrinking with the step")
    for place, down in ((0.0, False), (15.0, True), (30.0, True), (12.0, False)):
        lift.run_to(place)
        both = settled(place, down=down, s=s)
        assert lift.car - 5000.0 == pytest.approx(both.car, rel=near, abs=0.5)
        assert lift.other - 5000.0 == pytest.approx(
            both.counterweight, rel=near, abs=0.5
        )


def test_the_stepped_lift_closes_in_as_its_steps_get_shorter() -> None:
    errors = []
    for step in (2.0, 1.0):
        lift = stepped(RADII, 0.0)
        lift.step = step
        lift.cycle(4)
        errors.append(
            abs(lift.car[0] - 5000.0 - settled(0.0, down=False, s=system(0.0)).car[0])
        )
    assert errors[1] < 0.7 * errors[0]


def test_slip_bounds_the_difference_of_every_rope() -> None:
    s = system()
    for place in (0.0, 7.0, 15.0, 30.0):
        u = settled_differences(
            radius_deviations=RADII,
            rope_passed=place,
            is_arrived_down=True,
            system=s,
            slip_difference=100.0,
        )
        assert np.abs(u).max() <= 100.0


def test_ropes_that_slip_all_the_way_stand_at_the_limit_of_their_direction() -> None:
    limit = 1.0
    down = settled_differences(
        radius_deviations=RADII,
        rope_passed=15.0,
        is_arrived_down=True,
        system=system(),
        slip_difference=limit,
    )
    up = settled_differences(
        radius_deviations=RADII,
        rope_passed=15.0,
        is_arrived_down=False,
        system=system(),
        slip_difference=limit,
    )
    assert down == pytest.approx(-limit * np.sign(RADII), rel=1e-12)
    assert up == pytest.approx(limit * np.sign(RADII), rel=1e-12)


def test_slip_agrees_with_the_stepped_lift_that_slips_by_a_ratio() -> None:
    # equal loads and small deviations: a ratio of 1.04 is a difference of about 200 N
    lift = stepped(RADII, 1 / 150e3, grip=1.04)
    lift.cycle(6)
    lift.run_to(30.0)
    both = settled(30.0, down=True, s=system(), slip_difference=200.0)
    assert lift.car[0] - 5000.0 == pytest.approx(both.car[0], rel=0.12)
    free = settled(30.0, down=True, s=system())
    assert abs(lift.car[0] - 5000.0) < 0.6 * abs(free.car[0])


@pytest.mark.parametrize("load", [32000.0, 20000.0])
def test_ropes_of_other_rigidity_creep_until_all_creep_alike(load: float) -> None:
    rigidities = 4.6e6 * (1 + np.array([0.1, 0.0, 0.0, 0.0, -0.05]))
    none = np.full(5, 1 / 150e3)
    lift = SteppedLift(
        n_ropes=5,
        rigidities=rigidities,
        springs=(none, none),
        radii=np.ones(5),
        falls=(4.0, 34.0),
        travel=30.0,
        loads=(25000.0, load),
        grip=99.0,
    )
    lift.cycle(40)
    differences = (lift.car - lift.car.mean()) - (lift.other - lift.other.mean())
    # runs go on until all creep alike, T_car - T_cwt in proportion to EA
    known = (25000.0 - load) / 5 * (rigidities / rigidities.mean() - 1.0)
    near = computed(5e-3, "strain of 0.1 % and steps of 0.5 m")
    assert differences == pytest.approx(known, rel=near, abs=0.3)


def test_impossible_runs_are_refused() -> None:
    flat = {"radius_deviations": np.zeros(1), "system": system()}
    with pytest.raises(InvalidValueError, match="within the travel of 30"):
        run_to(np.zeros(1), start=0.0, end=31.0, **flat)  # type: ignore[arg-type]
    with pytest.raises(InvalidValueError, match="slip difference must be above 0"):
        run_to(np.zeros(1), start=0.0, end=1.0, slip_difference=0.0, **flat)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"car_fall": 0.0}, "both falls must be above 0"),
        ({"counterweight_fall": 0.0}, "both falls must be above 0"),
        ({"axial_rigidity": 0.0}, "rigidity and both falls"),
        ({"travel": -4.0}, "under 34.0 m, the counterweight fall, got -4"),
        ({"travel": 34.0}, "under 34.0 m, the counterweight fall, got 34"),
    ],
)
def test_a_lift_that_cannot_be_is_refused(
    changed: dict[str, float], message: str
) -> None:
    known = SheaveSystem(
        axial_rigidity=4.6e6, car_fall=4.0, counterweight_fall=34.0, travel=-3.99
    )
    with pytest.raises(InvalidValueError, match=message):
        replace(known, **changed)  # type: ignore[arg-type]


def test_a_car_that_does_not_travel_makes_no_difference() -> None:
    ends = settled_ends(
        radius_deviations=np.array([1e-3, -1e-3]), system=system(travel=0.0)
    )
    assert np.array_equal(ends, np.zeros((2, 2)))
    there = run_to(
        np.array([50.0, -50.0]),
        radius_deviations=np.zeros(2),
        start=0.0,
        end=0.0,
        system=system(travel=0.0),
        slip_difference=40.0,
    )
    assert there.tolist() == [40.0, -40.0]


def test_a_hitch_without_springs_gives_by_its_rope_alone() -> None:
    bare = SheaveSystem(
        axial_rigidity=4.6e6, car_fall=4.0, counterweight_fall=34.0, travel=30.0
    )
    assert bare.compliances[0] == pytest.approx(4.0 / 4.6e6, rel=1e-12)
    assert bare.compliances[1] == pytest.approx(34.0 / 4.6e6, rel=1e-12)


@pytest.mark.parametrize("slip", [30.0, 100.0])
def test_ends_with_slip_come_back_after_a_cycle(slip: float) -> None:
    s = system()
    top, far = settled_ends(radius_deviations=RADII, system=s, slip_difference=slip)
    assert np.abs(np.concatenate([top, far])).max() == pytest.approx(slip)
    down = run_to(
        top,
        radius_deviations=RADII,
        start=0.0,
        end=30.0,
        system=s,
        slip_difference=slip,
    )
    up = run_to(
        down,
        radius_deviations=RADII,
        start=30.0,
        end=0.0,
        system=s,
        slip_difference=slip,
    )
    assert down == pytest.approx(far, abs=1e-5 * slip)
    assert up == pytest.approx(top, abs=1e-5 * slip)
