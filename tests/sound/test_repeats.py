"""Rings of one rope, of another, and of two ropes changed over between rounds."""

import numpy as np
import pytest

from tension.sound.events import OCTAVES, STEP
from tension.sound.hearing import Pluck
from tension.sound.hum import Ring
from tension.sound.repeats import (
    find_swaps,
    is_apart,
    mean_image,
    odd_ones,
    shift_between,
)
from tension.sound.rings import RingOf, RopeRings, settle_repeats


def image(fundamental: float, seed: int = 0) -> np.ndarray:
    """A comb of lines on the logarithmic axis, levels and noise by chance."""
    rng = np.random.default_rng([10_020, seed])
    low, high = (float(np.log(edge)) for edge in OCTAVES)
    axis = np.exp(np.arange(low, high, STEP))
    values = 0.1 * rng.random(axis.size)
    for n in range(1, 40):
        width = 0.4
        level = rng.uniform(0.7, 1.0)
        values += level * np.exp(-0.5 * ((axis - n * fundamental) / width) ** 2)
    values -= values.mean()
    normal: np.ndarray = values / np.sqrt(np.sum(values**2))
    return normal


@pytest.mark.parametrize("percent", [2.0, -3.0, 5.0])
def test_a_shift_is_found_to_a_step_of_the_axis(percent: float) -> None:
    ratio = 1.0 + percent / 100.0
    shift = shift_between(image(14.0 * ratio, 1), image(14.0, 2))
    assert shift == pytest.approx(np.log(ratio), abs=STEP)


def test_rings_of_one_pitch_are_not_apart() -> None:
    assert shift_between(image(14.0, 1), image(14.0, 2)) == 0.0
    assert not is_apart(image(14.0, 1), image(14.03, 2))
    assert odd_ones([image(14.0, k) for k in range(4)]) == []


def test_the_one_ring_of_another_rope_is_the_odd_one() -> None:
    images = [image(14.0, 1), image(14.6, 2), image(14.0, 3), image(14.0, 4)]
    assert odd_ones(images) == [1]
    assert odd_ones(images[:1]) == []


def test_ropes_changed_over_between_rounds_are_found_as_a_pair() -> None:
    rounds = {
        2: (mean_image([image(14.0, 1), image(14.0, 2)]), image(15.0, 3)),
        3: (image(15.0, 4), image(14.0, 5)),
        5: (image(11.0, 6), image(12.0, 7)),
    }
    assert find_swaps(rounds) == [(2, 3)]


def _ring_of(pitch: float, level: float, start: float) -> RingOf:
    """A ring with its image and its level over what stood before [dB]."""
    pluck = Pluck(
        recording="memo.wav",
        index=round(start),
        start=start,
        end=start + 2.0,
        is_used=True,
        signal_to_noise=level,
    )
    sound = Ring(samples=np.ones(10), before=np.ones(10), sampling_rate=1000.0)
    return RingOf(ring=sound, pluck=pluck, take=0, image=image(pitch, round(start)))


def _settled(*rings: RingOf) -> RopeRings:
    """What is left of a rope's rings."""
    rope = RopeRings(rings=list(rings), plucks=[one.pluck for one in rings])
    settle_repeats({1: rope})
    return rope


def test_a_weak_sound_of_another_pitch_is_left_out_and_told() -> None:
    rope = _settled(_ring_of(14.0, 30.0, 1.0), _ring_of(15.1, 12.0, 6.0))
    assert rope.refusal is None
    assert [one.pluck.start for one in rope.rings] == [1.0]
    assert [note.code for note in rope.notes] == ["weak-sounds"]
    assert "6.0 s (memo.wav)" in rope.notes[0].text
    assert [pluck.is_used for pluck in rope.plucks] == [True, False]
    # the weak ring of the same pitch stays
    both = _settled(_ring_of(14.0, 30.0, 1.0), _ring_of(14.0, 12.0, 6.0))
    assert len(both.rings) == 2


def test_two_plucks_of_different_pitch_and_like_level_are_refused() -> None:
    rope = _settled(_ring_of(14.0, 30.0, 1.0), _ring_of(15.1, 26.0, 6.0))
    assert rope.refusal is not None
    assert rope.refusal.code == "plucks-apart"
    assert not rope.rings
