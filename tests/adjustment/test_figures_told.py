"""The figures of a plan's notes are the plan's; edges lie where they are said."""

import re
from dataclasses import replace

import pytest

from tension.adjustment.outcome import NoPlan, NoPlanKind, Plan, PlanOutcome, Strategy
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import PlanRequest
from tension.installation import RopeSet
from tests.synthesis.measured_sets import RULE, assessed, hitch, rope, rope_set

FOUR = [5300.0, 4850.0, 5150.0, 4700.0]


def planned(
    tensions: list[float],
    ropes: RopeSet | None = None,
    *,
    relative: float = 0.005,
    **rule: object,
) -> PlanOutcome:
    given = assessed(tensions, relative=relative, rule=replace(RULE, **rule))  # type: ignore[arg-type]
    request = PlanRequest(rope_set=ropes or rope_set(4), strategy=Strategy.KEEP_HEIGHT)
    return plan_turns(given, request)


def told(outcome: PlanOutcome, code: str) -> list[float]:
    """Numbers in the sentence of one note."""
    assert isinstance(outcome, Plan)
    text = next(note.text for note in outcome.notes if note.code == code)
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)]


def test_a_goal_of_the_program_is_told() -> None:
    assert told(planned(FOUR, goal=None, limit=0.08), "goal-by-program") == [4.0]


def test_the_part_of_the_turns_is_told() -> None:
    assert told(planned(FOUR, rope_set(4, hitches=(hitch(),))), "first-part") == [70.0]


def test_what_is_not_reached_is_told_with_the_goal() -> None:
    short = tuple(rope(i + 1, take_up=0.001, ease=0.001) for i in range(4))
    plan = planned(FOUR, rope_set(4, ropes=short))
    assert isinstance(plan, Plan)
    upper, goal = told(plan, "goal-not-reached")
    assert upper == pytest.approx(100 * plan.forecast.upper, abs=0.05)
    assert goal == pytest.approx(100 * plan.goal, abs=0.05)


@pytest.mark.parametrize(("off", "is_planned"), [(0.025, False), (0.03, True)])
def test_turning_begins_at_twice_the_uncertainty_of_a_share(
    *, off: float, is_planned: bool
) -> None:
    # 1.5 % a reading, four ropes: a share is uncertain by 1.3 %
    tensions = [5000 * (1 + off), 5000 * (1 - off), 5000.0, 5000.0]
    outcome = planned(tensions, relative=0.015, limit=0.065)
    if is_planned:
        assert isinstance(outcome, Plan)
    else:
        assert isinstance(outcome, NoPlan)
        assert outcome.kind is NoPlanKind.MEASURE_FIRST
