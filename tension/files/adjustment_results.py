"""Plans, comparisons and spring checks as JSON documents."""

from collections.abc import Sequence
from typing import Any

from tension.adjustment.comparison import Comparison
from tension.adjustment.origins import LearnedStiffness, Origin
from tension.adjustment.outcome import (
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    NutTurn,
    Plan,
    PlanOutcome,
    Stage,
    Strategy,
)
from tension.adjustment.spring_check import SpringCheck
from tension.adjustment.state import SetState
from tension.assessment.outcome import Assessment
from tension.files.evidence import FileEvidence
from tension.files.results import envelope, number, percent
from tension.notes import Note, Refusal
from tension.quantity.units import Dimension

Document = dict[str, Any]

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
}


def plan_document(
    assessment: Assessment,
    outcome: PlanOutcome,
    others: Sequence[tuple[Strategy, PlanOutcome]],
    learned: LearnedStiffness | None,
    inputs: Sequence[FileEvidence],
    state: SetState,
) -> Document:
    """Turn the answer to a request for a plan into its JSON document."""
    notes = outcome.notes if isinstance(outcome, (Plan, DirectionsOnly)) else ()
    document = envelope("adjust", inputs, notes)
    document |= {
        "series": assessment.measurement.series.name,
        "verdict": assessment.verdict.value,
        "outcome": _outcome_name(outcome),
        "run": {
            "state": state.state.value,
            "round_trips_run": state.round_trips if state.turned else None,
            "round_trips_wanted": max(state.wanted, state.wanted_since),
            "turned_since": list(state.turned_since),
        },
        "learned": None if learned is None else learned_document(learned),
        "strategies": [_strategy_document(s, each) for s, each in others],
    }
    if isinstance(outcome, Plan):
        document["plan"] = _plan(outcome)
    elif isinstance(outcome, DirectionsOnly):
        document["reasons"] = [_refusal(reason) for reason in outcome.reasons]
        document["directions"] = [
            {
                "rope": row.rope,
                "direction": row.direction.value,
                "share_percent": percent(row.share),
            }
            for row in outcome.rows
        ]
    elif isinstance(outcome, NoPlan):
        document["reasons"] = [_refusal(reason) for reason in outcome.reasons]
    else:
        document |= _infeasible(outcome)
    return document


def _outcome_name(outcome: PlanOutcome) -> str:
    """Which answer it is."""
    if isinstance(outcome, Plan):
        return "plan"
    if isinstance(outcome, DirectionsOnly):
        return "directions-only"
    if isinstance(outcome, NoPlan):
        return outcome.kind.value
    return "infeasible"


def _strategy_document(strategy: Strategy, outcome: PlanOutcome) -> Document:
    """One strategy in a line."""
    document: Document = {
        "strategy": strategy.value,
        "outcome": _outcome_name(outcome),
    }
    if isinstance(outcome, Plan):
        document |= {
            "nuts": outcome.n_nuts,
            "turns": number(outcome.turns_in_all),
            "stages": len(outcome.stages),
            "spread_percent": percent(outcome.forecast.spread),
            "upper_percent": percent(outcome.forecast.upper),
            "chance_equal": number(outcome.forecast.chance_equal),
        }
    return document


def _plan(plan: Plan) -> Document:
    """A plan as JSON."""
    return {
        "strategy": plan.strategy.value,
        "hitch": plan.hitch.at.value,
        "round_trips": plan.stages[-1].round_trips if plan.stages else 0,
        "rule": plan.rule.name,
        "goal_percent": percent(plan.goal),
        "part": number(plan.part),
        "steps_per_turn": plan.steps_per_turn,
        "nuts": [
            _turn(turn) | {"turns_before_steps": number(wanted)}
            for turn, wanted in zip(plan.turns, plan.wanted_turns, strict=True)
        ],
        "stages": [_stage(stage) for stage in plan.stages],
        "mean_tension_n": number(plan.mean_tension),
        "shares_before_percent": [percent(share) for share in plan.shares_before],
        "spread_before_percent": percent(plan.spread_before),
        "forecast": {
            "shares_percent": [percent(share) for share in plan.forecast.shares],
            "spread_percent": percent(plan.forecast.spread),
            "upper_percent": percent(plan.forecast.upper),
            "chance_equal": number(plan.forecast.chance_equal),
        },
        "runby_change_mm": number(1000.0 * plan.runby_change),
        "rests_on": [_origin(origin) for origin in plan.origins],
    }


def _turn(turn: NutTurn) -> Document:
    """What is done at one nut."""
    return {
        "rope": turn.rope,
        "direction": turn.direction.value,
        "turns": number(turn.turns),
        "travel_mm": number(1000.0 * turn.travel),
    }


def _stage(stage: Stage) -> Document:
    """Nuts in working order."""
    return {
        "lowest_share_percent": percent(stage.lowest_share),
        "highest_share_percent": percent(stage.highest_share),
        "round_trips": stage.round_trips,
        "steps": [
            _turn(step.turn)
            | {
                "shares_now_percent": [percent(s) for s in step.shares_now],
                "shares_after_running_percent": [
                    percent(s) for s in step.shares_after_running
                ],
            }
            for step in stage.steps
        ],
    }


