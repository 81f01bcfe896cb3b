"""Hum is taken out of a recording, and what rings beside it stays."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tension.sound.spectra import find_lines, off_mains, remove_hum

Array = NDArray[np.float64]

RATE = 2000.0
ONSET = 0.4
HARMONICS = (1, 2, 3, 5, 7)
LEFT = -50.0
"""Of hum that stands still. [dB]"""
MISSED = 1e-4
"""Of its frequency: clear multiples stand out over a plateau so wide. [1]"""


def _hum(seconds: float, mains: float, wander: float = 0.0) -> Array:
    """Multiples of the mains, slowly louder and softer by as much as `wander`."""
    t = np.arange(round(seconds * RATE)) / RATE
    level = 1.0 + wander * np.sin(2.0 * np.pi * 0.06 * t + 0.4)
    waves = [np.cos(2.0 * np.pi * mains * k * t + k * k) / k for k in HARMONICS]
    total: Array = 0.3 * level * np.sum(waves, axis=0)
    return total


def _plucked(seconds: float, frequency: float, decay: float = 0.8) -> Array:
    """A partial that dies by 1/e in so many seconds, plucked every three seconds."""
    t = np.arange(round(seconds * RATE)) / RATE
    since = (t - ONSET) % 3.0
    wave = 0.5 * np.exp(-since / decay) * np.cos(2.0 * np.pi * frequency * since)
    return np.where(t < ONSET, 0.0, wave)


def _noise(size: int) -> Array:
    rng = np.random.default_rng(4)
    return 1e-3 * rng.standard_normal(size)


def _decibels(left: Array, whole: Array) -> float:
    return float(10.0 * np.log10(np.mean(left**2) / np.mean(whole**2)))


@pytest.mark.parametrize("mains", [50.0, 50.04, 49.87, 60.1])
def test_hum_is_taken_out_to_a_few_hundredths(mains: float) -> None:
    hum = _hum(9.0, mains)
    noise = _noise(hum.size)
    cleaned, found = remove_hum(hum + noise, RATE)
    assert _decibels(cleaned - noise, hum) < LEFT
    expected = mains * np.array(HARMONICS)
    assert len(found) == len(HARMONICS)
    frequencies = [line.frequency for line in found]
    np.testing.assert_allclose(frequencies, expected, rtol=MISSED)
    assert all(line.level > 20.0 for line in found)


def test_hum_whose_level_and_frequency_wander_is_taken_out() -> None:
    hum = _hum(9.0, 50.02, wander=0.1)
    # a grid wanders by some thousandths of a hertz in seconds
    t = np.arange(hum.size) / RATE
    uneven = t + 5e-6 * np.sin(2.0 * np.pi * 0.1 * t)
    hum = np.interp(uneven, t, hum)
    noise = _noise(hum.size)
    cleaned, _ = remove_hum(hum + noise, RATE)
    assert _decibels(cleaned - noise, hum) < LEFT + 3.0


@pytest.mark.parametrize("beside", [98.0, 102.0, 150.03, 61.0])
def test_a_partial_beside_hum_or_at_its_place_stays(beside: float) -> None:
    # plucked within half a second: nothing stands quiet before it
    partial = _plucked(9.0, beside)
    noise = _noise(partial.size)
    cleaned, found = remove_hum(partial + noise, RATE)
    assert not found
    np.testing.assert_allclose(cleaned, partial + noise, atol=1e-6)
    hum = _hum(9.0, 50.02)[: partial.size]
    kept = np.delete(np.arange(hum.size), np.arange(round(ONSET * RATE)))
    cleaned, found = remove_hum(partial + hum + noise, RATE)
    if abs(beside - 150.0) > 1.0:
        assert len(found) == len(HARMONICS)
        # what hum leaves and what the partial loses, together
        assert _decibels((cleaned - noise - partial)[kept], partial[kept]) < -18.0
    else:
        # where both lie at one place the partial keeps its attack
        own = cleaned - noise
        first = slice(round(ONSET * RATE), round((ONSET + 0.4) * RATE))
        assert _decibels(own[first], partial[first]) > -3.0


def test_a_recording_without_hum_comes_back_as_it_was() -> None:
    noise = _noise(round(4.0 * RATE))
    cleaned, found = remove_hum(noise, RATE)
    assert cleaned.dtype == np.float32
    np.testing.assert_array_equal(cleaned, noise.astype(np.float32))
    assert not found


@pytest.mark.parametrize("size", [0, 1, 100, 700])
def test_next_to_nothing_is_no_crash(size: int) -> None:
    samples = _hum(1.0, 50.0)[:size]
    cleaned, _ = remove_hum(samples, RATE)
    assert cleaned.shape == samples.shape
    assert np.isfinite(cleaned).all()


def test_a_minute_and_more_is_cleaned_throughout() -> None:
    hum = _hum(66.0, 50.01)
    noise = _noise(hum.size)
    cleaned, _ = remove_hum(hum + noise, RATE)
    last = slice(-round(4.0 * RATE), None)
    assert _decibels((cleaned - noise)[last], hum[last]) < LEFT + 3.0


def test_mains_multiples_are_known_with_their_stray() -> None:
    off = off_mains(np.array([50.05, 120.2, 239.9, 300.3, 55.0, 110.0, 135.0]))
    nearest = [0.05, 0.2, 0.1, 0.3, 5.0, 10.0, 15.0]
    np.testing.assert_allclose(off.min(axis=0), nearest, atol=1e-9)


def _believed(
    seconds: float, hum: tuple[float, ...], *frequencies: float
) -> set[float]:
    """Which of some tones are believed where hum was taken out."""
    t = np.arange(round(seconds * RATE)) / RATE
    tones = np.array(frequencies)
    sound = np.cos(2.0 * np.pi * t[:, None] * tones).sum(axis=1)
    lines = find_lines([sound + 1e-3 * _noise(t.size)], RATE, hum)
    is_near = np.abs(lines.frequencies[:, None] - tones) < 0.3
    believed = lines.weights[:, None] * is_near
    return set(tones[believed.max(axis=0) > 0.5].tolist())


def test_what_is_left_beside_hum_is_told_and_a_partial_further_off_is_not() -> None:
    tones = 98.0, 100.15, 101.0, 130.0
    assert _believed(6.0, (), *tones) == set(tones)
    assert _believed(6.0, (100.02,), *tones) == {98.0, 101.0, 130.0}
    # a short window cannot tell 1 Hz
    assert _believed(6.0, (99.0,), 98.0, 200.0) == {98.0, 200.0}
    assert _believed(0.4, (99.0,), 98.0, 200.0) == {200.0}
