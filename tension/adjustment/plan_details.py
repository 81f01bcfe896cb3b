"""What a plan rests on, and what is said where there is none."""

from tension.adjustment.origins import Origin
from tension.adjustment.outcome import (
    Direction,
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    NoPlanKind,
    Plan,
    PlanOutcome,
    Shortage,
    Shortfall,
)
from tension.adjustment.plan_text import (
    AT_EACH_NUT,
    CLEAR,
    STRATEGY_WORDS,
    card_lines,
    n_pressing,
)
from tension.adjustment.text import (
    TextLine,
    caution,
    force_text,
    heading,
    hitch_text,
    item,
    percent_text,
    reason_lines,
    rotation_text,
    sentence,
    small_length,
)
from tension.assessment.words import limit_text
from tension.cautions import SHORT
from tension.quantity.units import UnitSystem, show_quantity

RUN_AND_MEASURE = (
    "Run three full round trips with stops, come back to the mark from the same "
    "direction, wait a minute, measure again; the answer then says how many are enough."
)

_NO_PLAN_WORDS = {
    NoPlanKind.LEAVE_IT: "LEAVE IT",
    NoPlanKind.RUN_FIRST: "RUN FIRST",
    NoPlanKind.LOOK_FIRST: "LOOK FIRST",
    NoPlanKind.MEASURE_FIRST: "MEASURE FIRST",
    NoPlanKind.BEAM: "NO PLAN",
    NoPlanKind.NO_RESULT: "NO RESULT",
}


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


def detail_lines(plan: Plan, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what a plan rests on."""
    lowest = min((stage.lowest_share for stage in plan.stages), default=1.0)
    highest = max((stage.highest_share for stage in plan.stages), default=1.0)
    lines = [
        *origin_lines(plan.origins, units),
        sentence(
            f"On the way no rope is expected under {100 * lowest:.0f} % or over "
            f"{100 * highest:.0f} % of its share."
        ),
    ]
    rest = plan.notes[n_pressing(plan) :]
    if rest:
        lines += [heading("To know"), *reason_lines(rest)]
    return tuple(lines)


def origin_lines(origins: tuple[Origin, ...], units: UnitSystem) -> list[TextLine]:
    """Write where every number comes from."""
    return [
        heading("Rests on"),
        *(item(origin_text(origin, units)) for origin in origins),
    ]


def origin_text(origin: Origin, units: UnitSystem) -> str:
    """Write where one number comes from.

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
    lines += [caution(text) for text in SHORT]
    lines.append(sentence(AT_EACH_NUT))
    lines.append(sentence(f"{CLEAR} {RUN_AND_MEASURE}"))
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
    """Write what is short, by how much, and what may be done."""
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
    return (
        "The smallest step a person can make is too coarse for this rope: "
        f"{percent_text(short.available)} at best, "
        f"{percent_text(short.short_by)} over the limit."
    )
