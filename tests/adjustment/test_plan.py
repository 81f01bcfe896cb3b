from dataclasses import replace

import numpy as np
import pytest

from tension.adjustment.fit import DrawnSets, own_uncertainties
from tension.adjustment.outcome import (
    Direction,
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    NoPlanKind,
    Plan,
    PlanOutcome,
    Shortage,
    Strategy,
)
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import PlanRequest
from tension.adjustment.stiffness import KnownFrom
from tension.assessment.decide import Verdict
from tension.installation import Buffer, Drive, HitchPlace, Rope, RopeSet, Roping
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import Note, NoteKind
from tension.physics.hitch_statics import stiffness_in_series
from tension.quantity.units import Dimension
from tension.sound.hearing import Rival
from tests.oracles.all_steps import spread_of, tensions_after
from tests.synthesis.measured_sets import (
    RULE,
    SPAN,
    assessed,
    hitch,
    measured,
    quantity,
    rope_set,
)
from tests.synthesis.measured_sets import rope as some_rope

K_RUN = 1 / (2 / 150e3 + 38 / 4.6e6)
FAR = HitchPlace.COUNTERWEIGHT
FOUR = [5300.0, 4850.0, 5150.0, 4700.0]


def planned(
    tensions: list[float] | np.ndarray = FOUR,
    ropes: RopeSet | None = None,
    *,
    relative: float = 0.005,
    **request: object,
) -> PlanOutcome:
    given = assessed(tensions, relative=relative)
    request.setdefault("strategy", Strategy.KEEP_HEIGHT)
    return plan_turns(
        given,
        PlanRequest(rope_set=ropes or rope_set(len(tensions)), **request),  # type: ignore[arg-type]
    )


def plan(
    tensions: list[float] | np.ndarray = FOUR,
    ropes: RopeSet | None = None,
    **request: object,
) -> Plan:
    outcome = planned(tensions, ropes, **request)  # type: ignore[arg-type]
    assert isinstance(outcome, Plan), outcome
    return outcome


# --- arithmetic, our own numbers ---


@pytest.mark.parametrize(
    ("strategy", "turns"),
    [
        (Strategy.KEEP_HEIGHT, [-1.13, 0.56, -0.56, 1.13]),
        (Strategy.TAKE_UP_ONLY, [0.0, 1.69, 0.56, 2.26]),
        (Strategy.EASE_ONLY, [-2.26, -0.56, -1.69, 0.0]),
        # the lower of the two in the middle stays where it is: least in sum
        (Strategy.FEWEST_NUTS, [-0.56, 1.13, 0.0, 1.69]),
    ],
)
def test_turns_before_steps_on_a_drum_by_arithmetic(
    strategy: Strategy, turns: list[float]
) -> None:
    # One stiffness of 133 N/mm: four metres of rope on a spring, M16.
    found = plan(strategy=strategy, drive=Drive.DRUM)
    k = stiffness_in_series(free_length=4.0, axial_rigidity=4.6e6, spring_rates=[150e3])
    assert k / 1000 == pytest.approx(133, abs=0.5)
    assert found.wanted_turns == pytest.approx(tuple(turns), abs=0.01)


def test_turns_before_steps_on_a_sheave_by_arithmetic() -> None:
    # (mean - T)/(k p), 46 N/mm once the car has run, M16.
    k = 1 / (2 / 150 + 38000 / 4.6e6)
    by_hand = [(5000 - t) / (k * 2.0) for t in FOUR]
    found = plan()
    assert found.wanted_turns == pytest.approx(tuple(by_hand), abs=1e-6)
    assert found.wanted_turns == pytest.approx((-3.24, 1.62, -1.62, 3.24), abs=0.05)
    assert [turn.turns for turn in found.turns] == [-3.25, 1.5, -1.5, 3.25]


