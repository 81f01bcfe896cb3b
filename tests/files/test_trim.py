"""Windows kept of a recording, and what is written of them."""

import io
import tomllib
import wave
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import FileFormatError
from tension.files.record_links import known_from
from tension.files.record_tables import TABLES
from tension.files.sound import read_recording
from tension.files.toml_text import mark_deleted, with_tables
from tension.files.visit import Trim, trim_table
from tension.files.wav import (
    BEFORE,
    JOIN,
    Window,
    find_windows,
    trimmed_wav,
)
from tension.notes import Refusal
from tension.sound.decays import LONGEST_RING

RATE = 8000


def write_wav(path: Path, samples: np.ndarray, n_channels: int = 1) -> None:
    """16 bit WAV, full scale ±1."""
    with wave.open(str(path), "wb") as written:
        written.setnchannels(n_channels)
        written.setsampwidth(2)
        written.setframerate(RATE)
        written.writeframes(np.round(samples * 32767).astype("<i2").tobytes())


def read_wav(content: bytes) -> tuple[np.ndarray, int]:
    """24 bit WAV as numbers, shape (n_samples, n_channels)."""
    with wave.open(io.BytesIO(content), "rb") as opened:
        raw = np.frombuffer(opened.readframes(opened.getnframes()), np.uint8)
        n_channels, rate = opened.getnchannels(), opened.getframerate()
    wide = np.zeros((raw.size // 3, 4), np.uint8)
    wide[:, 1:] = raw.reshape(-1, 3)
    whole = wide.view("<i4").reshape(-1, n_channels) >> 8
    return whole / (2**23 - 1), rate


def test_a_window_begins_one_second_before_its_pluck() -> None:
    (window,) = find_windows([5.0], 60.0)
    assert window == Window(start=4.0, end=13.0)


def test_windows_that_touch_are_one_and_none_leaves_the_recording() -> None:
    assert find_windows([58.0, 0.4, 3.0], 60.0) == (
        Window(start=0.0, end=11.0),
        Window(start=57.0, end=60.0),
    )


@given(
    onsets=st.lists(st.floats(0, 100), min_size=1, max_size=8),
    duration=st.floats(1, 120),
)
def test_no_ring_is_cut(onsets: list[float], duration: float) -> None:
    onsets = [onset for onset in onsets if onset < duration] or [0.0]
    windows = find_windows(onsets, duration)
    for onset in onsets:
        assert any(
            w.start <= max(onset - BEFORE, 0.0)
            and w.end >= min(onset + LONGEST_RING, duration)
            for w in windows
        )
    for one, other in pairwise(windows):
        assert one.end + JOIN < other.start


def test_what_is_kept_is_kept_sample_by_sample_and_the_rest_is_gone(
    tmp_path: Path,
) -> None:
    generator = np.random.default_rng(7)
    samples = 0.3 * generator.standard_normal(20 * RATE).clip(-1, 1)
    source = tmp_path / "a.wav"
    write_wav(source, samples)
    windows = (Window(start=2.0, end=4.0), Window(start=10.0, end=11.5))
    content = trimmed_wav(source, windows)
    assert isinstance(content, bytes)
    kept, rate = read_wav(content)
    n_join = round(JOIN * RATE)
    assert rate == RATE
    assert kept.shape == (round(3.5 * RATE) - n_join, 1)
    n_first = 2 * RATE - n_join
    written = np.round(samples * 32767) / 32768
    # 24 bit beside 16 bit: half a step of the finer
    assert kept[:n_first, 0] == pytest.approx(
        written[2 * RATE : 2 * RATE + n_first], abs=2e-7
    )
    assert kept[2 * RATE :, 0] == pytest.approx(
        written[10 * RATE + n_join : round(11.5 * RATE)], abs=2e-7
    )


def test_a_join_keeps_the_level_of_noise_and_makes_no_click(tmp_path: Path) -> None:
    generator = np.random.default_rng(8)
    levels = []
    for draw in range(40):
        source = tmp_path / f"{draw}.wav"
        write_wav(source, 0.1 * generator.standard_normal(3 * RATE))
        content = trimmed_wav(
            source, (Window(start=0.2, end=1.0), Window(start=2.0, end=2.8))
        )
        assert isinstance(content, bytes)
        kept, _ = read_wav(content)
        n_join = round(JOIN * RATE)
        middle = round(0.8 * RATE)
        levels.append(np.mean(kept[middle - n_join : middle, 0] ** 2))
    # 40 joins of 160 samples: the mean power is known to 1.8 %, twice that allowed
    assert np.mean(levels) == pytest.approx(0.01, rel=0.036)


def test_a_stereo_recording_keeps_both_channels(tmp_path: Path) -> None:
    generator = np.random.default_rng(9)
    source = tmp_path / "s.wav"
    write_wav(source, 0.2 * generator.standard_normal((4 * RATE, 2)), n_channels=2)
    content = trimmed_wav(source, (Window(start=1.0, end=2.0),))
    assert isinstance(content, bytes)
    assert read_wav(content)[0].shape == (RATE, 2)


def test_a_clipped_recording_is_clipped_still(tmp_path: Path) -> None:
    time = np.arange(3 * RATE) / RATE
    source, trimmed = tmp_path / "c.wav", tmp_path / "c.trimmed.wav"
    write_wav(source, np.clip(2.0 * np.sin(2 * np.pi * 40 * time), -1, 1))
    content = trimmed_wav(source, (Window(start=1.0, end=2.5),))
    assert isinstance(content, bytes)
    trimmed.write_bytes(content)
    codes = {note.code for note in read_recording(trimmed).notes}
    assert "clipped" in {note.code for note in read_recording(source).notes}
    assert "clipped" in codes


def test_a_file_that_is_no_sound_is_a_refusal(tmp_path: Path) -> None:
    source = tmp_path / "n.wav"
    source.write_bytes(b"\x00\x01garbage" * 100)
    assert isinstance(trimmed_wav(source, (Window(start=0.0, end=1.0),)), Refusal)


def test_the_tables_of_a_trim_are_read_back() -> None:
    trim = Trim(
        recording='as-found/rope "1".m4a',
        trimmed="as-found/rope 1.trimmed.wav",
        n_bytes=48211,
        sha256="ab" * 32,
        kept="2.00 s to 6.00 s",
        silenced="cut",
        original="deleted",
        by="R. Calder",
        date="2026-11-20",
    )
    document = tomllib.loads(with_tables("", [trim_table(trim)]))
    known = known_from(document, Path())
    read = TABLES["trim"].model_validate(document["trim"][0], context=known)
    assert read.make() == trim


def record_of(*names: str, after: str = "") -> str:
    """A record with trims as the program writes them, and something after them."""
    trims = [
        Trim(recording=name, trimmed=f"{name}.trimmed.wav", n_bytes=1, sha256="ab" * 32)
        for name in names
    ]
    return with_tables("format = 1  # mine\n", list(map(trim_table, trims))) + after


AFTER = '\n[[reading]]\noriginal = "kept"\nnote = """\n[[trim]]\n"""\n'


@pytest.mark.parametrize("after", ["", AFTER])
def test_only_the_lines_of_the_deleted_originals_change(after: str) -> None:
    names = ("a.m4a", "b.m4a", "c.m4a")
    old = record_of(*names, after=after)
    new = mark_deleted(old, {"a.m4a", "c.m4a"})
    changed = [
        (one, other)
        for one, other in zip(old.splitlines(), new.splitlines(), strict=True)
        if one != other
    ]
    assert changed == [('original = "kept"', 'original = "deleted"')] * 2
    states = [trim["original"] for trim in tomllib.loads(new)["trim"]]
    assert states == ["deleted", "kept", "deleted"]


@pytest.mark.parametrize(
    "old",
    [
        'trim = [{ recording = "a.m4a", original = "kept" }]\n',
        '[[trim]]\nrecording = "a.m4a"\n',
    ],
)
def test_trims_of_another_form_are_left_and_told(old: str) -> None:
    with pytest.raises(FileFormatError, match='write original = "deleted"'):
        mark_deleted(old, {"a.m4a"})
