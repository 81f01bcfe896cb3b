"""What a chosen string shows of itself: how it falls, its course, part by part."""

from collections.abc import Sequence
from dataclasses import astuple

import numpy as np
import pytest
from numpy.typing import NDArray

from tension.sound.candidates import find_candidates
from tension.sound.decays import Decay, FoundRope
from tension.sound.hearing import HearingPrior, Pluck, RopeSpan
from tension.sound.spectra import find_lines
from tension.sound.statistics import Statistics, describe_string
from tests.sound.made import clamped_pinned_modes, ring

Array = NDArray[np.float64]

RATE = 2000.0
SPAN = RopeSpan(number=1, free_length=3.0)
DAMPING = 0.004
SECONDS = 3.0
MODES = clamped_pinned_modes(3.0, 60.0, 8.0, 14)
HIGHER = clamped_pinned_modes(3.0, 60.0 * 1.19, 8.0, 14)


def _sound(modes: Array = MODES, seconds: float = SECONDS, **more: float) -> Array:
    return ring(modes, seconds=seconds, rate=RATE, damping=DAMPING, **more)


def _noisy(sound: Array, seed: int = 3) -> Array:
    rng = np.random.default_rng(seed)
    noisy: Array = sound + 1e-3 * rng.standard_normal(sound.size)
    return noisy


def _ring_of(samples: Array, start: float = 1.0) -> Decay:
    pluck = Pluck(
        recording="memo.wav", index=1, start=start, end=start + 4.0, is_used=True
    )
    return Decay(
        samples=samples,
        sampling_rate=RATE,
        pluck=pluck,
        take=0,
        entry=0,
        log_spectrum=np.zeros(10),
    )


def _described(sounds: Sequence[Array], whole: Array | None = None) -> Statistics:
    """Statistics of the likeliest string of rings, and of a recording as a whole."""
    samples = [_noisy(sound, seed) for seed, sound in enumerate(sounds)]
    lines = find_lines(samples, RATE)
    candidates = find_candidates(lines, SPAN, HearingPrior())
    best = candidates[0]
    assert best.fit.fundamental_frequency == pytest.approx(MODES[0], rel=5e-3)
    parts = [] if whole is None else [_noisy(whole).astype(np.float32)]
    rings = [_ring_of(each) for each in samples]
    rope = FoundRope(span=SPAN, decays=rings, whole=parts, lines=lines)
    return describe_string(rope, best.fit, best.log_likelihood, 0.0)


def test_the_falls_are_those_that_were_made() -> None:
    found = _described([_sound()])
    # 2 pi f zeta (1 + f / 400) of each partial that is heard
    falls = 2.0 * np.pi * MODES * DAMPING * (1.0 + MODES / 400.0)
    assert falls[0] < found.rising < found.fastest < falls[-1]
    assert found.steady == 0.0


def test_a_tone_that_is_held_does_not_fall_and_one_reversed_rises() -> None:
    held = ring(MODES, seconds=SECONDS, rate=RATE, damping=1e-5)
    steady = _described([held])
    assert abs(steady.rising) < 0.05
    assert steady.steady > 0.9
    backwards = _described([_sound()[::-1].copy()])
    assert backwards.fastest < 0.0


def test_the_course_tells_a_ring_from_what_swells() -> None:
    t = np.arange(round(SECONDS * RATE)) / RATE
    plain = _described([_sound()])
    assert plain.peak == 0.0
    swelling = _described([_sound() * np.exp(4.0 * np.minimum(t, 1.5))])
    assert 0.3 < swelling.peak < 0.9


def test_a_rope_is_told_as_it_is() -> None:
    found = _described([_sound(), 0.7 * _sound()], np.r_[_sound(), _sound()])
    assert found.explained > 0.9
    assert found.margin == 1.0
    # pi^2 (EI/m) / (c L)^2 at the tenth partial and beyond, half of it
    assert found.stretch > np.log(0.5 * np.pi**2 * 8.0 / (60.0 * 3.0) ** 2 * 100.0)
    assert all(np.isfinite(astuple(found)))


def test_a_tune_of_two_pitches_is_told_by_the_part_of_the_other() -> None:
    one = _sound(seconds=2.0)
    other = _sound(HIGHER, seconds=2.0)
    rope = _described([one], np.r_[one, one])
    tune = _described([one], np.r_[one, other, one])
    assert rope.elsewhere < 1.0
    assert tune.elsewhere > rope.elsewhere + 1.0


def test_a_second_string_among_the_lines_is_told() -> None:
    both = _described([_sound() + 0.6 * _sound(HIGHER)])
    alone = _described([_sound()])
    # ln of what noise shows by chance
    assert alone.second < 2.6
    assert both.second > alone.second + 1.0
    assert both.explained < alone.explained - 0.1


def test_what_is_too_short_to_fall_says_nothing_of_it() -> None:
    found = _described([_sound()])
    lines = find_lines([_noisy(_sound())], RATE)
    rings = [_ring_of(_sound()[: round(0.2 * RATE)])]
    fit = find_candidates(lines, SPAN, HearingPrior())[0].fit
    rope = FoundRope(span=SPAN, decays=rings, lines=lines)
    short = describe_string(rope, fit, found.log_likelihood_ratio, 0.0)
    assert short.rising == short.peak == 0.0
    assert short.elsewhere == 0.0
