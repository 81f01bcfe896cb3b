"""What must not change a number: order, rate, silence, gain, where a file begins."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

from tension.sound.hear import hear_set
from tension.sound.hearing import RopeHearing, RopeSpan, SetHearing, Take
from tests.sound.made import RATE, clamped_pinned_modes, recording, ring, take

Array = NDArray[np.float64]

LENGTH, RIGIDITY = 3.2, 15.0
SPEEDS = (88.0, 92.0, 86.0)
SPANS = tuple(RopeSpan(number=k + 1, free_length=LENGTH) for k in range(3))


def _modes(number: int) -> Array:
    return clamped_pinned_modes(LENGTH, SPEEDS[number - 1], RIGIDITY, 40)


@cache
def _samples(number: int) -> Array:
    sound = ring(_modes(number), seconds=3.5, place=0.17 + 0.04 * number)
    rings = {0.6: sound, 3.6: 0.8 * sound}
    return recording(rings, seconds=6.6, seed=number, noise=0.002)


@cache
def _takes() -> tuple[Take, ...]:
    return tuple(take(_samples(span.number), (span.number,)) for span in SPANS)


@cache
def _heard() -> SetHearing:
    return hear_set(_takes(), SPANS)


@cache
def _one() -> RopeHearing:
    return hear_set(_takes()[:1], SPANS[:1]).ropes[0]


def _same(rope: RopeHearing, other: RopeHearing) -> None:
    """The one number lies within the stated uncertainty of the other."""
    assert rope.refusal is None
    change = abs(np.log(rope.fundamental_frequency / other.fundamental_frequency))
    assert change < other.relative_uncertainty


@pytest.mark.slow
def test_the_order_of_takes_and_of_spans_changes_nothing() -> None:
    order = (2, 0, 1)
    takes = [_takes()[k] for k in order]
    spans = [SPANS[k] for k in (1, 2, 0)]
    heard = hear_set(takes, spans)
    assert [rope.number for rope in heard.ropes] == [2, 3, 1]
    assert heard.given == (2, 3, 1)
    plain = {rope.number: rope for rope in _heard().ropes}
    for rope in heard.ropes:
        other = plain[rope.number]
        assert rope.fundamental_frequency == pytest.approx(
            other.fundamental_frequency, rel=1e-7
        )
        assert rope.relative_uncertainty == pytest.approx(
            other.relative_uncertainty, rel=1e-4
        )


def _slower(samples: Array) -> Take:
    return take(resample_poly(samples, 4, 5), rate=0.8 * RATE)


def _quiet_before(samples: Array) -> Take:
    rng = np.random.default_rng(11)
    return take(np.r_[0.002 * rng.standard_normal(round(RATE)), samples])


def _half_a_second_less(samples: Array) -> Take:
    return take(samples[round(0.5 * RATE) :])


def _inside_the_ring(samples: Array) -> Take:
    return take(samples[round(0.75 * RATE) :])


def _louder(samples: Array) -> Take:
    return take(10.0 * samples)


def _softer(samples: Array) -> Take:
    return take(0.1 * samples)


def _turned_over(samples: Array) -> Take:
    return take(-samples)


@pytest.mark.parametrize(
    "change",
    [
        _slower,
        _quiet_before,
        _half_a_second_less,
        _inside_the_ring,
        _louder,
        _softer,
        _turned_over,
    ],
)
def test_what_the_recorder_chooses_does_not_move_the_number(
    change: Callable[[Array], Take],
) -> None:
    _same(hear_set([change(_samples(1))], SPANS[:1]).ropes[0], _one())


def test_the_one_number_is_right() -> None:
    true = float(_modes(1)[0])
    error = abs(np.log(_one().fundamental_frequency / true))
    assert error < 3.0 * _one().relative_uncertainty


@pytest.mark.parametrize("start", [0.02, 0.3, 1.5])
def test_wherever_the_pluck_falls_it_gives_a_number(start: float) -> None:
    sound = ring(_modes(1), seconds=3.5, place=0.21)
    samples = recording({start: sound}, seconds=start + 3.5, noise=0.002)
    rope = hear_set([take(samples)], SPANS[:1]).ropes[0]
    assert rope.refusal is None
    _same(rope, replace(_one(), relative_uncertainty=5e-4))


STARTS = (0.5, 1.6, 2.7)


def test_plucks_one_into_the_other_give_the_number_of_one() -> None:
    # the hand that plucks again stops what rings
    sound = ring(_modes(1), seconds=5.0, place=0.21)
    samples = recording(dict.fromkeys(STARTS, sound), seconds=5.0, noise=0.002)
    rope = hear_set([take(samples)], SPANS[:1]).ropes[0]
    used = [pluck.start for pluck in rope.plucks if pluck.is_used]
    assert used == pytest.approx(STARTS, abs=0.05)
    _same(rope, replace(_one(), relative_uncertainty=1e-3))


def test_plucks_over_a_ring_that_goes_on_give_it_too() -> None:
    sound = ring(_modes(1), seconds=5.0, place=0.21)
    parts = [
        recording({start: sound}, seconds=5.0, noise=0.001, seed=k)
        for k, start in enumerate(STARTS)
    ]
    samples = np.sum(parts, axis=0) / 3.0
    rope = hear_set([take(samples)], SPANS[:1]).ropes[0]
    assert any(pluck.is_used for pluck in rope.plucks)
    _same(rope, replace(_one(), relative_uncertainty=1e-3))
