"""What several readings or records tell: causes, histories and fleets as documents."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from tension.diagnosis.conditions import MANY_TRIPS, Condition
from tension.diagnosis.outcome import Cause, Diagnosis
from tension.documents.shape import (
    REASON,
    SCHEMA_VERSION,
    Document,
    described,
    envelope,
    to_json,
)
from tension.files.evidence import FileEvidence
from tension.history.outcome import History
from tension.notes import Note, Refusal

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
