"""What stops, bounds and follows a plan, from both sides of every edge."""

from dataclasses import replace

import numpy as np
import pytest

from tension.adjustment import plan as planning
from tension.adjustment.fit import DrawnSets, upper_of_equal_set
from tension.adjustment.outcome import (
    Direction,
    DirectionsOnly,
    NoPlan,
    NoPlanKind,
    NutTurn,
    Plan,
    SetState,
    Shortage,
    Strategy,
)
from tension.adjustment.plan import find_route, split_steps
from tension.adjustment.plan_basis import (
    Looked,
    PlanBasis,
    PlanRequest,
    find_basis,
    find_limits,
    find_no_plan,
)
from tension.adjustment.running import Spreading
from tension.adjustment.search import (
    StepProblem,
    _fewest,
    _problem_of,
    best_of_each_number,
    choose_steps,
    find_shortfalls,
    find_steps,
)
from tension.adjustment.stiffness import LearnedStiffness
from tension.assessment.decide import Assessment
from tension.catalogue.rules import Metric, Rule
from tension.installation import Buffer, HitchPlace, Rope, RopeSet
from tension.notes import NoteKind
from tension.physics.hitch_statics import tension_changes
from tension.quantity.units import Dimension
from tension.sound.hearing import Rival
from tests.oracles.all_steps import smallest_spread, tensions_after
from tests.synthesis.measured_sets import (
    RULE,
    assessed,
    hitch,
    quantity,
    rope,
    rope_set,
)

FOUR = [5300.0, 4850.0, 5150.0, 4700.0]
FAR = HitchPlace.COUNTERWEIGHT
VERY_SOFT = (hitch(rate=5e3, free_length=None), hitch(FAR, rate=5e3))
K_RUN = 1 / (2 / 150e3 + 38 / 4.6e6)
SOFT = (hitch(rate=50e3, free_length=None), hitch(FAR, rate=50e3))
REQUEST = PlanRequest(rope_set=rope_set(4))


def stopped(given: Assessment, request: PlanRequest = REQUEST) -> tuple[object, ...]:
    """Which answer it is, and the codes of its reasons."""
    found = find_no_plan(given, request)
    if found is None:
        return ()
    return found.kind, *(reason.code for reason in found.reasons)


def based(
    tensions: list[float] | np.ndarray = FOUR,
    ropes: RopeSet | None = None,
    *,
    rule: Rule = RULE,
    relative: float = 0.005,
    **request: object,
) -> PlanBasis:
    asked = PlanRequest(rope_set=ropes or rope_set(len(tensions)), **request)  # type: ignore[arg-type]
    found = find_basis(assessed(tensions, rule=rule, relative=relative), asked)
    assert isinstance(found, PlanBasis), found
    return found


# --- what stops a plan ---


def of_shares(shares: list[float], doubt: float) -> Assessment:
    given = assessed(FOUR)
    told = [
        replace(one, share=share, share_uncertainty=doubt)
        for one, share in zip(given.shares, shares, strict=True)
    ]
    return replace(given, shares=tuple(told))


@pytest.mark.parametrize(("share", "is_far"), [(0.6, False), (0.599, True)])
def test_a_rope_under_three_fifths_of_an_even_share_is_looked_at(
    *, share: float, is_far: bool
) -> None:
    given = of_shares([1.1, 1.2, 1.1, share], 0.005)
    look = (NoPlanKind.LOOK_FIRST, NoteKind.FAR_BELOW.code)
    assert stopped(given) == (look if is_far else ())
    if is_far:
        found = find_no_plan(given, REQUEST)
        assert found is not None
        assert dict(found.reasons[0].places) == {"rope": 4, "share": 59.9}


@pytest.mark.parametrize(
    ("probability", "codes"),
    [(0.01, (NoPlanKind.LOOK_FIRST, NoteKind.RIVAL_NUMBERS.code)), (0.0099, ())],
)
def test_a_rival_counts_from_one_in_a_hundred(
    probability: float, codes: tuple[object, ...]
) -> None:
    given = assessed(FOUR)
    rival = Rival(fundamental_frequency=9.0, probability=probability)
    first = replace(given.measurement.ropes[0], rivals=(rival,))
    ropes = (first, *given.measurement.ropes[1:])
    given = replace(given, measurement=replace(given.measurement, ropes=ropes))
    assert stopped(given) == codes


