"""Gain control is told by the noise it turns down, and nothing else is taken for it."""

from dataclasses import replace

import numpy as np
import pytest

from tension.sound.hear import hear_set
from tension.sound.hearing import RopeSpan
from tension.sound.noise_class import FALLS, _gain_fall
from tests.sound.made import RATE, clamped_pinned_modes, recording, ring, take
from tests.synthesis.recorder import GainControl

ONE = clamped_pinned_modes(3.0, 60.0, 8.0, 26)
STARTS = (1.0, 6.0)


def _sound(noise: float = 0.004) -> np.ndarray:
    rings = {start: ring(ONE, seconds=5.0, damping=0.004) for start in STARTS}
    return recording(rings, seconds=11.0, noise=noise)


@pytest.mark.parametrize("strength", [0.5, 0.8])
def test_a_level_that_is_turned_down_and_up_is_told(strength: float) -> None:
    control = GainControl(strength=strength, attack=0.03, release=0.5)
    made = take(control.apply(_sound(), RATE))
    assert _gain_fall(made.recording, STARTS) > FALLS
    rope = hear_set([made], [RopeSpan(number=1, free_length=3.0)]).ropes[0]
    told = [note for note in rope.notes if note.code == "gain-control"]
    assert len(told) == 1
    assert "rope-1.wav" in told[0].text
    # the pitch is right all the same, as well as it is said to be known
    error = abs(rope.fundamental_frequency / ONE[0] - 1.0)
    assert error < min(2.0 * rope.relative_uncertainty, 3e-3)


def test_no_gain_control_no_fall() -> None:
    plain = take(_sound()).recording
    assert abs(_gain_fall(plain, STARTS)) < 0.7
    # noise that stops for good, as of a fan switched off, is no gain control
    sound = _sound(1e-4)
    fan = 0.02 * np.random.default_rng(5).standard_normal(sound.size)
    fan[round(0.95 * RATE) :] = 0.0
    stopped = replace(plain, samples=(sound + fan).astype(np.float32))
    assert _gain_fall(stopped, STARTS[:1]) < FALLS


def test_what_is_too_short_tells_nothing() -> None:
    short = take(_sound()[: round(1.3 * RATE)]).recording
    assert _gain_fall(short, STARTS[:1]) == 0.0
    assert _gain_fall(short, ()) == 0.0
