"""Plans, comparisons and spring checks as documents."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from tension.adjustment.comparison import Comparison
from tension.adjustment.outcome import (
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    NutTurn,
    Plan,
    PlanOutcome,
    Strategy,
)
from tension.adjustment.running import SetState
from tension.adjustment.springs import SpringCheck
from tension.adjustment.stiffness import LearnedStiffness, Origin
from tension.assessment.outcome import Assessment
from tension.documents.envelope import REASON, envelope
from tension.documents.shape import Document, Shape, shape
from tension.files.evidence import FileEvidence
from tension.notes import Refusal
from tension.quantity.units import Dimension

_UNIT_OF = {
    Dimension.LENGTH: "m",
    Dimension.FORCE: "N",
    Dimension.MASS: "kg",
    Dimension.LINEAR_DENSITY: "kg/m",
    Dimension.STIFFNESS: "N/m",
    Dimension.FREQUENCY: "Hz",
    Dimension.TIME: "s",
    Dimension.FRACTION: "1",
    Dimension.TURNS: "turns",
    None: "1",
}


def _outcome_name(outcome: PlanOutcome) -> str:
    """Which answer it is."""
    if isinstance(outcome, NoPlan):
        return outcome.kind.value
    names = {Plan: "plan", DirectionsOnly: "directions-only"}
    return names.get(type(outcome), "infeasible")


def _origin_name(origin: Origin) -> str:
    """Its name without the marks of words that differ between Europe and America."""
    return origin.name.replace("[[", "").replace("]]", "")


_ORIGIN = shape(
    """
    name       | | of a number that the answer rests on
    value      | | in SI
    unit       | | its unit
    known_from | | measured, typed, learned, table or assumed
    source     | | where it comes from
    relative_standard_uncertainty | relative_uncertainty | standard uncertainty over
                                                           value
    """,
    name=_origin_name,
    unit=lambda origin: _UNIT_OF[origin.dimension],
)

_LEARNED = shape(
    """
    hitch | | at which hitch
    set_stiffness_n_per_m | set_stiffness | newtons for a metre at one nut, of the set
    set_relative_standard_uncertainty | set_uncertainty | its standard uncertainty
    rope_stiffnesses_n_per_m | stiffnesses | of each rope
    rope_relative_standard_uncertainty | own_uncertainty | their standard uncertainty
    source | | from which turns
    """
)


class _Nut(NamedTuple):
    """A nut as it is to be turned, and as it was wanted before whole steps. [turns]."""

    turn: NutTurn
    wanted: float


_NUT = shape(
    """
    rope      | turn.rope | rope number
    direction | turn.direction | towards the plate, away from the plate, or leave
    turns     | turn.turns x1 | how many
    travel_mm | turn.travel x1000 | of the nut along the rod
    turns_before_steps | wanted x1 | what was wanted, before whole steps
    """
)

_STEP = shape(
    """
    shares_now_percent | shares_now x100 | of all ropes once this nut is turned
    shares_after_running_percent | shares_after_running x100 | the same once the car has
                                                               run
    """
)

_STAGE = shape(
    """
    lowest_share_percent  | lowest_share x100  | predicted extremes on the way
    highest_share_percent | highest_share x100 | as above
    round_trips           | | to be run after it
    steps[]               | |
    """,
    steps=Shape((*_NUT[:4], *_STEP)),
)

_FORECAST = shape(
    """
    shares_percent | shares x100 | expected
    spread_percent | spread x100 | expected, by the metric of the rule
    upper_percent  | upper x100  | the true spread lies under it with 97.5 %
    chance_equal   | | that the true spread is then at or under the limit
    """
)

_PLAN = shape(
    """
    strategy       | | keep-height, take-up-only, ease-only or fewest-nuts
    hitch          | hitch.at | at which hitch
    round_trips    | | to be run after the last stage
    rule           | rule.name | what decides
    goal_percent   | goal x100 | what is aimed at
    part           | part x1 | of the full correction; 1 where the stiffness is known
    steps_per_turn | | 4 with springs, 8 without
    nuts[]         | |
    stages[]       | |
    mean_tension_n | mean_tension x1 | of the ropes
    shares_before_percent | shares_before x100 | as measured
    spread_before_percent | spread_before x100 | as measured
    forecast       | |
    runby_change_mm | runby_change x1000 | of the car or counterweight; positive: more
                                           runby of the counterweight
    rests_on[]     | origins |
    """,
    round_trips=lambda plan: plan.stages[-1].round_trips if plan.stages else 0,
    nuts=(_NUT, lambda plan: map(_Nut, plan.turns, plan.wanted_turns)),
    stages=_STAGE,
    forecast=_FORECAST,
    rests_on=_ORIGIN,
)

_DIRECTIONS = shape(
    """
    reasons[]    | |
    directions[] | rows |
    """,
    reasons=REASON,
    directions=shape(
        """
        rope          | | rope number
        direction     | | which way its nut goes
        share_percent | share x100 | of the rope
        """
    ),
)

_INFEASIBLE = shape(
    """
    best_spread_percent | best_spread x100 | the least that can be had
    short[]    | shortfalls |
    rests_on[] | origins |
    """,
    short=shape(
        """
        kind      | | thread-towards-plate, thread-away-from-plate, spring-way or
                      fine-steps
        rope      | | rope number; null for the set
        needed    | needed x1 | thread in metres, spring load in newtons, else a share
        available | available x1 | likewise
        short_by  | short_by x1 | likewise
        """
    ),
    rests_on=_ORIGIN,
)

_STRATEGY = shape(
    """
    strategy       | | as in `plan`
    outcome        | | as above; the other keys stand only beside a plan
    nuts           | plan.n_nuts | nuts that are turned
    turns          | plan.turns_in_all x1 | of all of them together
    stages         | | how many
    spread_percent | plan.forecast.spread x100 | expected
    upper_percent  | plan.forecast.upper x100 | as in `forecast`
    chance_equal   | plan.forecast.chance_equal x1 | as in `forecast`
    """,
    outcome=lambda told: _outcome_name(told.plan),
    stages=lambda told: len(told.plan.stages),
)

_RUN = shape(
    """
    state              | | at-rest, not-recorded, not-run or too-few
    round_trips_run    | | since a nut was turned; null if none was
    round_trips_wanted | | still to be run
    turned_since       | | ropes whose nuts were turned after the series
    """,
    round_trips_run=lambda state: state.round_trips if state.turned else None,
    round_trips_wanted=lambda state: max(state.wanted, state.wanted_since),
)

ADJUST = shape(
    """
    series       | assessment.measurement.series.name | name of the series
    verdict      | assessment.verdict | as in assess
    outcome      | | plan, directions-only, leave-it, run-first, look-first,
                     measure-first, beam, no-result or infeasible; below what only some
                     of these have
    run          | state |
    learned      | |
    strategies[] | |
    """,
    outcome=lambda told: _outcome_name(told.outcome),
    run=_RUN,
    learned=_LEARNED,
    strategies=_STRATEGY,
)

ANSWERS = {
    Plan: shape("plan | |", plan=(_PLAN, lambda plan: plan)),
    DirectionsOnly: _DIRECTIONS,
    InfeasiblePlan: _INFEASIBLE,
    NoPlan: Shape(_DIRECTIONS[:1]),
}
"""What each kind of answer has besides."""


class _Strategy(NamedTuple):
    """A strategy and what it came to."""

    strategy: Strategy
    plan: PlanOutcome


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanAnswer:
    """The answer to a request for a plan.

    Attributes
    ----------
    assessment : Assessment
        The series as measured.
    outcome : PlanOutcome
        What was asked for.
    others : sequence of (Strategy, PlanOutcome)
        The same by every strategy.
    learned : LearnedStiffness or None
        What earlier turns have shown.
    state : SetState
        Whether the set had come to rest.
    """

    assessment: Assessment
    outcome: PlanOutcome
    others: Sequence[tuple[Strategy, PlanOutcome]]
    learned: LearnedStiffness | None
    state: SetState

    @property
    def strategies(self) -> list[Document]:
        """Every strategy in a line; its numbers only where it gives a plan."""
        return [
            (_STRATEGY if isinstance(outcome, Plan) else Shape(_STRATEGY[:2])).of(
                _Strategy(strategy, outcome)
            )
            for strategy, outcome in self.others
        ]


def plan_document(answer: PlanAnswer, inputs: Sequence[FileEvidence]) -> Document:
    """Turn the answer to a request for a plan into its document."""
    outcome = answer.outcome
    notes = outcome.notes if isinstance(outcome, Plan) else ()
    return (
        envelope("adjust", inputs, notes)
        | ADJUST.of(answer)
        | ANSWERS[type(outcome)].of(outcome)
    )


_SERIES = shape(
    """
    series         | measurement.series.name | name of the series
    verdict        | | as in assess
    spread_percent | spread.observed x100 | as in assess
    lower_percent  | spread.lower x100 | as in assess
    upper_percent  | spread.upper x100 | as in assess
    """
)

_CHANGE = shape(
    """
    number | | rope number
    share_before_percent | share_before x100 | in the series as found
    share_after_percent  | share_after x100 | in the series as left
    turns            | turns x1 | of its nut; positive: towards the plate
    predicted_points | predicted x100 | change that the turns should have brought
    achieved_points  | achieved x100 | change that came
    achieved_standard_uncertainty_points | achieved_uncertainty x100 | of that change
    ratio            | ratio x1 | of what came to what should have
    """
)

_EXCHANGED = shape(
    """
    of    | | turns, or readings as left
    ropes | | rope numbers
    """,
    of=lambda found: "turns" if found.is_of_turns else "readings as left",
    ropes=lambda found: [place + 1 for place in found.places],
)

COMPARE = shape(
    """
    refused     | | null; else why there is no comparison: `code`, `text`, `next_act`,
                    and no other key
    as_found    | |
    as_left     | | the same of the other series
    round_trips | | run between them
    ropes[]     | changes |
    answer      | answer.kind | no-turns, not-recorded, not-run, too-few-trips,
                    not-known, too-small, signs-reversed, exchanged,
                    like-standing, far-more, far-less, learned or learned-against-record
    learned     | | as in adjust
    exchanged   | |
    """,
    refused=(REASON, lambda _: None),
    as_found=_SERIES,
    as_left=_SERIES,
    ropes=_CHANGE,
    learned=_LEARNED,
    exchanged=_EXCHANGED,
)

SPRINGS = shape(
    """
    refused   | | as in compare
    hitch     | hitch.at | at which hitch
    springs[] | |
    slope_n_per_m | slope.rate x1 | rate that all springs together show
    slope_standard_uncertainty_n_per_m | slope.uncertainty x1 | its standard uncertainty
    rated_tension_n | rated_tension x1 | of one rope at 125 % of rated load
    preload_n | preload.value x1 | load under which a spring begins to give way
    is_contradicted | | whether lengths and readings contradict each other
    rests_on[] | |
    """,
    refused=(REASON, lambda _: None),
    springs=shape(
        """
        rope | | rope number
        length_mm | length x1000 | working length
        load_by_length_n | by_length x1 | by rate and compression
        load_by_length_standard_uncertainty_n | by_length_uncertainty x1 | of that load
        load_by_reading_n | by_reading x1 | tension as measured otherwise
        load_by_reading_standard_uncertainty_n | by_reading_uncertainty x1 | of it
        margin_percent | margin x100 | of the way left to solid at 125 % of rated load
        stands_out | | whether it says something else than the other springs
        """
    ),
    rests_on=(
        _ORIGIN,
        lambda check: filter(None, (check.rate, check.free_length, check.solid_length)),
    ),
)


def comparison_document(
    outcome: Comparison | Refusal, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn a comparison into its document."""
    return _answer_or_reason("compare", COMPARE, outcome, inputs)


def springs_document(
    outcome: SpringCheck | Refusal, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn a check of springs into its document."""
    return _answer_or_reason("springs", SPRINGS, outcome, inputs)


def _answer_or_reason(
    command: str,
    shape_of_answer: Shape,
    outcome: Comparison | SpringCheck | Refusal,
    inputs: Sequence[FileEvidence],
) -> Document:
    """The answer; or the reason why there is none, alone."""
    if isinstance(outcome, Refusal):
        return envelope(command, inputs) | {"refused": REASON.of(outcome)}
    return envelope(command, inputs, outcome.notes) | shape_of_answer.of(outcome)
