"""What was heard in sound files, and what a microphone gives, as documents."""

import math
from collections.abc import Sequence

from tension.capture.blocks import MicrophoneCheck
from tension.capture.microphone import Device
from tension.documents.envelope import NOTE, REASON, RIVAL, envelope
from tension.documents.shape import Document, shape
from tension.files.evidence import FileEvidence
from tension.sound.hearing import RopeHearing, SetHearing
from tension.sound.recording import Recording

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


_ROPE = shape(
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
    ropes=(_ROPE, lambda heard: heard[1].ropes),
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
    devices: Sequence[Device], chosen: Device, check: MicrophoneCheck | None
) -> Document:
    """Turn the microphones, and what one of them gave, into their document."""
    return envelope("devices") | DEVICES.of((devices, chosen, check))
