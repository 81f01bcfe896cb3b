"""Results as machines read them: JSON documents and CSV."""

import csv
import io
import json
import math
import platform
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from tension.assessment.outcome import Assessment, RopeShare, Spread
from tension.files.evidence import FileEvidence
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.notes import Note, NoteKind
from tension.sound.hearing import RopeHearing, SetHearing
from tension.sound.recording import Recording
from tension.telling.results import reason_text
from tension.version import __version__

SCHEMA_VERSION = 1

Document = dict[str, Any]

_PACKAGES = ("numpy", "av")
_NUMBER_OF = {kind.code: kind.number for kind in NoteKind}


def software_versions() -> dict[str, str]:
    """Tell the versions that a result depends on.

    Returns
    -------
    dict of str to str
        Version of this program, of Python and of the packages on the reading path.
    """
    found = {"python": platform.python_version(), "tension": __version__}
    for name in _PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def envelope(
    command: str, inputs: Sequence[FileEvidence], notes: Sequence[Note]
) -> Document:
    """Make the part that every JSON document has.

    Parameters
    ----------
    command : str
        The command that answers.
    inputs : sequence of FileEvidence
        The files it used.
    notes : sequence of Note
        What a reader must know.
    """
    return {
        "schema_version": SCHEMA_VERSION,
        "command": command,
        "software": software_versions(),
        "inputs": [
            {"path": str(f.path), "bytes": f.n_bytes, "sha256": f.sha256}
            for f in inputs
        ],
        "notes": [note_document(note) for note in notes],
    }


def note_document(note: Note) -> Document:
    """Turn a note into its JSON form."""
    return {
        "code": note.code,
        "number": _NUMBER_OF.get(note.code),
        "text": note.text,
        "next_act": note.next_act,
        "ropes": list(note.ropes),
    }