@pytest.mark.parametrize(
    ("looked", "is_settled"),
    [
        (Looked(code=NoteKind.FAR_BELOW.code, ropes=(4,), words="seated"), True),
        (Looked(code=NoteKind.FAR_BELOW.code, ropes=(), words="seated"), True),
        (Looked(code=NoteKind.FAR_BELOW.code, ropes=(3,), words="seated"), False),
        (Looked(code=NoteKind.SIGNS_REVERSED.code, ropes=(4,), words="no"), False),
    ],
)
def test_eyes_settle_the_doubt_of_the_rope_they_looked_at(
    looked: Looked, *, is_settled: bool
) -> None:
    given = of_shares([1.1, 1.2, 1.2, 0.5], 0.005)
    found = stopped(given, replace(REQUEST, looked=(looked,)))
    assert (found == ()) is is_settled


def test_eyes_settle_no_doubt_that_only_measuring_can() -> None:
    doubt = NoteKind.TOUCHING.note(rope=3).as_refusal()
    looked = Looked(code=doubt.code, ropes=(), words="free")
    asked = replace(REQUEST, doubts=(doubt,), looked=(looked,))
    assert stopped(assessed(FOUR), asked) == (NoPlanKind.LOOK_FIRST, doubt.code)


@pytest.mark.parametrize(("doubt", "is_near"), [(0.0099, False), (0.0101, True)])
def test_ropes_all_within_twice_their_doubt_are_measured_again(
    *, doubt: float, is_near: bool
) -> None:
    given = of_shares([1.02, 0.98, 0.99, 1.01], doubt)
    measure = (NoPlanKind.MEASURE_FIRST, NoteKind.MEASURE_FIRST.code)
    assert stopped(given) == (measure if is_near else ())
    if is_near:
        found = find_no_plan(replace(given, measure_again=()), REQUEST)
        assert found is not None
        assert dict(found.reasons[0].places) == {"way": "near-even", "again": (1, 2)}


def test_ropes_just_at_twice_their_doubt_are_left() -> None:
    given = of_shares([1.125, 0.875, 1.125, 0.875], 0.0625)
    assert stopped(given) == (NoPlanKind.MEASURE_FIRST, NoteKind.MEASURE_FIRST.code)
    ropes = rope_set(4, hitches=(hitch(thread=None),))
    one_off = of_shares([1.125, 0.875, 1.25, 0.75], 0.0625)
    found = planning.plan_turns(one_off, PlanRequest(rope_set=ropes))
    assert isinstance(found, DirectionsOnly)
    leaves = [row.rope for row in found.rows if row.direction is Direction.LEAVE]
    assert leaves == [1, 2]


def test_a_rule_finer_than_the_readings_asks_for_better_ones() -> None:
    covariance = np.eye(4) * 0.02**2
    # what such readings leave open of four equal ropes, drawn apart from the program
    drawn = np.exp(0.02 * np.random.default_rng(3).standard_normal((200_000, 4)))
    spreads = 1 - drawn.min(axis=1) / drawn.max(axis=1)
    by_hand = float(np.quantile(spreads, 0.975))
    upper = upper_of_equal_set(covariance, RULE)
    assert upper == pytest.approx(by_hand, rel=0.03)
    for limit, is_asked in ((upper * 1.01, False), (upper * 0.99, True)):
        given = assessed(
            [6000.0, 4500.0, 5000.0, 4500.0],
            relative=0.02,
            rule=replace(RULE, limit=limit),
        )
        found = find_no_plan(given, REQUEST)
        assert (found is not None) is is_asked
        if found is not None:
            told = dict(found.reasons[0].places)
            assert told["way"] == "even-set"
            assert told["upper"] == f"{100 * upper:.0f}"


@pytest.mark.parametrize(
    ("trips", "kind", "n_reasons"),
    [
        (0, NoPlanKind.MEASURE_FIRST, 1),
        (12, NoPlanKind.RUN_FIRST, 1),
        (13, NoPlanKind.RUN_FIRST, 2),
    ],
)
def test_turns_after_the_reading_are_run_out_and_measured(
    trips: int, kind: NoPlanKind, n_reasons: int
) -> None:
    state = SetState(turned_since=(2, 4), wanted_since=trips)
    found = find_no_plan(assessed(FOUR), replace(REQUEST, state=state))
    assert found is not None
    assert (found.kind, len(found.reasons)) == (kind, n_reasons)
    assert dict(found.reasons[0].places) == {"ropes": "2, 4", "trips": trips}


def test_directions_leave_ropes_within_twice_their_doubt() -> None:
    ropes = rope_set(4, hitches=(hitch(thread=None),))
    given = of_shares([1.06, 0.979, 1.021, 0.94], 0.0106)
    found = planning.plan_turns(given, PlanRequest(rope_set=ropes))
    assert isinstance(found, DirectionsOnly)
    assert found.hitch == ropes.hitches[0]
    assert [(row.rope, row.direction) for row in found.rows] == [
        (4, Direction.TAKE_UP),
        (1, Direction.EASE),
        (2, Direction.LEAVE),
        (3, Direction.LEAVE),
    ]
    shares = [row.share for row in found.rows]
    assert shares == pytest.approx([0.94, 1.06, 0.979, 1.021])


