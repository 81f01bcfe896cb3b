"""What was heard, found, planned and compared, as documents; CSV of the ropes."""

import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

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
from tension.adjustment.stiffness import LearnedStiffness
from tension.assessment.outcome import Assessment, RopeShare
from tension.documents.shape import (
    REASON,
    Document,
    Shape,
    Taker,
    described,
    envelope,
)
from tension.files.evidence import FileEvidence
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.notes import Refusal
from tension.quantity.units import Dimension
from tension.sound.hearing import RopeHearing, SetHearing
from tension.sound.recording import Recording
from tension.telling.results import reason_text

if TYPE_CHECKING:
    from tension.capture.blocks import MicrophoneCheck
    from tension.capture.microphone import Device


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


def csv_text(text: str) -> str:
    """Make a text of a person fit for a cell that a spreadsheet opens.

    It is on one line, what does not show as escapes; with an apostrophe in front if it
    would be taken for a formula.
    """
    shown = "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode("ascii")
        for c in text
    )
    is_formula = shown.lstrip()[:1] in set("=+-@\\|")
    return f"'{shown}" if is_formula else shown


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
    None: "1",
}


def _outcome_name(outcome: PlanOutcome) -> str:
    """Which answer it is."""
    if isinstance(outcome, NoPlan):
        return outcome.kind.value
    names = {Plan: "plan", DirectionsOnly: "directions-only"}
    return names.get(type(outcome), "infeasible")


_RESTS_ON: Mapping[str, Taker] = {
    # without the marks of words that differ between Europe and America
    "origin.name": lambda origin: origin.name.replace("[[", "").replace("]]", ""),
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
