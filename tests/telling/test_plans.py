from dataclasses import replace

import numpy as np
import pytest

from tension.adjustment.comparison import Comparison, compare_series
from tension.adjustment.outcome import Direction, NutTurn, Plan, Strategy
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import PlanRequest
from tension.catalogue.threads import Thread
from tension.installation import Buffer, Drive, HitchPlace
from tension.quantity.units import UnitSystem
from tension.telling.plans import (
    SaidLines,
    comparison_lines,
    nut_picture,
    nut_text,
    outcome_lines,
    rotation_text,
    runby_text,
)
from tension.wording import Terms, say
from tests.synthesis.measured_sets import assessed, hitch, rope_set

FOUR = [5300.0, 4850.0, 5150.0, 4700.0]
SI, US = UnitSystem.SI, UnitSystem.US


def plan(**request: object) -> Plan:
    request.setdefault("strategy", Strategy.KEEP_HEIGHT)
    outcome = plan_turns(
        assessed(FOUR),
        PlanRequest(
            rope_set=rope_set(
                4,
                hitches=(
                    hitch(rows=((1, 3), (4, 2))),
                    hitch(HitchPlace.COUNTERWEIGHT),
                ),
            ),
            **request,  # type: ignore[arg-type]
        ),
    )
    assert isinstance(outcome, Plan)
    return outcome


def text_of(lines: SaidLines) -> str:
    return "\n".join(cells[0] for _, cells in lines)


def card_of(found: Plan, width: int = 80) -> SaidLines:
    """What is needed at the nuts, before what the plan rests on."""
    lines = outcome_lines(found, SI, width=width)
    return lines[: lines.index(("#", ("Rests on",)))]


def test_a_nut_is_told_by_plate_turns_and_thread() -> None:
    towards = NutTurn(rope=3, steps=2, turns=0.5, travel=0.001)
    assert nut_text(towards, SI) == (
        "Rope 3: nut towards the plate, 1/2 turn, 1.0 mm more thread past the nut"
    )
    away = NutTurn(rope=12, steps=-13, turns=-3.25, travel=-0.0065)
    assert nut_text(away, US) == (
        "Rope 12: nut away from the plate, 3 1/4 turns, 0.26 in less thread past "
        "the nut"
    )
    assert away.direction is Direction.EASE


def test_every_nut_is_one_line_of_eighty_columns() -> None:
    widest = NutTurn(rope=12, steps=-49, turns=-6.125, travel=-0.01225)
    for units in (SI, US):
        assert len(nut_text(widest, units)) <= 80


@pytest.mark.parametrize(
    ("place", "left", "look", "towards"),
    [
        (HitchPlace.CAR, False, "up", "clockwise"),
        (HitchPlace.COUNTERWEIGHT, False, "up", "clockwise"),
        (HitchPlace.DEAD_END_CAR, False, "down", "clockwise"),
        (HitchPlace.DEAD_END_COUNTERWEIGHT, False, "down", "clockwise"),
        (HitchPlace.CAR, True, "up", "anticlockwise"),
        (HitchPlace.DEAD_END_CAR, True, "down", "anticlockwise"),
    ],
)
def test_rotation_follows_hitch_and_hand(
    *, place: HitchPlace, left: bool, look: str, towards: str
) -> None:
    thread = Thread(name="M16", pitch=0.002, is_left_handed=left)
    said = say(rotation_text(hitch(place, thread=thread)))
    assert f"Looking {look} at the nuts" in said
    assert f"towards the plate is {towards}," in said


def test_north_america_reads_its_own_words() -> None:
    said = text_of(outcome_lines(plan(), US, Terms.NORTH_AMERICA))
    for word in ("cotter pin", "jam nut", "shackle rod", "counterclockwise", "hitch"):
        assert word in said
    assert "anticlockwise" not in said
    assert "split pin" not in said


def test_nuts_come_in_working_order_with_a_box_each() -> None:
    boxes = [cells[0] for sign, cells in card_of(plan()) if sign == "_"]
    assert [text[:9] for text in boxes[:4]] == [
        "1. Rope 4",
        "2. Rope 1",
        "3. Rope 2",
        "4. Rope 3",
    ]
    assert boxes[4] == "Ropes clear, tools counted."