# --- limits ---


BARE = hitch(buffer=Buffer.NONE)


def simulated(tensions: list[float], relative: float = 0.01) -> DrawnSets:
    n = len(tensions)
    return DrawnSets(
        tensions=np.array(tensions),
        covariance=np.eye(n) * relative**2,
        stiffnesses=np.full(n, 50e3),
        common_uncertainty=0.0,
        own_uncertainty=0.0,
    )


@pytest.mark.parametrize(
    ("tensions", "solid", "lowest", "highest"),
    [
        # two standard uncertainties of 1 % against four others: 86.6 N
        ([6000, 4400, 5200, 4400], None, [3086.6] * 4, [6913.4] * 4),
        ([6000, 4400, 5200, 4400], 6500, [3086.6] * 4, [6500.0] * 4),
        ([6000, 4400, 5200, 4400], 9000, [3086.6] * 4, [6913.4] * 4),
        # whoever is outside stays where it is
        (
            [7500, 2900, 5200, 4400],
            None,
            [3086.6, 2900.0, 3086.6, 3086.6],
            [7500.0, 6913.4, 6913.4, 6913.4],
        ),
    ],
)
def test_ropes_stay_between_three_and_seven_fifths_of_the_mean(
    tensions: list[float],
    solid: float | None,
    lowest: list[float],
    highest: list[float],
) -> None:
    here = hitch(solid=None if solid is None else 0.160 - solid / 150e3)
    limits = find_limits(rope_set(4), here, simulated(tensions), 0.0005)
    assert limits.lowest == pytest.approx(lowest, abs=0.01)
    assert limits.highest == pytest.approx(highest, abs=0.01)
    assert limits.solid_load == pytest.approx(solid or np.inf)
    assert (limits.notes == ()) is (solid is not None)


def test_thread_left_is_whole_steps_and_ten_millimetres_where_not_told() -> None:
    length = Dimension.LENGTH
    ropes = (
        # 0.3 mm are three steps of 0.1 mm, whatever arithmetic leaves
        Rope(number=1, take_up_left=quantity(0.0003, length), ease_left=None),
        Rope(number=2, take_up_left=None, ease_left=quantity(0.00029, length)),
        Rope(number=3, take_up_left=quantity(-0.002, length)),
        rope(4, take_up=0.0, ease=0.02),
    )
    found = find_limits(rope_set(4, ropes=ropes), BARE, simulated(FOUR), 0.0001)
    assert found.highest_steps.tolist() == [3, 100, 0, 0]
    assert found.lowest_steps.tolist() == [-100, -2, -100, -200]
    assert [note.ropes for note in found.notes] == [(1, 2, 3)]
    none = tuple(Rope(number=i + 1) for i in range(4))
    every = find_limits(rope_set(4, ropes=none), BARE, simulated(FOUR), 0.0001)
    assert [note.ropes for note in every.notes] == [()]


@pytest.mark.parametrize(
    ("strategy", "off"),
    [
        # 1 % a reading: 1.7 % against the mean of four, 2.8 % against another rope
        (Strategy.KEEP_HEIGHT, [True, False, False, True]),
        (Strategy.TAKE_UP_ONLY, [False, True, False, True]),
        (Strategy.EASE_ONLY, [True, False, True, False]),
    ],
)
def test_nuts_are_turned_from_twice_what_is_known_of_their_ropes(
    strategy: Strategy, off: list[bool]
) -> None:
    tensions = [5100.0, 4950.0, 5050.0, 4900.0]
    assert simulated(tensions).is_known_off(strategy).tolist() == off


def test_of_figures_without_doubt_what_is_even_is_even() -> None:
    exact = simulated([90.0, 110.0, 100.0, 100.0], 0.0)
    known = exact.is_known_off(Strategy.FEWEST_NUTS)
    assert known.tolist() == [True, True, False, False]
    rule = replace(RULE, limit=20.0 / 110.0)
    told = exact.forecast(np.zeros(4), rule)
    assert (told.spread, told.upper, told.chance_equal) == (rule.limit, rule.limit, 1.0)


@pytest.mark.parametrize(
    ("hitches", "notes"),
    [
        ((hitch(), hitch(FAR)), set()),
        ((hitch(free_length=None), hitch(FAR)), {NoteKind.SOLID_NOT_KNOWN}),
        ((hitch(free_length=0.096), hitch(FAR)), {NoteKind.SOLID_NOT_KNOWN}),
        ((hitch(buffer=Buffer.NONE), hitch(FAR)), set()),
    ],
)
def test_springs_whose_solid_load_is_not_known_are_told(
    hitches: tuple[object, ...], notes: set[NoteKind]
) -> None:
    basis = based(ropes=rope_set(4, hitches=hitches))  # type: ignore[arg-type]
    assert {note.kind for note in basis.limits.notes} == notes


