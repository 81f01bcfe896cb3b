"""What each command answers, as a document; CSV of the ropes.

The table of keys that writes a document and its page is ``keys.txt``; what no path of
it leads to is taken by a function here.
"""

import csv
import io
import json
import math
import platform
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from functools import cache, partial
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from typing import Any, TypeAlias

from tension import __version__
from tension.adjustment.outcome import (
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    Plan,
    PlanOutcome,
)
from tension.assessment.decide import Assessment
from tension.diagnosis.outcome import Cause, Condition, Diagnosis
from tension.files.evidence import FileEvidence
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import Note, NoteKind, Refusal
from tension.shown import barred_rows
from tension.sound.hearing import RopeHearing
from tension.telling.condition import figure_label
from tension.telling.lines import told
from tension.telling.results import reason_text

Document: TypeAlias = dict[str, Any]
Taker: TypeAlias = Callable[[Any], Any]

SCHEMA_VERSION = 1  # of the documents; raised when a key changes its meaning or goes

_NUMBER_OF = {kind.code: kind.number for kind in NoteKind}
_OF_A_SHARE = (Cause.STIFFNESS, Cause.BOUND_SPRING, Cause.MASS)
ANSWERS = {
    Plan: "adjust, plan",
    DirectionsOnly: "adjust, directions only",
    InfeasiblePlan: "adjust, infeasible",
    NoPlan: "adjust, reasons",
}
"""What each kind of answer to a request for a plan has besides."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Key:
    """One key of a document."""

    name: str  # as written
    meaning: str  # what it says; empty where the keys inside say it
    take: Taker  # takes the value
    # on the value, which is then written as a number [unit of the key]
    factor: float | None = None
    shape: "Shape | None" = None  # what it holds, if it is an object or a list of them
    is_many: bool = False  # whether it holds a list of objects

    def of(self, thing: object) -> Any:  # noqa: ANN401 - whatever JSON can hold
        """Take the value from a thing and write it."""
        value = self.take(thing)
        if value is None:
            return None
        if self.is_many or isinstance(value, tuple | list):
            return [self._written(one) for one in value]
        return self._written(value)

    def _written(self, value: Any) -> Any:  # noqa: ANN401 - as above
        """One value: objects by their shape, words as texts, numbers to nine digits."""
        if self.shape and not isinstance(value, dict):
            return self.shape.of(value)
        if self.factor is not None:
            return None if value is None else _number(self.factor * value)
        if isinstance(value, Enum):
            return value.value
        if isinstance(value, date):
            return value.isoformat()
        return _number(value) if isinstance(value, float) else value


class Shape(tuple[Key, ...]):
    """The keys of an object, in order."""

    __slots__ = ()

    def of(self, thing: object) -> Document:
        """Write the object of a thing."""
        return {key.name: key.of(thing) for key in self}


def _number(value: float) -> float | None:
    """Write a number of any unit to nine digits; None if it is not finite."""
    return float(f"{value:.9g}") if math.isfinite(value) else None


@cache
def _sections() -> dict[str, str]:
    """The descriptions of all objects by their names, read once."""
    text = files("tension.documents").joinpath("keys.txt").read_text("utf-8")
    parts = (part.split("]\n", 1) for part in text.split("\n[")[1:])
    return dict(parts)


@cache
def described(name: str) -> Shape:
    """Give the shape that an object has by ``keys.txt``: "assess", "assess.ropes"."""
    return shape(_sections()[name], f"{name}.", _TAKEN)


def shape(table: str, within: str, taken: Mapping[str, Taker]) -> Shape:
    """Read the description of an object: a line a key, as ``keys.txt`` tells.

    What no path leads to is taken by a function, under the names of object and key.
    """
    keys = []
    for written, way, meaning in barred_rows(table, 3):
        full, _, holds = written.partition(": ")
        name = full.removesuffix("[]")
        path, _, factor = way.partition(" x")
        holds = holds or f"{within}{name}"
        key = Key(
            name=name,
            meaning=meaning,
            take=taken.get(f"{within}{name}") or partial(_at, path or name),
            factor=float(factor) if factor else None,
            shape=described(holds) if holds in _sections() else None,
            is_many=full.endswith("[]"),
        )
        keys.append(key)
    return Shape(keys)


def _at(path: str, thing: object) -> object:
    """What attributes, keys and places lead to; the first that is None ends it."""
    value: Any = thing
    for name in filter(None, path.split(".")):
        if isinstance(value, dict):
            value = value.get(name)
        elif value is not None:
            value = value[int(name)] if name.isdigit() else getattr(value, name)
    return value


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


def _series(outcome: Diagnosis) -> Iterator[tuple[Condition, float, float]]:
    """Every series of a pattern: condition, deviations of its ropes and their own."""
    pattern = outcome.pattern
    rows = (pattern.deviations.tolist(), pattern.uncertainties.tolist())
    return zip(pattern.conditions, *rows, strict=True)


def _strategies(told: Any) -> list[Document]:  # noqa: ANN401 - what has strategies
    """Every strategy in a line; its numbers only where it gives a plan."""
    keys = described("adjust.strategies")
    return [
        (keys if isinstance(each[1], Plan) else Shape(keys[:2])).of(each)
        for each in told.strategies
    ]


_TAKEN: Mapping[str, Taker] = {
    "note.number": lambda note: _NUMBER_OF.get(note.code),
    "envelope.schema_version": lambda _: SCHEMA_VERSION,
    "envelope.software": lambda _: software_versions(),
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
    "seal.claim": lambda _: told("lines.what-a-seal-proves"),
    "verify.claim": lambda _: told("lines.what-a-seal-proves"),
    "trim.claim": lambda _: told("lines.what-trimming-leaves"),
    # without the marks of words that differ between Europe and America
    "origin.name": lambda origin: origin.name.replace("[[", "").replace("]]", ""),
    "origin.unit": lambda origin: origin.dimension.unit,
    "adjust.strategies": _strategies,
    "adjust.strategies.stages": lambda told: len(told[1].stages),
    "adjust.run.round_trips_run": lambda state: (
        state.round_trips if state.turned else None
    ),
    "adjust.run.round_trips_wanted": lambda state: max(
        state.wanted, state.wanted_since
    ),
    "adjust.plan.round_trips": lambda plan: (
        plan.stages[-1].round_trips if plan.stages else 0
    ),
    "adjust.plan.nuts": lambda plan: zip(plan.turns, plan.wanted_turns, strict=True),
    "compare.refused": lambda _: None,
    "compare.exchanged.of": lambda found: (
        "turns" if found.is_of_turns else "readings as left"
    ),
    "compare.exchanged.ropes": lambda found: [place + 1 for place in found.places],
    "springs.refused": lambda _: None,
    "causes.series": _series,
    "causes.hypotheses.causes": lambda suspect: list(suspect.causes),
    "causes.telltales.unit": lambda told: (
        "1"
        if told.cause in _OF_A_SHARE
        else "m"
        if told.cause is Cause.STAGGER
        else "N"
    ),
    "fleet.lifts.schema_version": lambda _: SCHEMA_VERSION,
}


def document(
    command: str,
    found: object,
    inputs: Sequence[FileEvidence] = (),
    notes: Sequence[Note] = (),
    *,
    of: str = "",
) -> Document:
    """Turn what a command found into its document; of another one if it is told.

    Where there is no answer, it holds the reason alone.
    """
    told = envelope(command, inputs, notes)
    if not isinstance(found, Refusal):
        return told | described(of or command).of(found)
    reason = described("reason").of(found)
    if command == "causes":
        return told | {"conclusion": "no-result", "refusal": reason}
    return told | {"refused": reason}


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


def plan_document(
    planned: object, outcome: PlanOutcome, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn the answer to a request for a plan into its document.

    What was planned holds the series, the outcome and that of every strategy.
    """
    notes = outcome.notes if isinstance(outcome, Plan) else ()
    answer = described(ANSWERS[type(outcome)]).of(outcome)
    return document("adjust", planned, inputs, notes) | answer


def envelope(
    command: str, inputs: Sequence[FileEvidence] = (), notes: Sequence[Note] = ()
) -> Document:
    """Make the part that every document of a command has."""
    return described("envelope").of((command, inputs, notes))


def errors_document(command: str, lines: Sequence[str]) -> Document:
    """Tell why a command could not use its input."""
    document = envelope(command) | {"errors": list(lines)}
    if command in {"assess", "demo", "listen"}:
        document["verdict"] = "no-result"
    return document


def software_versions(*more: str) -> dict[str, str]:
    """Tell the versions of this program, of Python, of what reads sound, and more."""
    found = {"python": platform.python_version(), "tension": __version__}
    for name in ("numpy", "av", *more):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def to_json(document: Document) -> str:
    """Write a document as indented JSON with a final newline; never NaN.

    Marks that hide or move other text stand as escapes.
    """
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    lines = text.split("\n")
    for place, line in enumerate(lines):
        if not line.isprintable():
            shown = (c if c.isprintable() else json.dumps(c)[1:-1] for c in line)
            lines[place] = "".join(shown)
    return "\n".join(lines) + "\n"


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