def test_the_set_reads_unequal_the_other_way_until_it_has_run() -> None:
    # Before running, by hand with 133 and 46 N/mm: 4438, 5281, 4719, 5562 N.
    found = plan()
    exact = np.array(found.wanted_turns) * 0.002
    now = tensions_after(np.array(FOUR), np.full(4, 132.72e3), exact)
    assert now == pytest.approx(np.array([4438, 5281, 4719, 5562]), abs=5)
    last = found.stages[-1].steps[-1]
    assert last.shares_now[0] < 0.9
    assert last.shares_now[3] > 1.1
    assert last.shares_after_running[0] == pytest.approx(1.0, abs=0.01)


def test_quarters_on_a_drum_leave_one_percent() -> None:
    found = plan(drive=Drive.DRUM)
    assert [turn.turns for turn in found.turns] == [-1.25, 0.5, -0.5, 1.25]
    after = tensions_after(
        np.array(FOUR),
        np.full(
            4,
            stiffness_in_series(
                free_length=4.0, axial_rigidity=4.6e6, spring_rates=[150e3]
            ),
        ),
        np.array([turn.travel for turn in found.turns]),
    )
    assert spread_of(after, "above-lowest") == pytest.approx(0.013, abs=0.001)
    # the noise of the readings is in what is expected: 0.5 % on each of four ropes
    assert spread_of(after, "below-highest") < found.forecast.spread < 0.03


# --- what a plan is ---


@pytest.mark.parametrize("strategy", list(Strategy))
def test_predicted_shares_follow_the_frame_after_every_nut(strategy: Strategy) -> None:
    found = plan(strategy=strategy)
    k_now = stiffness_in_series(
        free_length=4.0, axial_rigidity=4.6e6, spring_rates=[150e3]
    )
    k_run = stiffness_in_series(
        free_length=38.0, axial_rigidity=4.6e6, spring_rates=[150e3, 150e3]
    )
    start = np.array(FOUR)
    for stage in found.stages:
        so_far = np.zeros(4)
        for step in stage.steps:
            so_far[step.turn.rope - 1] = step.turn.travel
            now = tensions_after(start, np.full(4, k_now), so_far) / 5000
            run = tensions_after(start, np.full(4, k_run), so_far) / 5000
            # a later stage begins with up to 3 % of the spread still to go
            near = 1e-9 if stage is found.stages[0] else 0.02
            assert step.shares_now == pytest.approx(tuple(now), rel=near)
            assert step.shares_after_running == pytest.approx(tuple(run), rel=1e-9)
            assert 0.6 <= min(step.shares_now) <= max(step.shares_now) <= 1.4
            assert abs(step.turn.travel) <= 0.010
        start = tensions_after(start, np.full(4, k_run), so_far)
    total = np.zeros(4)
    for stage in found.stages:
        for step in stage.steps:
            total[step.turn.rope - 1] += step.turn.steps
    assert list(total) == [turn.steps for turn in found.turns]
    assert found.forecast.shares == pytest.approx(tuple(start / 5000), rel=1e-9)


def test_strategies_do_what_their_names_say() -> None:
    keep = plan(strategy=Strategy.KEEP_HEIGHT)
    assert sum(turn.steps for turn in keep.turns) == 0
    assert keep.runby_change == pytest.approx(0.0, abs=1e-12)
    up = plan(strategy=Strategy.TAKE_UP_ONLY)
    assert min(turn.steps for turn in up.turns) == 0
    assert up.runby_change > 0
    down = plan(strategy=Strategy.EASE_ONLY)
    assert max(turn.steps for turn in down.turns) == 0
    fewest = plan(strategy=Strategy.FEWEST_NUTS)
    assert fewest.n_nuts == 2
    assert fewest.forecast.upper <= fewest.goal
    assert fewest.n_nuts < keep.n_nuts


def test_what_the_last_nut_is_worth_is_told_where_fewer_were_tried() -> None:
    fewest, keep = plan(strategy=Strategy.FEWEST_NUTS), plan()
    worth = NoteKind.NUT_WORTH.code
    assert worth in {note.code for note in fewest.notes}
    assert worth not in {note.code for note in keep.notes}


def test_runby_changes_by_the_rise_over_the_falls() -> None:
    up = plan(strategy=Strategy.TAKE_UP_ONLY)
    mean_travel = sum(turn.travel for turn in up.turns) / 4
    assert up.runby_change == pytest.approx(mean_travel, rel=1e-9)
    two = plan(strategy=Strategy.TAKE_UP_ONLY, roping=Roping.TWO_TO_ONE)
    assert two.runby_change == pytest.approx(mean_travel / 2, rel=1e-9)


