"""What each command answers, as a document; CSV of the ropes."""

import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from tension.adjustment.outcome import (
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    Plan,
    PlanOutcome,
)
from tension.assessment.decide import Assessment
from tension.diagnosis.conditions import Condition
from tension.diagnosis.outcome import Cause, Diagnosis
from tension.documents.shape import (
    REASON,
    SCHEMA_VERSION,
    Document,
    Shape,
    Taker,
    csv_text,
    described,
    envelope,
)
from tension.files.evidence import CLAIM, FileEvidence
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import Note, Refusal
from tension.quantity.units import Dimension
from tension.sound.hearing import RopeHearing
from tension.telling.acceptance import figure_label
from tension.telling.results import reason_text

if TYPE_CHECKING:  # a command that needs none of them starts the sooner
    from tension.adjustment.comparison import Comparison
    from tension.adjustment.springs import SpringCheck


def _ropes(found: Assessment) -> Iterator[tuple[object, ...]]:
    """Ropes with their shares, and again if their uncertainties are known.

    None is while their lengths are not known.
    """
    is_known = found.measurement.lengths is not LengthKnowledge.UNKNOWN
    known = found.shares if is_known else (None,) * len(found.shares)
    return zip(found.measurement.ropes, found.shares, known, strict=True)


def _uncertainty(rope: RopeHearing) -> float | None:
    """Standard uncertainty of the fundamental, if there is one. [Hz]."""
    frequency = rope.fundamental_frequency
    return frequency * rope.relative_uncertainty if math.isfinite(frequency) else None


_TAKEN: Mapping[str, Taker] = {
    "assess.reason": reason_text,
    "assess.next_act": lambda found: (
        found.reason_note.next_act if found.reason_note else ""
    ),
    "assess.ropes": _ropes,
    "pluck.recordings.duration_s": lambda heard: (
        len(heard[0].samples) / (heard[0].sampling_rate or math.inf)
    ),
    "pluck.recordings.notes": lambda heard: (*heard[0].notes, *heard[1].notes),
    "pluck.recordings.plucks": lambda heard: [
        pluck for rope in heard[1].ropes for pluck in rope.plucks
    ],
    "pluck.recordings.hum": lambda heard: dict.fromkeys(
        hum for rope in heard[1].ropes for hum in rope.hum
    ),
    "pluck.recordings.ropes.fundamental_standard_uncertainty_hz": _uncertainty,
    "devices.check.losses.kind": lambda loss: loss.kind.name.lower(),
    "acceptance.could_not_see": lambda form: [r.item.name for r in form.unseen_items],
    "acceptance.not_answered": lambda form: [r.item.name for r in form.open_items],
    "acceptance.defects.answer": lambda defect: "no" if defect.check else None,
    "acceptance.items.rule": lambda result: (
        result.rules[0].name if len(result.rules) == 1 else None
    ),
    "acceptance.items.rules": lambda result: [rule.name for rule in result.rules],
    "figure.label": figure_label,
    "figure.value": lambda figure: float(figure.value),
    "figure.unit": lambda f: (
        f.kind.dimension.value if f.kind.dimension else f.kind.unit
    ),
    "figure.least": lambda f: None if f.least is None else float(f.least),
    "figure.most": lambda f: None if f.most is None else float(f.most),
    "figure.rule": lambda figure: figure.rule or None,
    "correction.files": lambda correction: [file.path for file in correction.files],
    "seal.claim": lambda _: CLAIM,
    "verify.claim": lambda _: CLAIM,
}
SHAPES = {
    name: described(name, _TAKEN)
    for name in (
        *("assess", "pluck", "devices", "acceptance"),
        *("seal", "seal --correct", "verify", "trim", "history"),
    )
}
"""What a command answers besides the envelope."""


def document(
    command: str,
    found: object,
    inputs: Sequence[FileEvidence] = (),
    notes: Sequence[Note] = (),
    *,
    of: str = "",
) -> Document:
    """Turn what a command found into its document; of another one if it is told."""
    return envelope(command, inputs, notes) | SHAPES[of or command].of(found)


