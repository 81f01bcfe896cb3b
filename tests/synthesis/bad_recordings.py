"""Recordings, over thirty kinds, that hold no pluck of one rope that could be used.

``make_bad_recordings(seed)`` gives them in the order of ``KINDS``; none of them may
ever yield a number.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample

from tests.synthesis import disturbances
from tests.synthesis.plucking import MODELLING_RATE, Damping, ring, solve
from tests.synthesis.recorder import gate, quantised
from tests.synthesis.ropes import RopeSpec
from tests.synthesis.variants import ring_alone

Array = NDArray[np.float64]
Generator = np.random.Generator
RATE = 16000
SECONDS = 6.0
N = int(SECONDS * RATE)


@dataclass(frozen=True, kw_only=True)
class BadRecording:
    """One recording of no use.

    Attributes
    ----------
    kind : str
        What is in it, in plain words.
    samples : ndarray of float32, shape (n_samples,)
        Full scale is 1.
    sampling_rate : int
        [Hz]
    """

    kind: str
    samples: NDArray[np.float32]
    sampling_rate: int = RATE


def _moments(n: int = N) -> Array:
    return np.arange(n) / RATE


def _place(sounds: Array, times: Array | list[float], n: int = N) -> Array:
    """The same short sound at several moments."""
    total = np.zeros(n)
    for time in times:
        first = int(time * RATE)
        part = sounds[: n - first]
        total[first : first + len(part)] += part
    return total


def _room(rng: Generator, level: float = 0.003) -> Array:
    return level * disturbances.pink_noise(rng, N, RATE)


def _ring(seed: int, onset: float = 0.8) -> Array:
    return _place(ring_alone(SECONDS - onset, RATE, seed), [onset])


def clipped_throughout(rng: Generator) -> Array:
    return np.clip(60.0 * (_ring(1) + 0.2 * disturbances.fan(rng, N, RATE)), -1, 1)


def silent(rng: Generator) -> Array:
    return rng.integers(-1, 2, N) / 32768.0


def zeros(_rng: Generator) -> Array:
    return np.zeros(N)


def speech_only(rng: Generator) -> Array:
    return _room(rng) + 0.15 * disturbances.speech(rng, N, RATE)


def hum_50(rng: Generator) -> Array:
    return _room(rng) + 0.3 * disturbances.hum(rng, N, RATE, 50.0, 12) / 3.0


def hum_60(rng: Generator) -> Array:
    return _room(rng) + 0.3 * disturbances.hum(rng, N, RATE, 60.0, 15) / 3.0


def white_noise(rng: Generator) -> Array:
    return 0.1 * disturbances.white_noise(rng, N)


def pink_noise(rng: Generator) -> Array:
    return 0.2 * disturbances.pink_noise(rng, N, RATE)


def two_ropes_at_once(rng: Generator) -> Array:
    total = _room(rng)
    for tension in (3000.0, 3500.0):
        spec = RopeSpec(
            free_length=3.4,
            linear_density=0.575,
            flexural_rigidity=9.0,
            hitch_tension=tension,
        )
        modes = solve(spec)
        n = np.arange(1, len(modes.frequencies) + 1)
        weights = np.sin(0.25 * np.pi * n) ** 2 * np.exp(-((n / 14.0) ** 2))
        sound = ring(
            modes,
            weights,
            Damping(at_zero=0.002, at_400=0.005),
            n_samples=int(5.0 * MODELLING_RATE),
        )
        full = resample(sound, 5 * RATE)
        total += 0.3 * _place(full / np.max(np.abs(full)), [0.9])
    return total


def hammer_blow(rng: Generator) -> Array:
    """Rope lengthwise, plate and rod: fixed tones of metal."""
    moments = _moments()
    blow = np.zeros(N)
    for frequency, decay in ((468.0, 0.5), (611.0, 0.25), (742.0, 0.3), (1403.0, 0.2)):
        blow += np.exp(-moments / decay) * np.sin(2 * np.pi * frequency * moments)
    return _room(rng) + 0.15 * _place(blow, [0.8, 2.4, 4.0])


def knocks(rng: Generator) -> Array:
    total = _room(rng)
    for time in (0.7, 1.5, 2.1, 3.3, 4.4, 5.2):
        total += 0.5 * _place(disturbances.knock(rng, RATE // 2, RATE), [time])
    return total


def door_slams(rng: Generator) -> Array:
    total = _room(rng)
    for time in (0.8, 3.1):
        total += 0.7 * _place(disturbances.door_slam(rng, 2 * RATE, RATE), [time])
    return total


def handling(rng: Generator) -> Array:
    return _room(rng) + 0.6 * disturbances.handling(rng, N, RATE)


def fan(rng: Generator) -> Array:
    return 0.2 * disturbances.fan(rng, N, RATE)


def gated(rng: Generator) -> Array:
    """A gate that opens for the attack only."""
    sound = _ring(2) + _room(rng)
    return gate(sound, RATE, 0.7, 0.03)


def too_short(rng: Generator) -> Array:
    return (ring_alone(1.0, RATE, 3) + _room(rng)[:RATE])[: int(0.2 * RATE)]


def music(rng: Generator) -> Array:
    """A tune in three voices with a steady beat."""
    total = _room(rng)
    moments = _moments(RATE // 2)
    for i in range(22):
        note = 220.0 * 2.0 ** (rng.choice([0, 2, 4, 5, 7, 9, 12]) / 12.0)
        for voice in (0.5, 1.0, 1.5):
            tone = sum(
                np.sin(2 * np.pi * k * voice * note * moments) / k for k in range(1, 6)
            )
            total += 0.05 * _place(tone * np.exp(-moments / 0.3), [0.25 * i])
    return total


def drive_running(rng: Generator) -> Array:
    return _room(rng) + 0.2 * disturbances.whine(rng, N, RATE)


def car_passing(rng: Generator) -> Array:
    swell = np.exp(-(((_moments() - 3.0) / 1.2) ** 2))
    rumble = disturbances.pink_noise(rng, N, RATE, 20.0)
    return _room(rng) + 0.25 * swell * rumble


def steady_tone(rng: Generator) -> Array:
    return _room(rng) + 0.4 * np.sin(2 * np.pi * 440.0 * _moments())


def offset_only(rng: Generator) -> Array:
    return 0.3 + rng.integers(-1, 2, N) / 32768.0


def beeps(rng: Generator) -> Array:
    square = np.sign(np.sin(2 * np.pi * 880.0 * _moments(RATE // 5)))
    return _room(rng) + 0.3 * _place(square, [0.5, 1.0, 1.5, 3.0, 3.5, 4.0])


def singing(rng: Generator) -> Array:
    """A held note with vibrato that swells and fades."""
    moments = _moments()
    pitch = 147.0 * (1.0 + 0.015 * np.sin(2 * np.pi * 5.5 * moments))
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    tone = sum(np.sin(k * phase) / k for k in range(1, 9))
    swell = np.sin(np.pi * moments / SECONDS) ** 2
    return _room(rng) + 0.2 * swell * tone


def clicking(rng: Generator) -> Array:
    """A relay or escapement: ten clicks a second, for ever."""
    click = disturbances.knock(rng, RATE // 20, RATE)
    return _room(rng) + 0.4 * _place(click, list(np.arange(0.0, 5.9, 0.1)))


def footsteps(rng: Generator) -> Array:
    total = _room(rng)
    for time in np.arange(0.3, 5.6, 0.55):
        step = disturbances.door_slam(rng, RATE // 3, RATE)
        total += 0.3 * _place(step, [float(time)])
    return total


def room_only(rng: Generator) -> Array:
    return _room(rng, 0.02) + 0.01 * disturbances.hum(rng, N, RATE, 50.0, 6)


def compressor(rng: Generator) -> Array:
    """A steady machine that turns 23.7 times a second, with all multiples."""
    total = 0.05 * disturbances.pink_noise(rng, N, RATE)
    for k in range(1, 16):
        total += 0.08 * np.sin(2 * np.pi * 23.7 * k * _moments() + rng.uniform(0, 6))
    return total


def wind(rng: Generator) -> Array:
    gusts = np.maximum(0.0, 1.0 + disturbances.slow_wander(rng, N, RATE, 0.8))
    return 0.12 * gusts * disturbances.pink_noise(rng, N, RATE, 8.0)


def wrong_file(rng: Generator) -> Array:
    """The bytes of a text, taken for samples."""
    words = b"Granary Wharf goods lift 2, ropes renewed, springs greased. "
    text = np.frombuffer(words * (2 * N // len(words) + 1), dtype="<i2")[:N]
    return text / 32768.0 + 0.0 * rng.random()


def played_backwards(rng: Generator) -> Array:
    return _room(rng) + 0.5 * _ring(4)[::-1]


def buzzing_phone(rng: Generator) -> Array:
    buzz = np.sign(np.sin(2 * np.pi * 172.0 * _moments(int(0.5 * RATE))))
    return _room(rng) + 0.2 * _place(buzz, [0.6, 1.6, 2.6, 3.6, 4.6])


def too_faint(rng: Generator) -> Array:
    ringing = _ring(5)
    level = disturbances.rms(ringing[RATE : 2 * RATE])
    noise = disturbances.pink_noise(rng, N, RATE, 20.0)
    return 0.2 * (noise + 10 ** (-30 / 20) * ringing / level)


def stopped_at_once(rng: Generator) -> Array:
    """A hand stays on the rope: it dies within two tenths of a second."""
    choke = np.exp(-np.maximum(0.0, _moments() - 0.8) / 0.03)
    return _room(rng, 0.01) + 0.5 * _ring(6) * choke


KINDS: dict[str, Callable[[Generator], Array]] = {
    "clipped throughout": clipped_throughout,
    "silent but for the last bit": silent,
    "zeros": zeros,
    "speech only": speech_only,
    "50 Hz hum only": hum_50,
    "60 Hz hum only": hum_60,
    "white noise": white_noise,
    "pink noise": pink_noise,
    "two ropes at once": two_ropes_at_once,
    "hammer blows": hammer_blow,
    "knocks": knocks,
    "door slams": door_slams,
    "handling of the phone": handling,
    "fan": fan,
    "gate that cuts the ring": gated,
    "too short": too_short,
    "music": music,
    "drive running": drive_running,
    "another car passing": car_passing,
    "test tone": steady_tone,
    "offset only": offset_only,
    "door beeps": beeps,
    "singing": singing,
    "steady clicking": clicking,
    "footsteps": footsteps,
    "room only": room_only,
    "machine turning steadily": compressor,
    "wind": wind,
    "bytes of a text": wrong_file,
    "played backwards": played_backwards,
    "buzzing phone": buzzing_phone,
    "too faint": too_faint,
    "stopped at once": stopped_at_once,
}


def make_bad_recordings(seed: int) -> tuple[BadRecording, ...]:
    """Make one of each kind."""
    made = []
    for i, (kind, maker) in enumerate(KINDS.items()):
        samples = maker(np.random.default_rng([seed, 20, i]))
        made.append(BadRecording(kind=kind, samples=quantised(samples)))
    return tuple(made)
