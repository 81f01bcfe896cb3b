"""What was heard and what was found of the tensions: JSON, and CSV of the ropes."""

import csv
import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tension.assessment.outcome import Assessment, RopeShare
from tension.documents.shape import Document, described, envelope
from tension.files.evidence import FileEvidence
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
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
