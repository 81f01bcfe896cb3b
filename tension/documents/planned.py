"""Plans, comparisons and spring checks as documents."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tension.adjustment.comparison import Comparison
from tension.adjustment.outcome import (
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    Plan,
    PlanOutcome,
    Strategy,
)
from tension.adjustment.running import SetState
from tension.adjustment.springs import SpringCheck
from tension.adjustment.stiffness import LearnedStiffness, Origin
from tension.assessment.outcome import Assessment
from tension.documents.shape import (
    REASON,
    Document,
    Shape,
    Taker,
    described,
    envelope,
)
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


_RESTS_ON: Mapping[str, Taker] = {
    "origin.name": _origin_name,
    "origin.unit": lambda origin: _UNIT_OF[origin.dimension],
}

_STRATEGY = described(
    "adjust.strategies",
    {
        "adjust.strategies.outcome": lambda told: _outcome_name(told[1]),
        "adjust.strategies.stages": lambda told: len(told[1].stages),
    },
)

ADJUST = described(
    "adjust",
    {
        "adjust.outcome": lambda told: _outcome_name(told.outcome),
        "adjust.run.round_trips_run": lambda state: (
            state.round_trips if state.turned else None
        ),
        "adjust.run.round_trips_wanted": lambda state: max(
            state.wanted, state.wanted_since
        ),
    },
)

ANSWERS = {
    Plan: described(
        "adjust, plan",
        {
            **_RESTS_ON,
            "adjust.plan.round_trips": lambda plan: (
                plan.stages[-1].round_trips if plan.stages else 0
            ),
            "adjust.plan.nuts": lambda plan: zip(
                plan.turns, plan.wanted_turns, strict=True
            ),
        },
    ),
    DirectionsOnly: described("adjust, directions only"),
    InfeasiblePlan: described("adjust, infeasible", _RESTS_ON),
    NoPlan: described("adjust, reasons"),
}
"""What each kind of answer has besides."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanAnswer:
    """The answer to a request for a plan."""

    assessment: Assessment  # the series as measured
    outcome: PlanOutcome  # what was asked for
    others: Sequence[tuple[Strategy, PlanOutcome]]  # the same by every strategy
    learned: LearnedStiffness | None  # what earlier turns have shown
    state: SetState  # whether the set had come to rest

    @property
    def strategies(self) -> list[Document]:
        """Every strategy in a line; its numbers only where it gives a plan."""
        return [
            (_STRATEGY if isinstance(outcome, Plan) else Shape(_STRATEGY[:2])).of(
                (strategy, outcome)
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


COMPARE = described(
    "compare",
    {
        "compare.refused": lambda _: None,
        "compare.exchanged.of": lambda found: (
            "turns" if found.is_of_turns else "readings as left"
        ),
        "compare.exchanged.ropes": lambda found: [place + 1 for place in found.places],
    },
)

SPRINGS = described(
    "springs",
    {
        **_RESTS_ON,
        "springs.refused": lambda _: None,
        "springs.rests_on": lambda check: filter(
            None, (check.rate, check.free_length, check.solid_length)
        ),
    },
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
