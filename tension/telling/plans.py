"""Plans of turns, comparisons and checks of springs in words, each by its template.

A plan is told stage by stage in working order, with boxes to tick, and with what it
rests on; or why there is none.
"""

from collections.abc import Sequence
from itertools import takewhile

from tension.adjustment.comparison import Comparison
from tension.adjustment.outcome import (
    Direction,
    NutTurn,
    Plan,
    PlanOutcome,
    Shortage,
    Shortfall,
    Turn,
)
from tension.adjustment.springs import SpringCheck, are_level
from tension.adjustment.stiffness import Origin
from tension.installation import Drive, Hitch, HitchPlace, Rope
from tension.notes import NoteKind
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.telling.lines import SHORT, told, with_next_act, word
from tension.telling.numbers import (
    chance_text,
    count_text,
    load_text,
    turns_text,
    typed_and_si,
    written,
)
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

SPRING_HEADERS = ("Spring", "Length", "By length", "Otherwise", "Way left", "")
"""Columns: rope number, working length, both loads, margin at 125 % load, in words."""

_ODD = {"NOT PRESSED": "is_free", "SOLID": "is_solid", "STANDS OUT": "stands_out"}
_CELL = 11  # width of a nut in the drawing, in characters


def _said_lines(name: str, terms: Terms, words: dict[str, object]) -> SaidLines:
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
    return _said_lines("planned", terms, words)


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
    numbers = (turn.rope for turn in plan.turns)
    every = {n: NutTurn(rope=n, steps=0, turns=0.0, travel=0.0) for n in numbers}
    return every | {s.turn.rope: s.turn for s in plan.stages[number - 1].steps}


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


def comparison_lines(
    comparison: Comparison, units: UnitSystem, terms: Terms = Terms.EUROPE
) -> SaidLines:
    """Write what the turns have changed and what is learned from it."""
    learned = comparison.answer.learned
    stiffnesses = [
        show_quantity(k, Dimension.STIFFNESS, units, digits=3).split(" ")[0]
        for k in (learned.stiffnesses if learned else ())
    ]
    words = {"found": comparison, "stiffnesses": stiffnesses, "units": units}
    return _said_lines("comparison", terms, words | {"signed_turns": signed_turns})


def signed_turns(turns: float) -> str:
    """Write turns [turns] as made on a nut, with their sign."""
    return f"{'+' if turns > 0 else '-'}{turns_text(turns)}"


def spring_rows(check: SpringCheck, units: UnitSystem) -> tuple[tuple[str, ...], ...]:
    """Write each spring as a row of a table; "-" where nothing is known."""
    return tuple(
        (
            str(spring.rope),
            small_length(spring.length, units),
            load_text(spring.by_length, spring.by_length_uncertainty, units),
            load_text(spring.by_reading, spring.by_reading_uncertainty, units),
            "-" if spring.margin is None else f"{100 * spring.margin:.0f} %",
            next((odd for odd, name in _ODD.items() if getattr(spring, name)), ""),
        )
        for spring in check.springs
    )


def spring_lines(
    check: SpringCheck, units: UnitSystem, terms: Terms = Terms.EUROPE
) -> SaidLines:
    """Write what stands under the table: slope, where numbers come from, notes."""
    slope, rated, preload = check.slope, check.rated_tension, check.preload
    words: dict[str, object] = {
        "is_level": are_level(check),
        "slope": slope
        and show_quantity(
            slope.rate, Dimension.STIFFNESS, units, uncertainty=slope.uncertainty
        ),
        "even_share": rated and force_text(rated, units),
        "origins": [
            *check.origins,
            *([Origin.typed("spring preload", preload)] if preload else ()),
        ],
        "notes": check.notes,
        "units": units,
    }
    return _said_lines("springs_told", terms, words)


def thread_cells(
    rope: Rope, hitches: Sequence[Hitch], turns: Sequence[Turn]
) -> tuple[str, ...]:
    """Write the thread left on the rods of one rope, as read and after the turns."""
    pitches = {h.at: h.thread.pitch for h in hitches if h.thread}
    turned = [t for t in turns if t.rope == rope.number and t.hitch in pitches]
    drawn = sum(t.turns.value * pitches[t.hitch] for t in turned)
    left = [
        None if read is None else read.value + sign * drawn
        for read, sign in ((rope.take_up_left, -1.0), (rope.ease_left, 1.0))
    ]
    return (
        count_text(rope.number),
        typed_and_si(rope.take_up_left),
        typed_and_si(rope.ease_left),
        written(sum(t.turns.value for t in turned), Dimension.TURNS),
        *(written(one, Dimension.LENGTH, uncertainty=0.5e-3) for one in left),
    )
