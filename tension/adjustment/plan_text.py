"""A plan of turns in words: a page a stage, in working order, with boxes to tick."""

from tension.adjustment.outcome import Direction, NutTurn, Plan, Strategy
from tension.adjustment.text import (
    TextLine,
    box,
    caution,
    heading,
    hitch_text,
    percent_text,
    picture,
    reason_lines,
    rotation_text,
    sentence,
    small_length,
    turns_text,
)
from tension.assessment.words import limit_text
from tension.cautions import SHORT
from tension.installation import Drive, Hitch
from tension.notes import NoteKind
from tension.quantity.units import UnitSystem

STRATEGY_WORDS = {
    Strategy.KEEP_HEIGHT: "the car keeps its height",
    Strategy.TAKE_UP_ONLY: "taking up only",
    Strategy.EASE_ONLY: "easing only",
    Strategy.FEWEST_NUTS: "the fewest nuts",
}

AT_EACH_NUT = (
    "At each nut: [[split pin]] out, [[lock nut]] back, hold [[rod]] and socket on "
    "their flats, turn, [[lock nut]] home, new [[split pin]] before service. One rope "
    "at a time; the nut and room for the pin stay fully on the thread. Never slacken a "
    "rope fully, never take the last nut off."
)

CLEAR = "Ropes clear, tools counted."

_BACK = "Back to the mark from the same direction, wait a minute."

STANDS_STILL = (
    "Until the car has run the set reads unequal the other way: do not correct that."
)

_PRESSING = (
    NoteKind.MANY_TRIPS,
    NoteKind.FIRST_STAGE_ONLY,
    NoteKind.THREAD_ASKED,
    NoteKind.LOOKED,
)

_AFTERWARDS = (
    "Load weighing at the [[hitch]] and slack-rope switch zeroed and tested, if there "
    "are any."
)

_TWO_ROPES = "Slack-rope switch reset and tested."

_CELL = 11


def card_lines(plan: Plan, units: UnitSystem, width: int = 80) -> tuple[TextLine, ...]:
    """Write the part of a plan that is needed at the nuts.

    Parameters
    ----------
    plan : Plan
        The plan.
    units : UnitSystem
        Units shown.
    width : int
        Columns there are, for the picture of the nuts. [1]
    """
    lines = [
        *promise_lines(plan),
        *(caution(text) for text in SHORT),
        sentence(AT_EACH_NUT),
    ]
    if plan.hitch.thread is not None:
        lines.append(sentence(rotation_text(plan.hitch.at, plan.hitch.thread)))
    for number in range(1, len(plan.stages) + 1):
        lines += stage_lines(plan, number, units, width)
    return tuple(lines)


def promise_lines(plan: Plan) -> tuple[TextLine, ...]:
    """Write what a plan asks and what it promises."""
    forecast, rule = plan.forecast, plan.rule
    stages = f", {len(plan.stages)} stages" if len(plan.stages) > 1 else ""
    return (
        heading(
            f"PLAN at the {hitch_text(plan.hitch.at)}: {plan.n_nuts} "
            f"{'nut' if plan.n_nuts == 1 else 'nuts'}, "
            f"{turns_text(plan.turns_in_all)} in all{stages}, "
            f"{STRATEGY_WORDS[plan.strategy]}"
        ),
        sentence(
            f"Promised: spread under {percent_text(forecast.upper)} (97.5 %) once the "
            f"car has run {_trips_text(plan)}; expected {percent_text(forecast.spread)}"
            f", now {percent_text(plan.spread_before)}, limit "
            f"{limit_text(rule.limit)}. Chance that the set is then equal by the rule "
            f"({rule.name}): {chance_text(forecast.chance_equal)}."
        ),
        *reason_lines(plan.notes[: n_pressing(plan)]),
    )


def n_pressing(plan: Plan) -> int:
    """Tell how many notes come first: those that change how the work is gone about."""
    codes = {kind.code for kind in _PRESSING}
    count = 0
    for note in plan.notes:
        if note.code not in codes:
            break
        count += 1
    return count


def _trips_text(plan: Plan) -> str:
    """Round trips after the last stage."""
    trips = plan.stages[-1].round_trips
    if not trips:
        return "once"
    every = " after each stage" if len(plan.stages) > 1 else ""
    return f"{trips} round trips{every if _are_alike(plan) else ''}"


def _are_alike(plan: Plan) -> bool:
    """Whether every stage wants as many round trips."""
    return len({stage.round_trips for stage in plan.stages}) == 1


def chance_text(chance: float) -> str:
    """Write a chance in words that do not promise.

    Parameters
    ----------
    chance : float
        From 0 to 1. [1]

    Returns
    -------
    str
        Percent, or over 99 or under 1.
    """
    if chance >= 0.99:
        return "over 99 %"
    if chance <= 0.01:
        return "under 1 %"
    return f"{100 * chance:.0f} %"


def stage_lines(
    plan: Plan, number: int, units: UnitSystem, width: int = 80
) -> tuple[TextLine, ...]:
    """Write one stage: its grid of nuts, then what is done in working order.

    Parameters
    ----------
    plan : Plan
        The plan.
    number : int
        Which stage, from 1.
    units : UnitSystem
        Units shown.
    width : int
        Columns there are, for the grid. [1]

    Returns
    -------
    tuple of TextLine
        A heading, the grid, a box for every nut, for the run and for what follows.
    """
    return (
        heading(f"Stage {number} of {len(plan.stages)}"),
        *(picture(row) for row in nut_picture(plan, number, width)),
        *stage_boxes(plan, number, units),
        *(sentence(text) for text in (stage_ending(plan, number),) if text),
    )


