from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tension.adjustment.answer import AnswerKind, Turning, find_exchange, fit_stiffness
from tension.adjustment.comparison import Comparison, compare_series
from tension.adjustment.outcome import Plan, Strategy, Turn
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import PlanRequest
from tension.assessment.decide import Assessment
from tension.installation import HitchPlace, RopeSet, Side
from tension.measurement.readings import Method, Series
from tension.notes import NoteKind, Refusal
from tension.quantity.units import Dimension, Quantity
from tests.noted import codes
from tests.oracles.all_steps import tensions_after
from tests.synthesis.measured_sets import (
    SPAN,
    assessed,
    counterweight_span,
    hitch,
    rope_set,
)

FOUND = np.array([5300.0, 4850.0, 5150.0, 4700.0, 5250.0, 4750.0])
TURNS = [-3.0, 1.5, -1.5, 3.0, -2.5, 2.5]
K_RUN = 1 / (2 / 150e3 + 38 / 4.6e6)


ENOUGH = 12  # round trips after which nothing is left to spread


def turn(
    rope: int,
    turns: float,
    *,
    trips: int | None = ENOUGH,
    hitch: HitchPlace = HitchPlace.CAR,
) -> Turn:
    return Turn(
        after="as found",
        hitch=hitch,
        rope=rope,
        turns=Quantity(value=turns, dimension=Dimension.TURNS, text=f"{turns:g}"),
        round_trips_after=trips,
    )


def turns(made: list[float], *, trips: int | None = ENOUGH) -> tuple[Turn, ...]:
    return tuple(
        turn(i + 1, value, trips=trips) for i, value in enumerate(made) if value
    )


def as_left(
    tensions: np.ndarray,
    *,
    relative: float = 0.004,
    **changed: Any,  # noqa: ANN401
) -> Assessment:
    series = replace(
        Series(name="as left", span="top, car side", load="empty"),
        **changed,
    )
    return assessed(tensions, relative=relative, series=series)


def after(
    made: list[float],
    *,
    k: float | np.ndarray = K_RUN,
    seed: int | None = None,
    start: np.ndarray = FOUND,
) -> np.ndarray:
    n = len(start)
    true = tensions_after(
        start, np.broadcast_to(np.asarray(k, float), n), 0.002 * np.array(made)
    )
    if seed is None:
        return true
    return true * (1 + 0.004 * np.random.default_rng(seed).standard_normal(n))


def compared(
    left: Assessment,
    made: tuple[Turn, ...],
    ropes: RopeSet | None = None,
    *,
    found: Assessment | None = None,
) -> Comparison:
    outcome = compare_series(
        found or assessed(FOUND, relative=0.004),
        left,
        turns=made,
        request=PlanRequest(rope_set=ropes or rope_set(6)),
    )
    assert isinstance(outcome, Comparison), outcome
    return outcome


# --- what is told ---


def test_both_series_turns_and_change_stand_side_by_side() -> None:
    comparison = compared(as_left(after(TURNS)), turns(TURNS))
    for i, change in enumerate(comparison.changes):
        assert change.turns == TURNS[i]
        assert change.share_before == pytest.approx(FOUND[i] / FOUND.mean(), rel=1e-9)
        assert change.predicted == pytest.approx(change.achieved, rel=1e-6)
        # 0.4 % in both series, against the mean of six
        by_hand = 0.004 * (2 * 5 / 6) ** 0.5
        assert change.achieved_uncertainty == pytest.approx(by_hand, rel=1e-9)
    assert comparison.round_trips == ENOUGH
    assert comparison.answer.exchanged is None


@pytest.mark.parametrize(
    ("left", "code"),
    [
        (
            assessed(FOUND, series=Series(name="b", span="middle", load="empty")),
            NoteKind.SPAN_DIFFERS,
        ),
        (
            assessed(
                FOUND,
                span=counterweight_span(),
                series=Series(name="b", span="counterweight side", load="empty"),
            ),
            NoteKind.SIDE_DIFFERS,
        ),
        (
            assessed(
                FOUND,
                series=Series(name="b", span="top, car side", load="two people"),
                is_absolute=False,
            ),
            NoteKind.LOAD_DIFFERS,
        ),
    ],
)
def test_series_of_different_span_side_or_load_are_refused(
    left: Assessment, code: NoteKind
) -> None:
    outcome = compare_series(
        assessed(FOUND), left, turns=(), request=PlanRequest(rope_set=rope_set(6))
    )
    assert isinstance(outcome, Refusal)
    assert outcome.code == code.code
    assert counterweight_span().side is Side.COUNTERWEIGHT
    assert SPAN.side is Side.CAR


