"""Acceptance, seals and trims; causes, histories and fleets: what records tell."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from tension.condition.acceptance import Acceptance
from tension.diagnosis.conditions import MANY_TRIPS, Condition
from tension.diagnosis.outcome import Cause, Diagnosis
from tension.documents.shape import (
    REASON,
    SCHEMA_VERSION,
    Document,
    Taker,
    described,
    envelope,
    to_json,
)
from tension.files.evidence import FileEvidence
from tension.files.seal import CLAIM, Correction, Seal
from tension.files.verification import Verification
from tension.files.visit import Trim
from tension.history import History
from tension.notes import Note, Refusal
from tension.telling.acceptance import figure_label

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
        "figure.label": figure_label,
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
    acceptance: Acceptance, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn an acceptance form into its document."""
    return envelope("acceptance", inputs) | ACCEPTANCE.of(acceptance)


def seal_document(seal: Seal) -> Document:
    """Turn a seal into its document."""
    return envelope("seal", seal.files) | SEAL.of(seal)


def correction_document(correction: Correction) -> Document:
    """Turn a correction into its document."""
    return envelope("seal", correction.files) | CORRECTION.of(correction)


def verify_document(verification: Verification) -> Document:
    """Turn a verification into its document."""
    seal = verification.seal
    inputs = seal.files if seal else ()
    return envelope("verify", inputs) | VERIFY.of(verification)


def trim_document(
    trims: Sequence[Trim], whole: Sequence[tuple[str, str]], claim: str
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


def history_document(history: History, inputs: Sequence[FileEvidence]) -> Document:
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
