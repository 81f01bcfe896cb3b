"""Recordings in, fundamentals out, or a reason."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, RopeHearing, RopeSpan, SetHearing, Take
from tests.sound.made import clamped_pinned_modes, recording, ring, take

LENGTH, RIGIDITY = 3.2, 15.0
SPEEDS = (88.0, 92.0, 86.0, 97.0)


def _set(seed: int, **chain: float) -> tuple[list[Take], list[RopeSpan], np.ndarray]:
    takes, truth = [], []
    for k, speed in enumerate(SPEEDS):
        modes = clamped_pinned_modes(LENGTH, speed, RIGIDITY, 60)
        sound = ring(modes, seconds=4.0, place=0.2 + 0.04 * k)
        samples = recording(
            {0.6: sound, 4.2: 0.8 * sound}, seconds=7.5, seed=seed + k, **chain
        )
        takes.append(take(samples, (k + 1,)))
        truth.append(modes[0])
    spans = [RopeSpan(number=k + 1, free_length=LENGTH) for k in range(len(SPEEDS))]
    return takes, spans, np.array(truth)


@cache
def _clean() -> tuple[list[Take], list[RopeSpan], np.ndarray]:
    return _set(1)


@cache
def _clean_heard() -> SetHearing:
    takes, spans, _ = _clean()
    return hear_set(takes, spans)


def _frequencies(heard: SetHearing) -> np.ndarray:
    return np.array([rope.fundamental_frequency for rope in heard.ropes])


def test_a_clean_set_is_heard_to_a_few_parts_in_ten_thousand() -> None:
    truth = _clean()[2]
    heard = _clean_heard()
    assert heard.given == (1, 2, 3, 4)
    np.testing.assert_allclose(_frequencies(heard), truth, rtol=4e-4)
    assert heard.rigidity_per_density == pytest.approx(RIGIDITY, rel=0.05)
    assert sum(one.weight for one in heard.hypotheses) == pytest.approx(1.0)
    assert heard.covariance.shape == (4, 4)


@pytest.mark.slow
def test_the_fundamental_need_not_be_in_the_file() -> None:
    takes, spans, truth = _set(20, low_cut=110.0, noise=0.01, hum=0.02)
    heard = hear_set(takes, spans)
    assert len(heard.given) >= 3
    given = np.isfinite(_frequencies(heard))
    np.testing.assert_allclose(_frequencies(heard)[given], truth[given], rtol=4e-3)


@pytest.mark.slow
def test_errors_lie_within_what_is_stated() -> None:
    scaled = []
    for seed in (30, 40):
        takes, spans, truth = _set(seed, low_cut=60.0, noise=0.01)
        for rope, true in zip(hear_set(takes, spans).ropes, truth, strict=True):
            if rope.refusal is None:
                error = np.log(rope.fundamental_frequency / true)
                scaled.append(error / rope.relative_uncertainty)
    assert len(scaled) >= 7
    assert np.max(np.abs(scaled)) < 4.0


def test_one_rope_is_a_set_of_one_and_needs_no_length() -> None:
    takes, _, truth = _clean()
    rope = hear_set(takes[:1], [RopeSpan(number=1)]).ropes[0]
    assert rope.fundamental_frequency == pytest.approx(truth[0], rel=6e-4)
    assert rope.partials[0].mode_number == 1
    assert rope.inharmonicity == pytest.approx(
        np.pi**2 * RIGIDITY / (SPEEDS[0] * LENGTH) ** 2, rel=0.05
    )


@pytest.mark.slow
def test_doubling_every_prior_moves_nothing_on_clear_recordings() -> None:
    takes, spans, _ = _clean()
    usual = HearingPrior()
    wide = replace(
        usual,
        spread_width=2.0 * usual.spread_width,
        usual_wave_speed_width=2.0 * usual.usual_wave_speed_width,
        rigidity_width=2.0 * usual.rigidity_width,
    )
    one, other = _clean_heard(), hear_set(takes, spans, wide)
    sampling = np.array([rope.relative_uncertainty for rope in one.ropes])
    assert np.all(
        np.abs(np.log(_frequencies(other) / _frequencies(one))) < 0.3 * sampling
    )


@pytest.mark.slow
def test_the_same_recordings_give_the_same_numbers() -> None:
    takes, spans, _ = _clean()
    one, other = _clean_heard(), hear_set(takes, spans)
    np.testing.assert_array_equal(_frequencies(one), _frequencies(other))


def test_a_slow_vibration_log_is_heard_too() -> None:
    rate = 400.0
    modes = clamped_pinned_modes(LENGTH, 90.0, RIGIDITY, 10)
    sound = ring(modes, seconds=6.0, rate=rate)
    samples = recording({1.0: sound}, seconds=7.5, rate=rate, noise=0.002)
    rope = hear_set(
        [take(samples, rate=rate, codec="")], [RopeSpan(number=1, free_length=LENGTH)]
    ).ropes[0]
    assert rope.fundamental_frequency == pytest.approx(modes[0], rel=1e-3)


def _of(samples: np.ndarray) -> RopeHearing:
    span = RopeSpan(number=1, free_length=LENGTH)
    return hear_set([take(samples)], [span]).ropes[0]


@pytest.mark.parametrize("kind", ["noise", "hum", "silence", "click"])
def test_what_is_no_rope_gives_a_reason_and_an_act(kind: str) -> None:
    rng = np.random.default_rng(9)
    t = np.arange(32000) / 4000.0
    samples = {
        "noise": 0.1 * rng.standard_normal(t.size),
        "hum": 0.2 * np.cos(2 * np.pi * 50 * t)
        + 0.1 * np.cos(2 * np.pi * 150 * t)
        + 1e-3 * rng.standard_normal(t.size),
        "silence": np.zeros(t.size),
        "click": np.eye(1, t.size, 9000)[0],
    }[kind]
    rope = _of(samples)
    assert rope.refusal is not None
    assert rope.refusal.text
    assert rope.refusal.next_act
    assert np.isnan(rope.fundamental_frequency)


def test_a_rope_without_a_recording_is_refused_and_the_others_stay() -> None:
    takes, spans, _ = _clean()
    heard = hear_set(takes[:3], spans)
    assert heard.given == (1, 2, 3)
    assert heard.ropes[3].refusal is not None
    assert heard.ropes[3].refusal.code == "not-recorded"
    assert heard.covariance.shape == (3, 3)


def test_a_pluck_left_out_by_the_record_is_not_used() -> None:
    takes, spans, _ = _clean()
    left_out = replace(takes[0], excluded_plucks=(1,))
    rope = hear_set([left_out], spans[:1]).ropes[0]
    assert not rope.plucks[0].is_used
    assert rope.plucks[0].reason == "left out by the record"


@pytest.mark.slow
def test_clean_plucks_reach_the_bound_or_its_floor() -> None:
    # Cramér-Rao bound of decays A exp(-a t) in white noise of variance s^2 per sample
    # (Kay, Fundamentals of Statistical Signal Processing, 1993; damped form derived:
    # sd f = sqrt(2 s^2/A^2 S0/(S0 S2 - S1^2)) / 2 pi, S_j = sum t^j exp(-2 a t)),
    # combined over the partials for spacing and bending, both unknown.
    rng = np.random.default_rng(2)
    rate, seconds, damping = 4000.0, 4.0, 0.002
    modes = clamped_pinned_modes(LENGTH, 90.0, RIGIDITY, 60)
    sound = ring(modes, seconds=seconds, damping=damping, rate=rate)
    peak = 0.3 / np.max(np.abs(sound))
    errors, bounds = [], []
    for _ in range(40):
        noise = 0.3 * 10.0 ** (-rng.uniform(20.0, 40.0) / 20.0) / np.sqrt(2.0)
        samples = recording(
            {0.6: sound}, seconds=4.6, noise=noise, seed=int(rng.integers(1 << 30))
        )
        rope = hear_set(
            [take(samples)], [RopeSpan(number=1, free_length=LENGTH)]
        ).ropes[0]
        assert rope.refusal is None
        errors.append(np.log(rope.fundamental_frequency / modes[0]))
        bounds.append(
            _bound(modes, [p.mode_number for p in rope.partials], peak, noise)
        )
    allowed = np.maximum(1.5 * np.array(bounds), 5e-5)
    # root mean square of the scaled errors; 40 draws are good to a tenth
    assert np.sqrt(np.mean((np.array(errors) / allowed) ** 2)) < 1.1


def _bound(modes: np.ndarray, used: list[int], peak: float, noise: float) -> float:
    """Relative bound of the fundamental from the partials used."""
    t = np.arange(int(4.0 * 4000.0)) / 4000.0
    information = np.zeros((2, 2))
    for n in used:
        f = modes[n - 1]
        level = peak * abs(np.sin(np.pi * n * 0.27) * np.sin(np.pi * n * 0.19)) / n
        w = np.exp(-4.0 * np.pi * f * 0.002 * (1.0 + f / 400.0) * t)
        s0, s1, s2 = w.sum(), (t * w).sum(), (t**2 * w).sum()
        variance = 2.0 * noise**2 / level**2 * s0 / (s0 * s2 - s1**2)
        variance /= (2.0 * np.pi * f) ** 2
        slope = np.array([1.0, n**2 - 1.0])
        information += np.outer(slope, slope) / variance
    return float(np.sqrt(np.linalg.inv(information)[0, 0]))