def test_a_rope_missing_in_one_series_is_told() -> None:
    outcome = compare_series(
        assessed(FOUND),
        assessed(FOUND[:5]),
        turns=(),
        request=PlanRequest(rope_set=rope_set(6)),
    )
    assert isinstance(outcome, Refusal)
    assert outcome.code == NoteKind.ROPES_DIFFER.code


def test_readings_without_any_doubt_are_held_to_a_millionth() -> None:
    exact = assessed(FOUND, relative=0.0)
    comparison = compared(
        as_left(after(TURNS), relative=0.0), turns(TURNS), found=exact
    )
    assert comparison.changes[0].achieved_uncertainty == pytest.approx(1e-6)


# --- learning ---


def test_nothing_is_learned_unless_the_car_ran() -> None:
    for trips, kind in ((None, NoteKind.RUN_NOT_RECORDED), (0, NoteKind.CAR_NOT_RUN)):
        comparison = compared(as_left(after(TURNS)), turns(TURNS, trips=trips))
        assert comparison.answer.learned is None
        assert kind.code in codes(comparison)
        # what is expected then is what this hitch and this fall alone would do
        k_now = 1 / (1 / 150e3 + 4 / 4.6e6)
        expected = tensions_after(FOUND, np.full(6, k_now), 0.002 * np.array(TURNS))
        assert comparison.changes[0].predicted == pytest.approx(
            (expected[0] - FOUND[0]) / FOUND.mean(), rel=1e-9
        )


def test_a_softer_set_is_learned_with_an_uncertainty_that_holds() -> None:
    # The record says 150 N/mm springs; the set is 15 % softer. 60 readings.
    truth = 0.85 * K_RUN
    inside, values = 0, []
    for seed in range(60):
        rng = np.random.default_rng(1000 + seed)
        found = assessed(FOUND * (1 + 0.002 * rng.standard_normal(6)), relative=0.002)
        noise = 1 + 0.002 * rng.standard_normal(6)
        left = as_left(after(TURNS, k=truth) * noise, relative=0.002)
        learned = compared(left, turns(TURNS), found=found).answer.learned
        assert learned is not None
        values.append(learned.set_stiffness)
        inside += (
            abs(learned.set_stiffness - truth)
            < 2 * learned.set_uncertainty * learned.set_stiffness
        )
    assert np.mean(values) == pytest.approx(truth, rel=0.03)
    assert inside >= 54  # 95 % of 60 is 57; three standard deviations under it


def test_learning_narrows_what_the_record_told() -> None:
    told = compared(as_left(after(TURNS, k=0.95 * K_RUN)), turns(TURNS)).answer.learned
    bare = rope_set(6, hitches=(hitch(rate=None),))
    alone = compared(
        as_left(after(TURNS, k=0.95 * K_RUN)), turns(TURNS), bare
    ).answer.learned
    assert told is not None
    assert alone is not None
    assert told.set_uncertainty < alone.set_uncertainty < 0.10
    assert alone.set_stiffness == pytest.approx(0.95 * K_RUN, rel=0.01)
    assert alone.set_stiffness < told.set_stiffness < K_RUN


def test_what_was_learned_is_used_in_the_next_plan() -> None:
    ropes = rope_set(6, hitches=(hitch(rate=None),))  # no spring known
    comparison = compared(as_left(after(TURNS, k=60e3)), turns(TURNS), ropes)
    assert comparison.stiffness is None
    learned = comparison.answer.learned
    assert learned is not None
    assert learned.set_stiffness == pytest.approx(60e3, rel=0.02)
    uneven = assessed([5600.0, 4700.0, 5200.0, 4500.0, 5100.0, 4900.0])
    next_plan = plan_turns(
        uneven,
        PlanRequest(rope_set=ropes, learned=learned, strategy=Strategy.KEEP_HEIGHT),
    )
    assert isinstance(next_plan, Plan)
    assert next_plan.wanted_turns[0] == pytest.approx(
        (5000 - 5600) / (60e3 * 0.002), rel=0.06
    )
    assert next_plan.origins[2].known_from.value == "learned"


