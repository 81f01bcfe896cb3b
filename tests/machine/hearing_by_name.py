"""An ear that reads the frequency in the name of a recording, for what follows from it.

What follows from hearing is the same code whatever the ear: drawn records reach it
without the seconds that listening takes. Recordings called otherwise are
heard.
"""

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from unittest.mock import patch

import numpy as np

from tension.notes import NoteKind, Refusal
from tension.sound.hear import hear_set
from tension.sound.hearing import (
    HearingPrior,
    Pluck,
    Recording,
    Rival,
    RopeHearing,
    RopeSpan,
    SetHearing,
    Take,
    joint_hypotheses,
)

_NAME = re.compile(r".* (\d+\.\d+)([abcd])\.wav")


def hear_by_name(
    takes: Sequence[Take],
    spans: Sequence[RopeSpan],
    prior: HearingPrior | None = None,
) -> SetHearing:
    """As the names say: clear, noisy, with a rival count, or refused."""
    names = [t.recording.name for t in takes if t.recording.refusal is None]
    if not all(map(_NAME.fullmatch, names)):
        return hear_set(takes, spans, prior)
    by_rope = {rope: take.recording for take in takes for rope in take.ropes}
    ropes = tuple(_heard(span.number, by_rope.get(span.number)) for span in spans)
    given = [rope for rope in ropes if rope.refusal is None]
    own = np.array([rope.relative_uncertainty for rope in given])
    return SetHearing(
        ropes=ropes,
        given=tuple(rope.number for rope in given),
        hypotheses=joint_hypotheses(given),
        covariance=np.diag(own**2),
        rigidity_per_density=14.0 if len(given) > 2 else float("nan"),
        rigidity_per_density_uncertainty=0.3 if len(given) > 2 else float("nan"),
    )


def _heard(number: int, recording: Recording | None) -> RopeHearing:
    """One rope: its recording is called like ``und-2a 4.6421b.wav``."""
    if recording is None:
        return _refused(number, NoteKind.NOT_RECORDED.refusal(rope=number))
    if recording.refusal is not None:
        return _refused(number, recording.refusal)
    told = _NAME.fullmatch(recording.name)
    assert told is not None
    frequency, manner = float(told[1]), told[2]
    if manner == "d":
        return _refused(number, NoteKind.NO_PLUCK.refusal(recording=recording.name))
    pluck = Pluck(
        recording=recording.name,
        index=1,
        start=0.0,
        end=0.1,
        is_used=True,
        signal_to_noise=25.0,
        fundamental_frequency=frequency,
    )
    rival = Rival(fundamental_frequency=frequency / 2, probability=0.2)
    return RopeHearing(
        number=number,
        fundamental_frequency=frequency,
        relative_uncertainty=8e-3 if manner == "c" else 5e-4,
        inharmonicity=1e-4,
        signal_to_noise=25.0,
        plucks=(pluck,),
        rivals=(rival,) if manner == "b" else (),
    )


def _refused(number: int, refusal: Refusal) -> RopeHearing:
    nan = float("nan")
    return RopeHearing(
        number=number,
        fundamental_frequency=nan,
        relative_uncertainty=nan,
        inharmonicity=nan,
        signal_to_noise=nan,
        refusal=refusal,
    )


@contextmanager
def hearing_by_name() -> Iterator[None]:
    """Hear so as long as it lasts."""
    with patch("tension.workflow.listening.hear_set", hear_by_name):
        yield
