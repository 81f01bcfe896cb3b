"""Glide and the weaker plane are seen in the phases and taken off."""

import numpy as np
import pytest

from tension.sound.partials import StringFit
from tension.sound.phases import PhaseFit, fit_phases
from tension.sound.tracks import follow_phases
from tests.sound.made import RATE, clamped_pinned_modes, ring

LENGTH, SPEED, RIGIDITY = 3.0, 90.0, 15.0
MODES = clamped_pinned_modes(LENGTH, SPEED, RIGIDITY, 12)


def _fit(offset: float = 0.0) -> StringFit:
    return StringFit(
        spacing=SPEED / (2.0 * LENGTH) * (1.0 + offset),
        bending=2.0 * np.pi * np.sqrt(RIGIDITY) / SPEED**2,
        n_clamped_ends=1,
        covariance=np.diag([1e-6, 1e-10]),
        modes=np.arange(1, 9),
        lines=np.arange(8),
        residuals=np.zeros(8),
        scatter=1e-4,
    )


def _heard(sounds: list[np.ndarray], fit: StringFit) -> PhaseFit:
    rng = np.random.default_rng(7)
    tracks = []
    for index, sound in enumerate(sounds):
        noisy = sound + 0.001 * rng.standard_normal(sound.size)
        tracks += follow_phases(
            noisy, RATE, index, fit, np.arange(1, 9), np.full(8, 1e-6)
        )
    found = fit_phases(tracks, fit)
    assert found is not None
    return found


def test_an_offset_of_the_first_fit_is_taken_out() -> None:
    found = _heard([ring(MODES, seconds=4.0)], _fit(3e-4))
    assert found.change == pytest.approx(-3e-4, abs=4e-5)


def test_glide_is_taken_off_and_told() -> None:
    sounds = [ring(MODES, seconds=4.0, rise=3e-3)]
    found = _heard(sounds, _fit())
    assert found.change == pytest.approx(0.0, abs=3.0 * np.sqrt(found.covariance[0, 0]))
    assert abs(found.change) < 6e-4
    assert found.glide == pytest.approx(3e-3, rel=0.4)


def test_plucks_of_different_strength_tell_the_glide_better_than_one() -> None:
    wide = ring(MODES, seconds=3.0, rise=3e-3)
    # a third of the amplitude has a ninth of the rise
    gentle = ring(MODES, seconds=3.0, rise=3e-3 / 9.0) / 3.0
    both = _heard([wide, gentle], _fit())
    alone = _heard([wide], _fit())
    assert both.covariance[0, 0] < alone.covariance[0, 0]
    assert abs(both.change) < 3e-4


@pytest.mark.parametrize("split", [-0.0015, 0.0015])
def test_the_stronger_of_two_planes_is_given(split: float) -> None:
    found = _heard([ring(MODES, seconds=5.0, split=split, weak=0.6)], _fit())
    # a single line would be drawn by split * 0.6/1.6 = 0.056 %
    assert abs(found.change) < 3e-4
