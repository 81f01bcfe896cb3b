"""Side pulls where something is not told: springs, rate, the deflection's own error."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tension.assessment.decide import Verdict, assess_set
from tension.catalogue.rules import find_rule
from tension.installation import Buffer, Hitch, HitchPlace, RopeSet, Uncertainties
from tension.measurement.combine import Premise
from tension.measurement.readings import PullReading
from tension.telling.results import reason_text
from tests.measurement.sets import (
    DENSITY,
    GRAVITY,
    measured,
    pull,
    rope_set,
    spring_hitch,
)
from tests.measurement.test_pulls import geometric_force, limp, tension

SPRING = 150e3
FALL = 1 / (3.0 / 4.6e6 + 1 / SPRING)
BARE = 4.6e6 / 3.0
HANG = DENSITY * GRAVITY * 1.5

# readings so good that what is open is the stretch alone
EXACT = Uncertainties(
    free_length=0.0, scale=0.001, deflection=1e-5, deflection_common=1e-5, placement=0.0
)


def exact(*hitches: Hitch, n_ropes: int = 4) -> RopeSet:
    return replace(limp(3.0, *hitches, n_ropes=n_ropes), uncertainties=EXACT)


def pulls(tensions: list[float], stiffness: float, aside: float) -> list[PullReading]:
    return [
        pull(i + 1, [geometric_force(t + HANG, stiffness, aside)], [aside])
        for i, t in enumerate(tensions)
    ]


LOW = [1500.0, 1450.0, 1400.0, 1352.0]  # 9.9 % below highest


def test_springs_not_told_are_in_the_shares() -> None:
    found = measured(exact(), pulls(LOW, FALL, 0.025))
    assert {h.premise for h in found.hypotheses} == {
        Premise.SPRINGS,
        Premise.NO_SPRINGS,
    }
    assert sum(h.weight for h in found.hypotheses) == pytest.approx(1.0)
    # springs are usual, so the best estimate has them
    assert tension(found) == pytest.approx(LOW[0], rel=0.02)
    known = measured(exact(spring_hitch()), pulls(LOW, FALL, 0.025))
    assert found.covariance[0, 0] > 9 * known.covariance[0, 0]


@pytest.mark.parametrize("stiffness", [FALL, BARE])
def test_the_bounds_hold_with_springs_and_without_where_nothing_is_told(
    stiffness: float,
) -> None:
    rule = find_rule(None)  # 10 % below-highest
    found = assess_set(measured(exact(), pulls(LOW, stiffness, 0.025)), rule)
    assert found.verdict is not Verdict.UNEQUAL
    assert found.spread.lower is not None
    assert found.spread.upper is not None
    assert found.spread.lower < 1 - LOW[3] / LOW[0] < found.spread.upper


def test_the_one_question_is_asked_where_an_answer_would_settle_it() -> None:
    rule = find_rule(None)
    tensions = [1500.0, 1480.0, 1450.0, 1380.0]  # 8 %: equal with springs
    found = assess_set(measured(exact(), pulls(tensions, FALL, 0.025)), rule)
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.reason_note is not None
    assert found.reason_note.code == "springs-question"
    assert "equal with springs" in reason_text(found)
    assert found.reason_note.next_act.startswith("Are there springs")
    told = assess_set(
        measured(exact(spring_hitch()), pulls(tensions, FALL, 0.025)), rule
    )
    assert told.verdict is Verdict.EQUAL
    assert "springs-question" not in {note.code for note in told.notes}


def test_no_question_is_asked_where_the_result_holds_either_way() -> None:
    far = [5000.0, 4990.0, 5010.0, 3000.0]
    found = assess_set(measured(exact(), pulls(far, FALL, 0.015)), find_rule(None))
    assert found.verdict is Verdict.UNEQUAL
    assert "springs-question" not in {note.code for note in found.notes}


def test_the_note_says_between_what_a_rope_carries() -> None:
    found = measured(exact(), pulls([1500.0] * 4, FALL, 0.025))
    (note,) = (n for n in found.notes if n.code == "stretch-unknown")
    stretch = 2 * math.hypot(1.5, 0.025) - 3.0
    carried = 1500.0 + FALL * stretch
    least, most = (float(word) for word in note.text.split() if word.isdigit())
    # without springs nearly all of the bare fall's stiffness is taken off at most
    assert carried - 1.2 * BARE * stretch < least < carried - 0.8 * BARE * stretch
    assert 1500.0 < most < carried


def test_a_case_that_would_leave_a_rope_slack_is_ruled_out() -> None:
    # the bare fall would have made more than all of what the pull shows
    found = measured(exact(), pulls([300.0] * 4, FALL, 0.04))
    assert found.given == (1, 2, 3, 4)
    assert {h.premise for h in found.hypotheses} == {Premise.SPRINGS}


def test_pulls_to_two_deflections_tell_whether_there_are_springs() -> None:
    for stiffness, premise in ((FALL, Premise.SPRINGS), (BARE, Premise.NO_SPRINGS)):
        readings = [
            *pulls([3000.0] * 4, stiffness, 0.012),
            *pulls([3000.0] * 4, stiffness, 0.030),
        ]
        found = measured(exact(), readings)
        assert found.given == (1, 2, 3, 4)
        weight = sum(h.weight for h in found.hypotheses if h.premise is premise)
        assert weight > 0.99
        assert tension(found) == pytest.approx(3000.0, rel=0.05)


def test_the_error_of_one_deflection_for_several_forces_stays() -> None:
    rope = limp(3.0, spring_hitch())
    force = geometric_force(5000.0 + HANG, FALL, 0.025)
    shared = [pull(i + 1, [force] * 3, [0.025]) for i in range(4)]
    apart = [pull(i + 1, [force] * 3, [0.025] * 3) for i in range(4)]
    blind = replace(
        rope,
        uncertainties=replace(EXACT, scale=0.001, deflection=0.0005),
    )
    of_one, of_three = (measured(blind, readings) for readings in (shared, apart))
    # 0.5 mm of 25 mm, and three times what the pull made; a repeat does not lessen it
    made = FALL * (2 * math.hypot(1.5, 0.025) - 3.0)
    wanted = 0.0005 / 0.025 * (1 + 3 * made / 5000.0)
    assert math.sqrt(of_one.covariance[0, 0]) == pytest.approx(wanted, rel=0.03)
    assert of_three.covariance[0, 0] < 0.7 * of_one.covariance[0, 0]


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        # 2 mm of 25 mm, and 5 %; what the pull made of 5000 N is little with springs
        (replace(EXACT, deflection=0.002), 0.08),
        (replace(EXACT, placement=0.05), 0.05),
    ],
)
def test_what_is_typed_of_deflection_and_placement_counts(
    typed: Uncertainties, wanted: float
) -> None:
    rope = replace(exact(spring_hitch()), uncertainties=typed)
    force = geometric_force(5000.0 + HANG, FALL, 0.025)
    found = measured(rope, [pull(i + 1, [force] * 2, [0.025]) for i in range(4)])
    assert math.sqrt(found.covariance[0, 0]) == pytest.approx(wanted, rel=0.05)


def test_an_error_common_to_all_deflections_drops_out_of_equal_ropes_only() -> None:
    common = replace(EXACT, deflection_common=0.002)
    rope = replace(exact(spring_hitch()), uncertainties=common)
    equal = measured(rope, pulls([2000.0] * 4, FALL, 0.025))
    far = pulls([2000.0, 2000.0, 2000.0, 1000.0], FALL, 0.025)
    plain = measured(exact(spring_hitch()), pulls([2000.0] * 4, FALL, 0.025))
    assert equal.covariance == pytest.approx(plain.covariance, abs=1e-7)
    estimate = equal.ropes[0].tension
    assert estimate is not None
    # all newtons move by 2 mm of 25 mm
    assert estimate.relative_uncertainty() > 0.08
    whole = 1 / (38.0 / 4.6e6 + 2 / SPRING)
    made = (FALL - (FALL - whole) / 3) * (2 * math.hypot(1.5, 0.025) - 3.0)
    apart = 0.08 * 3 * (made / 1000.0 - made / 2000.0)
    way = np.array([1.0, 0.0, 0.0, -1.0])
    with_it, without = (
        way @ measured(one, far).covariance @ way
        for one in (rope, exact(spring_hitch()))
    )
    assert math.sqrt(with_it - without) == pytest.approx(apart, rel=0.1)


@pytest.mark.parametrize("buffer", [Buffer.RUBBER, Buffer.BEAM, Buffer.SPRING])
def test_what_gives_way_at_an_unknown_rate_is_told(buffer: Buffer) -> None:
    hitch = Hitch(at=HitchPlace.CAR, buffer=buffer)
    found = measured(exact(hitch), pulls(LOW, FALL, 0.025))
    assert "rate-unknown" in {note.code for note in found.notes}
    assert {h.premise for h in found.hypotheses} <= {
        Premise.RATE_UNKNOWN,
        Premise.NOTHING,
    }


def test_own_sources_add_up_to_the_covariance() -> None:
    for rope in (rope_set(one_height=True), exact(), exact(spring_hitch())):
        found = measured(rope, pulls(LOW, FALL, 0.02))
        for i, one in enumerate(found.ropes):
            assert one.tension is not None
            own = sum(
                s.relative**2 for s in one.tension.sources if s.sharing.value == "own"
            )
            assert own == pytest.approx(found.covariance[i, i], rel=1e-9)


def test_pulls_without_word_of_springs_never_overrule_plucks() -> None:
    # the covariance of all cases goes into the combination
    found = measured(exact(), pulls(LOW, FALL, 0.025))
    values = np.linalg.eigvalsh(found.covariance)
    assert values.min() > 0
    spread = np.log(np.array([h.tensions for h in found.hypotheses]))
    away = spread - spread[0]
    weights = np.array([h.weight for h in found.hypotheses])
    between = np.einsum(
        "h,hi,hi->i",
        weights,
        away - away.mean(axis=1)[:, None],
        away - away.mean(axis=1)[:, None],
    )
    assert np.all(np.diag(found.covariance) >= between)
