"""How turns spread and when a set is at rest, each figure worked out beside it."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from tension.adjustment.outcome import RunState, SetState, Turn
from tension.adjustment.running import (
    RunIn,
    find_run_in,
    find_state,
    mean_tension_of,
    travels_shown,
)
from tension.adjustment.stiffness import (
    KnownFrom,
    LearnedStiffness,
    Origin,
    Setting,
    opposite_hitch,
)
from tension.installation import Buffer, Drive, HitchPlace, Roping, Side, Span
from tension.physics.sheave import SheaveSystem, round_trip_matrix
from tension.quantity.units import Dimension, Quantity
from tests.synthesis.measured_sets import SPAN, assessed, hitch, quantity, rope_set

CAR, FAR = HitchPlace.CAR, HitchPlace.COUNTERWEIGHT
SOFT = 1 / 50e3  # a spring of no known rate


def metres(value: float) -> Quantity:
    return quantity(value, Dimension.LENGTH, f"{value:g} m")


def span(fall: float | None, side: Side = Side.CAR) -> Span:
    length = None if fall is None else metres(fall)
    return replace(SPAN, free_length=length, side=side)


def learned(stiffness: float) -> LearnedStiffness:
    return LearnedStiffness(
        hitch=CAR,
        set_stiffness=stiffness,
        set_uncertainty=0.05,
        stiffnesses=(stiffness,) * 4,
        own_uncertainty=0.03,
        source="a test",
    )


# --- what is left over of a turn after every round trip ---


@dataclass(frozen=True, kw_only=True)
class Lift:
    """What the program must take, by hand."""

    fall: float  # [m]
    rope: float  # both falls of one pair [m]
    down: float  # journeys [m]
    up: float
    rigidity: float = 1.1 * 4.6e6  # typed, and 10 % stiffer
    springs: tuple[float, float] = (1.05 / 150e3, 1.05 / 150e3)
    n_falls: int = 1
    settled: float  # [N/m]
    near: float | None  # of the turn's own hitch before a run; None as the line has it

    def left_over(self, place: int, n_trips: int) -> list[float]:
        there, back = (
            SheaveSystem(
                car_fall=self.fall,
                counterweight_fall=self.rope - self.fall,
                travel=travel,
                n_falls=self.n_falls,
                axial_rigidity=self.rigidity,
                car_spring_compliance=self.springs[0],
                counterweight_spring_compliance=self.springs[1],
            )
            for travel in (self.down, -self.up)
        )
        gives = np.array(there.compliances)
        effect = np.zeros(len(gives))
        effect[place] = gives.sum() / gives[place]
        trip = round_trip_matrix(back) @ round_trip_matrix(there)
        found = []
        for _ in range(n_trips):
            found.append(effect[0] - 1.0)
            effect = trip @ effect
        if place == 0 and self.near is not None:
            return [one * self.near / found[0] for one in found]
        return found


K_NOW, K_RUN = 1 / (1 / 150e3 + 4 / 4.6e6), 1 / (2 / 150e3 + 38 / 4.6e6)
K_AT_14 = 1 / (1 / 150e3 + 14 / 4.6e6)
RUBBER = (hitch(buffer=Buffer.RUBBER), hitch(FAR, buffer=Buffer.RUBBER))
BARE_RIGIDITY = 4.6e6 / 38
K_SHORT = 1 / (2 / 150e3 + 10 / 4.6e6)
OTHER = (hitch(), hitch(FAR, rate=100e3))
K_OTHER = 1 / (1 / 150e3 + 1 / 100e3 + 38 / 4.6e6)
LINES = {
    "car at the top": (
        Setting(rope_set=rope_set(4), travel=metres(30)),
        span(4.0),
        Lift(fall=4, rope=38, down=30, up=0, settled=K_RUN, near=K_NOW / K_RUN - 1),
    ),
    "car between": (
        Setting(rope_set=rope_set(4), travel=metres(30)),
        span(14.0),
        Lift(fall=14, rope=38, down=20, up=10, settled=K_RUN, near=K_AT_14 / K_RUN - 1),
    ),
    "a travel that is not told is a fifth shorter": (
        Setting(rope_set=rope_set(4)),
        span(14.0),
        Lift(fall=14, rope=38, down=16, up=8, settled=K_RUN, near=K_AT_14 / K_RUN - 1),
    ),
    "counterweight side": (
        Setting(rope_set=rope_set(4, hitches=OTHER), travel=metres(30)),
        span(34.0, Side.COUNTERWEIGHT),
        Lift(
            fall=34,
            rope=38,
            down=0,
            up=30,
            springs=(1.05 / 100e3, 1.05 / 150e3),
            settled=K_OTHER,
            near=1 / (1 / 100e3 + 34 / 4.6e6) / K_OTHER - 1,
        ),
    ),
    "far spring assumed, then as soft as the near one": (
        Setting(rope_set=rope_set(4, hitches=(hitch(),)), travel=metres(30)),
        span(4.0),
        Lift(
            fall=4,
            rope=38,
            down=30,
            up=0,
            springs=(1.05 / 150e3, 2 / 300e3),
            settled=1 / (1.5 / 150e3 + 38 / 4.6e6),
            near=K_NOW * (1.5 / 150e3 + 38 / 4.6e6) - 1,
        ),
    ),
    "nothing told but two to one": (
        Setting(
            rope_set=rope_set(4, hitches=(hitch(rate=None),), rope_length=None),
            roping=Roping.TWO_TO_ONE,
        ),
        span(4.0),
        # 12 m of rope: falls of 4 m and 2 m, and 2 m of travel between
        Lift(
            fall=4,
            rope=6,
            down=0,
            up=0.8 * 2,
            rigidity=6e6,
            springs=(SOFT, SOFT),
            n_falls=2,
            settled=1 / (2 * SOFT + 12 / 6e6),
            near=None,
        ),
    ),
    "not even the fall told": (
        Setting(rope_set=rope_set(4, hitches=()), travel=metres(20)),
        None,
        Lift(
            fall=4,
            rope=38,
            down=20,
            up=0,
            rigidity=6e6,
            springs=(SOFT, SOFT),
            settled=1 / (2 * SOFT + 38 / 6e6),
            near=None,
        ),
    ),
    "what rubber gives was learned and is shared": (
        Setting(
            rope_set=rope_set(4, hitches=RUBBER),
            travel=metres(30),
            learned=learned(46e3),
        ),
        span(4.0),
        Lift(
            fall=4,
            rope=38,
            down=30,
            up=0,
            springs=(0.5 / 46e3 - 0.5 / BARE_RIGIDITY,) * 2,
            settled=46e3,
            near=38 / 4 - 1,
        ),
    ),
    "learned stiffer than the rope, so nothing else gives": (
        Setting(
            rope_set=rope_set(4, hitches=RUBBER),
            travel=metres(30),
            learned=learned(200e3),
        ),
        span(4.0),
        Lift(fall=4, rope=38, down=30, up=0, springs=(0, 0), settled=200e3, near=8.5),
    ),
    "learned beside springs that are known": (
        Setting(rope_set=rope_set(4), travel=metres(30), learned=learned(40e3)),
        span(4.0),
        Lift(fall=4, rope=38, down=30, up=0, settled=40e3, near=K_NOW / K_RUN - 1),
    ),
    "a fall and a travel longer than the rope end 2 % before its ends": (
        Setting(rope_set=rope_set(4, rope_length=10.0), travel=metres(30)),
        span(20.0),
        Lift(
            fall=9.8,
            rope=10,
            down=0,
            up=9.6,
            settled=K_SHORT,
            near=1 / (1 / 150e3 + 20 / 4.6e6) / K_SHORT - 1,
        ),
    ),
}


@pytest.mark.parametrize(("setting", "where", "lift"), LINES.values(), ids=LINES)
def test_left_over_of_a_turn_by_the_line_put_together_by_hand(
    setting: Setting, where: Span | None, lift: Lift
) -> None:
    found = find_run_in(setting, where)
    assert found.settled == pytest.approx(lift.settled, rel=1e-9)
    for kept, place in ((found.near, 0), (found.far, -1)):
        by_hand = lift.left_over(place, len(kept))
        assert kept == pytest.approx(by_hand, rel=1e-6, abs=1e-12)
        # followed until a thousandth is left, four figures at least
        line = np.abs(replace(lift, near=None).left_over(place, len(kept)))
        assert line[-1] < 1e-3
        assert len(kept) == 4 or line[-2] >= 1e-3
    assert found.is_known is (lift.near is not None)
    assert found.is_car_side is (where is None or where.side is Side.CAR)


def test_the_travel_that_is_taken_says_how_well_it_is_known() -> None:
    told = find_run_in(Setting(rope_set=rope_set(4), travel=metres(30)), SPAN).travel
    taken = find_run_in(Setting(rope_set=rope_set(4)), SPAN).travel
    assert told is not None
    assert taken is not None
    assert (told.known_from, told.source) == (KnownFrom.TYPED, "30 m")
    assert told.relative_uncertainty == 0.0
    # 38 m less 4 m at either end
    assert (taken.known_from, taken.value) == (KnownFrom.ASSUMED, 30.0)
    assert taken.relative_uncertainty == pytest.approx(0.2)


def test_nothing_spreads_on_a_drum() -> None:
    found = find_run_in(Setting(rope_set=rope_set(4), drive=Drive.DRUM), SPAN)
    assert not found.spreads
    assert found.settled == pytest.approx(K_NOW)
    assert [found.left_over(CAR, n) for n in (0, 1)] == [0.0, 0.0]
    assert [found.left_over(FAR, n) for n in (0, 1)] == [0.0, 0.0]


# --- the state of a set, by turns that halve with every round trip ---

HALVES = 0.5 ** np.arange(12)


def halving(near: np.ndarray = HALVES) -> RunIn:
    """A quarter turn of M16 brings 50 N: 50 N/mm once the car has run."""
    travel = Origin(
        name="travel",
        value=30.0,
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source="30 m",
    )
    return RunIn(
        near=near,
        far=-near,
        settled=50e3,
        is_car_side=True,
        travel=travel,
        is_known=True,
    )


def past(rope: int, turns: float, trips: int | None, at: HitchPlace = CAR) -> Turn:
    quantity_ = Quantity(value=turns, dimension=Dimension.TURNS, text=f"{turns:g}")
    return Turn(
        after="a", hitch=at, rope=rope, turns=quantity_, round_trips_after=trips
    )


def pair(turns: float, trips: int | None, at: HitchPlace = CAR) -> tuple[Turn, ...]:
    """Against a mean of 5000 N the two part by 4 % of a share a turn."""
    return past(1, turns, trips, at), past(2, -turns, trips, at)


SET = Setting(rope_set=rope_set(4))


@pytest.mark.parametrize(
    ("turns", "trips", "state", "wanted", "to_come"),
    [
        # 16 % halves to 1 % in four trips, to half of that in five
        (4.0, 4, RunState.AT_REST, 0, 0.01),
        (4.01, 4, RunState.TOO_FEW, 2, 0.010025),
        (4.0, 3, RunState.TOO_FEW, 2, 0.02),
        (4.0, 2, RunState.TOO_FEW, 3, 0.04),
        (4.0, 1, RunState.TOO_FEW, 4, 0.08),
        (4.0, 0, RunState.NOT_RUN, 5, 0.16),
        (4.0, None, RunState.NOT_RECORDED, 5, 0.16),
        # hardly anything: three trips as people make them, less those that were run
        (0.1, 0, RunState.NOT_RUN, 3, 0.004),
        (0.4, 0, RunState.NOT_RUN, 3, 0.016),
        (0.3, 1, RunState.AT_REST, 0, 0.006),
        (0.6, 1, RunState.TOO_FEW, 2, 0.012),
    ],
)
@pytest.mark.parametrize("at", [CAR, FAR])
def test_a_set_is_at_rest_where_no_more_than_one_percent_is_to_come(
    *,
    turns: float,
    trips: int | None,
    state: RunState,
    wanted: int,
    to_come: float,
    at: HitchPlace,
) -> None:
    found = find_state(SET, halving(), 5000.0, pair(turns, trips, at))
    assert (found.state, found.wanted) == (state, wanted)
    assert found.still_to_come == pytest.approx(to_come)
    assert found.round_trips == (trips or 0)
    assert found.turned
    assert found.is_at_rest is (state is RunState.AT_REST)


def test_turns_made_at_different_times_add_up() -> None:
    # 8 % an eighth of it, and 4 % a half: 3 % apart, then 1.5, 0.75 and 0.375 %
    both = (*pair(2.0, 3), *pair(1.0, 1))
    found = find_state(SET, halving(), 5000.0, both)
    assert found.still_to_come == pytest.approx(0.03)
    assert (found.state, found.wanted) == (RunState.TOO_FEW, 3)
    assert found.round_trips == 1


def test_shares_alone_are_judged_turn_by_turn() -> None:
    # each over its own end: under 1 % in seven trips, under half of it in eight
    for trips, state, wanted in (
        (7, RunState.AT_REST, 0),
        (6, RunState.TOO_FEW, 2),
        (0, RunState.NOT_RUN, 8),
    ):
        found = find_state(SET, halving(), None, pair(3.0, trips))
        assert (found.state, found.wanted) == (state, wanted)


def test_a_thread_that_is_not_told_is_taken_to_be_of_two_millimetres() -> None:
    bare = Setting(rope_set=rope_set(4, hitches=(hitch(thread=None),)))
    found = find_state(bare, halving(), 5000.0, pair(4.0, 3))
    assert found.still_to_come == pytest.approx(0.02)


def test_a_set_that_never_ran_runs_until_a_twentieth_of_any_turn_is_left() -> None:
    found = find_state(SET, halving(), 5000.0, (), has_never_run=True)
    assert (found.state, found.wanted) == (RunState.NOT_RUN, 5)
    assert (found.round_trips, found.still_to_come, found.turned) == (0, 0.0, False)


def test_turns_after_the_reading_are_counted_by_themselves() -> None:
    since = (past(3, 4.0, None), past(1, -4.0, None))
    found = find_state(SET, halving(), 5000.0, pair(4.0, 5), since)
    assert found.is_at_rest
    assert (found.turned_since, found.wanted_since) == ((1, 3), 5)
    ran = tuple(replace(one, round_trips_after=4) for one in since)
    found = find_state(SET, halving(), 5000.0, (), ran)
    assert (found.turned, found.wanted, found.wanted_since) == (False, 0, 1)


def test_what_never_spreads_is_counted_to_two_thousand() -> None:
    stuck = halving(np.array([1.0, 0.7, 0.5]))
    assert stuck.left_over(CAR, 2) == stuck.left_over(CAR, 900) == 0.5
    assert stuck.left_over(FAR, 900) == -0.5
    assert find_state(SET, stuck, 5000.0, pair(4.0, 1)).wanted == 2000


def test_less_than_a_thousandth_left_over_is_nothing() -> None:
    for last, left in ((0.001, 0.001), (0.00099, 0.0)):
        kept = halving(np.array([1.0, 0.5, last]))
        assert kept.left_over(CAR, 2) == last
        assert kept.left_over(CAR, 3) == left
        assert kept.left_over(FAR, 3) == -left


@pytest.mark.parametrize(
    ("state", "told"),
    [
        (SetState(state=RunState.TOO_FEW, wanted=12, still_to_come=0.0213), ["2.1"]),
        (SetState(state=RunState.TOO_FEW, wanted=13, still_to_come=1.3), ["100.0", ""]),
        (SetState(), []),
    ],
)
def test_more_trips_than_twelve_are_told_to_be_more_than_people_make(
    state: SetState, told: list[str]
) -> None:
    given = [dict(reason.places).get("points", "") for reason in state.reasons]
    assert given == told
    assert len(state.notes) == len(told)
    assert state.is_beyond_people is (len(told) > 1)


# --- what a turn shows so far, and the mean ---


def test_a_turn_shows_more_in_its_own_fall_until_it_has_spread() -> None:
    turns = (past(1, 2.0, 1), past(2, -1.0, 0), past(3, 1.0, None), past(1, 1.0, 2))
    # 2 mm a turn; a half, all and a quarter more
    by_hand = [0.004 * 1.5 + 0.002 * 1.25, -0.004, 0.004, 0.0]
    assert travels_shown(SET, halving(), turns) == pytest.approx(by_hand)
    far = travels_shown(SET, halving(), (past(4, 2.0, 1, FAR), past(1, 1.0, 0, FAR)))
    assert far == pytest.approx([0.0, 0.0, 0.0, 0.002])


def test_where_springs_are_not_known_only_a_car_that_stood_is_sure() -> None:
    guessed = replace(halving(), is_known=False)
    turns = (past(1, 2.0, 1), past(2, -1.0, 0), past(4, 1.0, 9))
    by_hand = [0.004, -0.004, 0.0, 0.002]
    assert travels_shown(SET, guessed, turns) == pytest.approx(by_hand)
    bare = Setting(rope_set=rope_set(4, hitches=(hitch(thread=None),)))
    assert not travels_shown(bare, halving(), turns).any()


def test_the_mean_is_that_of_the_readings_or_of_the_mass() -> None:
    given = mean_tension_of(SET, assessed([5300.0, 4850.0, 5150.0, 4700.0]))
    assert given is not None
    assert given.value == pytest.approx(5000.0)
    # the linear density is shared by the set; the readings themselves are not
    assert given.relative_uncertainty == pytest.approx(0.05)
    shares = assessed([1.06, 0.97, 1.03, 0.94], is_absolute=False)
    assert mean_tension_of(SET, shares) is None
    mass = quantity(1000.0, Dimension.MASS, "1000 kg")
    two = replace(SET, hanging_mass=mass, roping=Roping.TWO_TO_ONE)
    by_mass = mean_tension_of(two, shares)
    assert by_mass is not None
    assert by_mass.value == pytest.approx(1000 * 9.80665 / 8)
    assert by_mass.relative_uncertainty == pytest.approx(0.1)
    assert by_mass.source == "from 1000 kg on 8 falls"


def test_the_opposite_hitch_is_at_the_other_end_of_the_same_rope() -> None:
    pairs = [
        (CAR, FAR),
        (HitchPlace.DEAD_END_CAR, HitchPlace.DEAD_END_COUNTERWEIGHT),
    ]
    for one, other in pairs:
        assert opposite_hitch(one) is other
        assert opposite_hitch(other) is one
