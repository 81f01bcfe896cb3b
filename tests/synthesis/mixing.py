"""One recording: ropes, neighbours, hum, noise and trouble through a recorder."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, resample, sosfilt

from tests.synthesis import disturbances
from tests.synthesis.plucking import (
    MODELLING_RATE,
    Damping,
    Planes,
    Pluck,
    Sensor,
    glide,
    modal_amplitudes,
    ring,
    sensed,
)
from tests.synthesis.recorder import GainControl, LowCut, clip, gate, quantised
from tests.synthesis.ropes import RopeModes

Array = NDArray[np.float64]
Generator = np.random.Generator

NOISE_BAND = 1000.0  # noise level is stated in 0 to this [Hz]


@dataclass(frozen=True, kw_only=True)
class PluckedRope:
    """A rope and its plucks in one recording.

    Attributes
    ----------
    index : int
        In the set, from 0.
    plucks : tuple of Pluck
        In order of time.
    stopped : float
        Moment at which a hand stops it and its neighbours. [s]
    """

    index: int
    plucks: tuple[Pluck, ...]
    stopped: float = float("inf")


@dataclass(frozen=True, kw_only=True)
class Scene:
    """All that sounds in one recording; levels as regimes.py defines them.

    Attributes
    ----------
    duration : float
        [s]
    plucked : tuple of PluckedRope
        Who is plucked when.
    modes, planes, damping, axial_stiffness
        The ropes of the set.
    sensor, sensor_place, sensor_reach
        What listens, where along the free length [1], over which stretch [m].
    signal_to_noise, hum_level, neighbour_level : float
        [dB]
    mains : float
        [Hz]
    pink_share : float
        Part of the noise power that is pink, the rest is white. [1]
    troubles : tuple of str
        speech, knock, slam, handling, fan.
    trouble_level : float
        Peak of the troubles over the root mean square of the ring. [dB]
    """

    duration: float
    plucked: tuple[PluckedRope, ...]
    modes: tuple[RopeModes, ...]
    planes: tuple[Planes, ...]
    damping: Damping
    axial_stiffness: float
    sensor: Sensor
    sensor_place: float
    signal_to_noise: float
    hum_level: float
    neighbour_level: float
    mains: float = 50.0
    sensor_reach: float = 0.12
    pink_share: float = 0.5
    troubles: tuple[str, ...] = field(default=())
    trouble_level: float = 6.0


def from_decibels(level: float) -> float:
    return float(10.0 ** (level / 20.0))


def _first_second(samples: Array, onset: float) -> float:
    """Level of the second after an onset."""
    first = int(onset * MODELLING_RATE)
    return disturbances.rms(samples[first : first + int(MODELLING_RATE)])


def _faded(samples: Array, touch: float) -> Array:
    """Stop a ring at a moment, as a hand does when it takes the rope again."""
    if touch > len(samples) / MODELLING_RATE:
        return samples
    moments = np.arange(len(samples)) / MODELLING_RATE
    fall = np.clip(1.0 - (moments - touch) / 0.06, 0.0, 1.0)
    out: Array = samples * (0.5 - 0.5 * np.cos(np.pi * fall))
    return out


def own_rings(rng: Generator, scene: Scene, rope: PluckedRope, n_samples: int) -> Array:
    """All plucks of one rope, each ended by the hand that makes the next."""
    modes = scene.modes[rope.index]
    weights = sensed(modes, scene.sensor, scene.sensor_place, scene.sensor_reach)
    total = np.zeros(n_samples)
    for i, pluck in enumerate(rope.plucks):
        first = round(pluck.onset * MODELLING_RATE)
        sound = ring(
            modes,
            weights * modal_amplitudes(modes, pluck),
            scene.damping,
            n_samples=n_samples - first,
            planes=scene.planes[rope.index],
            rise=glide(modes.spec, pluck, scene.axial_stiffness),
        )
        if i + 1 < len(rope.plucks):
            touch = rope.plucks[i + 1].onset - pluck.onset - rng.uniform(0.08, 0.4)
            sound = _faded(sound, touch)
        total[first:] += _faded(sound, rope.stopped - pluck.onset)
    return total


def neighbour_rings(
    rng: Generator, scene: Scene, rope: PluckedRope, n_samples: int
) -> Array:
    """Other ropes, set going through the hitch, each at its own frequencies.

    A rope nearer by and nearer in frequency takes more: the share falls with the
    distance in the row and, as for two resonators on one support, with the detuning.
    """
    modes = scene.modes[rope.index]
    total = np.zeros(n_samples)
    for j, other in enumerate(scene.modes):
        if j == rope.index:
            continue
        detuning = other.frequencies[0] / modes.frequencies[0] - 1.0
        share = 1.0 / (abs(j - rope.index) * np.hypot(1.0, detuning / 0.01))
        own = sensed(other, scene.sensor, scene.sensor_place, scene.sensor_reach)
        for pluck in rope.plucks:
            first = round(pluck.onset * MODELLING_RATE)
            weights = own * modal_amplitudes(other, pluck) / pluck.amplitude
            weights /= np.sqrt(np.sum(np.square(weights))) + 1e-30
            sound = ring(
                other,
                weights * rng.uniform(0.3, 1.0, len(weights)),
                scene.damping,
                n_samples=n_samples - first,
                phases=rng.uniform(0.0, 2.0 * np.pi, len(weights)),
            )
            sound = _faded(sound, rope.stopped - pluck.onset)
            total[first:] += share * pluck.amplitude * sound
    return total


def rope_sound(rng: Generator, scene: Scene, low_cut: LowCut) -> Array:
    """Ropes after the low cut at MODELLING_RATE; the median ring has level 1."""
    n_samples = round((scene.duration + 0.5) * MODELLING_RATE)
    total = np.zeros(n_samples)
    levels = []
    for rope in scene.plucked:
        own = low_cut.apply(own_rings(rng, scene, rope, n_samples), MODELLING_RATE)
        mine = [_first_second(own, pluck.onset) for pluck in rope.plucks]
        total += own
        levels += mine
        if len(scene.modes) > 1 and np.isfinite(scene.neighbour_level):
            around = neighbour_rings(rng, scene, rope, n_samples)
            around = low_cut.apply(around, MODELLING_RATE)
            heard = [_first_second(around, pluck.onset) for pluck in rope.plucks]
            wanted = from_decibels(scene.neighbour_level) * float(np.mean(mine))
            total += around * (wanted / (float(np.mean(heard)) + 1e-30))
    level = float(np.median(levels))
    return total / level


def hum_sound(rng: Generator, scene: Scene, low_cut: LowCut, n_samples: int) -> Array:
    """Hum after the low cut at MODELLING_RATE, at its level against a ring."""
    if not np.isfinite(scene.hum_level):
        return np.zeros(n_samples)
    lead = int(MODELLING_RATE)  # so that it stands when the recording begins
    n_lines = int(rng.integers(4, 16))
    steady = disturbances.hum(
        rng, n_samples + lead, MODELLING_RATE, scene.mains, n_lines
    )
    steady = low_cut.apply(steady, MODELLING_RATE)[lead:]
    return steady * (from_decibels(scene.hum_level) / disturbances.rms(steady))


def noise(rng: Generator, scene: Scene, rate: float, low_cut: LowCut) -> Array:
    """Pink and white noise after the low cut, of unit level below NOISE_BAND."""
    n_samples = round(scene.duration * rate)
    pink = disturbances.pink_noise(rng, n_samples, rate)
    white = disturbances.white_noise(rng, n_samples)
    total = np.zeros(n_samples)
    for part, share in ((pink, scene.pink_share), (white, 1.0 - scene.pink_share)):
        heard = low_cut.apply(part, rate)
        total += np.sqrt(share) * heard / band_level(heard, rate)
    return total


def band_level(samples: Array, rate: float) -> float:
    """Root mean square of what lies below NOISE_BAND."""
    spectrum = np.abs(np.fft.rfft(samples)) ** 2
    frequencies = np.fft.rfftfreq(len(samples), 1.0 / rate)
    power = 2.0 * float(spectrum[frequencies <= NOISE_BAND].sum()) / len(samples) ** 2
    return float(np.sqrt(power))


def _trouble(rng: Generator, name: str, n_samples: int, rate: float) -> Array:
    """One kind of trouble, peak 1, somewhere in the recording."""
    total = np.zeros(n_samples)
    lengths = {"speech": (0.8, 2.5), "knock": (0.3, 0.3), "slam": (1.2, 1.2)}
    makers = {
        "speech": disturbances.speech,
        "knock": disturbances.knock,
        "slam": disturbances.door_slam,
        "handling": disturbances.handling,
    }
    for _ in range(int(rng.integers(1, 4)) if name == "knock" else 1):
        seconds = float(rng.uniform(*lengths.get(name, (0.4, 1.5))))
        length = min(n_samples - 1, int(seconds * rate))
        first = int(rng.integers(0, n_samples - length))
        sound = makers[name](rng, length, rate)
        total[first : first + length] += sound / (np.max(np.abs(sound)) + 1e-12)
    return total


def troubles(rng: Generator, scene: Scene, rate: float, low_cut: LowCut) -> Array:
    """Everything that disturbs, after the low cut."""
    n_samples = round(scene.duration * rate)
    total = np.zeros(n_samples)
    for name in scene.troubles:
        if name == "fan":
            heard = low_cut.apply(disturbances.fan(rng, n_samples, rate), rate)
            level = from_decibels(-scene.signal_to_noise + rng.uniform(-6.0, 3.0))
            total += heard * level / (band_level(heard, rate) + 1e-12)
            continue
        peak = from_decibels(scene.trouble_level + float(rng.uniform(-14.0, 6.0)))
        total += peak * low_cut.apply(_trouble(rng, name, n_samples, rate), rate)
    return total


def _scuffs(rng: Generator, scene: Scene, rate: float) -> Array:
    """The hand on the rope before each pluck."""
    n_samples = round(scene.duration * rate)
    total = np.zeros(n_samples)
    for rope in scene.plucked:
        for pluck in rope.plucks:
            length = int(rng.uniform(0.05, 0.2) * rate)
            first = int((pluck.onset - rng.uniform(0.0, 0.15)) * rate) - length
            if first < 0:
                continue
            level = from_decibels(float(rng.uniform(-34.0, -16.0)))
            sound = disturbances.scuff(rng, length, rate)
            total[first : first + length] += level * sound
    return total


def mix(
    rng: Generator,
    scene: Scene,
    *,
    rate: int,
    low_cut: LowCut,
    gain_control: GainControl | None = None,
    clips: bool = False,
    gates: bool = False,
) -> NDArray[np.float32]:
    """Make the recording of a scene at a sampling rate."""
    n_samples = round(scene.duration * rate)
    slow = rope_sound(rng, scene, low_cut)
    slow += hum_sound(rng, scene, low_cut, len(slow))
    total = resample(slow, round(len(slow) * rate / MODELLING_RATE))[:n_samples]
    total = total + from_decibels(-scene.signal_to_noise) * noise(
        rng, scene, rate, low_cut
    )
    total += troubles(rng, scene, rate, low_cut)
    total += low_cut.apply(_scuffs(rng, scene, rate), rate)
    if gain_control is not None:
        total = gain_control.apply(total, rate)
    if rate <= 2.0 * 4000.0:
        # the recorder's own anti-alias filter, so that noise does not end at a wall
        sections = butter(4, 0.45 * rate, "lowpass", fs=rate, output="sos")
        total = sosfilt(sections, total)
    if gates:
        total = gate(total, rate, 0.25, float(rng.uniform(0.2, 0.8)))
    if clips:
        return quantised(clip(total, float(rng.uniform(0.1, 1.0))))
    peak = float(np.max(np.abs(total)))
    return quantised(total * (float(rng.uniform(0.08, 0.9)) / peak))
