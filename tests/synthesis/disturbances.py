"""Everything in a recording that is not the rope, each as samples of its own."""

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt

Array = NDArray[np.float64]
Generator = np.random.Generator


def rms(samples: Array) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.mean(np.square(samples)))) if len(samples) else 0.0


def white_noise(rng: Generator, n_samples: int) -> Array:
    """White noise of unit variance."""
    return rng.standard_normal(n_samples)


def pink_noise(
    rng: Generator, n_samples: int, rate: float, lowest: float = 2.0
) -> Array:
    """Noise with power as 1/f above a lowest frequency, by shaping a spectrum."""
    frequencies = np.fft.rfftfreq(n_samples, 1.0 / rate)
    spectrum = rng.standard_normal(len(frequencies)) + 1j * rng.standard_normal(
        len(frequencies)
    )
    spectrum *= 1.0 / np.sqrt(np.maximum(frequencies, lowest))
    samples: Array = np.fft.irfft(spectrum, n_samples)
    return samples / rms(samples)


def slow_wander(rng: Generator, n_samples: int, rate: float, period: float) -> Array:
    """A smooth random curve of about unit variance that varies over a period."""
    n_knots = max(4, int(n_samples / rate / period) + 3)
    knots = rng.standard_normal(n_knots)
    places = np.linspace(0.0, n_knots - 1.0001, n_samples)
    left = places.astype(int)
    share = 0.5 - 0.5 * np.cos(np.pi * (places - left))
    right = np.minimum(left + 1, n_knots - 1)
    curve: Array = knots[left] * (1.0 - share) + knots[right] * share
    return curve


def hum(
    rng: Generator, n_samples: int, rate: float, mains: float, n_lines: int
) -> Array:
    """Mains hum: multiples of a slightly wandering mains frequency, steady level."""
    moments = np.arange(n_samples) / rate
    real_mains = mains * (1.0 + 4e-4 * rng.standard_normal())
    phase = 2.0 * np.pi * real_mains * moments
    phase += 0.3 * slow_wander(rng, n_samples, rate, 2.5)
    swell = 1.0 + 0.04 * slow_wander(rng, n_samples, rate, 1.5)
    samples = np.zeros(n_samples)
    for k in range(1, n_lines + 1):
        if k * mains > 0.45 * rate:
            break
        level = rng.uniform(0.05, 1.0) / (1.0 + 0.25 * k)
        if k in {1, 2}:
            level = rng.uniform(0.4, 1.0)
        samples += level * np.cos(k * phase + rng.uniform(0.0, 2.0 * np.pi))
    return samples * swell


def speech(rng: Generator, n_samples: int, rate: float) -> Array:
    """Speech-like syllables: glottal pulses through formants, and hisses."""
    moments = np.arange(n_samples) / rate
    pitch = rng.uniform(90.0, 220.0) * np.exp(
        0.12 * slow_wander(rng, n_samples, rate, 0.35)
    )
    phase = 2.0 * np.pi * np.cumsum(pitch) / rate
    pulses = np.maximum(0.0, np.cos(phase)) ** 8
    pulses -= pulses.mean()
    source = pulses + 0.03 * rng.standard_normal(n_samples)
    voiced = np.zeros(n_samples)
    for centre, width in ((500.0, 90.0), (1450.0, 130.0), (2500.0, 200.0)):
        place = centre * rng.uniform(0.75, 1.3)
        if place > 0.4 * rate:
            continue
        radius = np.exp(-np.pi * width / rate)
        poles = [1.0, -2.0 * radius * np.cos(2.0 * np.pi * place / rate), radius**2]
        part = lfilter([1.0 - radius], poles, source)
        voiced += part / (rms(part) + 1e-12) * (500.0 / centre)
    syllables = rng.uniform(3.0, 5.5)
    envelope = np.maximum(
        0.0,
        np.sin(2.0 * np.pi * syllables * moments + rng.uniform(0.0, 6.28))
        + 0.5 * slow_wander(rng, n_samples, rate, 0.4),
    )
    hiss = np.diff(rng.standard_normal(n_samples), prepend=0.0)
    hiss *= np.maximum(0.0, slow_wander(rng, n_samples, rate, 0.2) - 1.0)
    samples = voiced * envelope + 0.3 * hiss
    out: Array = samples / (rms(samples) + 1e-12)
    return out


