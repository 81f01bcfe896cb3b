"""A car that still rocks: a waver that all partials share is told, beating is not."""

import re

import numpy as np
import pytest

from tension.sound.hear import hear_set
from tension.sound.hearing import RopeHearing, RopeSpan
from tests.sound.made import RATE, clamped_pinned_modes, recording, ring, take

ONE = clamped_pinned_modes(3.0, 60.0, 8.0, 26)
SECONDS = 6.0


def _rocked(rate: float, depth: float) -> np.ndarray:
    """The ring of a rope whose pitch goes to and fro: time runs unevenly."""
    sound = ring(ONE, seconds=SECONDS)
    t = np.arange(sound.size) / RATE
    hitch = 2.0 * np.pi * rate
    uneven = t + depth / hitch * np.sin(hitch * t)
    rocked: np.ndarray = np.interp(uneven, t, sound)
    return rocked


def _heard(sound: np.ndarray) -> RopeHearing:
    samples = recording({0.8: sound}, seconds=SECONDS)
    span = RopeSpan(number=1, free_length=3.0)
    return hear_set([take(samples)], [span]).ropes[0]


@pytest.mark.parametrize("rate", [1.1, 2.4])
def test_a_rocking_car_is_told_with_its_rate(rate: float) -> None:
    rope = _heard(_rocked(rate, 4e-3))
    told = [note for note in rope.notes if note.code == "car-rocks"]
    assert len(told) == 1
    numbers = re.findall(r"\d+\.\d+", told[0].text)
    percent, found = (float(number) for number in numbers)
    assert found == pytest.approx(rate, rel=0.06)
    assert percent == pytest.approx(0.4, abs=0.11)
    assert told[0].ropes == (1,)


def test_a_rope_that_hangs_still_or_beats_does_not_rock() -> None:
    for sound in (
        _rocked(1.7, 1e-4),
        ring(ONE, seconds=SECONDS, split=0.002, weak=0.7),
        ring(ONE, seconds=SECONDS, rise=0.006),
    ):
        rope = _heard(sound)
        assert rope.refusal is None
        assert "car-rocks" not in [note.code for note in rope.notes]