def test_a_basis_by_hand() -> None:
    basis = based()
    assert (basis.step, basis.steps_per_turn, basis.most_steps) == (0.0005, 4, 20)
    assert (basis.goal, basis.part) == (0.05, 1.0)
    assert basis.tensions == pytest.approx(FOUR)
    assert based(rule=replace(RULE, goal=None)).goal == pytest.approx(0.05)
    assert based(rule=replace(RULE, goal=None, limit=0.2)).goal == pytest.approx(0.1)
    assumed = based(ropes=rope_set(4, hitches=(hitch(),)))
    assert assumed.part == 0.7
    by_hand = [5000 + 0.7 * (t - 5000) for t in FOUR]
    assert assumed.aimed == pytest.approx(by_hand)
    bare = (hitch(buffer=Buffer.NONE), hitch(FAR, buffer=Buffer.NONE))
    eighths = based(ropes=rope_set(4, hitches=bare))
    assert (eighths.step, eighths.most_steps) == (0.00025, 40)


def test_sets_are_drawn_as_wide_as_mean_and_stiffness_are_known() -> None:
    basis = based(relative=0.01)
    drawn, stiffness = basis.simulation, basis.stiffness
    # newtons are known to 5 %, by the linear density; they move all steps alike
    assert drawn.common_uncertainty == pytest.approx(
        np.hypot(stiffness.common_uncertainty, 0.05)
    )
    assert drawn.own_uncertainty == stiffness.own_uncertainty
    assert drawn.covariance == pytest.approx(np.eye(4) * 0.01**2)
    shown = LearnedStiffness(
        hitch=HitchPlace.CAR,
        set_stiffness=46e3,
        set_uncertainty=0.05,
        stiffnesses=(46e3,) * 4,
        own_uncertainty=0.03,
        source="a test",
    )
    # what was learned was learned in these newtons
    after = based(learned=shown).simulation
    assert (after.common_uncertainty, after.own_uncertainty) == (0.05, 0.03)


def test_no_more_than_all_of_a_turn_is_drawn_as_left_over() -> None:
    basis = based()
    route = find_route(basis, choose_steps(basis).steps)
    plans = [
        planning._plan_of(basis, replace(route, left_over=left))
        for left in (1.0, 3.0, -3.0, 0.4, -0.4)
    ]
    spreads = [plan.forecast.spread for plan in plans]
    assert spreads[0] == spreads[1] == spreads[2] > spreads[3] == spreads[4]


# --- steps ---


def problem(
    tensions: np.ndarray, k: np.ndarray, reach: int, *, keeps_sum: bool = False
) -> StepProblem:
    n, step = len(tensions), 0.0008
    return StepProblem(
        tensions=tensions,
        stiffnesses=k,
        step=step,
        effects=tension_changes(step * np.eye(n), k),
        lowest=np.full(n, -reach),
        highest=np.full(n, reach),
        metric=Metric.BELOW_HIGHEST,
        keeps_sum=keeps_sum,
    )


@pytest.mark.parametrize("keeps_sum", [False, True])
@pytest.mark.parametrize("doubt", [0.0, 0.2])
def test_steps_are_the_best_of_all_where_threads_are_long_or_short(
    *, keeps_sum: bool, doubt: float
) -> None:
    rng = np.random.default_rng(41)
    for reach in (1, 2, 5):
        for _ in range(6):
            n = 3 if reach > 2 else 4
            tensions = 5000 * (1 + 0.08 * rng.standard_normal(n))
            k = 100e3 * np.exp(doubt * rng.standard_normal(n))
            given = problem(tensions, k, reach, keeps_sum=keeps_sum)
            found = given.spread_after(find_steps(given))
            best = smallest_spread(
                tensions=tensions,
                stiffnesses=k,
                step=given.step,
                lowest=[-reach] * n,
                highest=[reach] * n,
                metric="below-highest",
                keeps_sum=keeps_sum,
            )
            assert found == pytest.approx(best, abs=1e-9)


def test_of_equal_spreads_the_fewest_nuts_and_steps_are_taken() -> None:
    # one step brings both together, by either nut or by one step against another
    given = problem(np.array([5080.0, 5000.0]), np.full(2, 100e3), 4)
    assert find_steps(given).tolist() == [-1, 0]
    even = problem(np.array([5000.0, 5000.0, 5000.0]), np.full(3, 100e3), 4)
    assert find_steps(even).tolist() == [0, 0, 0]


