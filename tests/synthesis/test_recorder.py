"""The recorder chain does to samples what its names say; files hold the samples."""

import subprocess
import tomllib
import wave
from pathlib import Path

import numpy as np
import pytest

from tests.synthesis import disturbances, recorder
from tests.synthesis.recorder import Coding, GainControl
from tests.synthesis.records import write_set
from tests.synthesis.regimes import RegimeName
from tests.synthesis.sets import REGRESSION_SEEDS, draw_set

RATE = 16000
TONE = 0.5 * np.sin(2.0 * np.pi * 440.0 * np.arange(RATE) / RATE)


def test_wave_files_hold_the_samples(tmp_path: Path) -> None:
    samples = recorder.quantised(np.array([-1.0, -0.5, 0.0, 0.5, 1.0]))
    recorder.write_wave(tmp_path / "a.wav", samples, 8000)
    with wave.open(str(tmp_path / "a.wav"), "rb") as file:
        assert (file.getnchannels(), file.getframerate()) == (1, 8000)
        steps = np.frombuffer(file.readframes(5), dtype="<i2")
    np.testing.assert_array_equal(steps, [-32768, -16384, 0, 16384, 32767])


@pytest.mark.parametrize("coding", list(Coding))
def test_encoded_files_hold_the_tone(tmp_path: Path, coding: Coding) -> None:
    path = tmp_path / f"tone.{coding}"
    recorder.write_sound(path, TONE.astype(np.float32), RATE)
    command = [
        *("ffmpeg", "-v", "error", "-i", str(path), "-f", "f32le", "-ac", "1"),
        *("-ar", str(RATE), "pipe:1"),
    ]
    heard = np.frombuffer(
        subprocess.run(command, capture_output=True, check=True).stdout,
        dtype=np.float32,
    )[2000:14000].astype(np.float64)
    spectrum = np.abs(np.fft.rfft(heard * np.hanning(len(heard))))
    peak = np.argmax(spectrum) * RATE / len(heard)
    assert peak == pytest.approx(440.0, abs=RATE / len(heard))
    # a speech codec keeps the level of a tone only roughly
    rough = 0.25 if coding in {Coding.AMR, Coding.VOICE_OPUS} else 0.02
    assert disturbances.rms(heard) == pytest.approx(0.5 / np.sqrt(2.0), rel=rough)


def test_gain_control_evens_out_loud_and_soft() -> None:
    soft_then_loud = np.concatenate([0.1 * TONE, TONE])
    control = GainControl(strength=0.5, attack=0.02, release=0.2)
    heard = control.apply(soft_then_loud, RATE)
    ratio = disturbances.rms(heard[-4000:]) / disturbances.rms(heard[8000:15000])
    # ten times becomes the square root of ten
    assert ratio == pytest.approx(np.sqrt(10.0), rel=0.05)


def test_gate_leaves_digital_silence() -> None:
    faint = np.concatenate([TONE, 0.01 * TONE])
    heard = recorder.gate(faint, RATE, 0.1, 0.2)
    np.testing.assert_array_equal(heard[-8000:], 0.0)
    np.testing.assert_allclose(heard[1000:15000], TONE[1000:15000], atol=1e-9)


def test_clipping_flattens_the_tops() -> None:
    heard = recorder.clip(TONE, 0.5)
    # a sine 1.5 times too large is flat for 2 acos(1/1.5) / pi of the time
    flat = np.mean(np.abs(heard) == 1.0)
    assert flat == pytest.approx(2.0 * np.arccos(1.0 / 1.5) / np.pi, abs=0.02)


def test_pink_noise_falls_three_decibels_per_octave() -> None:
    noise = disturbances.pink_noise(np.random.default_rng(1), 2**18, 16000.0)
    power = np.abs(np.fft.rfft(noise)) ** 2
    frequencies = np.fft.rfftfreq(2**18, 1.0 / 16000.0)
    bands = [
        power[(frequencies > low) & (frequencies < 2 * low)].mean()
        for low in (50.0, 400.0)
    ]
    # three octaves: 9.03 dB; 800 lines in the lower band
    assert 10.0 * np.log10(bands[0] / bands[1]) == pytest.approx(9.03, abs=0.6)


def test_white_noise_has_unit_variance() -> None:
    noise = disturbances.white_noise(np.random.default_rng(2), 100_000)
    assert disturbances.rms(noise) == pytest.approx(1.0, rel=0.01)


def test_a_written_set_is_a_record_with_its_files(tmp_path: Path) -> None:
    synthetic = draw_set(RegimeName.HARD, REGRESSION_SEEDS[1])
    record = tomllib.loads(write_set(synthetic, tmp_path).read_text())
    assert record["set"]["ropes"] == len(synthetic.ropes)
    assert record["uncertainty"] == {"free_length": "0 mm"}
    for row, rope in zip(record["rope"], synthetic.ropes, strict=True):
        text = row["free_lengths"]["top, car side"]
        assert float(text.removesuffix(" m")) == rope.free_length
    for row, recording in zip(record["reading"], synthetic.recordings, strict=True):
        with wave.open(str(tmp_path / row["recording"]), "rb") as file:
            assert file.getframerate() == recording.sampling_rate
            assert file.getnframes() == len(recording.samples)
