"""A plan of turns in words: what a person does at each nut, and what it rests on."""

from tension.adjustment.origins import Origin
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
    Stage,
    Strategy,
)
from tension.adjustment.text import (
    TextLine,
    force_text,
    heading,
    hitch_text,
    item,
    percent_text,
    picture,
    reason_lines,
    rotation_text,
    sentence,
    small_length,
    turns_text,
)
from tension.assessment.words import limit_text
from tension.installation import Drive, Hitch
from tension.quantity.units import UnitSystem, show_quantity

STRATEGY_WORDS = {
    Strategy.KEEP_HEIGHT: "the car keeps its height",
    Strategy.TAKE_UP_ONLY: "taking up only",
    Strategy.EASE_ONLY: "easing only",
    Strategy.FEWEST_NUTS: "the fewest nuts",
}

_NO_PLAN_WORDS = {
    NoPlanKind.LEAVE_IT: "LEAVE IT",
    NoPlanKind.LOOK_FIRST: "LOOK FIRST",
    NoPlanKind.MEASURE_FIRST: "MEASURE FIRST",
    NoPlanKind.BEAM: "NO PLAN",
    NoPlanKind.NO_RESULT: "NO RESULT",
}

AT_EACH_NUT = (
    "At each nut: [[split pin]] out, [[lock nut]] back, hold [[rod]] and socket on "
    "their flats, turn, [[lock nut]] home, new [[split pin]] before service. One rope "
    "at a time; the nut and room for the pin stay fully on the thread."
)

RUN_AND_MEASURE = (
    "Ropes clear, tools counted: run three full round trips with stops, come back to "
    "the mark from the same direction, wait a minute, measure again."
)

STANDS_STILL = (
    "Until the car has run the set reads unequal the other way: do not correct that."
)

_AFTERWARDS = (
    "Afterwards: zero and test the load weighing at the [[hitch]] and the slack-rope "
    "switch, if there are any."
)

_TWO_ROPES = "With two ropes the slack-rope switch must be reset and tested."

_CELL = 11


def outcome_lines(
    outcome: PlanOutcome, units: UnitSystem, width: int = 80
) -> tuple[TextLine, ...]:
    """Write what was found when a plan was asked for.

    Parameters
    ----------
    outcome : Plan or DirectionsOnly or NoPlan or InfeasiblePlan
        The answer.
    units : UnitSystem
        Units shown.
    width : int
        Columns there are, for the picture of the nuts. [1]

    Returns
    -------
    tuple of TextLine
        What to do first; what it rests on last.
    """
    if isinstance(outcome, Plan):
        return (*card_lines(outcome, units, width), *detail_lines(outcome, units))
    if isinstance(outcome, DirectionsOnly):
        return _directions_lines(outcome)
    if isinstance(outcome, NoPlan):
        return (
            heading(_NO_PLAN_WORDS[outcome.kind]),
            *reason_lines(outcome.reasons),
        )
    return _infeasible_lines(outcome, units)


def card_lines(plan: Plan, units: UnitSystem, width: int = 80) -> tuple[TextLine, ...]:
    """Write the part of a plan that is needed at the nuts, for one phone screen.

    Parameters
    ----------
    plan : Plan
        The plan.
    units : UnitSystem
        Units shown.
    width : int
        Columns there are, for the picture of the nuts. [1]

    Returns
    -------
    tuple of TextLine
        One line a nut in the order of the hitch, and how to go about it.
    """
    lines = [
        heading(
            f"PLAN at the {hitch_text(plan.hitch.at)}: {plan.n_nuts} "
            f"{'nut' if plan.n_nuts == 1 else 'nuts'}, "
            f"{turns_text(plan.turns_in_all)} in all, {STRATEGY_WORDS[plan.strategy]}"
        ),
        *(picture(row) for row in nut_picture(plan, width)),
    ]
    for number, stage in enumerate(plan.stages, start=1):
        if len(plan.stages) > 1:
            lines.append(heading(f"Stage {number} of {len(plan.stages)}"))
        lines += _stage_lines(stage, plan.hitch, units)
        if number < len(plan.stages):
            lines.append(sentence("Then run three full round trips."))
    if plan.hitch.thread is not None:
        lines.append(sentence(rotation_text(plan.hitch.at, plan.hitch.thread)))
    lines.append(sentence(AT_EACH_NUT))
    lines.append(sentence(RUN_AND_MEASURE))
    if plan.drive is Drive.TRACTION:
        lines.append(sentence(STANDS_STILL))
    after = f"{_AFTERWARDS} {_TWO_ROPES}" if len(plan.turns) == 2 else _AFTERWARDS
    lines.append(sentence(f"{after} {runby_text(plan, units)}"))
    return tuple(lines)


