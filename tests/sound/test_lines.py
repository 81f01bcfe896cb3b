"""Lines in their windows."""

import numpy as np

from tension.sound.spectra import Lines, find_lines

RATE = 4000.0


def _lines(samples: np.ndarray) -> Lines:
    return find_lines([samples], RATE)


def test_a_line_is_found_where_it_is_within_its_uncertainty() -> None:
    rng = np.random.default_rng(3)
    errors = []
    for _ in range(40):
        t = np.arange(int(4 * RATE)) / RATE
        f = rng.uniform(60.0, 200.0)
        wave = np.exp(-t / 1.5) * np.cos(2 * np.pi * f * t + rng.uniform(0, 6.28))
        lines = _lines(wave + 0.5 * rng.standard_normal(t.size))
        best = int(np.argmax(lines.levels))
        errors.append((lines.frequencies[best] - f) / lines.uncertainties[best])
    # stated for the peak alone: within a factor of two of the scatter
    assert 0.5 < np.std(errors) < 2.0


def test_a_quick_decay_gets_a_short_window_and_a_slow_one_a_long() -> None:
    t = np.arange(int(5 * RATE)) / RATE
    wave = np.exp(-t / 3.0) * np.cos(2 * np.pi * 20.0 * t)
    wave += np.exp(-t / 0.1) * np.cos(2 * np.pi * 400.0 * t)
    rng = np.random.default_rng(1)
    lines = _lines(wave + 0.01 * rng.standard_normal(t.size))
    at = {round(f): d for f, d in zip(lines.frequencies, lines.durations, strict=True)}
    assert at[20] >= 2.4
    assert at[400] <= 0.6


def test_side_lobes_of_a_strong_line_are_no_lines() -> None:
    t = np.arange(int(5 * RATE)) / RATE
    wave = np.exp(-t / 1.0) * np.cos(2 * np.pi * 100.0 * t)
    rng = np.random.default_rng(2)
    lines = _lines(wave + 1e-3 * rng.standard_normal(t.size))
    high = lines.frequencies[10 * np.log10(lines.levels) > 20.0]
    # 80 dB below, within 5 Hz, is where a damped line itself still stands
    assert np.all(np.abs(high - 100.0) < 5.0)
