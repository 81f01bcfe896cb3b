"""Plucks of another rope in a recording of one: never without a word."""

import numpy as np
import pytest
from scipy.signal import resample_poly

from tension.sound.hear import hear_set
from tension.sound.hearing import RopeHearing, RopeSpan
from tension.sound.recording import Recording, Take
from tests.synthesis.bad_recordings import RATE
from tests.synthesis.mixed_plucks import MixedPlucks, draw_mixed


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


def test_as_many_plucks_of_two_ropes_are_refused() -> None:
    drawn = draw_mixed(1, "ABAB")
    refusal = heard(drawn).refusal
    assert refusal is not None
    assert refusal.code in {"plucks-apart", "several-ropes"}


def test_plucks_of_one_rope_are_all_used() -> None:
    rope = heard(draw_mixed(3, "AAAA"))
    assert rope.refusal is None
    assert all(pluck.is_used for pluck in rope.plucks)
    assert not [note for note in rope.notes if note.code == "other-pluck"]