def nut_text(turn: NutTurn, units: UnitSystem) -> str:
    """Write what is done at one nut.

    Parameters
    ----------
    turn : NutTurn
        Which way and how far.
    units : UnitSystem
        Units shown.

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


def nut_picture(plan: Plan, width: int = 80) -> tuple[str, ...]:
    """Draw the nuts in their rows as text.

    Parameters
    ----------
    plan : Plan
        The plan.
    width : int
        Columns there are. [1]

    Returns
    -------
    tuple of str
        Two lines a row: the rope number, and IN (towards the plate) or OUT (away).
    """
    turn_of = {turn.rope: turn for turn in plan.turns}
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


def _nut_mark(turn: NutTurn) -> str:
    """Two words for one nut."""
    if turn.direction is Direction.LEAVE:
        return "leave"
    word = "IN" if turn.direction is Direction.TAKE_UP else "OUT"
    return f"{word} {turns_text(turn.turns).rsplit(' ', 1)[0]}"


def runby_text(plan: Plan, units: UnitSystem) -> str:
    """Tell what the plan does to the height of the car and the runby.

    Parameters
    ----------
    plan : Plan
        The plan.
    units : UnitSystem
        Units shown.

    Returns
    -------
    str
        One or two sentences.
    """
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


def _stage_lines(stage: Stage, hitch: Hitch, units: UnitSystem) -> list[TextLine]:
    """One line a nut in the order of the hitch, then the order to go in."""
    turn_of = {step.turn.rope: step.turn for step in stage.steps}
    every = [n for row in hitch.rows for n in row]
    order = [n for n in every if n in turn_of]
    order += sorted(n for n in turn_of if n not in order)
    lines = [item(nut_text(turn_of[n], units)) for n in order]
    if len(stage.steps) > 1:
        names = ", ".join(str(step.turn.rope) for step in stage.steps)
        lines.append(sentence(f"In this order: {names}."))
    return lines


def detail_lines(plan: Plan, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what a plan is expected to bring and what it rests on.

    Parameters
    ----------
    plan : Plan
        The plan.
    units : UnitSystem
        Units shown.

    Returns
    -------
    tuple of TextLine
        Forecast, shares after every nut, origin of every number, notes.
    """
    forecast = plan.forecast
    lines = [
        heading("Expected"),
        sentence(
            f"Spread {percent_text(plan.spread_before)} now, "
            f"{percent_text(forecast.spread)} once the car has run, under "
            f"{percent_text(forecast.upper)} with 97.5 %. Chance that the set is then "
            f"equal by the rule ({plan.rule.name}, "
            f"{limit_text(plan.rule.limit)}): "
            f"{_chance_text(forecast.chance_equal)}."
        ),
        heading(
            "Shares in percent after each nut, as it stands / once the car has run"
        ),
    ]
    for number, stage in enumerate(plan.stages, start=1):
        if len(plan.stages) > 1:
            lines.append(sentence(f"Stage {number}:"))
        for step in stage.steps:
            now = " ".join(f"{100 * share:.0f}" for share in step.shares_now)
            run = " ".join(f"{100 * s:.0f}" for s in step.shares_after_running)
            lines.append(item(f"rope {step.turn.rope}: {now} / {run}"))
    lowest = min(stage.lowest_share for stage in plan.stages) if plan.stages else 1.0
    highest = max(stage.highest_share for stage in plan.stages) if plan.stages else 1.0
    lines.append(
        sentence(
            f"On the way no rope is expected under {100 * lowest:.0f} % or over "
            f"{100 * highest:.0f} % of its share."
        )
    )
    lines += origin_lines(plan.origins, units)
    if plan.notes:
        lines += [heading("To know"), *reason_lines(plan.notes)]
    return tuple(lines)