def test_the_picture_shows_rows_and_directions() -> None:
    rows = nut_picture(plan(), 1)
    assert rows[0].split() == ["[1]", "[3]"]
    assert rows[1].split() == ["OUT", "3", "1/4", "OUT", "1", "1/2"]
    assert rows[2].split() == ["[4]", "[2]"]
    assert rows[3].split() == ["IN", "3", "1/4", "IN", "1", "1/2"]


@pytest.mark.parametrize("width", [80, 40])
def test_the_picture_keeps_within_the_columns(width: int) -> None:
    rng = np.random.default_rng(2)
    given = assessed(5000 * (1 + 0.06 * rng.standard_normal(12)))
    outcome = plan_turns(given, PlanRequest(rope_set=rope_set(12)))
    assert isinstance(outcome, Plan)
    for number in range(1, len(outcome.stages) + 1):
        assert max(len(row) for row in nut_picture(outcome, number, width)) <= width


def test_the_card_tells_the_sequence_the_run_and_what_comes_after() -> None:
    said = text_of(card_of(plan()))
    for words in (
        "split pin out, lock nut back, hold rod and socket on their flats, turn",
        "new split pin",
        "5 round trips with stops",
        "Promised: spread under",
        "same direction",
        "do not correct that",
        "Load weighing",
        "slack-rope switch",
        "runby stays",
    ):
        assert words in said


def test_the_card_fits_a_page_and_a_phone() -> None:
    import textwrap

    for width, most in ((80, 34), (50, 50)):
        lines = 0
        for sign, cells in card_of(plan(), width):
            lines += 1 if sign == "=" else len(textwrap.wrap(cells[0], width))
        assert lines <= most


def test_runby_is_told_both_ways() -> None:
    up = runby_text(plan(strategy=Strategy.TAKE_UP_ONLY), SI)
    assert "grows by 6.4 mm" in up
    assert "clearance above the car shrinks" in up
    down = runby_text(plan(strategy=Strategy.EASE_ONLY), SI)
    assert "shrinks by 6.6 mm" in down
    drum = runby_text(plan(strategy=Strategy.TAKE_UP_ONLY, drive=Drive.DRUM), SI)
    assert "higher" in drum
    assert "counterweight" not in drum


def test_every_number_is_printed_with_where_it_came_from() -> None:
    found = plan()
    said = text_of(outcome_lines(found, SI))
    for origin in found.origins:
        assert say(origin.name) in said
        assert origin.known_from.value in said
        assert say(origin.source) in said


def test_every_place_in_the_texts_is_a_word_of_the_table() -> None:
    outcomes = [plan(), plan(strategy=Strategy.FEWEST_NUTS)]
    lines = [line for outcome in outcomes for line in outcome_lines(outcome, SI)]
    bare = rope_set(4, hitches=(hitch(rate=None, thread=None),))
    for given, ropes in (
        (FOUR, bare),
        (FOUR, rope_set(4, hitches=(hitch(buffer=Buffer.BEAM),))),
        ([5010.0, 5000.0, 4990.0, 5000.0], rope_set(4)),
        (FOUR, rope_set(4, hitches=(hitch(solid=0.128),))),
        ([5600.0, 4900.0, 5200.0, 4400.0], rope_set(4, hitches=())),
    ):
        outcome = plan_turns(assessed(given), PlanRequest(rope_set=ropes))
        lines += outcome_lines(outcome, SI)
    said = text_of(lines).lower()
    assert "[[" not in said
    for word in (" safe", "danger", " pass ", "certificate"):
        assert word not in said


def test_what_is_short_is_told_with_amounts() -> None:
    solid = replace(hitch(solid=0.128))
    outcome = plan_turns(
        assessed(FOUR), PlanRequest(rope_set=rope_set(4, hitches=(solid,)))
    )
    said = text_of(outcome_lines(outcome, SI))
    assert said.startswith("NO FEASIBLE PLAN")
    assert "goes solid at 4800 N" in said


def test_a_comparison_reads_as_one_page() -> None:
    outcome = compare_series(
        assessed(FOUR),
        assessed([5020.0, 4990.0, 5010.0, 4980.0]),
        turns=(),
        request=PlanRequest(rope_set=rope_set(4)),
    )
    assert isinstance(outcome, Comparison)
    said = text_of(comparison_lines(outcome, SI))
    assert "As found" in said
    assert "unequal" in said
    assert "What remains: 0.8 %" in said
    assert len(said.splitlines()) < 40
