"""Long memos of made ropes: every pluck goes to its rope, or the rope is refused."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import resample_poly

from tension.sound.decays import FoundRope, cut_take
from tension.sound.hear import hear_set
from tension.sound.hearing import Recording, RopeSpan, Take
from tests.synthesis.memos import Memo, draw_memo


def take_of(memo: Memo, *, told: bool = True) -> Take:
    samples = resample_poly(memo.samples.astype(float), 1, 2, window=("kaiser", 8.0))
    recording = Recording(
        name="all.wav",
        samples=samples.astype(np.float32),
        sampling_rate=memo.sampling_rate / 2.0,
        source_rate=float(memo.sampling_rate),
        codec="pcm_s16le",
        clipped=np.empty((0, 2)),
    )
    return Take(
        recording=recording,
        ropes=memo.order,
        plucks_each=memo.plucks_each if told else None,
    )


def wrong_ropes(memo: Memo, cut: dict[int, FoundRope]) -> set[int]:
    """Ropes that were given another rope's pluck."""
    owner = {
        onset: rope
        for rope, onsets in zip(memo.order, memo.onsets, strict=True)
        for onset in onsets
    }
    return {
        rope
        for rope, part in cut.items()
        if part.refusal is None
        for pluck in part.plucks
        if pluck.is_used
        and any(
            abs(onset - pluck.start) < 0.2 and other != rope
            for onset, other in owner.items()
        )
    }


@pytest.mark.slow
@pytest.mark.parametrize("count", ["told", "found"])
def test_quiet_memos_are_split_rightly(count: str) -> None:
    for seed in (10_010, 10_011):
        memo = draw_memo(seed)
        cut = cut_take(take_of(memo, told=count == "told"), 0)
        assert not any(part.refusal or part.notes for part in cut.values())
        assert wrong_ropes(memo, cut) == set()
        for rope in set(memo.order):
            used = [pluck for pluck in cut[rope].plucks if pluck.is_used]
            assert len(used) == memo.plucks_each * memo.order.count(rope)


@pytest.mark.slow
def test_talk_between_the_plucks_gives_no_rope_a_wrong_pluck() -> None:
    for seed in range(10_012, 10_018):
        memo = draw_memo(seed, talk=True, n_missing=seed % 2)
        cut = cut_take(take_of(memo), 0)
        assert wrong_ropes(memo, cut) == set()


@pytest.mark.slow
def test_a_memo_says_what_its_pieces_say_to_three_in_a_thousand() -> None:
    memo = draw_memo(10_010)
    take = take_of(memo)
    spans = [RopeSpan(number=r.number, free_length=r.free_length) for r in memo.ropes]
    whole = hear_set([take], spans)
    rate = take.recording.sampling_rate
    pieces = []
    ends = [onsets[0] - 0.3 for onsets in memo.onsets[1:]] + [1e9]
    for rope, onsets, end in zip(memo.order, memo.onsets, ends, strict=True):
        part = take.recording.samples[
            int((onsets[0] - 0.7) * rate) : int(min(end, 1e6) * rate)
        ]
        piece = replace(take.recording, name=f"{rope}-{onsets[0]}.wav", samples=part)
        pieces.append(Take(recording=piece, ropes=(rope,)))
    parts = hear_set(pieces, spans)
    both = set(whole.given) & set(parts.given)
    assert len(both) >= len(spans) - 1
    for one, other in zip(whole.ropes, parts.ropes, strict=True):
        if one.number in both:
            ratio = one.fundamental_frequency / other.fundamental_frequency
            assert abs(ratio - 1.0) < 0.0015


@pytest.mark.slow
def test_excluded_plucks_are_left_out_but_counted() -> None:
    memo = draw_memo(10_010)
    take = replace(take_of(memo), excluded_plucks=(1,))
    cut = cut_take(take, 0)
    first = cut[memo.order[0]].plucks[0]
    assert not first.is_used
    assert first.reason == "left out by the record"
    assert not any(part.refusal or part.notes for part in cut.values())


@pytest.mark.slow
def test_a_wrong_announcement_is_told_with_the_times() -> None:
    memo = draw_memo(10_010)
    take = replace(take_of(memo), plucks_each=memo.plucks_each + 1)
    cut = cut_take(take, 0)
    assert wrong_ropes(memo, cut) == set()
    told = [note.text for part in cut.values() for note in part.notes]
    told += [part.refusal.text for part in cut.values() if part.refusal]
    assert told
    assert f"rope {memo.order[0]} at {memo.onsets[0][0]:.1f}" in told[0]


@pytest.mark.slow
def test_two_ropes_changed_over_between_rounds_are_refused_by_name() -> None:
    # a set whose ropes 2 and 3 differ enough to be told apart
    memo = next(
        memo
        for memo in map(draw_memo, range(10_020, 10_060))
        if len(memo.order) == 2 * len(memo.ropes)
        and 0.03
        < abs(
            np.log(
                memo.ropes[1].fundamental_frequency
                / memo.ropes[2].fundamental_frequency
            )
        )
        < 0.14
    )
    half = len(memo.ropes)
    changed = {2: 3, 3: 2}
    order = memo.order[:half] + tuple(changed.get(n, n) for n in memo.order[half:])
    spans = [RopeSpan(number=r.number, free_length=r.free_length) for r in memo.ropes]
    heard = hear_set([replace(take_of(memo), ropes=order)], spans)
    refused = {rope.number: rope.refusal for rope in heard.ropes if rope.refusal}
    assert {2, 3} <= set(refused)
    for number in (2, 3):
        refusal = refused[number]
        assert refusal is not None
        assert refusal.code in {"ropes-swapped", "plucks-apart"}
    assert set(heard.given) >= set(range(1, half + 1)) - {2, 3} - set(refused)