def _origin(origin: Origin) -> Document:
    """One number with where it comes from."""
    return {
        "name": origin.name.replace("[[", "").replace("]]", ""),
        "value": number(origin.value),
        "unit": "1" if origin.dimension is None else _UNIT_OF[origin.dimension],
        "known_from": origin.known_from.value,
        "source": origin.source,
        "relative_standard_uncertainty": number(origin.relative_uncertainty),
    }


def _infeasible(outcome: InfeasiblePlan) -> Document:
    """What is short, by how much."""
    return {
        "best_spread_percent": percent(outcome.best_spread),
        "short": [
            {
                "kind": short.kind.value,
                "rope": short.rope,
                "needed": number(short.needed),
                "available": number(short.available),
                "short_by": number(short.short_by),
            }
            for short in outcome.shortfalls
        ],
        "rests_on": [_origin(origin) for origin in outcome.origins],
    }


def _refusal(refusal: Refusal | Note) -> Document:
    """A reason with what to do about it."""
    return {
        "code": refusal.code,
        "text": refusal.text,
        "next_act": refusal.next_act,
    }


def learned_document(learned: LearnedStiffness) -> Document:
    """Turn what turns have shown into JSON.

    Returns
    -------
    dict
        Stiffness of the set and of each rope with uncertainties.
    """
    return {
        "hitch": learned.hitch.value,
        "set_stiffness_n_per_m": number(learned.set_stiffness),
        "set_relative_standard_uncertainty": number(learned.set_uncertainty),
        "rope_stiffnesses_n_per_m": [number(k) for k in learned.stiffnesses],
        "rope_relative_standard_uncertainty": number(learned.own_uncertainty),
        "source": learned.source,
    }


def comparison_document(
    outcome: Comparison | Refusal, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn a comparison into its JSON document."""
    if isinstance(outcome, Refusal):
        document = envelope("compare", inputs, ())
        document["refused"] = _refusal(outcome)
        return document
    document = envelope("compare", inputs, outcome.notes)
    exchanged = outcome.exchanged
    document |= {
        "refused": None,
        "as_found": _series(outcome.as_found),
        "as_left": _series(outcome.as_left),
        "round_trips": outcome.round_trips,
        "ropes": [
            {
                "number": change.number,
                "share_before_percent": percent(change.share_before),
                "share_after_percent": percent(change.share_after),
                "turns": number(change.turns),
                "predicted_points": percent(change.predicted),
                "achieved_points": percent(change.achieved),
                "achieved_standard_uncertainty_points": percent(
                    change.achieved_uncertainty
                ),
                "ratio": number(change.ratio),
            }
            for change in outcome.changes
        ],
        "answer": outcome.answer.kind.value,
        "learned": (
            None if outcome.learned is None else learned_document(outcome.learned)
        ),
        "exchanged": None
        if exchanged is None
        else {
            "of": "turns" if exchanged.is_of_turns else "readings as left",
            "ropes": [place + 1 for place in exchanged.places],
        },
    }
    return document


def _series(assessment: Assessment) -> Document:
    """One series in short."""
    return {
        "series": assessment.measurement.series.name,
        "verdict": assessment.verdict.value,
        "spread_percent": percent(assessment.spread.observed),
        "lower_percent": percent(assessment.spread.lower),
        "upper_percent": percent(assessment.spread.upper),
    }


def springs_document(
    outcome: SpringCheck | Refusal, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn a check of springs into its JSON document."""
    if isinstance(outcome, Refusal):
        document = envelope("springs", inputs, ())
        document["refused"] = _refusal(outcome)
        return document
    document = envelope("springs", inputs, outcome.notes)
    known = (outcome.rate, outcome.free_length, outcome.solid_length)
    document |= {
        "refused": None,
        "hitch": outcome.hitch.at.value,
        "springs": [
            {
                "rope": spring.rope,
                "length_mm": number(1000.0 * spring.length),
                "load_by_length_n": number(spring.by_length),
                "load_by_length_standard_uncertainty_n": number(
                    spring.by_length_uncertainty
                ),
                "load_by_reading_n": number(spring.by_reading),
                "load_by_reading_standard_uncertainty_n": number(
                    spring.by_reading_uncertainty
                ),
                "margin_percent": percent(spring.margin),
                "stands_out": spring.stands_out,
            }
            for spring in outcome.springs
        ],
        "slope_n_per_m": None if outcome.slope is None else number(outcome.slope.rate),
        "slope_standard_uncertainty_n_per_m": (
            None if outcome.slope is None else number(outcome.slope.uncertainty)
        ),
        "rated_tension_n": number(outcome.rated_tension),
        "preload_n": None if outcome.preload is None else number(outcome.preload.value),
        "is_contradicted": outcome.is_contradicted,
        "rests_on": [_origin(origin) for origin in known if origin is not None],
    }
    return document
