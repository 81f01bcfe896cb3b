"""A plan of turns in words: a page a stage, in working order, with boxes to tick.

Also what a plan rests on, and what is said where there is none.
"""

from tension.adjustment.outcome import (
    Direction,
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    NoPlanKind,
    NutTurn,
    Plan,
    PlanOutcome,
    Shortage,
    Shortfall,
    Strategy,
)
from tension.adjustment.stiffness import Origin
from tension.installation import Drive, Hitch, HitchPlace
from tension.notes import NoteKind
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import UnitSystem, show_quantity
from tension.telling.cautions import SHORT
from tension.telling.lines import (
    TextKind,
    TextLine,
    box,
    heading,
    items,
    lines_of,
    reason_lines,
    sentence,
    sentences,
)
from tension.telling.numbers import chance_text, turns_text
from tension.wording import limit_text, percent_text

STRATEGY_WORDS = {
    Strategy.KEEP_HEIGHT: "the car keeps its height",
    Strategy.TAKE_UP_ONLY: "taking up only",
    Strategy.EASE_ONLY: "easing only",
    Strategy.FEWEST_NUTS: "the fewest nuts",
}

HITCH_WORDS = {
    HitchPlace.CAR: "car [[hitch]]",
    HitchPlace.COUNTERWEIGHT: "counterweight [[hitch]]",
    HitchPlace.DEAD_END_CAR: "dead-end [[hitch]], car side",
    HitchPlace.DEAD_END_COUNTERWEIGHT: "dead-end [[hitch]], counterweight side",
}

_NO_PLAN_WORDS = {
    NoPlanKind.LEAVE_IT: "LEAVE IT",
    NoPlanKind.RUN_FIRST: "RUN FIRST",
    NoPlanKind.LOOK_FIRST: "LOOK FIRST",
    NoPlanKind.MEASURE_FIRST: "MEASURE FIRST",
    NoPlanKind.BEAM: "NO PLAN",
    NoPlanKind.NO_RESULT: "NO RESULT",
}

AT_EACH_NUT = (
    "At each nut: [[split pin]] out, [[lock nut]] back, hold [[rod]] and socket on "
    "their flats, turn, [[lock nut]] home, new [[split pin]] before service. One rope "
    "at a time; the nut and room for the pin stay fully on the thread. Never slacken a "
    "rope fully, never take the last nut off."
)
_CLEAR = "Ropes clear, tools counted."
_BACK = "Back to the mark from the same direction, wait a minute."
_STANDS_STILL = (
    "Until the car has run the set reads unequal the other way: do not correct that."
)
_AFTERWARDS = (
    "Load weighing at the [[hitch]] and slack-rope switch zeroed and tested, if there "
    "are any."
)
_TWO_ROPES = "Slack-rope switch reset and tested."
_QUARTER_TURN = (
    "A quarter turn at most, then run and measure: the first turns tell how much one "
    "turn does."
)
_RUN_AND_MEASURE = (
    "Run three full round trips with stops, come back to the mark from the same "
    "direction, wait a minute, measure again; the answer then says how many are enough."
)
_PRESSING = {
    NoteKind.MANY_TRIPS,
    NoteKind.FIRST_STAGE_ONLY,
    NoteKind.THREAD_ASKED,
    NoteKind.LOOKED,
}
_CELL = 11


def outcome_lines(
    outcome: PlanOutcome, units: UnitSystem, width: int = 80
) -> tuple[TextLine, ...]:
    """Write what was found when a plan was asked for.

    What to do comes first, what it rests on last; `width` is the columns there are for
    the picture of the nuts. [1]
    """
    if isinstance(outcome, Plan):
        return (*card_lines(outcome, units, width), *detail_lines(outcome, units))
    if isinstance(outcome, DirectionsOnly):
        return _directions_lines(outcome)
    if isinstance(outcome, NoPlan):
        return (heading(_NO_PLAN_WORDS[outcome.kind]), *reason_lines(outcome.reasons))
    return _infeasible_lines(outcome, units)


def card_lines(plan: Plan, units: UnitSystem, width: int = 80) -> tuple[TextLine, ...]:
    """Write the part of a plan that is needed at the nuts, `width` columns [1] wide."""
    return (
        *promise_lines(plan),
        *lines_of(TextKind.CAUTION, SHORT),
        *sentences(AT_EACH_NUT, rotation_text(plan.hitch)),
        *(
            line
            for number in range(1, len(plan.stages) + 1)
            for line in stage_lines(plan, number, units, width)
        ),
    )


