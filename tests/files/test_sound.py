"""Reading sound files: every phone format, the right times, trouble as values."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tension.files.sound import read_recording
from tension.files.sound_stream import FileStream
from tension.sound.hearing import Recording
from tests.files.sound_files import (
    FORMS,
    RATE,
    amr_file,
    decaying_tones,
    encode,
    ffmpeg_or_skip,
    wave_bytes,
)
from tests.peak_memory import PEAK_IN_MEGABYTES


def tone_frequency(samples: NDArray[np.float32], rate: float) -> float:
    """Return the frequency of the one tone present, by its phase over time."""
    values = samples.astype(float)
    middle = values[int(rate) : int(-rate)]
    padded = np.abs(np.fft.rfft(middle * np.hanning(middle.size), 16 * middle.size))
    k = int(padded.argmax())
    low, mid, high = np.log(padded[k - 1 : k + 2])
    place = k + 0.5 * (low - high) / (low - 2 * mid + high)
    return float(place * rate / 16 / middle.size)


def read_wave(folder: Path, content: bytes, name: str = "a.wav") -> Recording:
    path = folder / name
    path.write_bytes(content)
    return read_recording(path)


@pytest.fixture(scope="module")
def wave(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sound") / "source.wav"
    path.write_bytes(wave_bytes(decaying_tones()))
    return path


@pytest.mark.parametrize("form", sorted(FORMS))
def test_every_form_gives_the_same_sound(form: str, wave: Path, tmp_path: Path) -> None:
    source = read_recording(wave).samples
    recording = read_recording(encode(wave, tmp_path / form, *FORMS[form]))
    assert recording.refusal is None
    assert recording.notes == ()
    assert recording.sampling_rate == 4000
    n = min(source.size, recording.samples.size)
    assert n >= 0.999 * source.size
    # codecs differ in delay and at the edges of hearing; the tones are in between
    ours, theirs = (np.abs(np.fft.rfft(x[:n])) for x in (recording.samples, source))
    band = slice(int(40 * n / 4000), int(150 * n / 4000))
    error = np.linalg.norm(ours[band] - theirs[band]) / np.linalg.norm(theirs[band])
    assert error < (0.12 if form.endswith(("mp3", "3gp")) else 0.06)


@pytest.mark.parametrize("suffix", [".mp4", ".mov"])
def test_sound_of_a_video_is_read(suffix: str, wave: Path, tmp_path: Path) -> None:
    target = tmp_path / f"film{suffix}"
    picture = ["-f", "lavfi", "-i", "testsrc=duration=6:size=64x48:rate=5"]
    command = [ffmpeg_or_skip(), "-loglevel", "error", *picture, "-i", str(wave)]
    subprocess.run([*command, "-c:a", "aac", str(target)], check=True)
    recording = read_recording(target)
    assert recording.refusal is None
    assert recording.codec == "aac"
    assert recording.samples.size == pytest.approx(24000, abs=100)


def test_contents_count_and_not_the_extension(wave: Path, tmp_path: Path) -> None:
    made = encode(wave, tmp_path / "a.m4a", "-c:a", "aac")
    lie = tmp_path / "a.wav"
    lie.write_bytes(made.read_bytes())
    assert np.array_equal(read_recording(lie).samples, read_recording(made).samples)


def test_speech_codecs_are_told(wave: Path, tmp_path: Path) -> None:
    options = ("-c:a", "libopus", "-application", "voip", "-b:a", "16k", "-ac", "1")
    recording = read_recording(encode(wave, tmp_path / "v.ogg", *options))
    assert [note.code for note in recording.notes] == ["codec-cuts-lows"]


def test_amr_is_read_whole_and_told(wave: Path, tmp_path: Path) -> None:
    recording = read_recording(amr_file(wave, tmp_path / "v.amr"))
    assert recording.refusal is None
    assert recording.samples.size / recording.sampling_rate == pytest.approx(
        6, abs=0.05
    )
    assert "codec-cuts-lows" in [note.code for note in recording.notes]


@pytest.mark.parametrize(
    ("bits", "is_float"),
    [(8, False), (16, False), (24, False), (32, False), (32, True)],
)
@pytest.mark.parametrize("value", [0.9375, -0.9375, 0.0, -1.0])
def test_levels_hold_at_every_sample_width(
    bits: int, *, is_float: bool, value: float, tmp_path: Path
) -> None:
    # half a second of a level that all widths hold exactly, half a second of another
    values = np.concatenate([np.full(4000, 0.25), np.full(4000, value)])
    content = wave_bytes(values, rate=4000, bits=bits, is_float=is_float)
    recording = read_wave(tmp_path, content)
    assert recording.sampling_rate == 4000  # nothing to decimate: samples as they are
    assert recording.samples[:4000] == pytest.approx(0.25, abs=1e-7)
    assert recording.samples[4000:] == pytest.approx(value, abs=1e-7)


@pytest.mark.parametrize("rate", [48000, 44100, 22050, 16000, 11025, 8000, 96000, 6000])
@pytest.mark.parametrize("frequency", [5.3, 61.7, 1211.9])
def test_tones_keep_frequency_and_level(
    rate: int, frequency: float, tmp_path: Path
) -> None:
    time = np.arange(8 * rate) / rate
    tone = 0.5 * np.sin(2 * np.pi * frequency * time)
    content = wave_bytes(tone, rate=rate, bits=32, is_float=True)
    recording = read_wave(tmp_path, content)
    assert recording.source_rate == rate
    n = recording.samples.size
    at = np.arange(n) / recording.sampling_rate
    inner = slice(200, -200)
    expected = 0.5 * np.sin(2 * np.pi * frequency * at)
    # the same tone at the same times: level, frequency and phase at once
    assert recording.samples[inner] == pytest.approx(expected[inner], abs=1e-4)
    found = tone_frequency(recording.samples, recording.sampling_rate)
    assert found == pytest.approx(frequency, rel=2e-6)


@pytest.mark.parametrize(
    "frequency", [2000.0, 2050.0, 3950.0, 4061.7, 11000.0, 23900.0]
)
def test_nothing_above_the_new_half_rate_folds_back(
    frequency: float, tmp_path: Path
) -> None:
    time = np.arange(4 * RATE) / RATE
    tone = np.sin(2 * np.pi * frequency * time) * np.hanning(time.size)
    low = 1e-3 * np.sin(2 * np.pi * 100 * time)
    content = wave_bytes(0.5 * tone + low, bits=32, is_float=True)
    recording = read_wave(tmp_path, content)
    at = np.arange(recording.samples.size) / recording.sampling_rate
    left = recording.samples - 1e-3 * np.sin(2 * np.pi * 100 * at)
    assert np.abs(left[200:-200]).max() < 0.5 * 10 ** (-80 / 20)


def test_block_borders_leave_no_trace(tmp_path: Path) -> None:
    # the same noise read in one go by a plain convolution
    noise = np.random.default_rng(5).uniform(-0.5, 0.5, 4 * RATE)
    recording = read_wave(tmp_path, wave_bytes(noise, bits=32, is_float=True))
    half = 32 * 12
    kernel = np.sinc(0.9 / 12 * np.arange(-half, half + 1))
    kernel *= np.kaiser(kernel.size, 0.1102 * (90 - 8.7))
    plain = np.convolve(noise, kernel / kernel.sum(), mode="same")[::12]
    assert recording.samples.size == plain.size
    assert np.abs(recording.samples - plain).max() < 1e-4


def test_a_click_stays_where_it_was(tmp_path: Path) -> None:
    values = np.zeros(10 * RATE)
    values[::480] = 1e-3
    at = 7.25
    values[int(at * RATE)] = 0.9
    recording = read_wave(tmp_path, wave_bytes(values))
    assert int(np.abs(recording.samples).argmax()) / recording.sampling_rate == at


def stereo(left: NDArray[np.float64], right: NDArray[np.float64]) -> bytes:
    both = np.stack([left, right], axis=1).ravel()
    return wave_bytes(both, n_channels=2)


def test_channels_that_agree_are_averaged_and_told(tmp_path: Path) -> None:
    tones = decaying_tones(seconds=3)
    recording = read_wave(tmp_path, stereo(tones, 0.5 * tones))
    assert [note.code for note in recording.notes] == ["channels-averaged"]
    alone = read_wave(tmp_path, wave_bytes(0.75 * tones))
    assert np.abs(recording.samples - alone.samples).max() < 1e-4


def test_equal_channels_need_no_word(tmp_path: Path) -> None:
    tones = decaying_tones(seconds=3)
    assert read_wave(tmp_path, stereo(tones, tones)).notes == ()


@pytest.mark.parametrize("weak", [0.0, -0.6])
def test_a_silent_or_opposed_channel_is_left_out(weak: float, tmp_path: Path) -> None:
    tones = decaying_tones(seconds=3)
    recording = read_wave(tmp_path, stereo(weak * tones, tones))
    assert [note.code for note in recording.notes] == ["one-channel"]
    assert "channel 2" in recording.notes[0].text
    alone = read_wave(tmp_path, wave_bytes(tones))
    assert np.abs(recording.samples - alone.samples).max() < 1e-6


def test_overdriven_stretches_are_found_where_they_are(tmp_path: Path) -> None:
    tone = 0.5 * np.sin(2 * np.pi * 40 * np.arange(4 * RATE) / RATE)
    tone[RATE : 2 * RATE] = np.clip(4 * tone[RATE : 2 * RATE], -1, 1)
    recording = read_wave(tmp_path, wave_bytes(tone))
    assert [note.code for note in recording.notes] == ["clipped"]
    assert recording.clipped.shape == (1, 2)
    assert recording.clipped[0] == pytest.approx([1.0, 2.0], abs=0.02)


def test_a_loud_tone_below_full_scale_is_not_overdriven(tmp_path: Path) -> None:
    tone = 0.98 * np.sin(2 * np.pi * 40 * np.arange(2 * RATE) / RATE)
    recording = read_wave(tmp_path, wave_bytes(tone))
    assert recording.clipped.size == 0
    assert recording.notes == ()


def test_samples_that_are_no_numbers_become_silence_and_are_told(
    tmp_path: Path,
) -> None:
    values = decaying_tones(seconds=2)
    values[[5, 50000, 50001]] = [np.nan, np.inf, -np.inf]
    recording = read_wave(tmp_path, wave_bytes(values, bits=32, is_float=True))
    assert [note.code for note in recording.notes] == ["not-numbers"]
    assert "3 samples" in recording.notes[0].text
    assert np.isfinite(recording.samples).all()


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "file-empty"),
        (b"rope;force\n1;35 lbf\n" * 50, "file-is-text"),
        ("Seil 1: drei Zupfer, dann 2 ü".encode("utf-16"), "file-is-text"),
        (b"\xff\xd8\xff\xe0" + bytes(range(256)) * 8, "file-is-other"),
        (b"PK\x03\x04" + bytes(range(256)) * 8, "file-is-other"),
        (bytes(5000), "all-zeros"),
        (wave_bytes(np.zeros(RATE)), "all-zeros"),
        (wave_bytes(np.full(RATE, 0.3)), "silent"),
        (wave_bytes(decaying_tones(seconds=0.1)), "recording-too-short"),
        (wave_bytes(decaying_tones(seconds=2), rate=3), "absurd-rate"),
        (wave_bytes(decaying_tones(seconds=2), rate=400_000), "absurd-rate"),
        (wave_bytes(np.full(RATE, np.nan), bits=32, is_float=True), "no-numbers"),
        (np.random.default_rng(3).bytes(20000), "file-damaged"),
        (wave_bytes(decaying_tones(seconds=2), bits=64), "file-damaged"),
        (wave_bytes(decaying_tones(seconds=2))[:30], "file-damaged"),
        (b"#EXTM3U\n#EXTINF:10,\nother.wav\n", "file-is-text"),
        (b"ffconcat version 1.0\nfile other.wav\n", "file-is-text"),
    ],
)
def test_what_cannot_be_used_is_refused_with_its_reason(
    content: bytes, code: str, tmp_path: Path
) -> None:
    (tmp_path / "other.wav").write_bytes(wave_bytes(decaying_tones(seconds=2)))
    recording = read_wave(tmp_path, content)
    assert recording.refusal is not None
    assert recording.refusal.code == code
    assert "a.wav" in recording.refusal.text
    assert recording.refusal.next_act
    assert recording.samples.size == 0


def test_a_log_of_an_acceleration_sensor_is_read_too(tmp_path: Path) -> None:
    rows = "".join(f"{k / 100},{np.sin(k)}\n" for k in range(500))
    recording = read_wave(tmp_path, f"time (s),x (g)\n{rows}".encode(), "log.txt")
    assert recording.refusal is None
    assert recording.sampling_rate == pytest.approx(100, rel=1e-6)
    assert recording.codec == ""


def test_places_without_a_file_are_refused(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    expected = {
        tmp_path: "file-is-folder",
        tmp_path / "missing.m4a": "file-missing",
        tmp_path / "a\0b.m4a": "file-missing",
        pipe: "file-locked",
        tmp_path / ("x" * 300): "file-missing",
    }
    for path, code in expected.items():
        refusal = read_recording(path).refusal
        assert refusal is not None
        assert refusal.code in {code, "file-locked"}


def test_a_cut_off_m4a_says_that_its_index_is_lost(wave: Path, tmp_path: Path) -> None:
    whole = encode(wave, tmp_path / "a.m4a", "-c:a", "aac").read_bytes()
    recording = read_wave(tmp_path, whole[: len(whole) // 2], "b.m4a")
    assert recording.refusal is not None
    assert recording.refusal.code == "index-lost"


@pytest.mark.parametrize(
    ("form", "options"),
    [
        ("16-bit.wav", ()),
        ("big-end.aiff", ()),
        ("free.flac", ()),
        ("front.m4a", ("-c:a", "aac", "-movflags", "+faststart")),
    ],
)
def test_of_a_cut_off_file_the_first_part_is_used_and_told(
    form: str, options: tuple[str, ...], wave: Path, tmp_path: Path
) -> None:
    whole = encode(wave, tmp_path / form, *options)
    full = read_recording(whole)
    content = whole.read_bytes()
    cut = read_wave(tmp_path, content[: int(0.6 * len(content))], f"cut-{form}")
    assert full.notes == ()
    assert cut.refusal is None
    assert "cut-off" in [note.code for note in cut.notes]
    n = cut.samples.size
    assert 0.4 * full.samples.size < n < 0.75 * full.samples.size
    same = slice(0, n - 2000)
    assert np.abs(cut.samples[same] - full.samples[same]).max() < 1e-3


def test_lost_packets_do_not_shift_what_follows(wave: Path, tmp_path: Path) -> None:
    made = encode(wave, tmp_path / "a.flac", "-frame_size", "4608")
    content = bytearray(made.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 9000] = bytes(9000)
    hurt = read_wave(tmp_path, bytes(content), "b.flac")
    assert hurt.refusal is None
    assert "parts-lost" in [note.code for note in hurt.notes]
    whole = read_recording(made).samples
    n = min(whole.size, hurt.samples.size)
    assert n > 0.97 * whole.size
    assert (
        np.abs(whole[n - 6000 : n - 200] - hurt.samples[n - 6000 : n - 200]).max()
        < 1e-4
    )


def test_a_recording_of_ten_hours_is_refused_by_its_index(
    wave: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = encode(wave, tmp_path / "a.flac")
    monkeypatch.setattr("tension.files.sound_stream.LONGEST", 5.0)
    refusal = read_recording(made).refusal
    assert refusal is not None
    assert refusal.code == "recording-too-long"


def test_a_recording_without_an_index_is_refused_where_it_gets_too_long(
    wave: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = encode(wave, tmp_path / "a.ogg", "-c:a", "libopus")
    monkeypatch.setattr("tension.files.sound_stream.LONGEST", 5.0)
    refusal = read_recording(made).refusal
    assert refusal is not None
    assert refusal.code == "recording-too-long"
    assert "more than" in refusal.text


def test_tags_of_the_file_go_nowhere(wave: Path, tmp_path: Path) -> None:
    tags = ("-metadata", "title=Hidden", "-metadata", "location=+51.5-000.1/")
    made = encode(wave, tmp_path / "a.m4a", "-c:a", "aac", *tags)
    recording = read_recording(made)
    shown = (recording.name, recording.codec, recording.notes, recording.refusal)
    assert "Hidden" not in str(shown)
    assert "51.5" not in str(shown)


def test_samples_cannot_be_written_to(wave: Path) -> None:
    samples = read_recording(wave).samples
    with pytest.raises(ValueError, match="read-only"):
        samples[0] = 1


def test_a_file_may_be_named_like_an_address(wave: Path, tmp_path: Path) -> None:
    odd = tmp_path / "concat:a|b %20 ünï.wav"
    odd.write_bytes(wave.read_bytes())
    assert read_recording(odd).refusal is None


def damaged(content: bytes, way: int, random: np.random.Generator) -> bytes:
    """Return a file hurt in one of four ways."""
    size = len(content)
    if way == 0:
        return content[: int(random.integers(0, size))]
    hurt = np.frombuffer(content, dtype=np.uint8).copy()
    if way == 1:
        places = random.integers(0, size, 40)
        hurt[places] ^= random.integers(1, 256, 40).astype(np.uint8)
    elif way == 2:
        places = random.integers(0, min(size, 400), 6)
        hurt[places] = random.integers(0, 256, 6)
    else:
        start = int(random.integers(0, size))
        length = min(size - start, int(random.integers(1, 5000)))
        hurt[start : start + length] = random.integers(0, 256, length)
    return hurt.tobytes()


@pytest.mark.slow
def test_no_damage_raises_or_prints(
    wave: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    random = np.random.default_rng(20261120)
    path = tmp_path / "hurt"
    forms = sorted(FORMS)
    sources = [encode(wave, tmp_path / f, *FORMS[f]).read_bytes() for f in forms]
    capfd.readouterr()
    n_refused = 0
    for trial in range(160):
        content = sources[trial % len(sources)]
        path.write_bytes(damaged(content, trial // len(sources) % 4, random))
        recording = read_recording(path)
        assert np.isfinite(recording.samples).all()
        assert (recording.samples.size == 0) == (recording.refusal is not None)
        n_refused += recording.refusal is not None
    captured = capfd.readouterr()
    assert captured.out == ""
    assert captured.err == ""
    assert 0 < n_refused < 120


def test_scipy_is_not_needed_to_read(wave: Path) -> None:
    program = (
        "import sys; from pathlib import Path; "
        "from tension.files.sound import read_recording; "
        f"read_recording(Path({str(wave)!r})); "
        "sys.exit(any(m.split('.')[0] in ('scipy', 'matplotlib') for m in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0


PEAK = f"""{PEAK_IN_MEGABYTES}
import sys
from pathlib import Path
from tension.files.sound import read_recording
n_samples = read_recording(Path(sys.argv[1])).samples.size
print(n_samples, peak_in_megabytes())
"""


@pytest.mark.slow
def test_an_hour_takes_less_than_300_megabytes(tmp_path: Path) -> None:
    noise = "anoisesrc=r=48000:a=0.1:d=3600:seed=1"
    target = tmp_path / "hour.m4a"
    command = [ffmpeg_or_skip(), "-loglevel", "error", "-f", "lavfi", "-i", noise]
    subprocess.run(
        [*command, "-ac", "2", "-c:a", "alac", "-t", "600", str(target)], check=True
    )
    looped = tmp_path / "looped.m4a"
    copy = ["-stream_loop", "5", "-i", str(target), "-c", "copy", str(looped)]
    subprocess.run([*command[:3], *copy], check=True)
    done = subprocess.run(
        [sys.executable, "-c", PEAK, str(looped)],
        check=True,
        capture_output=True,
        text=True,
    )
    n_samples, peak = map(int, done.stdout.split())
    assert n_samples == pytest.approx(3600 * 4000, rel=0.001)
    assert peak < 300


def test_the_stream_is_closed_when_reading_ends(
    wave: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed: list[FileStream] = []
    close = FileStream.close

    def watched(stream: FileStream) -> None:
        closed.append(stream)
        close(stream)

    monkeypatch.setattr(FileStream, "close", watched)
    read_recording(wave)
    assert len(closed) == 1