@pytest.mark.parametrize("strategy", list(Strategy))
def test_each_strategy_keeps_to_its_way(strategy: Strategy) -> None:
    basis = based(strategy=strategy)
    choice = choose_steps(basis)
    ways = set(np.sign(choice.steps[choice.steps != 0]).tolist())
    allowed = {Strategy.TAKE_UP_ONLY: {1}, Strategy.EASE_ONLY: {-1}}
    assert ways <= allowed.get(strategy, {1, -1})
    assert choice.steps.sum() == 0 or strategy is not Strategy.KEEP_HEIGHT
    travels = np.asarray(choice.steps * basis.step, dtype=np.float64)
    after = tensions_after(np.array(FOUR), np.full(4, K_RUN), travels)
    assert choice.spread == pytest.approx(1 - after.min() / after.max())
    assert choice.upper == basis.simulation.forecast(travels, RULE).upper
    assert choice.shortfalls == ()
    assert choice.untold == ()


@pytest.mark.parametrize("goal", [0.02, 0.03, 0.05, 0.09])
def test_the_fewest_nuts_reach_the_goal_or_come_within_half_a_percent(
    goal: float,
) -> None:
    rng = np.random.default_rng(43)
    seen = set()
    for _ in range(12):
        tensions = 5000 * (1 + 0.05 * rng.standard_normal(5))
        basis = based(
            tensions, rule=replace(RULE, goal=goal), strategy=Strategy.FEWEST_NUTS
        )
        choice = choose_steps(basis)
        k, n = np.full(5, K_RUN), 5
        asked = StepProblem(
            tensions=tensions,
            stiffnesses=k,
            step=0.0005,
            effects=tension_changes(0.0005 * np.eye(n), k),
            lowest=np.full(n, -200),
            highest=np.full(n, 200),
            metric=RULE.metric,
        ).holding(~basis.simulation.is_known_off(basis.request.strategy))

        def upper(steps: np.ndarray, basis: PlanBasis = basis) -> float:
            return basis.simulation.forecast(steps * 0.0005, RULE).upper

        every = list(best_of_each_number(asked, upper))
        least = upper(find_steps(asked))
        enough = max(goal, least + 0.005)
        first = next(i for i, (found, _) in enumerate(every) if found <= enough)
        if np.abs(every[first][1]).max() <= basis.most_steps:
            assert choice.upper == every[first][0]
            assert np.count_nonzero(choice.steps) <= first
            assert choice.upper_with_all == least
            fewer = every[first - 1][0] if first else None
            assert choice.upper_with_fewer == fewer
            seen.add(first)
    assert len(seen) > 1


def test_a_bound_just_at_the_goal_needs_no_further_nut() -> None:
    basis = based()
    whole = replace(choose_steps(basis), upper_with_all=0.0)
    asked = _problem_of(basis, basis.limits)
    for upper, n_nuts in (
        (basis.goal, 0),
        (basis.goal + 1e-9, np.count_nonzero(whole.steps)),
    ):
        found = _fewest(basis, whole, asked, lambda _, at=upper: at)  # type: ignore[misc]
        assert np.count_nonzero(found.steps) == n_nuts


def test_fewer_runs_of_the_car_are_worth_more_nuts() -> None:
    # two nuts reach the goal by far turns; three do with none over ten millimetres
    tensions = [5560.0, 5240.0, 4400.0, 4800.0]
    basis = based(tensions, rope_set(4, hitches=SOFT), strategy=Strategy.FEWEST_NUTS)
    choice = choose_steps(basis)
    opened = np.ceil(np.abs(choice.steps) / basis.most_steps)
    least = np.inf
    for reach in range(1, 6):
        k = np.full(4, 1 / (2 / 50e3 + 38 / 4.6e6))
        asked = StepProblem(
            tensions=np.array(tensions),
            stiffnesses=k,
            step=0.0005,
            effects=tension_changes(0.0005 * np.eye(4), k),
            lowest=np.full(4, -20 * reach),
            highest=np.full(4, 20 * reach),
            metric=RULE.metric,
        ).holding(~basis.simulation.is_known_off(basis.request.strategy))

        def upper(steps: np.ndarray) -> float:
            return basis.simulation.forecast(steps * 0.0005, RULE).upper

        for found, steps in best_of_each_number(asked, upper):
            if found <= basis.goal:
                times = np.ceil(np.abs(steps) / 20)
                least = min(least, times.sum() + times.max())
    assert opened.sum() + opened.max() == least
    assert choice.upper <= basis.goal