def test_a_rope_of_its_own_stiffness_is_learned() -> None:
    k = np.full(6, K_RUN)
    k[3] *= 1.2
    comparison = compared(
        as_left(after(TURNS, k=k), relative=0.002),
        turns(TURNS),
        found=assessed(FOUND, relative=0.002),
    )
    assert comparison.answer.learned is not None
    each = np.array(comparison.answer.learned.stiffnesses)
    others = float(np.median(np.delete(each, 3)))
    assert 1.08 < each[3] / others < 1.25
    assert comparison.answer.learned.own_uncertainty < 0.08
    # ropes differ by 8 % before; a reading draws its rope as far as it is known
    own = []
    for k_learned, change in zip(each, comparison.changes, strict=True):
        assert change.ratio is not None
        doubt = change.achieved_uncertainty * abs(change.ratio / change.achieved)
        weight = 0.08**2 / (0.08**2 + doubt**2)
        by_hand = comparison.answer.learned.set_stiffness * (
            1 + weight * (change.ratio - 1)
        )
        assert k_learned == pytest.approx(by_hand, rel=1e-9)
        own.append(0.08 * (1 - weight) ** 0.5)
    rms = np.mean(np.square(own)) ** 0.5
    assert comparison.answer.learned.own_uncertainty == pytest.approx(rms, rel=1e-9)


# --- ropes that stand out ---


def test_a_bound_rope_is_named_and_does_not_spoil_the_set() -> None:
    made = [-3.0, 1.5, -1.5, 0.2 * 3.0, -2.5, 2.5]  # rope 4 answers a fifth
    comparison = compared(as_left(after(made)), turns(TURNS))
    flagged = [n for n in comparison.notes if n.code == NoteKind.TURN_BOUND.code]
    assert [note.ropes for note in flagged] == [(4,)]
    assert comparison.answer.learned is not None
    assert comparison.answer.learned.set_stiffness == pytest.approx(K_RUN, rel=0.05)


def test_a_set_that_answers_little_as_a_whole_flags_no_rope() -> None:
    comparison = compared(as_left(after(TURNS, k=0.4 * K_RUN)), turns(TURNS))
    assert not codes(comparison) & {
        NoteKind.TURN_BOUND.code,
        NoteKind.TURN_STRONG.code,
        NoteKind.TURNS_EXCHANGED.code,
    }
    assert comparison.answer.learned is not None
    assert comparison.answer.learned.set_stiffness == pytest.approx(
        0.4 * K_RUN, rel=0.05
    )


def test_usual_scatter_flags_no_rope_and_names_no_exchange() -> None:
    wrong = 0
    for seed in range(80):
        rng = np.random.default_rng(2000 + seed)
        k = K_RUN * (1 + 0.06 * rng.standard_normal(6))
        left = as_left(after(TURNS, k=k, seed=seed))
        comparison = compared(left, turns(TURNS))
        wrong += bool(
            codes(comparison)
            & {
                NoteKind.TURN_BOUND.code,
                NoteKind.TURN_STRONG.code,
                NoteKind.TURNS_EXCHANGED.code,
            }
        )
    assert wrong <= 2


# --- ropes exchanged ---


@pytest.mark.parametrize(("i", "j"), [(0, 3), (1, 4), (3, 4)])
def test_turns_made_on_the_wrong_nuts_are_named(i: int, j: int) -> None:
    made = list(TURNS)
    made[i], made[j] = made[j], made[i]
    comparison = compared(as_left(after(made, seed=5)), turns(TURNS))
    assert comparison.answer.exchanged is not None
    moved = {k for k, p in enumerate(comparison.answer.exchanged.places) if p != k}
    assert moved == {i, j}
    assert comparison.answer.learned is None
    text = next(
        n.text for n in comparison.notes if n.code == NoteKind.TURNS_EXCHANGED.code
    )
    assert f"ropes {i + 1} and {j + 1}" in text


def test_readings_in_reversed_order_are_named() -> None:
    uneven = np.array([5500.0, 4800.0, 5150.0, 4600.0, 5050.0, 4900.0])
    left = after(TURNS, start=uneven)
    comparison = compared(
        as_left(left[::-1]), turns(TURNS), found=assessed(uneven, relative=0.004)
    )
    assert comparison.answer.exchanged is not None
    assert not comparison.answer.exchanged.is_of_turns
    assert comparison.answer.exchanged.places == (5, 4, 3, 2, 1, 0)


# --- the fit itself ---