def test_without_springs_the_steps_are_eighths_and_the_car_runs_in_between() -> None:
    bare = (
        hitch(buffer=Buffer.NONE),
        hitch(HitchPlace.COUNTERWEIGHT, buffer=Buffer.NONE),
    )
    found = plan([5600.0, 4700.0, 5200.0, 4500.0], rope_set(4, hitches=bare))
    assert found.steps_per_turn == 8
    assert len(found.stages) > 1
    for stage in found.stages:
        assert stage.lowest_share >= 0.6
        assert stage.highest_share <= 1.4
    assert any(note.code == NoteKind.STAGED.code for note in found.notes)


def test_a_nut_goes_ten_millimetres_at_most_before_a_run() -> None:
    soft = (
        hitch(rate=50e3, free_length=None),
        hitch(HitchPlace.COUNTERWEIGHT, rate=50e3),
    )
    found = plan([5600.0, 4700.0, 5200.0, 4500.0], rope_set(4, hitches=soft))
    assert max(abs(turn.travel) for turn in found.turns) > 0.010
    assert all(
        abs(step.turn.travel) <= 0.010 for stage in found.stages for step in stage.steps
    )


@pytest.mark.parametrize(("millimetres", "n_stages"), [(9.9, 1), (10.5, 2)])
def test_stages_begin_at_ten_millimetres(millimetres: float, n_stages: int) -> None:
    # two ropes, 46.3 N/mm once run, the nuts go as far apart as their tensions ask
    off = K_RUN * millimetres / 1000
    ropes = rope_set(2, hitches=(hitch(free_length=None), hitch(FAR)))
    found = plan([5000.0 + off, 5000.0 - off], ropes)
    furthest = max(abs(turn.travel) for turn in found.turns)
    assert furthest == pytest.approx(millimetres / 1000, abs=0.00026)
    assert len(found.stages) == n_stages


def test_an_assumed_stiffness_gives_a_first_part() -> None:
    whole = plan(ropes=rope_set(4))
    part = plan(ropes=rope_set(4, hitches=(hitch(),)))
    assert whole.part == 1.0
    assert part.part == 0.7
    assert part.wanted_turns[0] == pytest.approx(
        0.7 * (5000 - 5300) / (part_stiffness(part) * 0.002), rel=1e-9
    )
    assert any(note.code == NoteKind.FIRST_PART.code for note in part.notes)
    assert any(o.known_from is KnownFrom.ASSUMED for o in part.origins)


def part_stiffness(found: Plan) -> float:
    """One spring, half of one like it, and the whole rope, by hand [N/m]."""
    assert found.part < 1.0
    return 1 / (1.5 / 150e3 + 38 / 4.6e6)


def test_shares_alone_need_the_mass_that_hangs() -> None:
    shares = assessed(np.array(FOUR) / 5000, is_absolute=False)
    keep = Strategy.KEEP_HEIGHT
    without = plan_turns(shares, PlanRequest(rope_set=rope_set(4)))
    assert isinstance(without, DirectionsOnly)
    assert [reason.code for reason in without.reasons] == [
        NoteKind.NEWTONS_UNKNOWN.code
    ]
    mass = quantity(4 * 5000 / 9.80665, Dimension.MASS, "2039 kg")
    with_mass = plan_turns(
        shares, PlanRequest(rope_set=rope_set(4), hanging_mass=mass, strategy=keep)
    )
    assert isinstance(with_mass, Plan)
    assert with_mass.turns == plan().turns
    # on 2:1 a rope carries half of that
    halved = plan_turns(
        shares,
        PlanRequest(
            rope_set=rope_set(4),
            hanging_mass=mass,
            roping=Roping.TWO_TO_ONE,
            strategy=keep,
        ),
    )
    assert isinstance(halved, Plan)
    assert halved.mean_tension == pytest.approx(2500.0, rel=1e-9)


