"""A rope without a set: what few good ropes show and bad recordings do is refused."""

from dataclasses import replace

import numpy as np
import pytest

from tension.sound.choosing import choose
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, Pluck, RopeHearing, RopeSpan
from tension.sound.hum import Ring
from tension.sound.ringing import lowest_stood, why_no_rope
from tension.sound.rings import RingOf
from tension.sound.rope import HeardRope, read_lines
from tension.sound.spectra import Lines
from tests.sound.made import (
    RATE,
    clamped_pinned_modes,
    made_lines,
    recording,
    ring,
    take,
)

SPAN = RopeSpan(number=1, free_length=3.0)
ONE = clamped_pinned_modes(3.0, 60.0, 8.0, 24)


def _ring_of(samples: np.ndarray, start: float = 1.0, level: float = 30.0) -> RingOf:
    pluck = Pluck(
        recording="memo.wav",
        index=1,
        start=start,
        end=6.0,
        is_used=True,
        signal_to_noise=level,
    )
    sound = Ring(samples=samples, before=samples[:10], sampling_rate=RATE)
    return RingOf(ring=sound, pluck=pluck, take=0)


def _chosen(lines: Lines, *, plucks: tuple[Pluck, ...] = ()) -> str:
    """Code of the refusal of a rope with these lines; empty if it is given."""
    one = _ring_of(ring(ONE, seconds=4.0))
    readings = read_lines(lines, SPAN, HearingPrior())
    heard = HeardRope(
        plucks=(one.pluck, *plucks), rings=(one,), lines=lines, readings=readings
    )
    weights = np.zeros(len(readings))
    weights[0] = 1.0
    refusal = choose(SPAN, heard, weights).refusal
    return "" if refusal is None else str(refusal.code)


def test_partials_no_higher_than_peaks_of_noise_are_no_rope() -> None:
    few = ONE[:6]
    assert _chosen(made_lines(few, 10.0**2.5)) == ""
    # as many partials in place, none over 15 dB: gusts of noise do the same
    assert _chosen(made_lines(few, 10.0**1.5)) == "too-noisy"
    # so many of them are no chance
    assert _chosen(made_lines(ONE, 10.0**1.5)) == ""


def test_a_pluck_after_a_louder_sound_is_the_last_of_several() -> None:
    other = clamped_pinned_modes(3.0, 61.7, 8.0, 24)[:7]
    levels = np.r_[np.full(ONE.size, 1e4), np.full(other.size, 2e3)]
    lines = made_lines(np.r_[ONE, other], levels)
    assert _chosen(lines) == ""
    before = Pluck(
        recording="memo.wav",
        index=0,
        start=0.6,
        end=0.95,
        is_used=False,
        signal_to_noise=45.0,
    )
    assert _chosen(lines, plucks=(before,)) == "several-ropes"
    for harmless in (
        replace(before, start=0.2),
        replace(before, signal_to_noise=35.0),
        replace(before, recording="other.wav"),
    ):
        assert _chosen(lines, plucks=(harmless,)) == ""


def _refusal(samples: np.ndarray) -> str:
    lines = made_lines(ONE, 1e4)
    fit = read_lines(lines, SPAN, HearingPrior())[0].fit
    refusal = why_no_rope([_ring_of(samples)], lines, fit, SPAN)
    return "" if refusal is None else str(refusal.code)


def test_what_is_held_and_stops_at_once_is_a_signal() -> None:
    free = ring(ONE, seconds=4.0)
    assert _refusal(free) == ""
    rng = np.random.default_rng(6)
    held = ring(ONE, seconds=4.0, damping=1e-5)
    # it must fall in the end, or it is told as steady
    held[round(2.3 * RATE) :] *= 0.01
    held += 1e-4 * rng.standard_normal(held.size)
    assert _refusal(held) == "only-music"


def test_tones_among_the_low_partials_as_loud_as_they_are_of_another_rope() -> None:
    strangers = ONE[:9] * 1.37
    free = ring(ONE, seconds=4.0)
    for decibels, code in ((-12.0, ""), (2.0, "several-ropes")):
        levels = np.r_[
            np.full(ONE.size, 1e4),
            np.full(strangers.size, 10.0 ** (4.0 + 0.1 * decibels)),
        ]
        lines = made_lines(np.r_[ONE, strangers], levels)
        fit = read_lines(made_lines(ONE, 1e4), SPAN, HearingPrior())[0].fit
        order = np.searchsorted(lines.frequencies, np.sort(ONE)[fit.lines])
        own = replace(fit, lines=order)
        refusal = why_no_rope([_ring_of(free)], lines, own, SPAN)
        assert (refusal.code if refusal else "") == code


@pytest.mark.parametrize("mains", [50.15, 59.85])
def test_mains_that_drift_are_no_rope(mains: float) -> None:
    comb = mains * np.arange(1.0, 9.0)
    weak = comb[:5] * 1.31
    lines = made_lines(np.r_[comb, weak], np.r_[np.full(8, 1e4), np.full(5, 8.0)])
    span = replace(SPAN, free_length=None)
    for one in read_lines(lines, span, HearingPrior()):
        strong = lines.levels[one.fit.lines] > 1e3
        assert np.count_nonzero(strong) < 0.8 * comb.size


def test_multiples_of_a_high_tone_are_no_fine_comb() -> None:
    lines = made_lines(158.2 * np.arange(1.0, 7.0), 1e3)
    for one in read_lines(lines, replace(SPAN, free_length=None), HearingPrior()):
        assert one.fit.modes.size < 5 or np.gcd.reduce(one.fit.modes) < 4


def test_a_clean_pluck_is_given_all_the_same() -> None:
    samples = recording({0.8: ring(ONE, seconds=5.0)}, seconds=6.0)
    rope: RopeHearing = hear_set([take(samples)], [SPAN]).ropes[0]
    assert rope.refusal is None
    assert rope.fundamental_frequency == pytest.approx(ONE[0], rel=5e-4)


def test_low_partials_that_stood_before_are_no_pluck() -> None:
    lines = made_lines(ONE, 1e4)
    readings = read_lines(lines, SPAN, HearingPrior())
    assert not lowest_stood(lines, readings[0].fit)
    stood = replace(lines, weights=np.where(np.arange(ONE.size) < 2, 0.05, 1.0))
    assert lowest_stood(stood, readings[0].fit)
    # one line in place is a machine's by chance
    alone = replace(lines, weights=np.where(np.arange(ONE.size) < 1, 0.05, 1.0))
    assert not lowest_stood(alone, readings[0].fit)