def test_what_is_short_is_told_just_beyond_what_there_is() -> None:
    # 80 N a step on each rope: all five even them, two leave 5240 and 4760 N
    given = problem(np.array([5400.0, 4600.0]), np.full(2, 100e3), 5)
    steps, free = np.array([-2, 2]), np.array([-5, 5])
    bare = find_limits(rope_set(2), BARE, simulated([5400.0, 4600.0]), 0.0008)
    spread = 1 - 4760 / 5240

    def short(limit: float, **changed: object) -> list[tuple[object, ...]]:
        limits = replace(bare, **changed)  # type: ignore[arg-type]
        found = find_shortfalls(given, steps, free, limits, limit)
        return [(one.kind, one.rope, one.needed, one.available) for one in found]

    left = {"take_up_left": np.array([0.1, 0.0035]), "ease_left": np.full(2, 0.0041)}
    assert short(spread + 1e-9, **left) == []
    assert short(float(given.spread_after(steps)), **left) == []
    all_five = np.full(2, 5 * 0.0008)
    assert short(0.05, take_up_left=all_five, ease_left=all_five) == []
    assert short(spread - 1e-9, **left) == [
        (Shortage.THREAD_TOWARDS_PLATE, 2, pytest.approx(0.004), 0.0035)
    ]
    assert short(0.05, ease_left=np.array([0.0039, 0.1])) == [
        (Shortage.THREAD_AWAY, 1, pytest.approx(0.004), 0.0039)
    ]
    assert short(0.1, solid_load=5241.0) == []
    assert short(0.1, solid_load=float(given.tensions_after(steps).max())) == []
    assert short(0.1, solid_load=5239.0) == [
        (Shortage.SPRING_WAY, 1, pytest.approx(5240.0), 5239.0)
    ]
    # thread is short where the best steps would just do, steps are coarse beyond that
    at_best = float(given.spread_after(np.array([-4, 5])))
    tight = replace(bare, take_up_left=np.full(2, 0.0039))
    just = find_shortfalls(given, steps, np.array([-4, 5]), tight, at_best)
    assert [one.kind for one in just] == [Shortage.THREAD_TOWARDS_PLATE]
    coarse = find_shortfalls(given, steps, np.array([-4, 5]), bare, 0.01)
    assert [(one.kind, one.rope) for one in coarse] == [(Shortage.FINE_STEPS, None)]
    assert coarse[0].short_by == pytest.approx(spread - 0.01)


def test_thread_nobody_has_told_is_asked_for_beyond_ten_millimetres() -> None:
    weak = (hitch(rate=50e3, free_length=None), hitch(FAR, rate=50e3))
    k = 1 / (2 / 50e3 + 38 / 4.6e6)
    unknown = (Rope(number=1), Rope(number=2))
    for travel, is_asked in ((0.0098, False), (0.0108, True)):
        tensions = [5000 + k * travel, 5000 - k * travel]
        basis = based(
            tensions,
            rope_set(2, hitches=weak, ropes=unknown),
            strategy=Strategy.KEEP_HEIGHT,
        )
        untold = choose_steps(basis).untold
        assert bool(untold) is is_asked
        if untold:
            assert [number for number, _ in untold] == [1, 2]
            wanted = [far for _, far in untold]
            assert wanted == pytest.approx([-travel, travel], abs=0.0003)


@pytest.mark.parametrize("left", [0.0, 0.5])
def test_what_is_left_over_moves_the_forecast_either_way(left: float) -> None:
    # a turn shows up to half more or less than in the end, each as likely
    tensions, k = np.array([5400.0, 4800.0, 4800.0]), np.full(3, 50e3)
    travels = np.array([-0.008, 0.004, 0.004])
    simulation = DrawnSets(
        tensions=tensions,
        covariance=np.zeros((3, 3)),
        stiffnesses=k,
        common_uncertainty=0.0,
        own_uncertainty=0.0,
        left_over=left,
    )
    told = simulation.forecast(travels, RULE)
    spreads = []
    for shown in np.linspace(1 - left, 1 + left, 2001):
        after = tensions_after(tensions, shown * k, travels)
        spreads.append(1 - after.min() / after.max())
    assert told.spread == pytest.approx(np.mean(spreads), rel=0.03, abs=1e-9)
    assert told.upper == pytest.approx(np.quantile(spreads, 0.975), rel=0.03, abs=1e-9)
    assert told.shares == pytest.approx((1.0, 1.0, 1.0))


# --- stages ---


def test_half_a_step_is_left_for_the_next_stage() -> None:
    parts = split_steps(np.array([1, 3, -3, 2, 0]), 2)
    assert [part.tolist() for part in parts] == [[0, 1, -1, 1, 0], [1, 2, -2, 1, 0]]
    thirds = split_steps(np.array([4, -5, 1]), 3)
    assert [part.tolist() for part in thirds] == [[1, -2, 0], [2, -1, 1], [1, -2, 0]]