# --- the chance that the set is then equal ---


@pytest.mark.parametrize(("common", "own"), [(0.2, 0.05), (0.0, 0.35)])
def test_the_chance_agrees_with_sets_drawn_apart_from_the_program(
    common: float, own: float
) -> None:
    tensions = np.array([5600.0, 4700.0, 5200.0, 4500.0])
    travels = np.array([-0.004, 0.002, -0.001, 0.004])
    k = np.full(4, 60e3)
    simulation = DrawnSets(
        tensions=tensions,
        covariance=np.eye(4) * 0.02**2,
        stiffnesses=k,
        common_uncertainty=common,
        own_uncertainty=own,
        n_draws=20_000,
    )
    told = simulation.forecast(travels, RULE)
    rng = np.random.default_rng(99)
    equal = 0
    spreads = []
    for _ in range(4000):
        truth = tensions * np.exp(0.02 * rng.standard_normal(4))
        apart = common * rng.standard_normal() + own * rng.standard_normal(4)
        stiff = k * np.exp(apart)
        spread = spread_of(tensions_after(truth, stiff, travels), "below-highest")
        spreads.append(spread)
        equal += spread <= 0.10
    # binomial scatter of 4000 draws: 0.8 points
    assert told.chance_equal == pytest.approx(equal / 4000, abs=0.025)
    assert 0.1 < told.chance_equal < 0.9
    assert told.upper == pytest.approx(float(np.quantile(spreads, 0.975)), rel=0.03)


def test_what_all_readings_share_does_not_widen_a_share() -> None:
    alone = np.eye(4) * 0.01**2
    common = alone + 0.03**2
    # against the mean of four: 1 % times sqrt(3/4)
    for covariance in (alone, common):
        assert own_uncertainties(covariance) == pytest.approx(
            np.full(4, 0.01 * 0.75**0.5), rel=1e-9
        )


def test_doubt_about_the_stiffness_lowers_the_chance() -> None:
    wide = [6000.0, 4400.0, 5200.0, 4400.0]
    sure = plan(wide)
    doubtful = plan(
        wide,
        replace(
            rope_set(4),
            uncertainties=replace(rope_set(4).uncertainties, spring_rate=0.35),
        ),
    )
    assert doubtful.forecast.upper > sure.forecast.upper
    assert doubtful.forecast.chance_equal <= sure.forecast.chance_equal


# --- no plan ---


def kind_of(outcome: PlanOutcome) -> tuple[NoPlanKind, list[str]]:
    assert isinstance(outcome, NoPlan), outcome
    return outcome.kind, [reason.code for reason in outcome.reasons]


def test_an_equal_set_is_left_alone() -> None:
    assert kind_of(planned([5020.0, 4990.0, 5010.0, 4980.0])) == (
        NoPlanKind.LEAVE_IT,
        [NoteKind.LEAVE_IT.code],
    )


def test_a_rope_far_below_is_looked_at_first() -> None:
    kind, codes = kind_of(planned([5900.0, 5900.0, 5600.0, 2600.0]))
    assert kind is NoPlanKind.LOOK_FIRST
    assert codes == [NoteKind.FAR_BELOW.code]


def test_no_nut_is_turned_while_a_rope_is_in_doubt() -> None:
    sound = measured(FOUR)
    rival = Rival(fundamental_frequency=9.0, probability=0.2)
    touching = NoteKind.TOUCHING.note(rope=3)
    doubtful = replace(
        sound,
        ropes=(
            replace(sound.ropes[0], rivals=(rival,)),
            sound.ropes[1],
            replace(sound.ropes[2], notes=(touching,)),
            replace(
                sound.ropes[3],
                tension=None,
                refusal=NoteKind.NO_PLUCK.refusal(recording="rope-4.m4a"),
            ),
        ),
    )
    given = replace(assessed(FOUR), measurement=doubtful)
    kind, codes = kind_of(plan_turns(given, PlanRequest(rope_set=rope_set(4))))
    assert kind is NoPlanKind.LOOK_FIRST
    assert codes == [
        NoteKind.RIVAL_NUMBERS.code,
        NoteKind.NO_SHARE.code,
        NoteKind.ROPE_IN_DOUBT.code,
    ]