def stage_boxes(plan: Plan, number: int, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what is ticked off in one stage, in working order.

    Parameters
    ----------
    plan : Plan
        The plan.
    number : int
        Which stage, from 1.
    units : UnitSystem
        Units shown.
    """
    stage = plan.stages[number - 1]
    lines = [
        box(f"{place}. {nut_text(step.turn, units)}")
        for place, step in enumerate(stage.steps, start=1)
    ]
    lines.append(box(CLEAR))
    if stage.round_trips:
        lines.append(box(f"{stage.round_trips} round trips with stops. {_BACK}"))
    if number < len(plan.stages):
        return tuple(lines)
    lines += [box("Measured again as a new series; turns and round trips written.")]
    lines += [box(f"{_AFTERWARDS} {runby_text(plan, units)}")]
    if len(plan.turns) == 2:
        lines.append(box(_TWO_ROPES))
    return tuple(lines)


def stage_ending(plan: Plan, number: int) -> str:
    """Tell what must not be done while the set springs back.

    Parameters
    ----------
    plan : Plan
        The plan.
    number : int
        Which stage, from 1.

    Returns
    -------
    str
        One sentence; empty where running changes nothing, or a stage follows.
    """
    is_last = number == len(plan.stages)
    return STANDS_STILL if plan.drive is Drive.TRACTION and is_last else ""


def nut_text(turn: NutTurn, units: UnitSystem) -> str:
    """Write what is done at one nut.

    Returns
    -------
    str
        One line of 80 columns at most.
    """
    if turn.direction is Direction.LEAVE:
        return f"Rope {turn.rope}: leave"
    more = "more" if turn.direction is Direction.TAKE_UP else "less"
    return (
        f"Rope {turn.rope}: nut {turn.direction.value}, {turns_text(turn.turns)}, "
        f"{small_length(abs(turn.travel), units)} {more} thread past the nut"
    )


def hitch_order(hitch: Hitch, n_ropes: int) -> tuple[tuple[int, ...], ...]:
    """Put the ropes in the order of the hitch, row by row.

    Parameters
    ----------
    hitch : Hitch
        With the rows as seen facing the nuts, if recorded.
    n_ropes : int
        Number of ropes.

    Returns
    -------
    tuple of tuple of int
        Rope numbers; one row in order of number if no rows are recorded.
    """
    told = [number for row in hitch.rows for number in row]
    if sorted(told) == list(range(1, n_ropes + 1)):
        return hitch.rows
    return (tuple(range(1, n_ropes + 1)),)


def nut_picture(plan: Plan, number: int, width: int = 80) -> tuple[str, ...]:
    """Draw the nuts of one stage in their rows as text.

    Parameters
    ----------
    plan : Plan
        The plan.
    number : int
        Which stage, from 1.
    width : int
        Columns there are. [1]

    Returns
    -------
    tuple of str
        Two lines a row: the rope number, and IN (towards the plate) or OUT (away).
    """
    turn_of = turns_of_stage(plan, number)
    lines: list[str] = []
    most = max(1, width // _CELL)
    for row in hitch_order(plan.hitch, len(plan.turns)):
        for start in range(0, len(row), most):
            part = row[start : start + most]
            lines.append("".join(f"[{n}]".center(_CELL) for n in part).rstrip())
            lines.append(
                "".join(_nut_mark(turn_of[n]).center(_CELL) for n in part).rstrip()
            )
    return (*lines, "IN: towards the plate, OUT: away from it")


def turns_of_stage(plan: Plan, number: int) -> dict[int, NutTurn]:
    """Give what is done at every nut in one stage.

    Parameters
    ----------
    plan : Plan
        The plan.
    number : int
        Which stage, from 1.

    Returns
    -------
    dict of int to NutTurn
        By rope number; nuts that are left have no steps.
    """
    none = {
        turn.rope: NutTurn(rope=turn.rope, steps=0, turns=0.0, travel=0.0)
        for turn in plan.turns
    }
    return none | {s.turn.rope: s.turn for s in plan.stages[number - 1].steps}


def _nut_mark(turn: NutTurn) -> str:
    """Two words for one nut."""
    if turn.direction is Direction.LEAVE:
        return "leave"
    word = "IN" if turn.direction is Direction.TAKE_UP else "OUT"
    return f"{word} {turns_text(turn.turns).rsplit(' ', 1)[0]}"


def runby_text(plan: Plan, units: UnitSystem) -> str:
    """Tell what the plan does to the height of the car and the runby."""
    change = plan.runby_change
    if abs(change) < 0.00005:
        return "The car keeps its height and the runby stays."
    amount = small_length(abs(change), units)
    if plan.drive is not Drive.TRACTION:
        way = "higher" if change > 0 else "lower"
        return f"The car hangs {amount} {way}: check its levels."
    if change > 0:
        return (
            f"The runby of the counterweight grows by {amount}; the clearance above "
            "the car shrinks as much: check it."
        )
    return f"The runby of the counterweight shrinks by {amount}: check it."
