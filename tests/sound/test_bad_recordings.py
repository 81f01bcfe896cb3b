"""Recordings of no use: none may give a number, each says why and what to do."""

from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from tension.files.sound import read_recording
from tension.sound.hear import hear_set
from tension.sound.hearing import Recording, RopeHearing, RopeSpan, Take
from tension.sound.noise_class import doubts_of
from tests.synthesis.bad_recordings import KINDS, RATE, make_bad, make_bad_recordings
from tests.synthesis.recorder import write_wave
from tests.synthesis.variants import ring_alone

pytestmark = pytest.mark.slow

# what may be said of each; noise as loud as a ring may hide what it is
REASONS = {
    "clipped throughout": {"overdriven-throughout"},
    "silent but for the last bit": {"silent"},
    "zeros": {"all-zeros"},
    "speech only": {"only-speech", "too-noisy"},
    "50 Hz hum only": {"only-hum", "too-noisy"},
    "60 Hz hum only": {"only-hum", "too-noisy"},
    "white noise": {"too-noisy"},
    "pink noise": {"too-noisy"},
    "two ropes at once": {"several-ropes", "plucks-apart", "ambiguous-numbering"},
    "all ropes strummed": {"several-ropes", "plucks-apart", "ambiguous-numbering"},
    "hammer blows": {"hammer-blow"},
    "knocks": {"only-knocks"},
    "door slams": {"several-ropes", "dies-soon", "only-knocks", "ambiguous-numbering"},
    "handling of the phone": {"only-bumps", "only-knocks"},
    "gate that cuts the ring": {"gated"},
    "too short": {"recording-too-short"},
    "stopped as the rope is let go": {"ends-early", "several-ropes"},
    "drive running": {"moving-tones"},
    "another car passing": {"only-rumble"},
    "test tone": {"steady-tones"},
    "door beeps": {"only-music"},
    "machine turning steadily": {"steady-tones", "only-hum"},
    "machine switched on": {"steady-tones", "swells", "exact-multiples"},
    "ratchet": {"exact-multiples", "steady-tones", "too-noisy"},
    "bytes of a text": {"not-sound", "steady-tones"},
    "played backwards": {"swells", "steady-tones", "exact-multiples"},
    "too faint": {"too-noisy"},
    "offset only": {"silent"},
}

# a string is heard in each, and nothing that lasts beside it
HEARD_AS_A_ROPE = {"two ropes at once", "a piece repeated"}


@cache
def heard(seed: int, folder: str) -> dict[str, RopeHearing]:
    found = {}
    for bad in make_bad_recordings(seed):
        path = Path(folder) / "memo.wav"
        write_wave(path, bad.samples, bad.sampling_rate)
        take = Take(recording=read_recording(path), ropes=(1,))
        spans = [RopeSpan(number=1, free_length=3.4)]
        found[bad.kind] = hear_set([take], spans).ropes[0]
    return found


@pytest.fixture(scope="module")
def ropes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, RopeHearing]:
    return heard(10_001, str(tmp_path_factory.mktemp("bad")))


def test_no_bad_recording_gives_a_number(ropes: dict[str, RopeHearing]) -> None:
    assert len(ropes) == len(KINDS) >= 40
    given = {kind for kind, rope in ropes.items() if rope.refusal is None}
    assert given <= HEARD_AS_A_ROPE
    assert all(
        np.isnan(rope.fundamental_frequency) == (kind not in given)
        for kind, rope in ropes.items()
    )


def test_each_bad_recording_says_why_and_what_to_do(
    ropes: dict[str, RopeHearing],
) -> None:
    refusals = {kind: rope.refusal for kind, rope in ropes.items() if rope.refusal}
    for kind, refusal in refusals.items():
        assert refusal.text, kind
        assert refusal.next_act, kind
    told = {kind: refusals[kind].code for kind in REASONS if kind in refusals}
    assert {k: v for k, v in told.items() if v not in REASONS[k]} == {}
    assert len({refusal.code for refusal in refusals.values()}) >= 16


