"""Two ropes plucked at once are told from one rope and its neighbours."""

from dataclasses import replace

import numpy as np
import pytest

from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, Pluck, RopeSpan
from tension.sound.hum import Ring
from tension.sound.rings import RingOf
from tension.sound.rope import read_lines
from tension.sound.spectra import Lines
from tension.sound.tworopes import (
    Pair,
    find_pair,
    find_second,
    higher_dies,
    is_of_set,
)
from tests.sound.made import (
    RATE,
    clamped_pinned_modes,
    made_lines,
    recording,
    ring,
    take,
)

Array = np.ndarray
SPAN = RopeSpan(number=1, free_length=3.0)
ONE = clamped_pinned_modes(3.0, 90.0, 15.0, 22)


def _other(tension_ratio: float) -> Array:
    """A rope of the same set with another tension."""
    return clamped_pinned_modes(3.0, 90.0 * np.sqrt(tension_ratio), 15.0, 22)


def _lines(*ropes: tuple[Array, float]) -> Lines:
    """Partials of some ropes, each at a level [dB]."""
    rng = np.random.default_rng(4)
    f = np.concatenate([modes for modes, _ in ropes])
    decibels = np.concatenate([np.full(m.size, level) for m, level in ropes])
    decibels = decibels + rng.uniform(-4.0, 4.0, f.size)
    f = f + 0.02 * rng.standard_normal(f.size)
    return made_lines(f, 10.0 ** (0.1 * decibels))


def test_a_second_string_is_another_rope_only_with_a_pitch_of_the_set() -> None:
    pair = _pair(_lines((ONE, 40.0), (_other(1.12), 38.0)))
    assert pair is not None
    low, high = pair.lower.fundamental_frequency, pair.higher.fundamental_frequency
    assert is_of_set(pair, pair.lower, (high * 1.005, 20.0))
    assert is_of_set(pair, pair.higher, (low * 0.995, 20.0))
    # its own pitch in the set says nothing of the second; 2 % off is another rope
    assert not is_of_set(pair, pair.lower, (low, high * 1.02))
    # a comb that mixes both has neither pitch: either may be the other rope
    mixed = replace(pair.lower, spacing=1.4 * pair.lower.spacing)
    assert is_of_set(pair, mixed, (low, 20.0))
    assert not is_of_set(pair, mixed, (20.0,))
    # with a rope of the set not heard nothing is known
    assert is_of_set(pair, pair.lower, None)


def _pair(lines: Lines) -> Pair | None:
    return find_pair(lines, read_lines(lines, SPAN, HearingPrior()))


@pytest.mark.parametrize("ratio", [0.8, 0.93, 1.07, 1.25])
def test_two_ropes_as_loud_are_both_found(ratio: float) -> None:
    other = _other(ratio)
    pair = _pair(_lines((ONE, 40.0), (other, 37.0)))
    assert pair is not None
    found = [pair.lower.fundamental_frequency, pair.higher.fundamental_frequency]
    assert found == pytest.approx(sorted([ONE[0], other[0]]), rel=2e-3)


@pytest.mark.parametrize("ratio", [0.9, 1.15])
def test_a_neighbour_ten_decibels_lower_is_no_second_pluck(ratio: float) -> None:
    lines = _lines((ONE, 40.0), (_other(ratio), 28.0))
    assert _pair(lines) is None
    best = read_lines(lines, SPAN, HearingPrior())[0]
    second = find_second(lines, best.fit)
    assert second is not None
    assert second.fit.fundamental_frequency == pytest.approx(_other(ratio)[0], rel=2e-3)
    # levels are drawn within 4 dB of 12 dB
    assert second.level == pytest.approx(-12.0, abs=3.0)
    assert second.power == pytest.approx(-12.0, abs=2.0)


def test_one_rope_and_its_second_plane_are_one_rope() -> None:
    assert _pair(_lines((ONE, 40.0))) is None
    assert _pair(_lines((ONE, 40.0), (1.003 * ONE, 39.0))) is None


def _two_sounds(first_dies_in: float, second_dies_in: float) -> tuple[RingOf, ...]:
    """One ring with both ropes, each with its time to die [s]."""
    t = np.arange(int(3.0 * RATE)) / RATE
    total = np.zeros(t.size)
    for modes, dies in ((ONE, first_dies_in), (_other(1.15), second_dies_in)):
        for f in modes:
            total += np.exp(-t / dies) * np.cos(2.0 * np.pi * f * t + f)
    pluck = Pluck(recording="memo.wav", index=1, start=0.0, end=3.0, is_used=True)
    before = 1e-3 * np.random.default_rng(1).standard_normal(int(RATE))
    one = Ring(samples=total, before=before, sampling_rate=RATE)
    return (RingOf(ring=one, pluck=pluck, take=0, entry=0, image=np.empty(0)),)


def test_a_rope_that_comes_free_of_a_guard_is_told_from_two_ropes() -> None:
    lines = _lines((ONE, 40.0), (_other(1.15), 38.0))
    pair = _pair(lines)
    assert pair is not None
    assert not higher_dies(_two_sounds(1.0, 0.8), lines, pair)
    assert not higher_dies(_two_sounds(0.4, 1.5), lines, pair)
    assert higher_dies(_two_sounds(1.5, 0.4), lines, pair)


@pytest.mark.parametrize("ratio", [0.85, 1.06])
def test_a_recording_of_two_ropes_says_so(ratio: float) -> None:
    both = ring(ONE, seconds=4.0) + ring(_other(ratio), seconds=4.0, place=0.22)
    heard = hear_set([take(recording({0.8: both}, seconds=5.0))], [SPAN]).ropes[0]
    assert heard.refusal is not None
    assert heard.refusal.code == "two-ropes"
    assert f"{ONE[0]:.1f}" in heard.refusal.text
    alone = recording({0.8: ring(ONE, seconds=4.0)}, seconds=5.0)
    rope = hear_set([take(alone)], [SPAN]).ropes[0]
    assert rope.refusal is None
    assert rope.fundamental_frequency == pytest.approx(ONE[0], rel=2e-3)


def test_a_string_above_all_that_sounds_has_no_second() -> None:
    # partials 30 to 40 alone: nothing lies below the lowest counts
    high = _lines((clamped_pinned_modes(3.0, 90.0, 15.0, 40)[29:], 40.0))
    readings = read_lines(high, replace(SPAN, free_length=None), HearingPrior())
    low = [one for one in readings if one.fit.modes.min() > 25]
    assert low
    assert find_pair(high, low) is None
