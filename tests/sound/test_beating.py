"""Partials that beat alike are those of two ropes; planes, glide and one are not."""

import numpy as np
import pytest

from tension.sound.beating import beats
from tension.sound.hearing import Pluck
from tension.sound.hum import Ring
from tension.sound.partials import fit_string
from tension.sound.rings import RingOf
from tests.sound.made import RATE, clamped_pinned_modes, made_lines, ring

ONE = clamped_pinned_modes(3.0, 50.0, 8.0, 24)


def _beats(samples: np.ndarray, modes: np.ndarray) -> bool:
    """Whether a ring beats, its lines taken where modes are."""
    rng = np.random.default_rng(3)
    samples = samples + 1e-4 * rng.standard_normal(samples.size)
    lines = made_lines(modes, 1e4)
    fit = fit_string(lines, modes[0], 1e-5, 1)
    assert fit is not None
    pluck = Pluck(recording="memo.wav", index=1, start=0.0, end=4.0, is_used=True)
    sound = Ring(samples=samples, before=samples[:10], sampling_rate=RATE)
    one = RingOf(ring=sound, pluck=pluck, take=0, entry=0, image=np.empty(0))
    return beats([one], lines, fit)


@pytest.mark.parametrize("ratio", [1.04, 1.07])
def test_two_ropes_nearly_alike_beat(ratio: float) -> None:
    other = clamped_pinned_modes(3.0, 50.0 * np.sqrt(ratio), 8.0, 24)
    both = ring(ONE, seconds=4.0) + ring(other, seconds=4.0)
    # a spectrum that does not resolve them shows lines between
    assert _beats(both, np.sqrt(ONE * other))
    faint = ring(ONE, seconds=4.0) + 0.1 * ring(other, seconds=4.0)
    assert not _beats(faint, ONE)


@pytest.mark.parametrize("split", [0.0, 0.002, 0.005])
def test_one_rope_and_its_planes_do_not(split: float) -> None:
    assert not _beats(ring(ONE, seconds=4.0, split=split, weak=0.7), ONE)
    gliding = ring(ONE, seconds=4.0, rise=0.004, split=split, weak=0.5)
    assert not _beats(gliding, ONE)
