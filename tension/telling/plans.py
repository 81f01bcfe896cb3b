"""A plan of turns in words: a page a stage, in working order, with boxes to tick.

Also what a plan rests on, and what is said where there is none.
"""

from tension.adjustment.outcome import (
    Direction,
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
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
from tension.telling.lines import (
    SHORT,
    TextKind,
    TextLine,
    heading,
    items,
    lines_of,
    reason_lines,
    sentence,
    sentences,
    told,
    word,
)
from tension.telling.numbers import chance_text, turns_text
from tension.wording import limit_text, percent_text

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
        return (heading(word(outcome.kind)), *reason_lines(outcome.reasons))
    return _infeasible_lines(outcome, units)


def card_lines(plan: Plan, units: UnitSystem, width: int = 80) -> tuple[TextLine, ...]:
    """Write the part of a plan that is needed at the nuts, `width` columns [1] wide."""
    return (
        *promise_lines(plan),
        *lines_of(TextKind.CAUTION, SHORT),
        *sentences(told("plans.at-each-nut"), rotation_text(plan.hitch)),
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
    is_below = hitch.at in {HitchPlace.CAR, HitchPlace.COUNTERWEIGHT}
    return told(
        "plans.left-hand" if hitch.thread.is_left_handed else "plans.right-hand",
        look="up" if is_below else "down",
        thread=hitch.thread.name,
    )


def promise_lines(plan: Plan) -> tuple[TextLine, ...]:
    """Write what a plan asks and what it promises."""
    forecast, rule = plan.forecast, plan.rule
    n_nuts, n_stages = plan.n_nuts, len(plan.stages)
    work = told(
        "plans.plan",
        hitch=word(plan.hitch.at),
        nuts=f"{n_nuts} {'nut' if n_nuts == 1 else 'nuts'}",
        turns=turns_text(plan.turns_in_all),
        stages=f", {n_stages} stages" if n_stages > 1 else "",
        strategy=word(plan.strategy),
    )
    promise = told(
        "plans.promised",
        upper=percent_text(forecast.upper),
        trips=_trips_text(plan),
        expected=percent_text(forecast.spread),
        now=percent_text(plan.spread_before),
        limit=limit_text(rule.limit),
        rule=rule.name,
        chance=chance_text(forecast.chance_equal),
    )
    pressing = reason_lines(plan.notes[: _n_pressing(plan)])
    return (heading(work), sentence(promise), *pressing)


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
        return told("plans.once")
    are_alike = len({stage.round_trips for stage in plan.stages}) == 1
    is_each = len(plan.stages) > 1 and are_alike
    return told("plans.trips-each" if is_each else "plans.trips", trips=trips)


def stage_lines(
    plan: Plan, number: int, units: UnitSystem, width: int = 80
) -> tuple[TextLine, ...]:
    """Write one stage, counted from 1: its grid of nuts, then boxes in working order.

    `width` is the columns there are for the grid. [1]
    """
    return (
        heading(stage_heading(plan, number)),
        *lines_of(TextKind.PICTURE, nut_picture(plan, number, width)),
        *stage_boxes(plan, number, units),
        *sentences(stage_ending(plan, number)),
    )


def stage_heading(plan: Plan, number: int) -> str:
    """Name a stage by its number [1]."""
    return told("plans.stage", number=number, stages=len(plan.stages))


def stage_boxes(plan: Plan, number: int, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what is ticked off in one stage, counted from 1, in working order."""
    stage = plan.stages[number - 1]
    texts = [
        f"{place}. {nut_text(step.turn, units)}"
        for place, step in enumerate(stage.steps, start=1)
    ]
    texts.append(told("plans.clear"))
    if stage.round_trips:
        texts.append(told("plans.back", trips=stage.round_trips))
    if number == len(plan.stages):
        texts.append(told("plans.measured"))
        texts.append(told("plans.afterwards", runby=runby_text(plan, units)))
        if len(plan.turns) == 2:
            texts.append(told("plans.two-ropes"))
    return tuple(lines_of(TextKind.BOX, texts))


def stage_ending(plan: Plan, number: int) -> str:
    """Tell what must not be done while the set springs back.

    Empty where running changes nothing, or where a stage follows.
    """
    is_last = number == len(plan.stages)
    springs_back = plan.drive is Drive.TRACTION and is_last
    return told("plans.stands-still") if springs_back else ""


def nut_text(turn: NutTurn, units: UnitSystem) -> str:
    """Write what is done at one nut in one line of 80 columns at most."""
    if turn.direction is Direction.LEAVE:
        return told("plans.leave", rope=turn.rope)
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


def detail_lines(plan: Plan, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what a plan rests on."""
    lowest = min((stage.lowest_share for stage in plan.stages), default=1.0)
    highest = max((stage.highest_share for stage in plan.stages), default=1.0)
    shares = {"lowest": f"{100 * lowest:.0f} %", "highest": f"{100 * highest:.0f} %"}
    return (
        *origin_lines(plan.origins, units),
        sentence(told("plans.on-the-way", **shares)),
        *reason_lines(plan.notes[_n_pressing(plan) :], "To know"),
    )


def origin_lines(origins: tuple[Origin, ...], units: UnitSystem) -> list[TextLine]:
    """Write where every number comes from."""
    texts = [origin_text(one, units) for one in origins]
    return [heading(told("plans.rests-on")), *items(texts)]


def origin_text(origin: Origin, units: UnitSystem) -> str:
    """Write one number: name, value, how it is known, uncertainty if any."""
    if origin.dimension is None:
        value = f"{origin.value:g}"
    else:
        value = show_quantity(origin.value, origin.dimension, units, digits=3)
    width = origin.relative_uncertainty
    return told(
        "plans.origin-in-doubt" if width >= 0.005 else "plans.origin",
        name=origin.name,
        value=value,
        known=origin.known_from.value,
        source=origin.source,
        width=f"{100 * width:.0f}",
    )


def _directions_lines(outcome: DirectionsOnly) -> tuple[TextLine, ...]:
    """Order and direction, and why no more."""
    leave = Direction.LEAVE
    texts = [
        told(
            "plans.direction-leave" if row.direction is leave else "plans.direction",
            rope=row.rope,
            direction=row.direction.value,
            share=percent_text(row.share),
        )
        for row in outcome.rows
    ]
    run = f"{told('plans.clear')} {told('plans.run-and-measure')}"
    return (
        heading(told("plans.directions", hitch=word(outcome.hitch.at))),
        *reason_lines(outcome.reasons),
        heading(told("plans.in-this-order")),
        *items(texts),
        *sentences(rotation_text(outcome.hitch), told("plans.quarter-turn")),
        *lines_of(TextKind.CAUTION, SHORT),
        *sentences(told("plans.at-each-nut"), run),
    )


def _infeasible_lines(
    outcome: InfeasiblePlan, units: UnitSystem
) -> tuple[TextLine, ...]:
    """What is short, by how much."""
    at_best = told(
        "plans.at-best",
        strategy=word(outcome.strategy),
        spread=percent_text(outcome.best_spread),
        limit=limit_text(outcome.rule.limit),
    )
    return (
        heading(told("plans.no-plan")),
        sentence(at_best),
        *items(shortfall_text(short, units) for short in outcome.shortfalls),
        *origin_lines(outcome.origins, units),
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
