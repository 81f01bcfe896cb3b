"""What was heard and what was found of the tensions: JSON, and CSV of the ropes."""

import csv
import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tension.assessment.outcome import Assessment, RopeShare
from tension.documents.shape import NOTE, REASON, RIVAL, Document, envelope, shape
from tension.files.evidence import FileEvidence
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.sound.hearing import RopeHearing, SetHearing
from tension.sound.recording import Recording
from tension.telling.results import reason_text

if TYPE_CHECKING:
    from tension.capture.levels import MicrophoneCheck
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


_CONDITION = shape(
    """
    side       | span.side         | car or counterweight
    position   | span.position     | car position, as typed
    ends       | span.ends         | what holds the ends
    hitch_end  | span.hitch_end    | end at which the hitch is
    arrived    | series.arrived    | direction the car came from, as typed
    taken      | series.taken      | when, as typed
    load       | series.load       | load, as typed
    people     | series.people     | people, as typed
    fall       | series.fall       | dead or live, as typed
    neighbours | series.neighbours | free or damped, as typed
    """
)

_RULE = shape(
    """
    name          | | the rule that decided
    metric        | | `below-highest`, `above-lowest`, `off-mean`, `range-of-mean`
    limit_percent | limit x100 | its limit
    source        | | where it is published
    edition       | | edition or year
    standing      | | how the figure is known
    changed_from_percent | changed_from x100 | limit of the rule where the user
                                               changed it
    """
)

_SPREAD = shape(
    """
    percent       | observed x100 | by the metric of the rule, from the readings
    lower_percent | lower x100    | lower end of the 95 % interval of the true spread
    upper_percent | upper x100    | upper end
    probability_over_limit |      | between 0 and 1
    """
)

_OTHER_SPREAD = shape(
    """
    metric        |               | the other metrics, printed only
    percent       | observed x100 | as above
    lower_percent | lower x100    | as above
    upper_percent | upper x100    | as above
    """
)

_ROPE = shape(
    """
    number | measured.number | rope number
    share_percent | share.share x100 | of the mean of the ropes given, at the hitch
    share_standard_uncertainty_percent | known.share_uncertainty x100 | standard
        uncertainty, what is common to the set left out; null while the free lengths are
        not known
    tension_n | share.tension | at the hitch; null without a linear density
    tension_standard_uncertainty_n | known.tension_uncertainty | standard uncertainty,
        everything included; null while the free lengths are not known
    fundamental_hz | measured.fundamental.value | fundamental heard
    fundamental_standard_uncertainty_hz | measured.fundamental.standard_uncertainty |
        its standard uncertainty
    methods   | measured.methods | kinds of evidence: pluck, pull, returns, spring
    refused   | measured.refusal.code | code of the reason why there is no number, or
                                        null
    refusal   | measured.refusal | that reason with `code`, `text`, `next_act`, or null
    rivals[]  | measured.rivals |
    notes[]   | measured.notes | notes on this rope, as in the envelope
    """,
    refusal=REASON,
    rivals=RIVAL,
    notes=NOTE,
)

