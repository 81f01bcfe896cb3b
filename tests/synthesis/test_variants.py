"""The draws beside the regimes are what their names say."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.synthesis.bad_recordings import KINDS, make_bad_recordings
from tests.synthesis.sets import REGRESSION_SEEDS
from tests.synthesis.variants import (
    draw_clean_pluck,
    draw_lone_rope,
    draw_midspan_set,
    draw_rods_set,
    draw_touching_set,
)

pytestmark = pytest.mark.slow

SEED = REGRESSION_SEEDS[2]


def level_at(samples: NDArray[np.float64], rate: int, frequency: float) -> float:
    window = np.hanning(len(samples))
    moments = np.arange(len(samples)) / rate
    phase = np.exp(-2j * np.pi * frequency * moments)
    return float(abs(np.sum(samples * window * phase)) / window.sum())


def test_midspan_plucks_leave_the_even_modes_out() -> None:
    ratios = []
    for seed in REGRESSION_SEEDS[2:5]:
        synthetic = draw_midspan_set(seed)
        for rope, recording in zip(synthetic.ropes, synthetic.recordings, strict=True):
            first = int(recording.onsets[0] * recording.sampling_rate)
            last = first + 2 * recording.sampling_rate
            part = recording.samples[first:last].astype(float)
            # a pair of modes near 150 Hz, above the roll-off
            n = int(np.argmin(np.abs(rope.frequencies - 150.0)))
            odd, even = (n, n + 1) if n % 2 == 0 else (n + 1, n)
            if odd >= len(rope.frequencies) or even >= len(rope.frequencies):
                continue
            levels = [
                level_at(part, recording.sampling_rate, float(rope.frequencies[k]))
                for k in (odd, even)
            ]
            ratios.append(20.0 * np.log10(levels[0] / levels[1]))
    assert np.median(ratios) > 10.0


def test_rows_hang_on_rods_of_two_lengths_and_are_equal() -> None:
    for seed in REGRESSION_SEEDS[2:4]:
        synthetic = draw_rods_set(seed)
        free = [rope.rod_free for rope in synthetic.ropes]
        assert len(set(free[::2])) == 1
        assert len(set(free[1::2])) == 1
        assert free[0] != free[1]
        assert synthetic.spread < 0.03


def test_a_lone_rope_is_one_rope_in_the_range_of_the_table() -> None:
    frequencies = []
    for seed in REGRESSION_SEEDS[2:12]:
        synthetic = draw_lone_rope(seed)
        assert len(synthetic.ropes) == len(synthetic.recordings) == 1
        frequencies.append(synthetic.ropes[0].fundamental_frequency)
    assert 2.5 < min(frequencies) < 8.0
    assert 20.0 < max(frequencies) < 70.0


def test_clean_plucks_are_partials_and_noise_as_stated() -> None:
    clean = draw_clean_pluck(SEED)
    quiet = clean.samples[: int(clean.onset * clean.sampling_rate)]
    # 4800 samples: 1 % of scatter
    assert float(np.std(quiet)) == pytest.approx(clean.noise, rel=0.05)
    first = int(clean.onset * clean.sampling_rate)
    moments = np.arange(len(clean.samples) - first) / clean.sampling_rate
    strong = np.argsort(clean.amplitudes)[::-1][:30]
    columns = np.exp(-np.outer(moments, clean.rates[strong])) * np.cos(
        2.0 * np.pi * np.outer(moments, clean.frequencies[strong])
    )
    fitted = np.linalg.lstsq(columns, clean.samples[first:], rcond=None)[0]
    np.testing.assert_allclose(
        np.abs(fitted[:3]), clean.amplitudes[strong[:3]], rtol=0.02
    )


def test_the_bound_is_what_least_squares_reaches() -> None:
    # one partial, linearised: sd of f from the Fisher matrix of (A, phase, f)
    clean = draw_clean_pluck(SEED)
    k = int(np.argmax(clean.amplitudes))
    rate, angular = clean.rates[k], 2.0 * np.pi * clean.frequencies[k]
    first = int(clean.onset * clean.sampling_rate)
    moments = np.arange(len(clean.samples) - first) / clean.sampling_rate
    decay = np.exp(-rate * moments)
    sine, cosine = np.sin(angular * moments), np.cos(angular * moments)
    amplitude = clean.amplitudes[k]
    gradient = np.array(
        [
            decay * cosine,
            -amplitude * decay * sine,
            -amplitude * decay * 2.0 * np.pi * moments * sine,
        ]
    )
    fisher = gradient @ gradient.T / clean.noise**2
    expected = np.sqrt(np.linalg.inv(fisher)[2, 2]) / clean.frequencies[k]
    # the closed form leaves out terms at twice the frequency
    assert clean.bound(np.array([k])) == pytest.approx(expected, rel=5e-3)


def test_more_partials_bound_tighter() -> None:
    clean = draw_clean_pluck(SEED)
    assert clean.bound(np.arange(12)) < clean.bound(np.arange(6))


def test_there_are_thirty_kinds_of_bad_recording_and_more() -> None:
    made = make_bad_recordings(SEED)
    again = make_bad_recordings(SEED)
    assert len({one.kind for one in made}) == len(made) == len(KINDS) >= 30
    for first, second in zip(made, again, strict=True):
        np.testing.assert_array_equal(first.samples, second.samples)
        assert np.max(np.abs(first.samples)) <= 1.0


def test_a_touching_rope_is_sharp_at_first_and_comes_free() -> None:
    synthetic, number = draw_touching_set(SEED)
    rope = synthetic.ropes[number - 1]
    recording = synthetic.recordings[number - 1]
    assert recording.troubles == ("touching",)
    rate = recording.sampling_rate
    samples = recording.samples.astype(float)
    first = int(recording.onsets[0] * rate)
    late = samples[first + int(1.2 * rate) : first + int(3.2 * rate)]
    # lines of the free rope stand out once it has come free
    lines = rope.frequencies[:10]
    beside = 0.5 * (lines[1:] + lines[:-1])
    hum = np.array([50.0, 60.0])[:, None]
    far = np.min(np.abs(beside - hum * np.round(beside / hum)), axis=0) > 3.0
    on = [level_at(late, rate, float(line)) for line in lines]
    off = [level_at(late, rate, float(place)) for place in beside[far]]
    assert np.max(on) > 10.0 * np.max(off)