def assessment_document(
    command: str, assessment: Assessment, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn an assessment into its JSON document."""
    measurement, rule = assessment.measurement, assessment.rule
    are_lengths_known = measurement.lengths is not LengthKnowledge.UNKNOWN
    document = envelope(command, inputs, assessment.notes)
    series = measurement.series
    document |= {
        "series": series.name,
        "span": measurement.span.name if measurement.span else None,
        "condition": _condition_document(assessment),
        "complete": assessment.is_complete,
        "verdict": assessment.verdict.value,
        "reason": reason_text(assessment),
        "next_act": assessment.reason_note.next_act if assessment.reason_note else "",
        "rule": {
            "name": rule.name,
            "metric": rule.metric.value,
            "limit_percent": percent(rule.limit),
            "source": rule.source,
            "edition": rule.edition,
            "standing": rule.standing.value,
            "changed_from_percent": percent(rule.changed_from),
        },
        "spread": _spread_document(assessment.spread)
        | {"probability_over_limit": number(assessment.spread.probability_over_limit)},
        "other_metrics": [
            {"metric": spread.metric.value} | _spread_document(spread)
            for spread in assessment.other_spreads
        ],
        "ropes": [
            _rope_document(measured, share, are_lengths_known=are_lengths_known)
            for measured, share in zip(
                measurement.ropes, assessment.shares, strict=True
            )
        ],
        "measure_again": list(assessment.measure_again),
    }
    return document


def hearing_document(
    inputs: Sequence[FileEvidence], heard: Sequence[tuple[Recording, SetHearing]]
) -> Document:
    """Turn what was heard in sound files into its JSON document."""
    document = envelope("pluck", inputs, [])
    document["recordings"] = [
        {
            "path": recording.name,
            "codec": recording.codec,
            "source_rate_hz": number(recording.source_rate),
            "duration_s": number(len(recording.samples) / recording.sampling_rate)
            if recording.sampling_rate
            else 0.0,
            "notes": [note_document(n) for n in (*recording.notes, *hearing.notes)],
            "plucks": [
                document
                for rope in hearing.ropes
                for document in _pluck_documents(rope)
            ],
            "hum": [
                {"frequency_hz": number(line.frequency), "level_db": number(line.level)}
                for line in dict.fromkeys(h for r in hearing.ropes for h in r.hum)
            ],
            "ropes": [rope_hearing_document(rope) for rope in hearing.ropes],
        }
        for recording, hearing in heard
    ]
    return document


def rope_hearing_document(rope: RopeHearing) -> Document:
    """Turn what was heard of one rope into its JSON form."""
    fundamental = number(rope.fundamental_frequency)
    return {
        "number": rope.number,
        "fundamental_hz": fundamental,
        "fundamental_standard_uncertainty_hz": None
        if fundamental is None
        else number(rope.fundamental_frequency * rope.relative_uncertainty),
        "inharmonicity": number(rope.inharmonicity),
        "signal_to_noise_db": number(rope.signal_to_noise),
        "partials": [
            {
                "mode_number": partial.mode_number,
                "frequency_hz": number(partial.frequency),
                "level_db": number(partial.level),
                "decay_s": number(partial.decay_time),
                "used": partial.is_used,
            }
            for partial in rope.partials
        ],
        "rivals": [
            {
                "fundamental_hz": number(rival.fundamental_frequency),
                "probability": number(rival.probability),
            }
            for rival in rope.rivals
        ],
        "checks": [
            {
                "name": check.name,
                "value": number(check.value),
                "least": number(check.least),
                "passed": check.passed,
            }
            for check in rope.checks
        ],
        "refused": rope.refusal.code if rope.refusal else None,
        "refusal": None
        if rope.refusal is None
        else {
            "code": rope.refusal.code,
            "text": rope.refusal.text,
            "next_act": rope.refusal.next_act,
        },
        "notes": [note_document(note) for note in rope.notes],
    }


def assessment_csv(assessment: Assessment) -> str:
    """Turn the ropes of an assessment into CSV, one row per rope.

    Returns
    -------
    str
        Header and rows, lines ended by a newline; units are in the header.
    """
    columns = (
        "series",
        "rope",
        "share_percent",
        "share_standard_uncertainty_percent",
        "tension_n",
        "tension_standard_uncertainty_n",
        "fundamental_hz",
        "fundamental_standard_uncertainty_hz",
        "methods",
        "refused",
        "verdict",
    )
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(columns)
    measurement = assessment.measurement
    are_lengths_known = measurement.lengths is not LengthKnowledge.UNKNOWN
    for measured, share in zip(measurement.ropes, assessment.shares, strict=True):
        row = _rope_document(measured, share, are_lengths_known=are_lengths_known)
        writer.writerow(
            [
                csv_text(measurement.series.name),
                row["number"],
                *(_cell(row[column]) for column in columns[2:8]),
                " ".join(row["methods"]),
                row["refused"] or "",
                assessment.verdict.value,
            ]
        )
    return written.getvalue()


def to_json(document: Document) -> str:
    """Write a document as JSON text.

    Returns
    -------
    str
        Indented JSON with a final newline; never NaN. Marks that hide or move other
        text stand as escapes.
    """
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    return "\n".join(map(_escaped, text.split("\n"))) + "\n"


def _escaped(line: str) -> str:
    """Write what does not show as JSON escapes."""
    if line.isprintable():
        return line
    return "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in line)


def percent(fraction: float | None) -> float | None:
    """Turn a fraction into percent for machines.

    Parameters
    ----------
    fraction : float or None
        A fraction. [1]

    Returns
    -------
    float or None
        Percent, or None if there is no finite number.
    """
    return number(None if fraction is None else 100.0 * fraction)


def number(value: float | None, digits: int = 9) -> float | None:
    """Make a number fit for JSON.

    Parameters
    ----------
    value : float or None
        Any number, in any unit.
    digits : int, optional
        Significant digits kept.

    Returns
    -------
    float or None
        The number, or None if it is not finite.
    """
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.{digits}g}")


def _condition_document(assessment: Assessment) -> Document:
    """The condition that the result holds for."""
    series, span = assessment.measurement.series, assessment.measurement.span
    return {
        "side": span.side.value if span else None,
        "position": span.position if span else None,
        "ends": span.ends.value if span else None,
        "hitch_end": span.hitch_end.value if span else None,
        "arrived": series.arrived,
        "taken": series.taken,
        "load": series.load,
        "people": series.people,
        "fall": series.fall,
        "neighbours": series.neighbours,
    }


def _spread_document(spread: Spread) -> Document:
    """One metric in percent."""
    return {
        "percent": percent(spread.observed),
        "lower_percent": percent(spread.lower),
        "upper_percent": percent(spread.upper),
    }


def _rope_document(
    measured: RopeMeasurement, share: RopeShare, *, are_lengths_known: bool
) -> Document:
    """One rope of an assessment; no uncertainty while its length is not known."""
    heard = measured.fundamental
    uncertainty = share.share_uncertainty if are_lengths_known else None
    tension_uncertainty = share.tension_uncertainty if are_lengths_known else None
    return {
        "number": measured.number,
        "share_percent": percent(share.share),
        "share_standard_uncertainty_percent": percent(uncertainty),
        "tension_n": number(share.tension),
        "tension_standard_uncertainty_n": number(tension_uncertainty),
        "fundamental_hz": number(heard.value if heard else None),
        "fundamental_standard_uncertainty_hz": number(
            heard.standard_uncertainty if heard else None
        ),
        "methods": [method.value for method in measured.methods],
        "refused": measured.refusal.code if measured.refusal else None,
        "refusal": None
        if measured.refusal is None
        else {
            "code": measured.refusal.code,
            "text": measured.refusal.text,
            "next_act": measured.refusal.next_act,
        },
        "rivals": [
            {
                "fundamental_hz": number(rival.fundamental_frequency),
                "probability": number(rival.probability),
            }
            for rival in measured.rivals
        ],
        "notes": [note_document(note) for note in measured.notes],
    }


def _pluck_documents(rope: RopeHearing) -> list[Document]:
    """All plucks found for one rope, used or not."""
    return [
        {
            "recording": pluck.recording,
            "index": pluck.index,
            "start_s": number(pluck.start),
            "end_s": number(pluck.end),
            "used": pluck.is_used,
            "reason": pluck.reason,
            "signal_to_noise_db": number(pluck.signal_to_noise),
            "fundamental_hz": number(pluck.fundamental_frequency),
        }
        for pluck in rope.plucks
    ]


def csv_text(text: str) -> str:
    """Make a text of a person fit for a cell that a spreadsheet opens.

    Returns
    -------
    str
        On one line, what does not show as escapes; with an apostrophe in front if it
        would be taken for a formula.
    """
    shown = "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode("ascii")
        for c in text
    )
    is_formula = shown.lstrip()[:1] in set("=+-@\\|")
    return f"'{shown}" if is_formula else shown


def _cell(value: float | None) -> str:
    """Write a number as a CSV cell."""
    return "" if value is None else repr(value)
