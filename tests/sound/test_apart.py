"""Plucks of another rope in a recording of one: never without a word."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import resample_poly

from tension.sound.hear import hear_set
from tension.sound.hearing import Recording, RopeHearing, RopeSpan, Take
from tests.synthesis.bad_recordings import RATE, draw_spec, ring_of
from tests.synthesis.mixed_plucks import LEVEL, NOISE, MixedPlucks, draw_mixed


def heard(drawn: MixedPlucks) -> RopeHearing:
    """The one rope of a recording."""
    slow = resample_poly(drawn.samples, 8000, RATE).astype(np.float32)
    recording = Recording(
        name="rope.wav",
        samples=slow,
        sampling_rate=8000.0,
        source_rate=float(RATE),
        codec="pcm_s16le",
        clipped=np.empty((0, 2)),
    )
    take = Take(recording=recording, ropes=(1,))
    return hear_set([take], [RopeSpan(number=1)]).ropes[0]


@pytest.mark.parametrize(("pattern", "seed", "odd"), [("AAB", 0, 2), ("BAAA", 0, 0)])
def test_one_pluck_of_another_rope_is_left_out_and_told(
    pattern: str, seed: int, odd: int
) -> None:
    drawn = draw_mixed(seed, pattern)
    rope = heard(drawn)
    own, other = drawn.fundamentals
    assert rope.refusal is None
    assert rope.fundamental_frequency == pytest.approx(own, rel=2e-3)
    (told,) = [note for note in rope.notes if note.code == "other-pluck"]
    pluck = rope.plucks[odd]
    assert not pluck.is_used
    assert f"{pluck.start:.1f} s (rope.wav, about {other:.1f} Hz)" in told.text


@pytest.mark.parametrize(("pattern", "seed"), [("AB", 3), ("AB", 10), ("ABAB", 8)])
def test_as_many_plucks_of_two_ropes_are_refused(pattern: str, seed: int) -> None:
    refusal = heard(draw_mixed(seed, pattern)).refusal
    assert refusal is not None
    assert refusal.code == "plucks-apart"


def test_plucks_of_one_rope_are_all_used() -> None:
    rope = heard(draw_mixed(3, "AAAA"))
    assert rope.refusal is None
    assert all(pluck.is_used for pluck in rope.plucks)
    assert not [note for note in rope.notes if note.code == "other-pluck"]


@pytest.mark.slow
def test_the_clearest_plucks_of_a_long_memo_do_not_hide_another_rope() -> None:
    # one rope plucked out of quiet, the other into its own ring: all that is listened
    # to closely is of the first
    rng = np.random.default_rng(5)
    clear = draw_spec(rng)
    other = replace(clear, hitch_tension=1.2 * clear.hitch_tension)
    quiet = np.zeros(RATE // 2)
    parts = [quiet]
    for _ in range(13):
        parts += [LEVEL * ring_of(rng, clear, 2.0) * np.linspace(1.0, 0.0, 2 * RATE)]
        parts += [quiet]
    parts += [LEVEL * ring_of(rng, other, 1.5) for _ in range(24)]
    samples = np.concatenate(parts)
    samples += NOISE * rng.standard_normal(samples.size)
    rope = heard(MixedPlucks(samples=samples, fundamentals=(0.0, 0.0)))
    assert rope.refusal is not None
    assert rope.refusal.code == "plucks-apart"
    assert rope.refusal.text.endswith(" more.")
