"""What each command answers, as a document; CSV of the ropes."""

import csv
import io
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, Any

from tension.adjustment.outcome import (
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    Plan,
    PlanOutcome,
)
from tension.assessment.outcome import Assessment, RopeShare
from tension.diagnosis.conditions import MANY_TRIPS, Condition
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
    to_json,
)
from tension.files.evidence import CLAIM, FileEvidence
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.notes import Note, Refusal
from tension.quantity.units import Dimension
from tension.sound.hearing import RopeHearing, SetHearing
from tension.sound.recording import Recording
from tension.telling.results import reason_text

if TYPE_CHECKING:  # a command that needs none of them starts the sooner
    from tension.adjustment.comparison import Comparison
    from tension.adjustment.springs import SpringCheck
    from tension.capture.blocks import MicrophoneCheck
    from tension.capture.microphone import Device
    from tension.condition.acceptance import Acceptance, Figure
    from tension.files.seal import Correction, Seal
    from tension.files.verification import Verification
    from tension.files.visit import Trim
    from tension.history import History


@dataclass(frozen=True, kw_only=True, slots=True)
class _Rope:
    """A rope as measured, its share, and its share again if uncertainties are known."""

    measured: RopeMeasurement
    share: RopeShare
    known: RopeShare | None


def _ropes(assessment: Assessment) -> Iterator[_Rope]:
    """Ropes with their shares; no uncertainty while their lengths are not known."""
    measurement = assessment.measurement
    is_known = measurement.lengths is not LengthKnowledge.UNKNOWN
    for measured, share in zip(measurement.ropes, assessment.shares, strict=True):
        yield _Rope(measured=measured, share=share, known=share if is_known else None)


_ROPE = described("assess.ropes")
ASSESSMENT = described(
    "assess",
    {
        "assess.reason": reason_text,
        "assess.next_act": lambda found: (
            found.reason_note.next_act if found.reason_note else ""
        ),
        "assess.ropes": _ropes,
    },
)


