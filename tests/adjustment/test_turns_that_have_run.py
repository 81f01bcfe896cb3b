"""Plans and learning only from sets that have run; each class of mistake by a test."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tension.adjustment.answer import AnswerKind
from tension.adjustment.comparison import Comparison, after_the_past, compare_series
from tension.adjustment.outcome import (
    Direction,
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    NoPlanKind,
    Plan,
    PlanOutcome,
    RunState,
    SetState,
    Strategy,
    Turn,
)
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import Looked, PlanRequest
from tension.adjustment.running import (
    Past,
    Spreading,
    find_run_in,
    find_state,
    state_of,
    turns_before,
)
from tension.adjustment.stiffness import Setting
from tension.assessment.decide import Assessment
from tension.installation import Buffer, Drive, HitchPlace, RopeSet, Roping, Span
from tension.measurement.readings import Series
from tension.notes import NoteKind, Refusal
from tension.physics.sheave import SheaveSystem, round_trip_matrix
from tension.quantity.units import Dimension, Quantity, UnitSystem
from tension.telling.plans import outcome_lines, turns_of_stage
from tests.oracles.all_steps import tensions_after
from tests.oracles.running_ropes import hang
from tests.synthesis.measured_sets import (
    SPAN,
    assessed,
    hitch,
    quantity,
    rope,
    rope_set,
)

FOUND = np.array([5350.0, 4800.0, 5200.0, 4650.0])
WIDE = np.array([5950.0, 4450.0, 5400.0, 4200.0])
TURNS = [-3.25, 1.5, -1.5, 3.25]
CAR, FAR = HitchPlace.CAR, HitchPlace.COUNTERWEIGHT
K_RUN = 1 / (2 / 150e3 + 38 / 4.6e6)
K_NOW = 1 / (1 / 150e3 + 4 / 4.6e6)
TRAVEL = quantity(30.0, Dimension.LENGTH, "30 m")


def turn(
    number: int,
    turns: float,
    trips: int | None,
    *,
    after: str = "a",
    at: HitchPlace = CAR,
) -> Turn:
    return Turn(
        after=after,
        hitch=at,
        rope=number,
        turns=Quantity(value=turns, dimension=Dimension.TURNS, text=f"{turns:g}"),
        round_trips_after=trips,
    )


def made(trips: int | None, *, at: HitchPlace = CAR) -> tuple[Turn, ...]:
    return tuple(turn(i + 1, t, trips, at=at) for i, t in enumerate(TURNS))


def series(*names: str, **run: int) -> tuple[Series, ...]:
    return tuple(
        Series(
            name=name,
            span="top, car side",
            load="empty",
            round_trips_before=run.get(name),
        )
        for name in names
    )


def left(k: float, start: np.ndarray = FOUND) -> np.ndarray:
    travels = 0.002 * np.array(TURNS)
    return tensions_after(start, np.full(len(start), k), travels)


def request_after(
    every: tuple[Series, ...],
    turns: tuple[Turn, ...],
    seen: dict[str, np.ndarray],
    **request: object,
) -> tuple[Assessment, PlanRequest]:
    def assess(each: Series) -> Assessment:
        return assessed(seen[each.name], series=each)

    past = Past(series=every, turns=turns, assess=assess)
    wanted = PlanRequest(rope_set=rope_set(4), travel=TRAVEL, **request)  # type: ignore[arg-type]
    return assess(every[-1]), after_the_past(past, every[-1], wanted)


def answer(
    every: tuple[Series, ...], turns: tuple[Turn, ...], seen: dict[str, np.ndarray]
) -> PlanOutcome:
    return plan_turns(*request_after(every, turns, seen))


def no_plan(outcome: PlanOutcome, kind: NoPlanKind) -> list[str]:
    assert isinstance(outcome, NoPlan), outcome
    assert outcome.kind is kind
    return [reason.code for reason in outcome.reasons]


# --- the state of the set ---


@pytest.mark.parametrize(
    ("trips", "code"),
    [
        (None, NoteKind.RUN_NOT_RECORDED),
        (0, NoteKind.CAR_NOT_RUN),
        (1, NoteKind.CAR_RUN_TOO_LITTLE),
    ],
)
def test_a_set_that_has_not_run_is_run_first(trips: int | None, code: NoteKind) -> None:
    seen = {"a": FOUND, "b": left(K_NOW)}
    outcome = answer(series("a", "b"), made(trips), seen)
    assert no_plan(outcome, NoPlanKind.RUN_FIRST) == [code.code]


def test_a_set_that_reads_equal_before_it_has_run_is_not_left_alone() -> None:
    travels = (FOUND.mean() - FOUND) / K_NOW  # equal at once, and springs back
    turns = tuple(turn(i + 1, float(d / 0.002), 0) for i, d in enumerate(travels))
    seen = {"a": FOUND, "b": np.full(4, FOUND.mean())}
    outcome = answer(series("a", "b"), turns, seen)
    assert no_plan(outcome, NoPlanKind.RUN_FIRST) == [NoteKind.CAR_NOT_RUN.code]


def test_running_and_measuring_again_opens_the_plan() -> None:
    seen = {"a": WIDE, "b": left(K_NOW, WIDE), "c": left(K_RUN, WIDE)}
    outcome = answer(series("a", "b", "c", c=10), made(0), seen)
    assert isinstance(outcome, Plan)


def test_round_trips_named_are_enough_and_one_fewer_is_not() -> None:
    seen = {"a": FOUND, "b": left(K_NOW)}
    _, request = request_after(series("a", "b"), made(0), seen)
    wanted = request.state.wanted
    assert wanted > 2
    for trips, is_at_rest in ((wanted, True), (1, False)):
        _, request = request_after(series("a", "b"), made(trips), seen)
        assert request.state.is_at_rest is is_at_rest


def test_turns_after_the_last_reading_ask_to_run_and_measure() -> None:
    for trips in (None, 3):
        outcome = answer(series("a"), made(trips), {"a": FOUND})
        kind = NoPlanKind.RUN_FIRST
        assert no_plan(outcome, kind)[0] == NoteKind.TURNED_SINCE.code
    long_run = answer(series("a"), made(60), {"a": FOUND})
    assert no_plan(long_run, NoPlanKind.MEASURE_FIRST) == [NoteKind.TURNED_SINCE.code]


def test_a_set_that_has_never_run_is_run_first() -> None:
    outcome = answer(series("a", a=0), (), {"a": FOUND})
    assert no_plan(outcome, NoPlanKind.RUN_FIRST) == [NoteKind.CAR_NOT_RUN.code]


def test_a_run_after_a_reading_says_nothing_of_it() -> None:
    every = series("a", "b", a=0, b=5)
    past = Past(
        series=every, turns=(), assess=lambda each: assessed(FOUND, series=each)
    )
    asked = PlanRequest(rope_set=rope_set(4), travel=TRAVEL)
    assert state_of(past, every[0], asked).state is RunState.NOT_RUN
    assert state_of(past, every[1], asked) == SetState()


def test_a_new_set_has_run_once_a_run_stands_with_its_turns() -> None:
    seen = {"a": WIDE, "b": left(K_RUN, WIDE)}
    for trips, state in (
        (0, RunState.NOT_RUN),
        (1, RunState.TOO_FEW),
        (40, RunState.AT_REST),
    ):
        given_, request = request_after(series("a", "b", a=0), made(trips), seen)
        assert request.state.state is state
        assert isinstance(plan_turns(given_, request), Plan) is (trips == 40)


def test_a_record_without_turns_asks_for_no_trips() -> None:
    _, request = request_after(series("a"), (), {"a": FOUND})
    assert request.state == SetState()
    assert (request.state.wanted, request.state.wanted_since) == (0, 0)
    assert (request.state.round_trips, request.state.still_to_come) == (0, 0.0)


@pytest.mark.parametrize(
    ("since", "state"), [(None, RunState.NOT_RECORDED), (0, RunState.NOT_RUN)]
)
def test_a_run_before_the_last_nut_does_not_count_for_it(
    since: int | None, state: RunState
) -> None:
    turns = (turn(1, -3.0, 40), turn(2, 2.0, None))
    told = {} if since is None else {"b": since}
    seen = {"a": FOUND, "b": left(K_NOW)}
    _, request = request_after(series("a", "b", **told), turns, seen)
    assert request.state.state is state


def test_a_drum_needs_no_run() -> None:
    k = 1 / (1 / 150e3 + 4 / 4.6e6)
    seen = {"a": WIDE, "b": left(0.4 * k, WIDE)}
    given_, request = request_after(
        series("a", "b"), made(None), seen, drive=Drive.DRUM
    )
    assert request.state.is_at_rest
    assert isinstance(plan_turns(given_, request), Plan)


@given(
    own=st.lists(st.one_of(st.none(), st.integers(0, 5)), min_size=3, max_size=3),
    before=st.lists(st.one_of(st.none(), st.integers(0, 5)), min_size=4, max_size=4),
)
@settings(max_examples=60, deadline=None)
def test_trips_are_never_counted_twice(
    own: list[int | None], before: list[int | None]
) -> None:
    # turns of one gap share its run: no turn has seen more than every gap's larger tale
    names = "abcd"
    every = tuple(
        Series(name=n, span="s", round_trips_before=b)
        for n, b in zip(names, before, strict=True)
    )
    turns = tuple(turn(1, 1.0, trips, after=names[i]) for i, trips in enumerate(own))
    for past in turns_before(every, turns, "d"):
        gap = names.index(past.after)
        most = sum(
            max((t for t in (own[g], before[g + 1]) if t is not None), default=0)
            for g in range(gap, 3)
        )
        assert (past.round_trips_after or 0) <= most


def test_low_rise_with_springs_at_both_ends_needs_more_trips_than_people_make() -> None:
    # 12 m of rope, 6 m of travel, 100 N/mm at both ends: three trips leave two thirds
    ropes = rope_set(
        4,
        rope_length=12.0,
        hitches=(hitch(rate=100e3, solid=None), hitch(FAR, rate=100e3)),
    )
    span = replace(SPAN, free_length=quantity(3.0, Dimension.LENGTH))
    travel = quantity(6.0, Dimension.LENGTH)
    outcome = plan_turns(
        assessed(FOUND, span=span),
        PlanRequest(rope_set=ropes, travel=travel, strategy=Strategy.KEEP_HEIGHT),
    )
    assert isinstance(outcome, Plan)
    assert outcome.stages[-1].round_trips > 12
    assert outcome.notes[0].code == NoteKind.MANY_TRIPS.code
    truth = hang(
        tensions=FOUND,
        other_mean=6000.0,
        car_springs=np.full(4, 1 / 100e3),
        other_springs=np.full(4, 1 / 100e3),
        rigidity=np.full(4, 4.6e6),
        car_fall=3.0,
        other_fall=9.0,
        travel=6.0,
    )
    few = truth
    for stage in outcome.stages:
        for step in stage.steps:
            truth.turn(step.turn.rope - 1, step.turn.travel)
        few = truth.copy()
        few.run(3)
        truth.run(stage.round_trips)
    assert few.spread > outcome.forecast.upper
    assert truth.spread <= outcome.forecast.upper


def test_nuts_of_the_other_hitch_show_nothing_until_the_car_runs() -> None:
    comparison = compared({"a": FOUND, "b": FOUND}, made(0, at=FAR))
    for change in comparison.changes:
        assert change.predicted == pytest.approx(0.0, abs=1e-12)
    ran = compared({"a": FOUND, "b": left(K_RUN)}, made(40, at=FAR))
    by_hand = (left(K_RUN) - FOUND) / FOUND.mean()
    for change, expected in zip(ran.changes, by_hand, strict=True):
        assert change.predicted == pytest.approx(expected, rel=2e-3)


# --- learning that cannot be fooled ---


def compared(
    seen: dict[str, np.ndarray],
    turns: tuple[Turn, ...],
    ropes: RopeSet | None = None,
    **conditions: str,
) -> Comparison:
    outcome = comparison_or_refusal(seen, turns, ropes, **conditions)
    assert isinstance(outcome, Comparison), outcome
    return outcome


def comparison_or_refusal(
    seen: dict[str, np.ndarray],
    turns: tuple[Turn, ...],
    ropes: RopeSet | None = None,
    **conditions: str,
) -> Comparison | Refusal:
    first, last = series("a", "b")
    last = replace(last, **conditions)  # type: ignore[arg-type]
    return compare_series(
        assessed(seen["a"], series=first, relative=0.003),
        assessed(seen["b"], series=last, relative=0.003),
        turns=turns_before((first, last), turns, "b"),
        request=PlanRequest(rope_set=ropes or rope_set(4), travel=TRAVEL),
    )


def test_an_answer_as_of_a_standing_car_is_not_learned() -> None:
    comparison = compared({"a": FOUND, "b": left(K_NOW)}, made(12))
    assert comparison.answer.kind is AnswerKind.LIKE_STANDING
    assert comparison.answer.learned is None
    outcome = answer(series("a", "b"), made(12), {"a": FOUND, "b": left(K_NOW)})
    assert no_plan(outcome, NoPlanKind.LOOK_FIRST) == [
        NoteKind.ANSWERS_AS_STANDING.code
    ]


@pytest.mark.parametrize("factor", [0.2, 4.5])
def test_an_answer_that_nothing_explains_is_not_learned(factor: float) -> None:
    comparison = compared({"a": FOUND, "b": left(factor * K_RUN)}, made(12))
    assert comparison.answer.learned is None
    assert NoteKind.ANSWERS_FAR_OFF.code in {n.code for n in comparison.notes}


@pytest.mark.parametrize(
    ("trips", "kind"),
    [(6, AnswerKind.LIKE_STANDING), (60, AnswerKind.LEARNED_AGAINST_RECORD)],
)
def test_more_than_expected_is_learned_after_more_than_enough_trips(
    trips: int, kind: AnswerKind
) -> None:
    # between run and standing: after few trips they may not have been as written
    comparison = compared({"a": FOUND, "b": left(1.6 * K_RUN)}, made(trips))
    assert comparison.answer.kind is kind


@pytest.mark.parametrize(
    "turns", [TURNS, [-3.0, 1.5, -1.0, 2.5], [-2.0, 1.0, -0.5, 1.5]]
)
def test_reversed_signs_are_named(turns: list[float]) -> None:
    travels = 0.002 * np.array(turns)
    after = tensions_after(FOUND, np.full(4, K_RUN), travels)
    written = tuple(turn(i + 1, -t, 12) for i, t in enumerate(turns))
    comparison = compared({"a": FOUND, "b": after}, written)
    assert comparison.answer.kind is AnswerKind.SIGNS_REVERSED
    assert comparison.answer.learned is None


def test_reversed_signs_stop_the_plan_until_somebody_has_looked() -> None:
    wrong = tensions_after(FOUND, np.full(4, K_RUN), -0.002 * np.array(TURNS))
    seen = {"a": FOUND, "b": wrong}
    outcome = answer(series("a", "b"), made(12), seen)
    assert no_plan(outcome, NoPlanKind.LOOK_FIRST)[0] == NoteKind.SIGNS_REVERSED.code
    looked = Looked(
        code=NoteKind.SIGNS_REVERSED.code, ropes=(), words="left-hand thread, corrected"
    )
    given_, request = request_after(series("a", "b"), made(12), seen, looked=(looked,))
    assert isinstance(plan_turns(given_, request), Plan)


@pytest.mark.parametrize("ratio", [0.5, 1.2, 2.0])
def test_another_load_is_seen_in_the_newtons(ratio: float) -> None:
    outcome = comparison_or_refusal({"a": FOUND, "b": ratio * left(K_RUN)}, made(12))
    assert isinstance(outcome, Refusal)
    assert outcome.code == NoteKind.LOAD_BY_NEWTONS.code


def test_a_mean_tension_that_moved_a_little_is_told_in_percent() -> None:
    comparison = compared({"a": FOUND, "b": 1.0747 * left(K_RUN)}, made(12))
    moved = [n.text for n in comparison.notes if n.code == NoteKind.LOAD_MOVED.code]
    assert len(moved) == 1
    assert " 7 %" in moved[0]


@pytest.mark.parametrize(
    "words", ["empty car", "Empty.", "car empty", "the cabin empty"]
)
def test_the_same_load_in_other_words_is_the_same(words: str) -> None:
    comparison = compared({"a": FOUND, "b": left(K_RUN)}, made(12), load=words)
    assert comparison.answer.learned is not None
    assert NoteKind.LOAD_WORDED.code not in {n.code for n in comparison.notes}


def test_other_words_with_the_same_newtons_are_told_and_compared() -> None:
    comparison = compared({"a": FOUND, "b": left(K_RUN)}, made(12), load="one person")
    assert comparison.answer.learned is not None
    assert NoteKind.LOAD_WORDED.code in {n.code for n in comparison.notes}


def test_a_reading_taken_too_soon_spoils_nothing_that_is_learned_later() -> None:
    k = 0.85 * K_RUN
    seen = {"a": FOUND, "b": left(K_NOW), "c": left(k)}
    _, request = request_after(series("a", "b", "c", c=15), made(0), seen)
    assert request.learned is not None
    # between what was typed and what was answered, as by two series alone
    alone = compared({"a": FOUND, "b": left(k)}, made(15))
    assert alone.answer.learned is not None
    assert k < request.learned.set_stiffness < 0.95 * K_RUN


# --- a plan a person follows ---


@pytest.mark.parametrize("strategy", list(Strategy))
def test_no_nut_is_turned_for_less_than_it_is_known(strategy: Strategy) -> None:
    rng = np.random.default_rng(7)
    for _ in range(12):
        tensions = 5000 * (1 + 0.05 * rng.standard_normal(6))
        outcome = plan_turns(
            assessed(tensions, relative=0.01),
            PlanRequest(rope_set=rope_set(6), strategy=strategy),
        )
        if not isinstance(outcome, Plan):
            continue
        towards = {
            Strategy.TAKE_UP_ONLY: tensions.max(),
            Strategy.EASE_ONLY: tensions.min(),
        }.get(strategy, tensions.mean())
        known = (
            0.01
            * (
                2.0
                if strategy in {Strategy.TAKE_UP_ONLY, Strategy.EASE_ONLY}
                else 5 / 6
            )
            ** 0.5
        )
        for each, tension in zip(outcome.turns, tensions, strict=True):
            if each.steps:
                assert abs(tension - towards) / tensions.mean() > 2 * known


def test_each_stage_has_its_own_grid_and_boxes() -> None:
    soft = (hitch(rate=50e3, free_length=None), hitch(FAR, rate=50e3))
    outcome = plan_turns(
        assessed([5600.0, 4700.0, 5200.0, 4500.0]),
        PlanRequest(rope_set=rope_set(4, hitches=soft)),
    )
    assert isinstance(outcome, Plan)
    assert len(outcome.stages) > 1
    total = dict.fromkeys(range(1, 5), 0)
    boxes_of_stages: list[list[str]] = []
    for sign, cells in outcome_lines(outcome, UnitSystem.SI):
        if sign == "#" and cells[0].startswith("Stage"):
            boxes_of_stages.append([])
        elif sign == "_":
            boxes_of_stages[-1].append(cells[0])
    for number, stage in enumerate(outcome.stages, start=1):
        grid = turns_of_stage(outcome, number)
        boxes = boxes_of_stages[number - 1]
        assert len(grid) == 4
        for place, step in enumerate(stage.steps, start=1):
            assert grid[step.turn.rope] == step.turn
            assert boxes[place - 1].startswith(f"{place}. Rope {step.turn.rope}:")
        assert any(f"{stage.round_trips} round trips" in box for box in boxes)
        for each in grid.values():
            assert abs(each.travel) <= 0.010 + 1e-9
            total[each.rope] += each.steps
    assert [total[t.rope] for t in outcome.turns] == [t.steps for t in outcome.turns]


def test_a_small_nut_is_opened_once() -> None:
    soft = (hitch(rate=50e3, free_length=None), hitch(FAR, rate=50e3))
    outcome = plan_turns(
        assessed([5900.0, 4900.0, 4650.0, 4600.0]),
        PlanRequest(rope_set=rope_set(4, hitches=soft), strategy=Strategy.KEEP_HEIGHT),
    )
    assert isinstance(outcome, Plan)
    assert len(outcome.stages) > 1
    opened = [s.turn.rope for stage in outcome.stages for s in stage.steps]
    small = [t.rope for t in outcome.turns if 0 < abs(t.travel) <= 0.010]
    assert small
    assert NoteKind.FIRST_STAGE_ONLY.code not in {note.code for note in outcome.notes}
    assert all(opened.count(number) == 1 for number in small)


def test_the_bound_holds_and_what_is_expected_has_the_noise_in_it() -> None:
    # truth drawn around the readings; 97.5 % under the bound, half about the middle
    rng = np.random.default_rng(11)
    under, reached, expected = 0, [], []
    truth = FOUND
    for _ in range(60):
        seen = truth * np.exp(0.01 * rng.standard_normal(4))
        outcome = plan_turns(
            assessed(seen, relative=0.01), PlanRequest(rope_set=rope_set(4))
        )
        if not isinstance(outcome, Plan):
            continue
        travels = np.array([t.travel for t in outcome.turns])
        after = tensions_after(truth, np.full(4, K_RUN), travels)
        spread = 1 - after.min() / after.max()
        under += spread <= outcome.forecast.upper
        reached.append(spread)
        expected.append(outcome.forecast.spread)
    assert under >= 0.92 * len(reached)
    assert np.mean(expected) == pytest.approx(np.mean(reached), rel=0.25)


# --- a way on in every case ---


def test_a_slack_rope_is_planned_once_somebody_has_looked() -> None:
    tensions = [6000.0, 5900.0, 5600.0, 2500.0]
    first = plan_turns(assessed(tensions), PlanRequest(rope_set=rope_set(4)))
    assert no_plan(first, NoPlanKind.LOOK_FIRST) == [NoteKind.FAR_BELOW.code]
    looked = Looked(code=NoteKind.FAR_BELOW.code, ropes=(4,), words="wedge seated")
    then = plan_turns(
        assessed(tensions), PlanRequest(rope_set=rope_set(4), looked=(looked,))
    )
    assert isinstance(then, Plan)
    assert NoteKind.LOOKED.code in {note.code for note in then.notes}
    other = replace(looked, ropes=(1,))
    again = plan_turns(
        assessed(tensions), PlanRequest(rope_set=rope_set(4), looked=(other,))
    )
    no_plan(again, NoPlanKind.LOOK_FIRST)


@pytest.mark.parametrize("high", [1.6, 1.8, 2.2])
def test_one_tight_rope_on_rigid_hitches_gets_a_first_stage(high: float) -> None:
    bare = (hitch(buffer=Buffer.NONE), hitch(FAR, buffer=Buffer.NONE))
    others = (4.0 - high) / 3
    tensions = 5000 * np.array([high, others, others * 1.01, others * 0.99])
    outcome = plan_turns(
        assessed(tensions), PlanRequest(rope_set=rope_set(4, hitches=bare))
    )
    if others * 0.99 < 0.6:
        no_plan(outcome, NoPlanKind.LOOK_FIRST)
        return
    assert isinstance(outcome, Plan), outcome
    first = outcome.stages[0].steps[0].turn
    assert outcome.turns[0].direction is Direction.EASE
    assert first.steps < -1
    assert NoteKind.FIRST_STAGE_ONLY.code in {note.code for note in outcome.notes}
    assert min(stage.lowest_share for stage in outcome.stages) >= 0.6


def test_steps_that_are_too_coarse_still_get_order_and_direction() -> None:
    bare = (hitch(buffer=Buffer.NONE), hitch(FAR, buffer=Buffer.NONE))
    ropes = rope_set(2, hitches=bare, rope_length=30.0, axial_rigidity=12e6)
    span = replace(SPAN, free_length=quantity(0.6, Dimension.LENGTH))
    outcome = plan_turns(
        assessed([5600.0, 4400.0], span=span), PlanRequest(rope_set=ropes)
    )
    assert isinstance(outcome, DirectionsOnly), outcome
    assert [r.code for r in outcome.reasons] == [NoteKind.STEP_TOO_COARSE.code]


def test_a_nut_that_wants_far_is_asked_for_its_thread_first() -> None:
    soft = (hitch(rate=20e3, free_length=None), hitch(FAR, rate=20e3))
    unknown = tuple(
        replace(rope(i + 1), take_up_left=None, ease_left=None) for i in range(4)
    )
    tensions = [6800.0, 4500.0, 4500.0, 4200.0]
    outcome = plan_turns(
        assessed(tensions),
        PlanRequest(rope_set=rope_set(4, hitches=soft, ropes=unknown)),
    )
    assert set(no_plan(outcome, NoPlanKind.LOOK_FIRST)) == {NoteKind.THREAD_ASKED.code}
    assert isinstance(outcome, NoPlan)
    # the tight rope is eased, the slack one taken up
    ways = [reason.next_act for reason in outcome.reasons]
    assert [way.split(", write ")[1].split(",")[0] for way in ways] == [
        "ease_left",
        "take_up_left",
    ]
    told = tuple(rope(i + 1, take_up=0.3, ease=0.3) for i in range(4))
    then = plan_turns(
        assessed(tensions), PlanRequest(rope_set=rope_set(4, hitches=soft, ropes=told))
    )
    assert isinstance(then, Plan)


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_without_thread_told_no_nut_goes_over_ten_millimetres(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 8))
    unknown = tuple(
        replace(rope(i + 1), take_up_left=None, ease_left=None) for i in range(n)
    )
    outcome = plan_turns(
        assessed(5000 * (1 + 0.08 * rng.standard_normal(n))),
        PlanRequest(rope_set=rope_set(n, ropes=unknown)),
    )
    if isinstance(outcome, Plan):
        assert max(abs(t.travel) for t in outcome.turns) <= 0.010 + 1e-9


def test_no_thread_to_take_up_is_answered_by_easing_the_others() -> None:
    none = tuple(rope(i + 1, take_up=0.0) for i in range(4))
    tensions = [5350.0, 4800.0, 5200.0, 4650.0]
    outcome = plan_turns(
        assessed(tensions), PlanRequest(rope_set=rope_set(4, ropes=none))
    )
    assert isinstance(outcome, Plan)
    assert all(t.steps <= 0 for t in outcome.turns)
    neither = tuple(rope(i + 1, take_up=0.0, ease=0.0) for i in range(4))
    stuck = plan_turns(
        assessed(tensions), PlanRequest(rope_set=rope_set(4, ropes=neither))
    )
    assert isinstance(stuck, InfeasiblePlan)
    assert stuck.shortfalls


# --- how a turn spreads ---


@pytest.mark.parametrize("position", [3.0, 14.0, 34.0])
@pytest.mark.parametrize("roping", [Roping.ONE_TO_ONE, Roping.TWO_TO_ONE])
def test_what_is_left_over_falls_with_every_trip(
    position: float, roping: Roping
) -> None:
    span = Span(name="s", free_length=quantity(position, Dimension.LENGTH))
    ropes = rope_set(4, rope_length=38.0 * roping.n_falls)
    run_in = find_run_in(Setting(rope_set=ropes, roping=roping), span)
    near = run_in.near
    assert near[0] > 0.0
    assert np.all(np.diff(np.abs(near)) <= 1e-12)
    assert abs(near[-1]) < 1e-3
    assert run_in.far[0] == -1.0


def test_what_the_record_does_not_tell_is_taken_slow() -> None:
    bare = rope_set(4, hitches=(hitch(rate=None),), rope_length=None)
    slow = find_run_in(Setting(rope_set=bare), SPAN)
    told = find_run_in(Setting(rope_set=rope_set(4), travel=TRAVEL), SPAN)
    assert not slow.is_known
    assert told.is_known
    assert len(slow.near) > len(told.near)


def test_springs_softer_and_rope_stiffer_by_their_uncertainty_spread_slowly() -> None:
    # 5 % of a rate, 10 % of a typed rigidity; from 4 m the fall gets 30 m longer
    line = SheaveSystem(
        car_fall=4.0,
        counterweight_fall=34.0,
        travel=30.0,
        axial_rigidity=1.1 * 4.6e6,
        car_spring_compliance=1.05 / 150e3,
        counterweight_spring_compliance=1.05 / 150e3,
    )
    near, far = line.compliances
    # a turn at the far hitch: all of it there, then as the one journey leaves it
    after = round_trip_matrix(line) @ [0.0, (near + far) / far]
    run_in = find_run_in(Setting(rope_set=rope_set(4), travel=TRAVEL), SPAN)
    assert run_in.far[1] == pytest.approx(after[0] - 1.0, rel=1e-9)


def test_on_a_drum_a_spring_of_no_known_rate_is_taken_soft() -> None:
    bare = rope_set(4, hitches=(hitch(rate=None),))
    run_in = find_run_in(Setting(rope_set=bare, drive=Drive.DRUM), SPAN)
    assert run_in.settled == pytest.approx(50e3)
    assert run_in.left_over(CAR, 0) == 0.0


def test_a_far_spring_that_is_not_told_is_taken_like_the_near_one() -> None:
    exact = replace(rope_set(4).uncertainties, spring_rate=0.0)
    both = replace(rope_set(4), uncertainties=exact)
    one = replace(both, hitches=both.hitches[:1])
    alike, assumed = (
        find_run_in(Setting(rope_set=ropes, travel=TRAVEL), SPAN)
        for ropes in (both, one)
    )
    assert assumed.far == pytest.approx(alike.far, rel=1e-9)


def test_shares_alone_are_at_rest_by_what_remains_of_the_turns() -> None:
    setting = Setting(rope_set=rope_set(4))
    run_in = find_run_in(setting, SPAN)

    def state(trips: int) -> SetState:
        past = tuple(replace(t, round_trips_after=trips) for t in made(trips))
        return find_state(setting, run_in, None, past)

    assert state(1).state is RunState.TOO_FEW
    assert state(40).is_at_rest


def test_just_as_much_as_may_be_left_is_little_enough() -> None:
    setting = Setting(rope_set=rope_set(4))
    near = np.array([1.0, 0.25, 0.01, 0.001])
    run_in = replace(find_run_in(setting, SPAN), near=near)
    assert run_in.left_over(CAR, 3) == 0.001
    assert run_in.left_over(CAR, 4) == 0.001  # has not spread yet
    still = Spreading(run_in=run_in, made=((CAR, np.array([0.5, -0.5]), 0),))
    assert still.trips_until(0.25, 0) == 1
    assert still.trips_until(0.2499, 0) == 2
    past = (turn(1, 1.0, 2),)
    assert find_state(setting, run_in, None, past).is_at_rest


def test_a_reading_without_a_result_is_at_rest_by_its_turns_alone() -> None:
    every = series("a", "b")
    read = assessed(FOUND, series=every[1])
    refusal = NoteKind.NO_PLUCK.refusal(recording="rope-4.m4a")
    ropes = tuple(replace(one, tension=None) for one in read.measurement.ropes)
    broken = replace(
        read, measurement=replace(read.measurement, refusal=refusal, ropes=ropes)
    )
    partly = replace(read, measurement=replace(read.measurement, refusal=refusal))
    past = Past(series=every, turns=made(1), assess=lambda _: broken)
    asked = PlanRequest(rope_set=rope_set(4), travel=TRAVEL)
    found = state_of(past, every[1], asked)
    assert state_of(past, every[1], asked, partly) == found
    assert found.state is RunState.TOO_FEW
    # over its own end, not over newtons that nobody knows
    run_in = find_run_in(asked, SPAN)
    assert found.still_to_come == pytest.approx(run_in.left_over(CAR, 1))
    handed = state_of(replace(past, assess=lambda _: read), every[1], asked, broken)
    assert handed == found
