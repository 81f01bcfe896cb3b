"""A plan of turns in words: stage by stage in working order, with boxes to tick.

Also what a plan rests on, and what is said where there is none: all by a template.
"""

from itertools import takewhile

from tension.adjustment.outcome import (
    Direction,
    NutTurn,
    Plan,
    PlanOutcome,
    Shortage,
    Shortfall,
)
from tension.adjustment.stiffness import Origin
from tension.installation import Drive, Hitch, HitchPlace
from tension.notes import NoteKind
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import UnitSystem, show_quantity
from tension.telling.lines import SHORT, told, with_next_act, word
from tension.telling.numbers import chance_text, turns_text
from tension.telling.page import written_lines
from tension.wording import Terms, limit_text, percent_text, say

SaidLines = list[tuple[str, tuple[str, ...]]]
"""Lines of a template with the sign of each, in the words of the trade."""

_PRESSING = {
    NoteKind.MANY_TRIPS,
    NoteKind.FIRST_STAGE_ONLY,
    NoteKind.THREAD_ASKED,
    NoteKind.LOOKED,
}
"""Notes that change how the work is gone about."""

_CELL = 11  # width of a nut in the drawing, in characters


def said_lines(name: str, terms: Terms, words: dict[str, object]) -> SaidLines:
    """Write a template in which all that is filled in is told by the program."""
    own: dict[str, object] = {
        "limit_text": limit_text,
        "origin_text": origin_text,
        "percent_text": percent_text,
        "with_next_act": with_next_act,
    }
    return [
        (sign, tuple(say(cell, terms) for cell in cells))
        for sign, cells in written_lines(name, terms, own | words)
    ]


def outcome_lines(
    outcome: PlanOutcome,
    units: UnitSystem,
    terms: Terms = Terms.EUROPE,
    width: int = 80,
) -> SaidLines:
    """Write what was found when a plan was asked for.

    What to do comes first, what it rests on last; `width` is the columns there are for
    the picture of the nuts. [1]
    """
    notes = outcome.notes if isinstance(outcome, Plan) else ()
    words: dict[str, object] = {
        "outcome": outcome,
        # those that come first
        "pressing": list(takewhile(lambda note: note.kind in _PRESSING, notes)),
        "cautions": SHORT,
        "units": units,
        "width": width,
        "chance_text": chance_text,
        "nut_picture": nut_picture,
        "nut_text": nut_text,
        "rotation_text": rotation_text,
        "runby_text": runby_text,
        "shortfall_text": shortfall_text,
        "turns_text": turns_text,
    }
    return said_lines("planned", terms, words)


def rotation_text(hitch: Hitch) -> str:
    """Tell which rotation brings a nut towards the plate; empty without a thread.

    Nuts are below the plate, or on top of it at a dead end.
    """
    if hitch.thread is None:
        return ""
    is_below = hitch.at in {HitchPlace.CAR, HitchPlace.COUNTERWEIGHT}
    return told(
        "plans.left-hand" if hitch.thread.is_left_handed else "plans.right-hand",
        look="up" if is_below else "down",
        thread=hitch.thread.name,
    )


def nut_text(turn: NutTurn, units: UnitSystem) -> str:
    """Write what is done at a nut, not left, in one line of 80 columns at most."""
    return told(
        "plans.nut",
        rope=turn.rope,
        direction=turn.direction.value,
        turns=turns_text(turn.turns),
        travel=small_length(abs(turn.travel), units),
        more="more" if turn.direction is Direction.TAKE_UP else "less",
    )


def hitch_order(hitch: Hitch, n_ropes: int) -> tuple[tuple[int, ...], ...]:
    """Put the ropes in the rows of the hitch; in one row if none are recorded."""
    numbers = [number for row in hitch.rows for number in row]
    if sorted(numbers) == list(range(1, n_ropes + 1)):
        return hitch.rows
    return (tuple(range(1, n_ropes + 1)),)


def nut_picture(plan: Plan, number: int, width: int = 80) -> tuple[str, ...]:
    """Draw the nuts of one stage in their rows as text, `width` columns [1] wide.

    Two lines a row: the rope number, and IN (towards the plate) or OUT (away).
    """
    turn_of = turns_of_stage(plan, number)
    lines: list[str] = []
    most = max(1, width // _CELL)
    for row in hitch_order(plan.hitch, len(plan.turns)):
        for start in range(0, len(row), most):
            part = row[start : start + most]
            ways = [way_text(turn_of[n]).rsplit(" ", 1)[0] for n in part]
            lines += [
                "".join(mark.center(_CELL) for mark in marks).rstrip()
                for marks in ([f"[{n}]" for n in part], ways)
            ]
    return (*lines, told("plans.in-and-out"))


def way_text(turn: NutTurn) -> str:
    """Write which way a nut goes and how far: "IN 1 1/4 turns", or "leave"."""
    if turn.direction is Direction.LEAVE:
        return "leave"
    way = "IN" if turn.direction is Direction.TAKE_UP else "OUT"
    return f"{way} {turns_text(turn.turns)}"


def turns_of_stage(plan: Plan, number: int) -> dict[int, NutTurn]:
    """Give what is done at every nut in one stage; a nut that is left has no steps."""
    none = {
        turn.rope: NutTurn(rope=turn.rope, steps=0, turns=0.0, travel=0.0)
        for turn in plan.turns
    }
    return none | {s.turn.rope: s.turn for s in plan.stages[number - 1].steps}


def runby_text(plan: Plan, units: UnitSystem) -> str:
    """Tell what the plan does to the height of the car and the runby."""
    change = plan.runby_change
    if abs(change) < 0.00005:
        key = "keeps-height"
    elif plan.drive is not Drive.TRACTION:
        key = "hangs-higher" if change > 0 else "hangs-lower"
    else:
        key = "runby-grows" if change > 0 else "runby-shrinks"
    return told(f"plans.{key}", amount=small_length(abs(change), units))


def origin_text(origin: Origin, units: UnitSystem) -> str:
    """Write one number: name, value, how it is known, uncertainty if any."""
    width = origin.relative_uncertainty
    return told(
        "plans.origin-in-doubt" if width >= 0.005 else "plans.origin",
        name=origin.name,
        value=show_quantity(origin.value, origin.dimension, units, digits=3),
        known=origin.known_from.value,
        source=origin.source,
        width=f"{100 * width:.0f}",
    )


def shortfall_text(short: Shortfall, units: UnitSystem) -> str:
    """Write what is short, by how much, and what may be done."""
    amounts = (short.needed, short.available, short.short_by)
    if short.kind is Shortage.FINE_STEPS:
        needed, available, short_by = map(percent_text, amounts)
    elif short.kind is Shortage.SPRING_WAY:
        needed, available, short_by = (force_text(one, units) for one in amounts)
    else:
        needed, available, short_by = (small_length(one, units) for one in amounts)
    return word(short.kind).format(
        rope=short.rope, needed=needed, available=available, short=short_by
    )