@pytest.mark.parametrize(
    "note",
    [
        NoteKind.SWAPPED_ROPES.note(one=1, other=2),
        NoteKind.ROPE_CONTRADICTS.note(
            rope=1, first=90, second=110, one="pluck", other="spring"
        ),
    ],
)
def test_doubts_about_numbers_and_kinds_stop_the_plan(note: Note) -> None:
    given = replace(assessed(FOUR), notes=(note,))
    kind, codes = kind_of(plan_turns(given, PlanRequest(rope_set=rope_set(4))))
    assert kind is NoPlanKind.LOOK_FIRST
    assert codes == [NoteKind.ROPE_IN_DOUBT.code]


def test_a_doubt_about_the_set_stops_the_plan_and_says_what_to_look_at() -> None:
    note = NoteKind.STAGGER_PATTERN.note(named="1, 3", difference="9")
    given = assessed(FOUR)
    given = replace(given, measurement=replace(given.measurement, doubts=(note,)))
    outcome = plan_turns(given, PlanRequest(rope_set=rope_set(4)))
    kind, codes = kind_of(outcome)
    assert kind is NoPlanKind.LOOK_FIRST
    assert codes == [note.code]


def test_only_notes_that_bear_on_turning_are_told_again() -> None:
    told, other = (
        NoteKind.LENGTH_PATTERN.note(difference="9"),
        NoteKind.HUM_FOUND.note(lines="50 Hz", rope=1),
    )
    given = replace(assessed(FOUR), notes=(told, other))
    outcome = plan_turns(given, PlanRequest(rope_set=rope_set(4)))
    assert isinstance(outcome, Plan)
    assert told in outcome.notes
    assert other not in outcome.notes


def test_a_plan_for_a_set_that_may_be_equal_says_so() -> None:
    outcome = planned([5300.0, 4850.0, 5150.0, 4800.0], relative=0.01)
    assert isinstance(outcome, Plan)
    assert NoteKind.MAYBE_EQUAL.code in {note.code for note in outcome.notes}


def test_the_two_ropes_known_least_are_measured_again_where_no_verdict_hangs() -> None:
    given = assessed([5030.0, 4970.0, 5010.0, 4990.0], relative=0.06)
    shares = [
        replace(share, share_uncertainty=0.01 * share.number) for share in given.shares
    ]
    unsure = replace(given, measure_again=(), shares=tuple(shares))
    outcome = plan_turns(unsure, PlanRequest(rope_set=rope_set(4)))
    assert isinstance(outcome, NoPlan)
    assert outcome.kind is NoPlanKind.MEASURE_FIRST
    assert outcome.reasons[0].next_act == "Measure again first: ropes 4, 3."


def test_unknown_lengths_stop_the_plan() -> None:
    given = assessed(FOUR, lengths=LengthKnowledge.UNKNOWN)
    kind, codes = kind_of(plan_turns(given, PlanRequest(rope_set=rope_set(4))))
    assert kind is NoPlanKind.LOOK_FIRST
    assert codes == [NoteKind.LENGTHS_UNKNOWN.code]


def test_readings_too_uncertain_are_repeated_first() -> None:
    kind, codes = kind_of(planned(FOUR, relative=0.05))
    assert kind is NoPlanKind.MEASURE_FIRST
    assert codes == [NoteKind.MEASURE_FIRST.code]


def test_a_beam_has_no_plan() -> None:
    here = rope_set(4, hitches=(hitch(buffer=Buffer.BEAM),))
    there = rope_set(
        4, hitches=(hitch(), hitch(HitchPlace.COUNTERWEIGHT, buffer=Buffer.BEAM))
    )
    for ropes in (here, there):
        assert kind_of(planned(ropes=ropes)) == (
            NoPlanKind.BEAM,
            [NoteKind.BEAM.code],
        )