def assessment_document(
    command: str, assessment: Assessment, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn an assessment into its document."""
    return envelope(command, inputs, assessment.notes) | ASSESSMENT.of(assessment)


def assessment_csv(assessment: Assessment) -> str:
    """Turn the ropes of an assessment into CSV, one row a rope; units in the header."""
    numbers = [key.name for key in _ROPE[1:7]]
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(["series", "rope", *numbers, "methods", "refused", "verdict"])
    for rope in map(_ROPE.of, _ropes(assessment)):
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


Heard = tuple[Recording, SetHearing]


def _uncertainty(rope: RopeHearing) -> float | None:
    """Standard uncertainty of the fundamental, if there is one. [Hz]."""
    frequency = rope.fundamental_frequency
    return frequency * rope.relative_uncertainty if math.isfinite(frequency) else None


def _duration(heard: Heard) -> float:
    """How long a recording is. [s]."""
    rate = heard[0].sampling_rate
    return len(heard[0].samples) / rate if rate else 0.0


PLUCK = described(
    "pluck",
    {
        "pluck.recordings.duration_s": _duration,
        "pluck.recordings.notes": lambda heard: (*heard[0].notes, *heard[1].notes),
        "pluck.recordings.plucks": lambda heard: [
            pluck for rope in heard[1].ropes for pluck in rope.plucks
        ],
        "pluck.recordings.hum": lambda heard: dict.fromkeys(
            hum for rope in heard[1].ropes for hum in rope.hum
        ),
        "pluck.recordings.ropes.fundamental_standard_uncertainty_hz": _uncertainty,
    },
)


def hearing_document(
    inputs: Sequence[FileEvidence], heard: Sequence[Heard]
) -> Document:
    """Turn what was heard in sound files into its document."""
    return envelope("pluck", inputs) | PLUCK.of(heard)


DEVICES = described(
    "devices", {"devices.check.losses.kind": lambda loss: loss.kind.name.lower()}
)
"""``check`` is null where none was opened."""


def devices_document(
    devices: "Sequence[Device]", chosen: "Device", check: "MicrophoneCheck | None"
) -> Document:
    """Turn the microphones, and what one of them gave, into their document."""
    return envelope("devices") | DEVICES.of((devices, chosen, check))


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


def _label(figure: "Figure") -> str:
    """What a figure of the acceptance is called."""
    from tension.telling.acceptance import figure_label

    return figure_label(figure)


_CORRECTED: Mapping[str, Taker] = {
    "correction.files": lambda correction: [file.path for file in correction.files],
}

ACCEPTANCE = described(
    "acceptance",
    {
        "acceptance.could_not_see": lambda form: [
            r.item.name for r in form.unseen_items
        ],
        "acceptance.not_answered": lambda form: [r.item.name for r in form.open_items],
        "acceptance.defects.answer": lambda defect: "no" if defect.check else None,
        "acceptance.items.rule": lambda result: (
            result.rules[0].name if len(result.rules) == 1 else None
        ),
        "acceptance.items.rules": lambda result: [rule.name for rule in result.rules],
        "figure.label": _label,
        "figure.value": lambda figure: float(figure.value),
        "figure.unit": lambda f: (
            f.kind.dimension.value if f.kind.dimension else f.kind.unit
        ),
        "figure.least": lambda f: None if f.least is None else float(f.least),
        "figure.most": lambda f: None if f.most is None else float(f.most),
        "figure.rule": lambda figure: figure.rule or None,
    },
)
SEAL = described("seal", {"seal.claim": lambda _: CLAIM})
CORRECTION = described("seal --correct", _CORRECTED)
VERIFY = described("verify", {**_CORRECTED, "verify.claim": lambda _: CLAIM})
TRIM = described("trim")


def acceptance_document(
    acceptance: "Acceptance", inputs: Sequence[FileEvidence]
) -> Document:
    """Turn an acceptance form into its document."""
    return envelope("acceptance", inputs) | ACCEPTANCE.of(acceptance)


def seal_document(seal: "Seal") -> Document:
    """Turn a seal into its document."""
    return envelope("seal", seal.files) | SEAL.of(seal)


def correction_document(correction: "Correction") -> Document:
    """Turn a correction into its document."""
    return envelope("seal", correction.files) | CORRECTION.of(correction)


def verify_document(verification: "Verification") -> Document:
    """Turn a verification into its document."""
    seal = verification.seal
    inputs = seal.files if seal else ()
    return envelope("verify", inputs) | VERIFY.of(verification)


def trim_document(
    trims: "Sequence[Trim]", whole: Sequence[tuple[str, str]], claim: str
) -> Document:
    """Turn what was trimmed into its document."""
    inputs = [
        FileEvidence(path=t.recording, n_bytes=t.n_bytes, sha256=t.sha256)
        for t in trims
    ]
    return envelope("trim", inputs) | TRIM.of((trims, whole, claim))


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


def _round_trips(told: tuple[Condition, float, float]) -> int | None:
    """Since nuts were turned; None for many."""
    trips = told[0].round_trips
    return None if trips >= MANY_TRIPS else trips


CAUSES = described(
    "causes",
    {
        "causes.series": _series,
        "causes.series.round_trips": _round_trips,
        "causes.hypotheses.causes": lambda suspect: list(suspect.causes),
        "causes.telltales.unit": lambda told: _UNIT_OF_TELLTALE.get(told.cause, "N"),
    },
)
HISTORY = described("history")
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


def history_document(history: "History", inputs: Sequence[FileEvidence]) -> Document:
    """Turn the history of a lift into its document."""
    return envelope("history", inputs, history.notes) | HISTORY.of(history)


@dataclass(frozen=True, kw_only=True, slots=True)
class FleetHead:
    """What the list of a fleet says before its lines: keys of the document."""

    top: str
    day: date
    order: StrEnum
    counts: Mapping[str, int]


def fleet_pieces(head: FleetHead, lifts: Iterable[str]) -> Iterator[str]:
    """Write the list of a fleet piece by piece; each lift comes as JSON on a line."""
    text = to_json(envelope("fleet") | FLEET.of(head))
    yield text.removesuffix("\n}\n") + ',\n  "lifts": ['
    between = "\n    "
    for line in lifts:
        yield between + line.rstrip("\n")
        between = ",\n    "
    yield "\n  ]\n}\n"