def test_the_fit_is_exact_without_noise() -> None:
    travels = 0.002 * np.array(TURNS)
    changes = tensions_after(FOUND, np.full(6, 57e3), travels) - FOUND
    fit = fit_stiffness(
        Turning(travels=travels, changes=changes, uncertainties=np.full(6, 20.0))
    )
    assert fit is not None
    assert fit.stiffness == pytest.approx(57e3, rel=1e-9)
    assert fit.rise == pytest.approx(travels.mean(), abs=1e-12)
    assert fit.ratios[~np.isnan(fit.ratios)] == pytest.approx(1.0, rel=1e-9)


def test_turns_too_small_to_tell_give_no_fit() -> None:
    travels = np.array([0.0005, 0.0, 0.0, 0.0])
    noise = np.array([40.0, -50.0, 30.0, -20.0])
    fit = fit_stiffness(
        Turning(travels=travels, changes=noise, uncertainties=np.full(4, 50.0))
    )
    assert fit is None


def test_three_ropes_or_more_are_needed_to_name_an_exchange() -> None:
    before = np.array([5100.0, 4900.0])
    turning = Turning(
        travels=np.array([-0.002, 0.002]),
        changes=np.array([100.0, -100.0]),
        uncertainties=np.array([20.0, 20.0]),
    )
    assert find_exchange(before, before + turning.changes, turning) is None


def test_ropes_of_their_own_stiffness_bound_what_exact_readings_tell() -> None:
    # ropes differ by 7 % and are read exactly: 7 % over the root of four
    travels = np.array([0.004, -0.004, 0.002, -0.002])
    exact = Turning(
        travels=travels, changes=50e3 * travels, uncertainties=np.full(4, 0.01)
    )
    fit = fit_stiffness(exact)
    assert fit is not None
    assert fit.uncertainty == pytest.approx(0.07 * 50e3 / 2, rel=1e-3)


# --- the load, and what is told beside it ---


@pytest.mark.parametrize(
    ("ratio", "code"),
    [
        (1.029, None),
        (1.031, NoteKind.LOAD_MOVED),
        (0.969, NoteKind.LOAD_MOVED),
        (1.079, NoteKind.LOAD_MOVED),
        (1.081, NoteKind.LOAD_BY_NEWTONS),
        (0.919, NoteKind.LOAD_BY_NEWTONS),
    ],
)
def test_another_mean_is_told_from_three_percent_and_refused_from_eight(
    ratio: float, code: NoteKind | None
) -> None:
    outcome = compare_series(
        assessed(FOUND, relative=0.004),
        as_left(ratio * FOUND),
        turns=(),
        request=PlanRequest(rope_set=rope_set(6)),
    )
    if isinstance(outcome, Refusal):
        assert outcome.code == (code.code if code else "")
        assert dict(outcome.places)["ratio"] == f"{ratio:.2f}"
        return
    told = [note for note in outcome.notes if note.kind is code]
    assert len(told) == (code is not None)
    if told:
        assert dict(told[0].places) == {"percent": f"{100 * abs(ratio - 1):.0f}"}


@pytest.mark.parametrize(("clear", "is_told"), [(2.9, False), (3.1, True)])
@pytest.mark.parametrize("is_by_two_kinds", [False, True])
def test_a_mean_that_is_not_well_known_may_differ_by_three_of_its_doubts(
    *, clear: float, is_told: bool, is_by_two_kinds: bool
) -> None:
    # 3 % on each of six readings, twice: the mean of either is known to their root
    own = 0.03 * (5 / 6) ** 0.5
    doubt = own * (2 / 6) ** 0.5
    left = as_left(FOUND, relative=0.03)
    if is_by_two_kinds:  # what a kind shares, 5 % of mass, does not cancel then
        doubt = float(np.hypot(doubt, 0.05))
        read = left.measurement.ropes
        pulled = [replace(rope, methods=(Method.PULL,)) for rope in read]
        measurement = replace(left.measurement, ropes=tuple(pulled))
        left = replace(left, measurement=measurement)
    ratio = 1 + clear * doubt
    scaled = replace(
        left,
        measurement=replace(
            left.measurement,
            ropes=tuple(
                replace(
                    rope,
                    tension=replace(rope.tension, value=ratio * rope.tension.value),
                )
                for rope in left.measurement.ropes
                if rope.tension is not None
            ),
        ),
    )
    outcome = compare_series(
        assessed(FOUND, relative=0.03),
        scaled,
        turns=(),
        request=PlanRequest(rope_set=rope_set(6)),
    )
    beyond = NoteKind.LOAD_BY_NEWTONS if ratio > 1.08 else NoteKind.LOAD_MOVED
    if isinstance(outcome, Refusal):
        assert is_told
        assert outcome.code == beyond.code
    else:
        assert (beyond.code in codes(outcome)) is is_told


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ({"load": "Empty car.", "people": ""}, None),
        ({"load": "two people"}, NoteKind.LOAD_WORDED),
        ({"people": "one on the roof"}, NoteKind.LOAD_WORDED),
        ({"arrived": "down"}, NoteKind.ARRIVED_DIFFERS),
    ],
)
def test_other_words_of_load_or_arrival_are_told(
    words: dict[str, Any], code: NoteKind | None
) -> None:
    comparison = compared(as_left(FOUND, **words), ())
    told = {
        note.kind
        for note in comparison.notes
        if note.kind in {NoteKind.LOAD_WORDED, NoteKind.ARRIVED_DIFFERS}
    }
    assert told == ({code} if code else set())
    if code is NoteKind.ARRIVED_DIFFERS:
        first = dict(comparison.notes[0].places)
        assert first == {"before": "", "after": "down"}