def _chance_text(chance: float) -> str:
    """A chance in words that do not promise."""
    if chance >= 0.99:
        return "over 99 %"
    if chance <= 0.01:
        return "under 1 %"
    return f"{100 * chance:.0f} %"


def origin_lines(origins: tuple[Origin, ...], units: UnitSystem) -> list[TextLine]:
    """Write where every number comes from.

    Parameters
    ----------
    origins : tuple of Origin
        The numbers.
    units : UnitSystem
        Units shown.

    Returns
    -------
    list of TextLine
        A heading and an item each.
    """
    return [
        heading("Rests on"),
        *(item(origin_text(origin, units)) for origin in origins),
    ]


def origin_text(origin: Origin, units: UnitSystem) -> str:
    """Write where one number comes from.

    Parameters
    ----------
    origin : Origin
        The number.
    units : UnitSystem
        Units shown.

    Returns
    -------
    str
        Name, value, how it is known, uncertainty if any.
    """
    if origin.dimension is None:
        value = f"{origin.value:g}"
    else:
        value = show_quantity(origin.value, origin.dimension, units, digits=3)
    width = origin.relative_uncertainty
    doubt = f", standard uncertainty {100 * width:.0f} %" if width >= 0.005 else ""
    return f"{origin.name} {value}: {origin.known_from.value} ({origin.source}){doubt}"


def _directions_lines(outcome: DirectionsOnly) -> tuple[TextLine, ...]:
    """Order and direction, and why no more."""
    lines = [
        heading(f"ORDER AND DIRECTION ONLY, at the {hitch_text(outcome.hitch.at)}"),
        *reason_lines(outcome.reasons),
        heading("In this order"),
    ]
    for row in outcome.rows:
        way = (
            "leave"
            if row.direction is Direction.LEAVE
            else f"nut {row.direction.value}"
        )
        lines.append(item(f"Rope {row.rope}: {way} ({percent_text(row.share)})"))
    if outcome.hitch.thread is not None:
        lines.append(sentence(rotation_text(outcome.hitch.at, outcome.hitch.thread)))
    lines.append(
        sentence(
            "A quarter turn at most, then run and measure: the first turns tell how "
            "much one turn does."
        )
    )
    lines.append(sentence(AT_EACH_NUT))
    lines.append(sentence(RUN_AND_MEASURE))
    return tuple(lines)


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
        *(item(shortfall_text(short, units)) for short in outcome.shortfalls),
        *origin_lines(outcome.origins, units),
    )


def shortfall_text(short: Shortfall, units: UnitSystem) -> str:
    """Write what is short, by how much, and what may be done.

    Parameters
    ----------
    short : Shortfall
        What is short.
    units : UnitSystem
        Units shown.

    Returns
    -------
    str
        One or two sentences.
    """
    if short.kind in {Shortage.THREAD_TOWARDS_PLATE, Shortage.THREAD_AWAY}:
        towards = short.kind is Shortage.THREAD_TOWARDS_PLATE
        way = "towards the plate" if towards else "away from the plate"
        other = "easing the others, or" if towards else "taking up the others, or"
        return (
            f"Rope {short.rope}: {small_length(short.needed, units)} of thread needed "
            f"{way}, {small_length(short.available, units)} left, "
            f"{small_length(short.short_by, units)} short. Try {other} the rope is to "
            "be shortened and socketed anew by those who may."
        )
    if short.kind is Shortage.SPRING_WAY:
        return (
            f"Rope {short.rope}: {force_text(short.needed, units)} wanted, its spring "
            f"goes solid at {force_text(short.available, units)}, "
            f"{force_text(short.short_by, units)} short. Have the springs checked."
        )
    if short.kind is Shortage.FINE_STEPS:
        return (
            "The smallest step a person can make is too coarse for this rope: "
            f"{percent_text(short.available)} at best, "
            f"{percent_text(short.short_by)} over the limit."
        )
    return (
        f"On the way a rope would carry {percent_text(short.available)} of its share, "
        f"{percent_text(short.short_by)} under the {percent_text(short.needed)} below "
        "which nothing is turned."
    )
