"""Candidates of one rope by itself: from rings to the strings they could be."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tension.sound.candidates import find_candidates, find_own_candidates
from tension.sound.decays import FoundRope, find_decays
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, RopeSpan, Take
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


def _of_takes(*takes: Take) -> FoundRope:
    found = find_decays(takes, [SPAN])[1]
    find_own_candidates(found, HearingPrior())
    return found


def _of(samples: NDArray[np.float64]) -> FoundRope:
    return _of_takes(take(samples))


def _inside(late: float, seconds: float = 4.0) -> NDArray[np.float64]:
    """A recording begun so many seconds after the pluck."""
    samples = recording({0.5: ring(ONE, seconds=6.0)}, seconds=6.5)
    first = round((0.5 + late) * RATE)
    return samples[first : first + round(seconds * RATE)]


@pytest.mark.parametrize("mains", [50.15, 59.85])
def test_mains_that_drift_are_no_rope(mains: float) -> None:
    partials = mains * np.arange(1.0, 9.0)
    weak = partials[:5] * 1.31
    lines = made_lines(np.r_[partials, weak], np.r_[np.full(8, 1e4), np.full(5, 8.0)])
    span = replace(SPAN, free_length=None)
    for one in find_candidates(lines, span, HearingPrior()):
        strong = lines.levels[one.fit.lines] > 1e3
        assert np.count_nonzero(strong) < 0.8 * partials.size


def test_multiples_of_a_high_tone_are_no_fine_comb() -> None:
    lines = made_lines(158.2 * np.arange(1.0, 7.0), 1e3)
    for one in find_candidates(lines, replace(SPAN, free_length=None), HearingPrior()):
        assert one.fit.modes.size < 5 or np.gcd.reduce(one.fit.modes) < 4


@pytest.mark.parametrize("late", [0.1, 0.6])
def test_a_recording_begun_inside_the_ring_shows_the_rope(late: float) -> None:
    heard = _of(_inside(late))
    assert heard.refusal is None
    # the highest rise of what only falls may pass for the start, but one ring it is
    assert len(heard.decays) == 1
    assert heard.decays[0].pluck.start < 0.6
    assert heard.decays[0].pluck.end > 3.2
    pitch = heard.candidates[0].fit.fundamental_frequency
    assert pitch == pytest.approx(ONE[0], rel=2e-3)


def test_a_ring_inside_and_one_plucked_later_are_both_listened_to() -> None:
    later = recording({1.5: ring(ONE, seconds=4.0)}, seconds=5.0)
    samples = _inside(0.3, seconds=5.0)
    samples[round(1.45 * RATE) :] *= 0.05
    heard = _of(samples + later)
    assert [round(one.pluck.start, 1) for one in heard.decays] == [0.0, 1.5]
    pitch = heard.candidates[0].fit.fundamental_frequency
    assert pitch == pytest.approx(ONE[0], rel=2e-3)


def test_quiet_before_the_pluck_is_no_ring() -> None:
    heard = _of(recording({1.2: ring(ONE, seconds=4.0)}, seconds=5.0))
    assert [round(one.pluck.start, 1) for one in heard.decays] == [1.2]


def test_hum_taken_out_is_told_and_is_no_partial() -> None:
    samples = recording({1.2: ring(ONE, seconds=4.0)}, seconds=5.0, hum=0.05)
    heard = _of(samples)
    told = [line.frequency for line in heard.hum]
    assert told[:2] == pytest.approx([50.02, 100.04], abs=0.05)
    assert told == sorted(told)
    assert heard.lines is not None
    fit = heard.candidates[0].fit
    assert fit.fundamental_frequency == pytest.approx(ONE[0], rel=2e-3)
    used = heard.lines.frequencies[fit.lines]
    away = np.abs(used[:, None] - np.array(told)).min(axis=1)
    # none of its lines lies where hum was
    assert np.all(away > 0.1)


def test_no_recording_and_no_ring_are_refused_with_the_next_act() -> None:
    samples = recording({1.0: ring(ONE, seconds=4.0)}, seconds=5.0)
    left_out = replace(take(samples), excluded_plucks=(1,))
    codes = []
    for takes in ([], [left_out]):
        one = _of_takes(*takes)
        refusal = one.refusal
        assert refusal is not None
        assert refusal.next_act
        assert one.candidates == ()
        codes.append(refusal.code)
    assert codes == ["not-recorded", "no-pluck"]


def test_a_clean_pluck_is_given_without_a_set() -> None:
    samples = recording({0.8: ring(ONE, seconds=5.0)}, seconds=6.0)
    rope = hear_set([take(samples)], [SPAN]).ropes[0]
    assert rope.refusal is None
    assert rope.fundamental_frequency == pytest.approx(ONE[0], rel=5e-4)
    assert [check.passed for check in rope.checks] == [True, True]