def test_loads_that_differ_are_refused_as_typed() -> None:
    shares = assessed(
        FOUND,
        series=Series(name="b", span="top, car side", people="two"),
        is_absolute=False,
    )
    outcome = compare_series(
        assessed(FOUND), shares, turns=(), request=PlanRequest(rope_set=rope_set(6))
    )
    assert isinstance(outcome, Refusal)
    assert dict(outcome.places) == {
        "before": "empty",
        "after": "load not recorded, people: two",
    }


def test_a_series_of_no_result_is_not_held_against_another() -> None:
    refusal = NoteKind.NO_PLUCK.refusal(recording="rope-4.m4a")
    given = assessed(FOUND)
    broken = replace(given, measurement=replace(given.measurement, refusal=refusal))
    for pair in ((given, broken), (broken, given)):
        outcome = compare_series(
            *pair, turns=(), request=PlanRequest(rope_set=rope_set(6))
        )
        assert outcome == refusal


def test_trips_are_told_where_those_of_every_turn_are() -> None:
    some = (turn(1, -3.0, trips=14), turn(4, 3.0, trips=12))
    assert compared(as_left(FOUND), some).round_trips == 12
    assert compared(as_left(FOUND), (*some, turn(2, 1.0, trips=None))).round_trips is (
        None
    )
    assert compared(as_left(FOUND), ()).round_trips is None


def test_turns_of_one_rope_are_added_up() -> None:
    made = (turn(1, -3.0), turn(1, 0.5), turn(4, 3.0))
    changes = compared(as_left(after(TURNS)), made).changes
    assert [change.turns for change in changes] == [-2.5, 0.0, 0.0, 3.0, 0.0, 0.0]


def test_newtons_or_a_thread_that_is_not_known_teach_nothing() -> None:
    known = rope_set(6)
    no_thread = rope_set(6, hitches=(hitch(thread=None), *known.hitches[1:]))
    comparison = compared(as_left(after(TURNS)), turns(TURNS), no_thread)
    assert comparison.answer.kind is AnswerKind.NOT_KNOWN
    shares = FOUND / FOUND.mean()
    outcome = compare_series(
        assessed(shares, is_absolute=False),
        assessed(
            after(TURNS) / FOUND.mean(),
            is_absolute=False,
            series=Series(name="b", span="top, car side", load="empty"),
        ),
        turns=turns(TURNS),
        request=PlanRequest(rope_set=known),
    )
    assert isinstance(outcome, Comparison)
    assert outcome.answer.kind is AnswerKind.NOT_KNOWN
    assert outcome.changes[0].share_before == pytest.approx(shares[0])


def test_a_rope_missing_in_both_series_is_told() -> None:
    given = assessed(FOUND)
    last = replace(given.measurement.ropes[5], tension=None)
    ropes = (*given.measurement.ropes[:5], last)
    short = replace(given, measurement=replace(given.measurement, ropes=ropes))
    outcome = compare_series(
        short, short, turns=(), request=PlanRequest(rope_set=rope_set(6))
    )
    assert isinstance(outcome, Refusal)
    assert outcome.code == NoteKind.ROPES_DIFFER.code
    assert dict(outcome.places) == {"both": "ropes 1, 2, 3, 4 and 5"}
