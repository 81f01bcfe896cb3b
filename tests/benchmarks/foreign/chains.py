"""What a slowed recording goes through before it is heard, by name."""

import tempfile
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import istft, resample_poly, stft

from tests.benchmarks.foreign.decoding import decode
from tests.synthesis import disturbances
from tests.synthesis.recorder import GainControl, LowCut, quantised, write_sound

Array = NDArray[np.float64]
Generator = np.random.Generator


class Chain(StrEnum):
    """Names of the chains."""

    CLEAN = "clean"
    PHONE = "phone"
    FAR = "far"
    AMR = "amr"
    OPUS = "opus"
    GAIN = "gain"
    VOICE = "voice"


ROOM = {Chain.FAR: (4, 3.5, 3.0, 15.0)}
"""Order of the low cut, its place over f_1, hum and noise under the ring. [1, 1, dB]"""
NEAR = (2, 1.6, 20.0, 20.0)


def first_second(samples: Array, rate: int, onset: float) -> float:
    """Root mean square of the second after the first pluck."""
    first = int(onset * rate)
    return disturbances.rms(samples[first : first + rate])


def below(sound: Array, level: float, decibels: float) -> Array:
    """Scale a sound to so many decibels under a level."""
    wanted = level * 10.0 ** (-decibels / 20.0)
    scaled: Array = sound * (wanted / max(disturbances.rms(sound), 1e-12))
    return scaled


def room(
    rng: Generator,
    samples: Array,
    rate: int,
    pitch: float,
    onset: float,
    chain: Chain,
) -> Array:
    """Low cut, mains hum and pink noise."""
    order, place, hum_under, noise_under = ROOM.get(chain, NEAR)
    heard = LowCut(frequency=place * pitch, order=order).apply(samples, rate)
    level = first_second(heard, rate, onset)
    mains = float(rng.choice([50.0, 60.0]))
    hum = disturbances.hum(rng, len(heard), rate, mains, 8)
    noise = disturbances.pink_noise(rng, len(heard), rate)
    total: Array = (
        heard + below(hum, level, hum_under) + below(noise, level, noise_under)
    )
    return total


def draw_gain_control(rng: Generator) -> GainControl:
    """Automatic gain of a phone."""
    return GainControl(
        strength=float(rng.uniform(0.3, 0.8)),
        attack=float(np.exp(rng.uniform(np.log(0.01), np.log(0.1)))),
        release=float(np.exp(rng.uniform(np.log(0.3), np.log(2.0)))),
    )


def suppress_noise(rng: Generator, samples: Array, rate: int) -> Array:
    """Spectral subtraction against a slowly rising floor, as voice processing does.

    What stays steady for a second or so in a band is taken for noise and lowered by 10
    to 25 dB; gains follow within 20 ms.
    """
    size = 1 << int(np.ceil(np.log2(0.03 * rate)))
    _, _, bands = stft(samples, rate, nperseg=size, noverlap=size // 2)
    power = np.abs(bands) ** 2
    frames = rate / (size // 2)
    rise = 10.0 ** (rng.uniform(3.0, 9.0) / 10.0 / frames)
    floor = np.empty_like(power)
    held = power[:, 0] + 1e-12
    for i in range(power.shape[1]):
        held = np.minimum(held * rise, np.maximum(power[:, i], 1e-12))
        floor[:, i] = held
    least = 10.0 ** (-rng.uniform(10.0, 25.0) / 20.0)
    gain = np.maximum(least, 1.0 - 1.5 * np.sqrt(floor / (power + 1e-12)))
    smooth = np.exp(-1.0 / (0.02 * frames))
    for i in range(1, gain.shape[1]):
        gain[:, i] = smooth * gain[:, i - 1] + (1.0 - smooth) * gain[:, i]
    _, out = istft(bands * gain, rate, nperseg=size, noverlap=size // 2)
    found: Array = np.asarray(out[: len(samples)], dtype=float)
    return found


def write_opus(path: Path, samples: Array, rate: int) -> None:
    """Opus for speech at 24 kbit/s, by PyAV's own FFmpeg."""
    import av

    ratio = Fraction(48000, rate)
    fast = resample_poly(samples, ratio.numerator, ratio.denominator)
    steps = np.clip(np.round(fast * 32768.0), -32768, 32767).astype("<i2")
    with av.open(str(path), "w", format="ogg") as container:
        stream = container.add_stream(
            "libopus", rate=48000, layout="mono", options={"application": "voip"}
        )
        stream.bit_rate = 24000
        for first in range(0, len(steps) - 959, 960):
            part = steps[first : first + 960][None, :]
            frame = av.AudioFrame.from_ndarray(part, format="s16", layout="mono")
            frame.sample_rate = 48000
            frame.pts = first
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def through_file(samples: Array, rate: int, chain: Chain) -> Array:
    """Code, store, decode; back at the same rate."""
    loud = 0.7 * samples / max(float(np.max(np.abs(samples))), 1e-12)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / f"sound.{chain.value}"
        if chain is Chain.OPUS:
            write_opus(path, loud, rate)
        else:
            write_sound(path, quantised(loud), rate)
        decoded, coded_rate = decode(path)
    ratio = Fraction(rate, round(coded_rate))
    if ratio == 1:
        return decoded
    back: Array = resample_poly(decoded, ratio.numerator, ratio.denominator)
    return back


def apply(
    chain: Chain,
    rng: Generator,
    samples: Array,
    *,
    rate: int,
    pitch: float,
    onset: float,
) -> Array:
    """Send a recording through a chain.

    Parameters
    ----------
    chain : Chain
        Which.
    rng : Generator
        Draws hum, noise and gain.
    samples : ndarray, shape (n_samples,)
        Clean and slowed.
    rate : int
        [Hz]
    pitch : float
        First mode, which places the low cut. [Hz]
    onset : float
        Of the ring whose first second sets the level. [s]
    """
    if chain is Chain.CLEAN:
        return samples
    heard = room(rng, samples, rate, pitch, onset, chain)
    if chain in {Chain.AMR, Chain.OPUS}:
        return through_file(heard, rate, chain)
    if chain is Chain.VOICE:
        heard = suppress_noise(rng, heard, rate)
    if chain in {Chain.GAIN, Chain.VOICE}:
        return draw_gain_control(rng).apply(heard, rate)
    return heard
