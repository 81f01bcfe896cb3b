"""A WAV that grows is whole at any moment, also where a write breaks off."""

import errno
import os
import wave
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from tension.errors import ExistingFileError, FileFormatError
from tension.files.sound import read_recording
from tension.files.wav import GrowingWav

RATE = 8000


def _blocks(n: int) -> list[np.ndarray]:
    rng = np.random.default_rng(5)
    return [
        (rng.integers(-(2**22), 2**22, 401) * 256).astype(np.int32) for _ in range(n)
    ]


def _frames(path: Path) -> bytes:
    with wave.open(str(path), "rb") as file:
        assert (file.getframerate(), file.getsampwidth()) == (RATE, 3)
        # the header tells of no more than there is
        assert path.stat().st_size >= 44 + 3 * file.getnframes()
        return file.readframes(file.getnframes())


def _raw(blocks: list[np.ndarray]) -> bytes:
    whole = np.concatenate([np.empty(0, np.int32), *blocks]) // 256
    return b"".join(int(v).to_bytes(3, "little", signed=True) for v in whole)


def test_the_file_is_whole_after_every_block(tmp_path: Path) -> None:
    path = tmp_path / "rope-1.wav"
    blocks = _blocks(4)
    with closing(GrowingWav(path, RATE)) as file:
        assert _frames(path) == b""
        for n, block in enumerate(blocks, start=1):
            file.append(block)
            assert _frames(path) == _raw(blocks[:n])
    assert _frames(path) == _raw(blocks)


def test_every_sample_comes_back_to_24_bit(tmp_path: Path) -> None:
    path = tmp_path / "rope-1.wav"
    extremes = np.array([2**31 - 256, -(2**31), 0, 256, -256] * 900, dtype=np.int32)
    with closing(GrowingWav(path, 4000)) as file:
        file.append(extremes)
        assert path.stat().st_size == 44 + 3 * 4500
    read = read_recording(path)
    assert read.samples == pytest.approx(extremes / 2.0**31, abs=1e-9)


def test_a_file_that_still_grows_is_no_damaged_file(tmp_path: Path) -> None:
    path = tmp_path / "rope-1.wav"
    with closing(GrowingWav(path, RATE)) as file:
        for block in _blocks(9):
            file.append(block)
        read = read_recording(path)
    assert read.refusal is None
    assert not read.notes


def test_a_file_that_is_there_is_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "rope-1.wav"
    path.write_bytes(b"mine")
    with pytest.raises(ExistingFileError, match="exists"):
        GrowingWav(path, RATE)
    assert path.read_bytes() == b"mine"


def test_a_file_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="cannot be written"):
        GrowingWav(tmp_path / "nowhere" / "rope-1.wav", RATE)


class _Killed(BaseException):
    """Stands for a kill: nothing after it runs."""


@pytest.mark.parametrize("at", range(1, 9))
def test_a_kill_between_two_writes_leaves_whole_blocks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    path = tmp_path / "rope-1.wav"
    blocks = _blocks(4)
    write, count = os.write, 0

    def die(handle: int, raw: bytes) -> int:
        nonlocal count
        count += 1
        if count == at:
            raise _Killed
        return write(handle, raw)

    file = None
    done = 0
    monkeypatch.setattr(os, "write", die)
    try:
        file = GrowingWav(path, RATE)
        for block in blocks:
            file.append(block)
            done += 1
    except _Killed:
        pass
    monkeypatch.undo()
    if at > 1:
        found = _frames(path)
        # the block whose header was not written is not told of, nor half of one
        assert found == _raw(blocks[:done])
    if file is not None:
        file.close()


@pytest.mark.parametrize("is_header", [False, True])
def test_a_full_disk_keeps_what_was_there(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    is_header: bool,  # noqa: FBT001 - drawn
) -> None:
    path = tmp_path / "rope-1.wav"
    blocks = _blocks(3)
    file = GrowingWav(path, RATE)
    file.append(blocks[0])
    write = os.write
    n_headers = 0

    def fill(handle: int, raw: bytes) -> int:
        nonlocal n_headers
        n_headers += len(raw) == 44
        if len(raw) == 3 * 401 and not is_header:
            return write(handle, raw[:300])
        if (len(raw) > 44 and not is_header) or (len(raw) == 44 and n_headers == 1):
            raise OSError(errno.ENOSPC, "No space left on device")
        return write(handle, raw)

    monkeypatch.setattr(os, "write", fill)
    with pytest.raises(FileFormatError, match="no space left on device"):
        file.append(blocks[1])
    monkeypatch.undo()
    file.close()
    assert _frames(path) == _raw(blocks[:1])
    assert path.stat().st_size <= 44 + 3 * 401 + 1
