"""Lost input is found without the word of the sound library."""

import numpy as np
import pytest

from tension.capture import Block, Loss, LossKind, LossWatch

RATE = 8000
BLOCK = 400


def _blocks(n: int, seed: int = 1) -> list[np.ndarray]:
    rng = np.random.default_rng(seed)
    return [rng.integers(1, 2**20, BLOCK).astype(np.int32) for _ in range(n)]


def _watch(
    blocks: list[np.ndarray],
    late: dict[int, float] | None = None,
    lost: dict[int, float] | None = None,
    clock: float = 1.0,
) -> tuple[list[Loss], LossWatch]:
    """See blocks; some come late, before some others time is lost."""
    watch = LossWatch(sampling_rate=RATE)
    found: list[Loss] = []
    moment = 50.0
    for k, samples in enumerate(blocks):
        moment += clock * BLOCK / RATE + (lost or {}).get(k, 0.0)
        came = moment + (late or {}).get(k, 0.0)
        found += watch.see(Block(samples=samples, moment=came))
    return found, watch


def test_a_steady_stream_lost_nothing() -> None:
    found, watch = _watch(_blocks(400))
    assert found == []
    assert watch.n_frames == 400 * BLOCK


def test_frames_behind_the_clock_are_lost() -> None:
    found, _ = _watch(_blocks(200), lost={100: 0.16})
    assert [one.kind for one in found] == [LossKind.CLOCK]
    assert found[0].seconds == pytest.approx(0.16, abs=0.01)
    # told within the time that late frames are waited for
    assert found[0].start < 100 * BLOCK / RATE < found[0].end < 100 * BLOCK / RATE + 2.6


def test_frames_that_come_late_are_not_lost() -> None:
    late = {k: 0.05 * (118 - k) for k in range(100, 118)}
    assert _watch(_blocks(300), late=late)[0] == []


def test_a_device_that_begins_late_lost_nothing() -> None:
    assert _watch(_blocks(200), lost={0: 1.7})[0] == []


def test_a_clock_that_runs_off_slowly_lost_nothing() -> None:
    # 200 ppm, ten times the worst usual crystal, over ten minutes: 0.12 s
    assert _watch(_blocks(12_000), clock=1.0002)[0] == []
    assert _watch(_blocks(12_000), clock=0.9998)[0] == []


def test_each_of_two_losses_is_told() -> None:
    found, _ = _watch(_blocks(300), lost={60: 0.2, 200: 0.1})
    assert [round(one.seconds, 2) for one in found] == [0.2, 0.1]


def test_zeros_within_sound_are_a_loss_across_blocks() -> None:
    blocks = _blocks(6)
    blocks[2][300:] = 0
    blocks[3][:] = 0
    blocks[4][:500] = 0
    blocks[4][100:] = 7
    found, _ = _watch(blocks)
    assert [one.kind for one in found] == [LossKind.ZEROS]
    assert found[0].seconds == pytest.approx((100 + 400 + 100) / RATE)
    end = (4 * BLOCK + 100) / RATE
    assert (found[0].start, found[0].end) == pytest.approx(
        (1100 / RATE - 0.1, end + 0.1)
    )


def test_zeros_within_one_block_are_a_loss() -> None:
    blocks = _blocks(3)
    blocks[1][100:300] = 0
    found, _ = _watch(blocks)
    assert [one.seconds for one in found] == [0.025]
    assert (found[0].start, found[0].end) == pytest.approx(
        (500 / RATE - 0.1, 700 / RATE + 0.1)
    )


def test_a_few_zeros_are_no_loss() -> None:
    blocks = _blocks(3)
    blocks[1][100:250] = 0
    assert _watch(blocks)[0] == []


def test_zeros_before_the_first_sound_are_no_loss_but_are_counted() -> None:
    quiet = [np.zeros(BLOCK, np.int32)] * 20
    found, watch = _watch(quiet)
    assert found == []
    assert watch.n_zeros == RATE
    found, watch = _watch([*quiet, *_blocks(2)])
    assert found == []
    assert watch.n_zeros == 0


def test_the_word_of_the_library_counts_too() -> None:
    watch = LossWatch(sampling_rate=RATE)
    block = Block(samples=_blocks(1)[0], moment=1.0, has_overflowed=True)
    assert [one.kind for one in watch.see(block)] == [LossKind.OVERFLOW]
