"""What a recorder makes of a sound: low cut, gain control, gate, clipping, files."""

import subprocess
import wave
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

Array = NDArray[np.float64]
Samples = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class LowCut:
    """High-pass of a recorder.

    Attributes
    ----------
    frequency : float
        -3 dB point. [Hz]
    order : int
        1 to 4.
    """

    frequency: float
    order: int

    def apply(self, samples: Array, rate: float) -> Array:
        """Filter, causal, Butterworth."""
        sections = butter(self.order, self.frequency, "highpass", fs=rate, output="sos")
        filtered: Array = sosfilt(sections, samples)
        return filtered


@dataclass(frozen=True, kw_only=True)
class GainControl:
    """Automatic gain.

    Attributes
    ----------
    strength : float
        0 none, 1 keeps the level constant. [1]
    attack, release : float
        Time constants. [s]
    """

    strength: float
    attack: float
    release: float

    def apply(self, samples: Array, rate: float) -> Array:
        """Multiply by a gain that follows the level in steps of 10 ms."""
        hop = max(1, int(0.01 * rate))
        n_blocks = -(-len(samples) // hop)
        padded = np.zeros(n_blocks * hop)
        padded[: len(samples)] = samples
        peaks = np.abs(padded).reshape(n_blocks, hop).max(axis=1)
        floor = 0.02 * float(peaks.max()) + 1e-12
        level = float(peaks[0])
        gains = np.empty(n_blocks)
        up = 1.0 - np.exp(-0.01 / self.attack)
        down = 1.0 - np.exp(-0.01 / self.release)
        for i, peak in enumerate(peaks):
            level += (up if peak > level else down) * (float(peak) - level)
            gains[i] = (max(level, floor)) ** -self.strength
        places = (np.arange(n_blocks) + 1.0) * hop
        gain = np.interp(np.arange(len(samples)), places, gains)
        out: Array = samples * gain
        return out


def gate(samples: Array, rate: float, threshold: float, hold: float) -> Array:
    """Noise gate: silence wherever the level stays under a threshold for a while."""
    hop = max(1, int(0.01 * rate))
    n_blocks = -(-len(samples) // hop)
    padded = np.zeros(n_blocks * hop)
    padded[: len(samples)] = samples
    loud = np.abs(padded).reshape(n_blocks, hop).max(axis=1) > threshold
    reach = max(1, int(hold / 0.01))
    is_open = np.convolve(loud, np.ones(reach))[:n_blocks] > 0
    gain = np.repeat(is_open.astype(float), hop)[: len(samples)]
    smoothing = max(3, int(0.004 * rate))
    gain = np.convolve(gain, np.ones(smoothing) / smoothing, mode="same")
    gain[gain < 1e-9] = 0.0
    out: Array = samples * gain
    return out


def clip(samples: Array, fraction: float) -> Array:
    """Scale so that the largest peak is over full scale by a fraction, and clip."""
    peak = float(np.max(np.abs(samples))) + 1e-12
    return np.clip(samples * (1.0 + fraction) / peak, -1.0, 1.0)


def quantised(samples: Array, n_bits: int = 16) -> Samples:
    """Round to the steps of a file."""
    full = 2.0 ** (n_bits - 1)
    steps = np.clip(np.round(samples * full), -full, full - 1.0)
    return (steps / full).astype(np.float32)


def write_wave(path: Path, samples: Samples, rate: int) -> None:
    """Write 16 bit mono WAV."""
    steps = np.clip(np.round(np.asarray(samples) * 32768.0), -32768, 32767)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(steps.astype("<i2").tobytes())


class Coding(StrEnum):
    """File forms of phones, by their extension and codec."""

    WAV = "wav"
    M4A = "m4a"
    AMR = "amr"
    THREE_GP = "3gp"
    VOICE_OPUS = "opus"
    FLAC = "flac"


_CODECS = {
    Coding.M4A: ["-c:a", "aac", "-b:a", "64k"],
    Coding.THREE_GP: ["-c:a", "aac", "-b:a", "32k", "-f", "3gp"],
    Coding.VOICE_OPUS: [
        *("-c:a", "libopus", "-b:a", "24k", "-application", "voip", "-ar", "48000"),
    ],
    Coding.FLAC: ["-c:a", "flac"],
}


def write_sound(
    path: Path, samples: Samples, rate: int, bit_rate: str | None = None
) -> None:
    """Write a sound file; the extension says which form. Needs ffmpeg but for WAV."""
    coding = Coding(path.suffix.removeprefix("."))
    if coding is Coding.WAV:
        write_wave(path, samples, rate)
        return
    if coding is Coding.AMR:
        _write_amr(path, samples, rate)
        return
    steps = np.clip(np.round(np.asarray(samples) * 32768.0), -32768, 32767)
    options = list(_CODECS[coding])
    if bit_rate is not None:
        options[options.index("-b:a") + 1] = bit_rate
    command = [
        *("ffmpeg", "-v", "error", "-y", "-f", "s16le", "-ar", str(rate), "-ac", "1"),
        *("-i", "pipe:0", "-map_metadata", "-1", "-fflags", "+bitexact"),
        *("-flags:a", "+bitexact", *options, str(path)),
    ]
    subprocess.run(command, input=steps.astype("<i2").tobytes(), check=True)


def _write_amr(path: Path, samples: Samples, rate: int) -> None:
    """Write narrow-band AMR with the encoder that PyAV's own FFmpeg carries."""
    import av
    from scipy.signal import resample

    slow = resample(samples, round(len(samples) * 8000 / rate))
    steps = np.clip(np.round(slow * 32768.0), -32768, 32767).astype("<i2")
    with av.open(str(path), "w", format="amr") as container:
        stream = container.add_stream("libopencore_amrnb", rate=8000, layout="mono")
        stream.bit_rate = 12200
        for first in range(0, len(steps) - 159, 160):
            part = steps[first : first + 160][None, :]
            frame = av.AudioFrame.from_ndarray(part, format="s16", layout="mono")
            frame.sample_rate = 8000
            frame.pts = first
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