def test_the_car_runs_until_three_percent_and_at_last_half_a_percent_is_left() -> None:
    basis = based([5600.0, 4700.0, 5200.0, 4500.0], rope_set(4, hitches=SOFT))
    steps = np.array([-30, 15, -10, 25])
    route = find_route(basis, steps)
    assert route.is_whole
    assert [turn.steps for turn in route.turns] == steps.tolist()
    assert len(route.stages) == 2
    made: list[tuple[np.ndarray, int]] = []
    k = np.full(4, 1 / (2 / 50e3 + 38 / 4.6e6))
    for stage, left in zip(route.stages, (0.03, 0.005), strict=True):
        travels = np.zeros(4)
        for step in stage.steps:
            travels[step.turn.rope - 1] += step.turn.travel
        made.append((tensions_after(np.zeros(4), k, travels), 0))

        def spread(more: int, made: list[tuple[np.ndarray, int]] = made) -> float:
            at = HitchPlace.CAR
            still = sum(basis.run_in.left_over(at, n + more) * t for t, n in made)
            return float(np.ptp(still))

        enough = next(n for n in range(3, 3000) if spread(n) <= left * 5000)
        assert stage.round_trips == enough
        made = [(t, n + enough) for t, n in made]
    assert route.left_over == basis.run_in.left_over(
        HitchPlace.CAR, route.stages[-1].round_trips
    )


@pytest.mark.parametrize(
    ("steps", "n_stages"),
    [([20, -20, 0, 0], 1), ([21, -20, 0, 0], 2), ([240, -240, 0, 0], 12)],
)
def test_a_nut_is_opened_for_twenty_steps_at_a_time(
    steps: list[int], n_stages: int
) -> None:
    basis = based(FOUR, rope_set(4, hitches=VERY_SOFT))
    route = find_route(basis, np.array(steps))
    assert route.is_whole
    assert len(route.stages) == n_stages


def test_what_would_need_thirteen_stages_is_begun_with_one_as_large_as_may_be() -> None:
    basis = based(FOUR, rope_set(4, hitches=VERY_SOFT))
    route = find_route(basis, np.array([241, -241, 30, 0]))
    assert not route.is_whole
    # a thirteenth: 18.5 and 2.3 steps, halves left for later
    assert [turn.steps for turn in route.turns] == [19, -19, 2, 0]
    assert len(route.stages) == 1


@pytest.mark.parametrize("steps", [8, 20])
def test_a_nut_of_one_stage_is_turned_in_the_first_or_the_last(steps: int) -> None:
    basis = based(FOUR, rope_set(4, hitches=VERY_SOFT))
    route = find_route(basis, np.array([40, -40, steps, 0]))
    opened = [[step.turn.rope for step in stage.steps] for stage in route.stages]
    assert [3 in stage for stage in opened] == [True, False]


def test_where_no_way_is_found_nothing_is_turned_nor_left_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(planning, "_try_stages", lambda *_, **__: None)
    found = find_route(based(), np.array([-5, 2, -2, 5]))
    assert (found.stages, found.turns, found.left_over) == ((), (), 0.0)
    assert not found.is_whole


def test_no_turn_stands_still_longer_than_it_needs() -> None:
    basis = based()
    still = Spreading(run_in=basis.run_in)
    assert still.trips_until(0.0) == 3
    assert still.trips_until(0.0, 7) == 7
    one = replace(still, made=((HitchPlace.CAR, np.array([100.0, -100.0]), 1),))
    left = basis.run_in.left_over(HitchPlace.CAR, 3)
    assert one.spread(2) == pytest.approx(200.0 * left)
    assert one.after(2).spread() == pytest.approx(200.0 * left)


@pytest.mark.parametrize("common", [0.0, 0.1])
def test_the_way_is_narrowed_by_what_is_not_known_of_the_stiffness(
    common: float,
) -> None:
    from tension.adjustment.plan import _way

    basis = based()
    stiffness = replace(basis.stiffness, common_uncertainty=common, now_uncertainty=0.2)
    basis = replace(basis, stiffness=stiffness)
    start = basis.tensions + np.array([100.0, 0.0, -100.0, 0.0])
    way = _way(basis, start)
    doubt = 2 * common * np.array([100.0, 0.0, 100.0, 0.0])
    assert way.lowest == pytest.approx(basis.limits.lowest + doubt)
    assert way.highest == pytest.approx(basis.limits.highest - doubt)
    assert way.stiffness_margin == pytest.approx(np.exp(0.4) - 1)


