"""An ear that hears plucks by their loudness alone: for the way, not for the sound."""

import numpy as np
import pytest

from tension.sound.hearing import HearingPrior, Pluck, Recording, RopeHearing, RopeSpan
from tension.workflow.live import takes
from tension.workflow.live.watching import OnsetWatch


def hear_quickly(
    recording: Recording, span: RopeSpan, prior: HearingPrior | None = None
) -> RopeHearing:
    """Every beginning is a pluck that counts."""
    del prior
    watch = OnsetWatch(recording.sampling_rate)
    onsets = watch.push(np.asarray(recording.samples))
    plucks = tuple(
        Pluck(recording=recording.name, index=k, start=one, end=one + 1.0, is_used=True)
        for k, one in enumerate(onsets, start=1)
    )
    return RopeHearing(
        number=span.number,
        fundamental_frequency=10.0,
        relative_uncertainty=1e-3,
        inharmonicity=0.0,
        signal_to_noise=20.0,
        plucks=plucks,
    )


def use_quick_ear(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hear quickly wherever one rope is heard."""
    monkeypatch.setattr(takes, "hear_rope", hear_quickly)