@pytest.mark.parametrize(
    ("ropes", "codes"),
    [
        (rope_set(4, hitches=(hitch(rate=None),)), [NoteKind.SPRING_UNKNOWN.code]),
        (rope_set(4, hitches=(hitch(thread=None),)), [NoteKind.THREAD_UNKNOWN.code]),
        (rope_set(4, hitches=(hitch(buffer=Buffer.RUBBER),)), [NoteKind.RUBBER.code]),
        (
            rope_set(4, hitches=(hitch(thread=None, rate=None),)),
            [NoteKind.THREAD_UNKNOWN.code, NoteKind.SPRING_UNKNOWN.code],
        ),
        (rope_set(4, hitches=()), [NoteKind.HITCH_UNKNOWN.code]),
        (rope_set(4, rope_length=None), [NoteKind.ROPE_LENGTH_UNKNOWN.code]),
    ],
)
def test_order_and_direction_alone_where_turns_cannot_be_told(
    ropes: RopeSet, codes: list[str]
) -> None:
    outcome = planned(ropes=ropes)
    assert isinstance(outcome, DirectionsOnly)
    assert [reason.code for reason in outcome.reasons] == codes
    assert [(row.rope, row.direction) for row in outcome.rows] == [
        (4, Direction.TAKE_UP),
        (1, Direction.EASE),
        (2, Direction.TAKE_UP),
        (3, Direction.EASE),
    ]


# --- infeasible ---


def with_thread(n: int, rope: int, *, take_up: float) -> tuple[Rope, ...]:
    return tuple(
        some_rope(i + 1, take_up=take_up if i + 1 == rope else 0.1) for i in range(n)
    )


def test_short_thread_is_told_with_how_much() -> None:
    # Rope 4 has to come up 6.5 mm and has 1 mm; with that it stays at about 4740 N.
    ropes = rope_set(4, ropes=with_thread(4, 4, take_up=0.001))
    outcome = planned([5500.0, 4900.0, 5200.0, 4400.0], ropes)
    assert isinstance(outcome, InfeasiblePlan)
    short = outcome.shortfalls
    assert [(s.kind, s.rope) for s in short] == [(Shortage.THREAD_TOWARDS_PLATE, 4)]
    by_hand = 600 / (1 / (2 / 150 + 38000 / 4.6e6)) / 1000
    assert short[0].needed == pytest.approx(by_hand, abs=0.0006)
    assert short[0].short_by == pytest.approx(short[0].needed - 0.001, rel=1e-9)
    assert outcome.best_spread > 0.10


def test_thread_that_bends_a_plan_without_breaking_it_is_kept() -> None:
    ropes = rope_set(4, ropes=with_thread(4, 4, take_up=0.005))
    found = plan(ropes=ropes)
    assert found.turns[3].travel <= 0.005
    assert found.forecast.spread <= 0.10
    assert sum(turn.steps for turn in found.turns) == 0


def test_a_spring_that_would_go_solid_is_told() -> None:
    solid = hitch(free_length=0.160, solid=0.128)  # solid at 4800 N of a mean of 5000
    outcome = planned(
        ropes=rope_set(4, hitches=(solid, hitch(HitchPlace.COUNTERWEIGHT)))
    )
    assert isinstance(outcome, InfeasiblePlan)
    assert {s.kind for s in outcome.shortfalls} == {Shortage.SPRING_WAY}
    assert outcome.shortfalls[0].available == pytest.approx(4800.0, rel=1e-9)


def test_steps_too_coarse_are_told() -> None:
    # Three metres of rope without springs: an eighth of M16 is over 7 % of a share.
    bare = (
        hitch(buffer=Buffer.NONE),
        hitch(HitchPlace.COUNTERWEIGHT, buffer=Buffer.NONE),
    )
    ropes = rope_set(4, hitches=bare, rope_length=3.2, axial_rigidity=9e6)
    outcome = planned([5900.0, 4500.0, 5150.0, 4450.0], ropes)
    assert isinstance(outcome, InfeasiblePlan)
    assert outcome.shortfalls[0].kind is Shortage.FINE_STEPS


def test_the_same_question_has_the_same_answer() -> None:
    assert plan() == plan()
    assert assessed(FOUR).verdict is Verdict.UNEQUAL
    assert SPAN.free_length is not None
