"""Rings of one rope, of another, and of two ropes changed over between rounds."""

import numpy as np
import pytest

from tension.sound.decays import Decay, FoundRope
from tension.sound.events import OCTAVES, STEP
from tension.sound.hear import _find_swaps, _is_apart, _shift_between, settle_repeats
from tension.sound.hearing import Pluck, RopeSpan


def log_spectrum(fundamental: float, seed: int = 0) -> np.ndarray:
    """A comb of lines on the logarithmic axis, levels and noise by chance."""
    rng = np.random.default_rng([10_020, seed])
    low, high = (float(np.log(edge)) for edge in OCTAVES)
    axis = np.exp(np.arange(low, high, STEP))
    values = 0.1 * rng.random(axis.size)
    for n in range(1, 40):
        width = 0.4
        level = rng.uniform(0.7, 1.0)
        values += level * np.exp(-0.5 * ((axis - n * fundamental) / width) ** 2)
    values -= values.mean()
    normal: np.ndarray = values / np.sqrt(np.sum(values**2))
    return normal


@pytest.mark.parametrize("percent", [2.0, -3.0, 5.0])
def test_a_shift_is_found_to_a_step_of_the_axis(percent: float) -> None:
    ratio = 1.0 + percent / 100.0
    shift = _shift_between(log_spectrum(14.0 * ratio, 1), log_spectrum(14.0, 2))
    assert shift == pytest.approx(np.log(ratio), abs=STEP)


def test_rings_of_one_pitch_are_not_apart() -> None:
    assert _shift_between(log_spectrum(14.0, 1), log_spectrum(14.0, 2)) == 0.0
    assert not _is_apart(log_spectrum(14.0, 1), log_spectrum(14.03, 2))


def test_ropes_changed_over_between_rounds_are_found_as_a_pair() -> None:
    rounds = {
        2: (log_spectrum(14.0, 1), log_spectrum(15.0, 3)),
        3: (log_spectrum(15.0, 4), log_spectrum(14.0, 5)),
        5: (log_spectrum(11.0, 6), log_spectrum(12.0, 7)),
    }
    assert _find_swaps(rounds) == [(2, 3)]


def _ring_of(pitch: float, start: float, entry: int) -> Decay:
    """A ring of one round of a memo, with its image."""
    pluck = Pluck(
        recording="memo.wav",
        index=round(start),
        start=start,
        end=start + 2.0,
        is_used=True,
        signal_to_noise=30.0,
    )
    return Decay(
        samples=np.ones(10),
        sampling_rate=1000.0,
        pluck=pluck,
        take=0,
        entry=entry,
        log_spectrum=log_spectrum(pitch, round(start)),
    )


def _rope(first: float, last: float, start: float, entry: int) -> FoundRope:
    decays = [_ring_of(first, start, entry), _ring_of(last, start + 40.0, entry + 10)]
    plucks = [one.pluck for one in decays]
    return FoundRope(span=RopeSpan(number=1), decays=decays, plucks=plucks)


def test_ropes_changed_over_are_refused_by_name_and_the_others_stay() -> None:
    found = {
        1: _rope(13.0, 13.0, 1.0, 0),
        2: _rope(14.0, 15.0, 4.0, 1),
        3: _rope(15.0, 14.0, 7.0, 2),
    }
    settle_repeats(found)
    assert found[1].refusal is None
    assert len(found[1].decays) == 2
    for number in (2, 3):
        refusal = found[number].refusal
        assert refusal is not None
        assert refusal.code == "ropes-swapped"
        assert "2" in refusal.text
        assert "3" in refusal.text
        assert not found[number].decays


def test_one_rope_of_two_pitches_is_no_swap_and_is_refused() -> None:
    found = {2: _rope(14.0, 15.0, 4.0, 1), 3: _rope(13.0, 13.0, 7.0, 2)}
    settle_repeats(found)
    refusal = found[2].refusal
    assert refusal is not None
    assert refusal.code == "plucks-apart"
    assert not found[2].decays
    assert found[3].refusal is None
    assert len(found[3].decays) == 2