def test_kinds_that_want_different_acts_get_messages_of_their_own(
    ropes: dict[str, RopeHearing],
) -> None:
    apart = [
        *("clipped throughout", "silent but for the last bit", "zeros"),
        *("50 Hz hum only", "hammer blows", "knocks", "too short", "too faint"),
        *("gate that cuts the ring", "drive running", "another car passing"),
        *("door beeps", "played backwards", "test tone"),
        *("stopped as the rope is let go", "ratchet", "speech only"),
    ]
    refusals = [ropes[kind].refusal for kind in apart]
    texts = {refusal.text for refusal in refusals if refusal is not None}
    acts = {refusal.next_act for refusal in refusals if refusal is not None}
    assert len(texts) == len(apart)
    # a machine that runs, hum and a tone ask for the same; so do few others
    assert len(acts) >= len(apart) - 3


@pytest.mark.parametrize("kind", ["ratchet", "machine switched on", "played backwards"])
def test_what_is_regular_but_no_rope_gives_no_number(kind: str, tmp_path: Path) -> None:
    for seed in range(9100, 9103):
        bad = make_bad(kind, seed)
        write_wave(tmp_path / "memo.wav", bad.samples, bad.sampling_rate)
        take = Take(recording=read_recording(tmp_path / "memo.wav"), ropes=(1,))
        rope = hear_set([take], [RopeSpan(number=1)]).ropes[0]
        assert rope.refusal is not None, seed
        assert rope.refusal.next_act


def test_several_ropes_at_once_hardly_ever_give_a_number(tmp_path: Path) -> None:
    given = 0
    kinds = ("two ropes at once", "all ropes strummed")
    # some of them only 2 to 5 % apart in frequency
    for kind, seed in product(kinds, (9206, 9208, 9212, 9213)):
        bad = make_bad(kind, seed)
        write_wave(tmp_path / "memo.wav", bad.samples, bad.sampling_rate)
        take = Take(recording=read_recording(tmp_path / "memo.wav"), ropes=(1,))
        rope = hear_set([take], [RopeSpan(number=1, free_length=3.4)]).ropes[0]
        if rope.refusal is None:
            given += 1
            continue
        assert rope.refusal.code in REASONS[kind] | {"exact-multiples"}, seed
        assert rope.refusal.next_act
    assert given <= 1


def test_what_is_no_pluck_stands_with_its_reason(
    ropes: dict[str, RopeHearing],
) -> None:
    for kind in ("knocks", "hammer blows", "door slams", "footsteps"):
        plucks = ropes[kind].plucks
        assert plucks, kind
        assert all(bool(p.reason) != p.is_used for p in plucks), kind
        # the clearest is listened to where there is no better
        assert sum(p.is_used for p in plucks) <= 1, kind


def good_recording() -> Recording:
    rng = np.random.default_rng(10_002)
    samples = 0.002 * rng.standard_normal(7 * RATE)
    samples[RATE:] += 0.3 * ring_alone(6.0, RATE, 7)
    return Recording(
        name="good.wav",
        samples=samples[::4].astype(np.float32),
        sampling_rate=RATE / 4.0,
        source_rate=float(RATE),
        codec="pcm_s16le",
        clipped=np.empty((0, 2)),
    )


def test_a_good_pluck_is_given_and_the_bad_rope_beside_it_refused() -> None:
    good = good_recording()
    # only what stood before the pluck
    quiet = np.resize(
        good.samples[: round(0.9 * good.sampling_rate)], good.samples.size
    )
    bad = replace(good, name="bad.wav", samples=quiet)
    takes = [Take(recording=good, ropes=(1,)), Take(recording=bad, ropes=(2,))]
    found = hear_set(takes, [RopeSpan(number=1), RopeSpan(number=2)])
    assert found.given == (1,)
    assert found.ropes[0].plucks[0].is_used


def low_cut(recording: Recording, frequency: float) -> Recording:
    """Take everything under a frequency away, as a recorder for speech does."""
    spectrum = np.fft.rfft(recording.samples)
    grid = np.fft.rfftfreq(recording.samples.size, 1.0 / recording.sampling_rate)
    samples = np.fft.irfft(np.where(grid < frequency, 0.0, spectrum))
    return replace(recording, samples=samples.astype(np.float32))


def test_a_recorder_for_speech_is_told_and_another_is_not() -> None:
    good = good_recording()
    codes = [note.code for note in doubts_of(good, (1,))]
    assert codes == []
    speech = low_cut(good, 210.0)
    assert [note.code for note in doubts_of(speech, (1,))] == ["nothing-low"]
    gated = good.samples.copy()
    gated[-int(2.0 * good.sampling_rate) :] = 0.0
    told = doubts_of(replace(good, samples=gated), (1,))
    assert [note.code for note in told] == ["gated"]
    assert told[0].ropes == (1,)