def knock(rng: Generator, n_samples: int, rate: float) -> Array:
    """A knock on metal or wood: a few resonances that die in a blink."""
    moments = np.arange(n_samples) / rate
    samples = np.zeros(n_samples)
    for _ in range(rng.integers(3, 7)):
        place = np.exp(rng.uniform(np.log(70.0), np.log(min(1500.0, 0.4 * rate))))
        decay = rng.uniform(0.008, 0.06)
        samples += (
            rng.uniform(0.3, 1.0)
            * np.exp(-moments / decay)
            * np.sin(2.0 * np.pi * place * moments + rng.uniform(0.0, 6.28))
        )
    out: Array = samples / np.max(np.abs(samples))
    return out


def door_slam(rng: Generator, n_samples: int, rate: float) -> Array:
    """A thump of low tones, a rattle and the echo of the hoistway."""
    moments = np.arange(n_samples) / rate
    samples = 0.6 * pink_noise(rng, n_samples, rate) * np.exp(-moments / 0.25)
    for _ in range(4):
        place = rng.uniform(18.0, 90.0)
        samples += np.exp(-moments / rng.uniform(0.08, 0.3)) * np.sin(
            2.0 * np.pi * place * moments + rng.uniform(0.0, 6.28)
        )
    out: Array = samples / np.max(np.abs(samples))
    return out


def handling(rng: Generator, n_samples: int, rate: float) -> Array:
    """Fingers on the phone: irregular rumble and scrapes."""
    rumble = np.cumsum(rng.standard_normal(n_samples))
    cut = butter(2, [15.0, min(600.0, 0.4 * rate)], "bandpass", fs=rate, output="sos")
    rumble = sosfilt(cut, rumble - rumble.mean())
    envelope = np.maximum(0.0, slow_wander(rng, n_samples, rate, 0.12)) ** 2
    samples = rumble * envelope
    out: Array = samples / (np.max(np.abs(samples)) + 1e-12)
    return out


def fan(rng: Generator, n_samples: int, rate: float) -> Array:
    """A fan: pink rush and a blade tone with multiples."""
    moments = np.arange(n_samples) / rate
    blade = rng.uniform(60.0, 190.0)
    phase = 2.0 * np.pi * blade * moments
    phase += 1.5 * slow_wander(rng, n_samples, rate, 1.0)
    samples = pink_noise(rng, n_samples, rate)
    for k in (1, 2, 3):
        samples += (
            rng.uniform(0.2, 0.8) / k * np.cos(k * phase + rng.uniform(0.0, 6.28))
        )
    return samples / rms(samples)


def scuff(rng: Generator, n_samples: int, rate: float) -> Array:
    """A finger or strap laid on the rope before a pluck."""
    samples = pink_noise(rng, n_samples, rate, 80.0)
    shape = np.sin(np.pi * np.arange(n_samples) / max(1, n_samples)) ** 2
    out: Array = samples * shape
    return out


def whine(rng: Generator, n_samples: int, rate: float) -> Array:
    """A drive running up and down: a tone with multiples that sweeps."""
    moments = np.linspace(0.0, 1.0, n_samples)
    top = rng.uniform(60.0, 160.0)
    speed = 8.0 + top * np.sin(np.pi * moments) ** 0.7
    phase = 2.0 * np.pi * np.cumsum(speed) / rate
    samples = np.zeros(n_samples)
    for k in range(1, 9):
        samples += np.cos(k * phase + rng.uniform(0.0, 6.28)) / k
    return samples / rms(samples)