def rotation_text(hitch: Hitch) -> str:
    """Tell which rotation brings a nut towards the plate; empty without a thread.

    Nuts are below the plate, or on top of it at a dead end.
    """
    if hitch.thread is None:
        return ""
    thread = hitch.thread
    is_below = hitch.at in {HitchPlace.CAR, HitchPlace.COUNTERWEIGHT}
    look = "up" if is_below else "down"
    hand = "left" if thread.is_left_handed else "right"
    towards, away = "clockwise", "[[anticlockwise]]"
    if thread.is_left_handed:
        towards, away = away, towards
    return (
        f"Looking {look} at the nuts, {hand}-hand thread {thread.name}: towards the "
        f"plate is {towards}, away from it {away}."
    )


def promise_lines(plan: Plan) -> tuple[TextLine, ...]:
    """Write what a plan asks and what it promises."""
    forecast, rule = plan.forecast, plan.rule
    stages = f", {len(plan.stages)} stages" if len(plan.stages) > 1 else ""
    return (
        heading(
            f"PLAN at the {HITCH_WORDS[plan.hitch.at]}: {plan.n_nuts} "
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
        *reason_lines(plan.notes[: _n_pressing(plan)]),
    )


def _n_pressing(plan: Plan) -> int:
    """How many notes come first: those that change how the work is gone about."""
    for count, note in enumerate(plan.notes):
        if note.kind not in _PRESSING:
            return count
    return len(plan.notes)


def _trips_text(plan: Plan) -> str:
    """Round trips after the last stage."""
    trips = plan.stages[-1].round_trips
    if not trips:
        return "once"
    are_alike = len({stage.round_trips for stage in plan.stages}) == 1
    every = " after each stage" if len(plan.stages) > 1 and are_alike else ""
    return f"{trips} round trips{every}"


def stage_lines(
    plan: Plan, number: int, units: UnitSystem, width: int = 80
) -> tuple[TextLine, ...]:
    """Write one stage, counted from 1: its grid of nuts, then boxes in working order.

    `width` is the columns there are for the grid. [1]
    """
    return (
        heading(f"Stage {number} of {len(plan.stages)}"),
        *lines_of(TextKind.PICTURE, nut_picture(plan, number, width)),
        *stage_boxes(plan, number, units),
        *sentences(stage_ending(plan, number)),
    )


def stage_boxes(plan: Plan, number: int, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what is ticked off in one stage, counted from 1, in working order."""
    stage = plan.stages[number - 1]
    texts = [
        f"{place}. {nut_text(step.turn, units)}"
        for place, step in enumerate(stage.steps, start=1)
    ]
    texts.append(_CLEAR)
    if stage.round_trips:
        texts.append(f"{stage.round_trips} round trips with stops. {_BACK}")
    if number == len(plan.stages):
        texts.append("Measured again as a new series; turns and round trips written.")
        texts.append(f"{_AFTERWARDS} {runby_text(plan, units)}")
        if len(plan.turns) == 2:
            texts.append(_TWO_ROPES)
    return tuple(map(box, texts))


def stage_ending(plan: Plan, number: int) -> str:
    """Tell what must not be done while the set springs back.

    Empty where running changes nothing, or where a stage follows.
    """
    is_last = number == len(plan.stages)
    return _STANDS_STILL if plan.drive is Drive.TRACTION and is_last else ""


def nut_text(turn: NutTurn, units: UnitSystem) -> str:
    """Write what is done at one nut in one line of 80 columns at most."""
    if turn.direction is Direction.LEAVE:
        return f"Rope {turn.rope}: leave"
    more = "more" if turn.direction is Direction.TAKE_UP else "less"
    return (
        f"Rope {turn.rope}: nut {turn.direction.value}, {turns_text(turn.turns)}, "
        f"{small_length(abs(turn.travel), units)} {more} thread past the nut"
    )


def hitch_order(hitch: Hitch, n_ropes: int) -> tuple[tuple[int, ...], ...]:
    """Put the ropes in the rows of the hitch; in one row if none are recorded."""
    told = [number for row in hitch.rows for number in row]
    if sorted(told) == list(range(1, n_ropes + 1)):
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
    return (*lines, "IN: towards the plate, OUT: away from it")


def way_text(turn: NutTurn) -> str:
    """Write which way a nut goes and how far: "IN 1 1/4 turns", or "leave"."""
    if turn.direction is Direction.LEAVE:
        return "leave"
    word = "IN" if turn.direction is Direction.TAKE_UP else "OUT"
    return f"{word} {turns_text(turn.turns)}"


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


def detail_lines(plan: Plan, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what a plan rests on."""
    lowest = min((stage.lowest_share for stage in plan.stages), default=1.0)
    highest = max((stage.highest_share for stage in plan.stages), default=1.0)
    return (
        *origin_lines(plan.origins, units),
        sentence(
            f"On the way no rope is expected under {100 * lowest:.0f} % or over "
            f"{100 * highest:.0f} % of its share."
        ),
        *reason_lines(plan.notes[_n_pressing(plan) :], "To know"),
    )


def origin_lines(origins: tuple[Origin, ...], units: UnitSystem) -> list[TextLine]:
    """Write where every number comes from."""
    return [heading("Rests on"), *items(origin_text(one, units) for one in origins)]


def origin_text(origin: Origin, units: UnitSystem) -> str:
    """Write one number: name, value, how it is known, uncertainty if any."""
    if origin.dimension is None:
        value = f"{origin.value:g}"
    else:
        value = show_quantity(origin.value, origin.dimension, units, digits=3)
    width = origin.relative_uncertainty
    doubt = f", standard uncertainty {100 * width:.0f} %" if width >= 0.005 else ""
    return f"{origin.name} {value}: {origin.known_from.value} ({origin.source}){doubt}"


def _directions_lines(outcome: DirectionsOnly) -> tuple[TextLine, ...]:
    """Order and direction, and why no more."""
    told = [
        f"Rope {row.rope}: "
        f"{'' if row.direction is Direction.LEAVE else 'nut '}{row.direction.value} "
        f"({percent_text(row.share)})"
        for row in outcome.rows
    ]
    return (
        heading(f"ORDER AND DIRECTION ONLY, at the {HITCH_WORDS[outcome.hitch.at]}"),
        *reason_lines(outcome.reasons),
        heading("In this order"),
        *items(told),
        *sentences(rotation_text(outcome.hitch), _QUARTER_TURN),
        *lines_of(TextKind.CAUTION, SHORT),
        *sentences(AT_EACH_NUT, f"{_CLEAR} {_RUN_AND_MEASURE}"),
    )


def _infeasible_lines(
    outcome: InfeasiblePlan, units: UnitSystem
) -> tuple[TextLine, ...]:
    """What is short, by how much."""
    return (
        heading("NO FEASIBLE PLAN"),
        sentence(
            f"By {STRATEGY_WORDS[outcome.strategy]} the spread comes down to "
            f"{percent_text(outcome.best_spread)} at best; the limit is "
            f"{limit_text(outcome.rule.limit)}."
        ),
        *items(shortfall_text(short, units) for short in outcome.shortfalls),
        *origin_lines(outcome.origins, units),
    )


def shortfall_text(short: Shortfall, units: UnitSystem) -> str:
    """Write what is short, by how much, and what may be done."""
    if short.kind in {Shortage.THREAD_TOWARDS_PLATE, Shortage.THREAD_AWAY}:
        way, other = (
            ("towards the plate", "easing")
            if short.kind is Shortage.THREAD_TOWARDS_PLATE
            else ("away from the plate", "taking up")
        )
        needed, available, short_by = (
            small_length(value, units)
            for value in (short.needed, short.available, short.short_by)
        )
        return (
            f"Rope {short.rope}: {needed} of thread needed {way}, {available} left, "
            f"{short_by} short. Try {other} the others, or the rope is to be shortened "
            "and socketed anew by those who may."
        )
    if short.kind is Shortage.SPRING_WAY:
        needed, available, short_by = (
            force_text(value, units)
            for value in (short.needed, short.available, short.short_by)
        )
        return (
            f"Rope {short.rope}: {needed} wanted, its spring goes solid at "
            f"{available}, {short_by} short. Have the springs checked."
        )
    return (
        "The smallest step a person can make is too coarse for this rope: "
        f"{percent_text(short.available)} at best, "
        f"{percent_text(short.short_by)} over the limit."
    )
