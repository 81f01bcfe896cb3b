"""Glide and the weaker plane are seen in the phases and taken off."""

import numpy as np
import pytest

from tension.sound.phases import (
    SHARES,
    SPLITS,
    PhaseFit,
    PhaseRows,
    _positive,
    fit_phases,
    follow_phases,
    plane_targets,
)
from tension.sound.string_fit import StringFit
from tests.sound.made import RATE, clamped_pinned_modes, ring

LENGTH, SPEED, RIGIDITY = 3.0, 90.0, 15.0
MODES = clamped_pinned_modes(LENGTH, SPEED, RIGIDITY, 12)


def _fit(offset: float = 0.0) -> StringFit:
    return StringFit(
        string_fundamental=SPEED / (2.0 * LENGTH) * (1.0 + offset),
        sqrt_dispersion=2.0 * np.pi * np.sqrt(RIGIDITY) / SPEED**2,
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
        tracks += follow_phases(noisy, RATE, index, fit, np.arange(1, 9))
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


def test_the_positive_part_of_a_normal_has_the_moments_of_its_integral() -> None:
    ratios = np.array([-4.0, -1.0, 0.0, 0.7, 5.0])
    share, shift, loss = _positive(ratios, np.zeros(ratios.size))
    for k, ratio in enumerate(ratios.tolist()):
        x = np.linspace(0.0, ratio + 12.0 if ratio > 0 else 12.0, 400_001)
        density = np.exp(-0.5 * (x - ratio) ** 2) / np.sqrt(2.0 * np.pi)
        whole = np.trapezoid(density, x)
        mean = np.trapezoid(x * density, x) / whole
        variance = np.trapezoid((x - mean) ** 2 * density, x) / whole
        assert share[k] == pytest.approx(whole, rel=1e-6)
        assert ratio + shift[k] == pytest.approx(mean, rel=1e-6)
        assert 1.0 - loss[k] == pytest.approx(variance, rel=1e-4)


def test_a_fall_of_pitch_is_not_taken_for_a_glide() -> None:
    # a pitch that climbs after the release has no cause in a plucked rope
    found = _heard([ring(MODES, seconds=4.0, rise=-2e-3)], _fit())
    assert found.glide >= 0.0
    risen = _heard([ring(MODES, seconds=4.0, rise=2e-3)], _fit())
    assert risen.glide > 1e-3


def test_what_a_short_ring_cannot_tell_of_planes_stays_in_the_uncertainty() -> None:
    # over 1 s planes 0.1 % apart turn by a tenth of a cycle at 100 Hz: not told apart;
    # a weaker plane at half the amplitude then pulls by 0.001 * 0.5 / 1.5
    found = _heard([ring(MODES, seconds=1.0, split=0.001, weak=0.5)], _fit())
    assert np.sqrt(found.covariance[0, 0]) > 1.5e-4
    assert abs(found.change) < 2.0 * np.sqrt(found.covariance[0, 0])


def test_what_planes_add_is_the_complex_logarithm_of_their_sum() -> None:
    # one + share exp(i turn), by numpy's own complex logarithm
    sound = ring(MODES, seconds=3.0)
    fit = _fit()
    tracks = follow_phases(sound, RATE, 0, fit, np.arange(1, 5))
    rows = PhaseRows(tracks, fit)
    phases, levels, prior = plane_targets(rows)
    splits = [split for split in SPLITS if split != 0.0]
    column = 1
    for split in splits:
        for share in SHARES:
            extra = np.log(1.0 + share * np.exp(2j * np.pi * split * rows.cycles))
            added = (
                rows.phase - phases[:, column] + 1j * (rows.level - levels[:, column])
            )
            assert added.real == pytest.approx(extra.imag / (2.0 * np.pi), abs=1e-12)
            assert added.imag == pytest.approx(extra.real / (2.0 * np.pi), abs=1e-12)
            column += 1
    assert np.exp(prior).sum() == pytest.approx(1.0)