# --- what a plan says ---


def test_a_plan_that_would_likely_not_do_asks_for_thread_first() -> None:
    seen = {}
    for limit in np.linspace(0.02, 0.07, 26):
        basis = based(rule=replace(RULE, limit=float(limit)), relative=0.01)
        choice = replace(choose_steps(basis), shortfalls=(), untold=((4, 0.02),))
        found = planning._judge(basis, choice)
        with_all = planning._judge(basis, replace(choice, untold=()))
        assert isinstance(with_all, Plan)
        chance = with_all.forecast.chance_equal
        assert isinstance(found, NoPlan) is (chance < 0.5)
        seen[chance] = found
        assert isinstance(found, NoPlan | Plan)
        told = found.reasons if isinstance(found, NoPlan) else found.notes
        (asked,) = [one for one in told if one.code == NoteKind.THREAD_ASKED.code]
        assert dict(asked.places) == {
            "rope": 4,
            "way": "take_up_left",
            "wanted": "20 mm",
        }
    assert any(0.4 < chance < 0.5 for chance in seen)
    assert any(0.5 < chance < 0.65 for chance in seen)


@pytest.mark.parametrize(
    ("gain", "n_with_all", "is_told"),
    [(0.0011, 4, True), (0.0009, 4, False), (0.0011, 2, False), (0.1, 3, True)],
)
def test_more_nuts_are_worth_a_word_from_a_tenth_of_a_percent(
    *, gain: float, n_with_all: int, is_told: bool
) -> None:
    basis = based(strategy=Strategy.FEWEST_NUTS)
    choice = choose_steps(basis)
    plan = planning._judge(basis, choice)
    assert isinstance(plan, Plan)
    assert plan.n_nuts == 2
    other = replace(
        choice,
        upper_with_all=choice.upper - gain,
        n_with_all=n_with_all,
        upper_with_fewer=None,
    )
    notes = list(planning._on_nuts(plan, other))
    assert [note.kind for note in notes] == [NoteKind.MORE_NUTS] * is_told


def test_a_plan_from_far_away_says_so_with_its_trips() -> None:
    near = planning.plan_turns(assessed(FOUR), REQUEST)
    far = planning.plan_turns(assessed(FOUR), replace(REQUEST, hitch=FAR))
    assert isinstance(near, Plan)
    assert isinstance(far, Plan)
    told = {note.kind: dict(note.places) for note in far.notes}
    trips = far.stages[-1].round_trips
    assert told[NoteKind.FAR_FROM_NUTS] == {"side": "car", "trips": trips}
    assert told[NoteKind.OTHER_SIDE] == {"side": "counterweight"}
    assert NoteKind.FAR_FROM_NUTS not in {note.kind for note in near.notes}
    assert NoteKind.STAGED not in {note.kind for note in near.notes}


@pytest.mark.parametrize(("trips", "is_told"), [(12, False), (13, True)])
def test_a_plan_of_more_trips_than_twelve_says_so(*, trips: int, is_told: bool) -> None:
    plan = planning.plan_turns(assessed(FOUR), REQUEST)
    assert isinstance(plan, Plan)
    stages = (replace(plan.stages[0], round_trips=trips), plan.stages[-1])
    last = replace(stages[1], round_trips=3)
    notes = list(planning._on_trips(replace(plan, stages=(stages[0], last))))
    assert [dict(note.places) for note in notes] == [{"trips": 13}] * is_told


@pytest.mark.parametrize(
    ("again", "told"), [((4, 1, 2, 3), "ropes 4, 1, 2"), ((), "rope 1")]
)
def test_a_set_that_may_be_equal_names_three_ropes_to_measure(
    again: tuple[int, ...], told: str
) -> None:
    given = assessed([5300.0, 4850.0, 5150.0, 4800.0], relative=0.01)
    plan = planning.plan_turns(replace(given, measure_again=again), REQUEST)
    assert isinstance(plan, Plan)
    (note,) = [one for one in plan.notes if one.kind is NoteKind.MAYBE_EQUAL]
    assert f"({told})" in note.next_act


def test_turns_are_counted_whichever_way_they_go() -> None:
    turns = [
        NutTurn(rope=i + 1, steps=steps, turns=steps / 4, travel=steps * 0.0005)
        for i, steps in enumerate((3, 0, -2))
    ]
    plan = planning.plan_turns(assessed(FOUR), REQUEST)
    assert isinstance(plan, Plan)
    other = replace(plan, turns=tuple(turns))
    assert (other.n_nuts, other.turns_in_all) == (2, 1.25)
    assert [turn.direction for turn in turns] == [
        Direction.TAKE_UP,
        Direction.LEAVE,
        Direction.EASE,
    ]