ASSESSMENT = shape(
    """
    series    | measurement.series.name | name of the series
    span      | measurement.span.name | name of the span; null for spring lengths alone
    condition | measurement |
    complete  | is_complete | whether every rope has a number
    verdict   | | `equal`, `unequal`, `cannot-tell`, `no-result`
    reason    | | why, one sentence
    next_act  | | what to do about it; empty where `measure_again` or the notes say it
    rule      | |
    spread    | |
    other_metrics[] | other_spreads |
    ropes[]   | |
    measure_again | | rope numbers, the most useful first; empty when decided
    """,
    condition=_CONDITION,
    reason=reason_text,
    next_act=lambda found: found.reason_note.next_act if found.reason_note else "",
    rule=_RULE,
    spread=_SPREAD,
    other_metrics=_OTHER_SPREAD,
    ropes=(_ROPE, _ropes),
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


Heard = tuple[Recording, SetHearing]

_PLUCK = shape(
    """
    recording | | the file
    index     | | counted from 1
    start_s   | start | onset
    end_s     | end | end of the ring
    used      | is_used | whether it counts
    reason    | | why not
    signal_to_noise_db | signal_to_noise | level over what stood before
    fundamental_hz | fundamental_frequency | of this pluck alone, or null
    """
)

_HUM = shape(
    """
    frequency_hz | frequency | a steady line told apart
    level_db     | level     | over the noise
    """
)

_PARTIAL = shape(
    """
    mode_number  |            | 1 is the fundamental
    frequency_hz | frequency  | as measured
    level_db     | level      | over the noise
    decay_s      | decay_time | time to fall by 1/e
    used         | is_used    | whether it carries weight
    """
)

_CHECK = shape(
    """
    name   | | `count`: probability that the partials are counted right; `rope`: ln of
               the odds that one rope rings and is counted right
    value  | | what it shows
    least  | | what it needs
    passed | | whether it shows enough
    """
)


def _uncertainty(rope: RopeHearing) -> float | None:
    """Standard uncertainty of the fundamental, if there is one. [Hz]."""
    frequency = rope.fundamental_frequency
    return frequency * rope.relative_uncertainty if math.isfinite(frequency) else None


_HEARD_ROPE = shape(
    """
    number         | | 1, or as `--order` says
    fundamental_hz | fundamental_frequency | first natural frequency, inharmonicity
                                             included
    fundamental_standard_uncertainty_hz | | standard uncertainty
    inharmonicity  | | B in f_n = n f_0 sqrt(1 + B n²)
    signal_to_noise_db | signal_to_noise | of the part used
    partials[]     | |
    rivals[]       | |
    checks[]       | |
    refused        | refusal.code | code of the reason, or null
    refusal        | | the reason in words, or null
    notes[]        | | notes on this rope
    """,
    fundamental_standard_uncertainty_hz=_uncertainty,
    partials=_PARTIAL,
    rivals=RIVAL,
    checks=_CHECK,
    refusal=REASON,
    notes=NOTE,
)


def _duration(heard: Heard) -> float:
    """How long a recording is. [s]."""
    rate = heard[0].sampling_rate
    return len(heard[0].samples) / rate if rate else 0.0


_RECORDING = shape(
    """
    path           | | the file
    codec          | | how the sound is coded; empty for logs
    source_rate_hz | | sampling rate of the file
    duration_s     | | length
    notes[]        | | notes on the file, as in the envelope
    plucks[]       | |
    hum[]          | |
    ropes[]        | |
    """,
    path=lambda heard: heard[0].name,
    codec=lambda heard: heard[0].codec,
    source_rate_hz=lambda heard: heard[0].source_rate,
    duration_s=_duration,
    notes=(NOTE, lambda heard: (*heard[0].notes, *heard[1].notes)),
    plucks=(_PLUCK, lambda heard: [p for r in heard[1].ropes for p in r.plucks]),
    hum=(_HUM, lambda heard: dict.fromkeys(h for r in heard[1].ropes for h in r.hum)),
    ropes=(_HEARD_ROPE, lambda heard: heard[1].ropes),
)

PLUCK = shape("recordings[] | |", recordings=(_RECORDING, lambda heard: heard))


def hearing_document(
    inputs: Sequence[FileEvidence], heard: Sequence[Heard]
) -> Document:
    """Turn what was heard in sound files into its document."""
    return envelope("pluck", inputs) | PLUCK.of(heard)


_DEVICE = shape(
    """
    number           | | as `--device` takes it
    name             | | as the system names it
    interface        | | part of the system it is reached through
    channels         | n_channels | most channels it gives
    sampling_rate_hz | sampling_rate | its own
    is_default       | | whether the system takes it where none is named
    """
)

_MICROPHONE = shape(
    """
    sampling_rate_hz  | sampling_rate | as opened
    seconds           | | how much came
    peak_db           | peak | below full scale; null for exact silence
    is_exactly_silent | is_silent | whether every sample was zero
    hum_hz            | hum.mains | 50 or 60, the stronger
    hum_over_rest_db  | hum.over_rest | over all else from 20 to 600 Hz
    losses[]          | |
    """,
    losses=shape(
        """
        kind    | | how it showed: clock, zeros, overflow
        seconds | | how much; 0 if not known
        """,
        kind=lambda loss: loss.kind.name.lower(),
    ),
)

DEVICES = shape(
    """
    devices[] | |
    chosen    | | number of the one looked at
    check     | |
    """,
    devices=(_DEVICE, lambda looked: looked[0]),
    chosen=lambda looked: looked[1].number,
    check=(_MICROPHONE, lambda looked: looked[2]),
)
"""``check`` is null where none was opened."""


def devices_document(
    devices: "Sequence[Device]", chosen: "Device", check: "MicrophoneCheck | None"
) -> Document:
    """Turn the microphones, and what one of them gave, into their document."""
    return envelope("devices") | DEVICES.of((devices, chosen, check))