def assessment_csv(assessment: Assessment) -> str:
    """Turn the ropes of an assessment into CSV, one row a rope; units in the header."""
    shape = described("assess.ropes")
    numbers = [key.name for key in shape[1:7]]
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(["series", "rope", *numbers, "methods", "refused", "verdict"])
    for rope in map(shape.of, _ropes(assessment)):
        writer.writerow(
            [
                csv_text(assessment.measurement.series.name),
                rope["number"],
                *("" if rope[name] is None else repr(rope[name]) for name in numbers),
                " ".join(rope["methods"]),
                rope["refused"] or "",
                assessment.verdict.value,
            ]
        )
    return written.getvalue()


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


_RESTS_ON: Mapping[str, Taker] = {
    # without the marks of words that differ between Europe and America
    "origin.name": lambda origin: origin.name.replace("[[", "").replace("]]", ""),
    "origin.unit": lambda origin: _UNIT_OF[origin.dimension],
}

_STRATEGY = described(
    "adjust.strategies",
    {"adjust.strategies.stages": lambda told: len(told[1].stages)},
)


def _strategies(told: Any) -> list[Document]:  # noqa: ANN401 - what has strategies
    """Every strategy in a line; its numbers only where it gives a plan."""
    return [
        (_STRATEGY if isinstance(each[1], Plan) else Shape(_STRATEGY[:2])).of(each)
        for each in told.strategies
    ]


ADJUST = described(
    "adjust",
    {
        "adjust.strategies": _strategies,
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


def plan_document(
    planned: object, outcome: PlanOutcome, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn the answer to a request for a plan into its document.

    What was planned holds the series, the outcome and that of every strategy.
    """
    notes = outcome.notes if isinstance(outcome, Plan) else ()
    return (
        envelope("adjust", inputs, notes)
        | ADJUST.of(planned)
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
    },
)


def _answer_or_reason(
    command: str,
    shape_of_answer: Shape,
    outcome: "Comparison | SpringCheck | Refusal",
    inputs: Sequence[FileEvidence],
) -> Document:
    """The answer; or the reason why there is none, alone."""
    if isinstance(outcome, Refusal):
        return envelope(command, inputs) | {"refused": REASON.of(outcome)}
    return envelope(command, inputs, outcome.notes) | shape_of_answer.of(outcome)


comparison_document = partial(_answer_or_reason, "compare", COMPARE)
springs_document = partial(_answer_or_reason, "springs", SPRINGS)


_UNIT_OF_TELLTALE = {
    Cause.STIFFNESS: "1",
    Cause.BOUND_SPRING: "1",
    Cause.MASS: "1",
    Cause.STAGGER: "m",
}


def _series(outcome: Diagnosis) -> Iterator[tuple[Condition, float, float]]:
    """Every series of a pattern: condition, deviations of its ropes and their own."""
    pattern = outcome.pattern
    rows = (pattern.deviations.tolist(), pattern.uncertainties.tolist())
    return zip(pattern.conditions, *rows, strict=True)


CAUSES = described(
    "causes",
    {
        "causes.series": _series,
        "causes.hypotheses.causes": lambda suspect: list(suspect.causes),
        "causes.telltales.unit": lambda told: _UNIT_OF_TELLTALE.get(told.cause, "N"),
    },
)
LIFT = described(
    "fleet.lifts", {"fleet.lifts.schema_version": lambda _: SCHEMA_VERSION}
)
FLEET = described("fleet")
"""All but the lines, which may be too many to hold."""


def causes_document(
    outcome: Diagnosis | Refusal, notes: Sequence[Note], inputs: Sequence[FileEvidence]
) -> Document:
    """Turn what a pattern suggests into its document."""
    document = envelope("causes", inputs, notes)
    if isinstance(outcome, Refusal):
        return document | {"conclusion": "no-result", "refusal": REASON.of(outcome)}
    return document | CAUSES.of(outcome)
