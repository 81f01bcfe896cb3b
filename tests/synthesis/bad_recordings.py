"""Recordings, over forty kinds, that hold no pluck of one rope that could be used.

``make_bad_recordings(seed)`` gives them in the order of ``KINDS``; none of them may
ever yield a number. Ropes, levels and moments differ from seed to seed.
"""

from collections.abc import Callable
from dataclasses import dataclass

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
    modal_amplitudes,
    ring,
    sensed,
    solve,
)
from tests.synthesis.recorder import gate, quantised
from tests.synthesis.ropes import RopeSpec, solid_rod_rigidity

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
    return level * float(np.exp(rng.uniform(-1.0, 1.0))) * _pink(rng)


def _pink(rng: Generator, n: int = N) -> Array:
    return disturbances.pink_noise(rng, n, RATE)


def _level(rng: Generator, level: float) -> float:
    """A level within a factor of two."""
    return float(level * np.exp(rng.uniform(-0.7, 0.7)))


def draw_spec(rng: Generator) -> RopeSpec:
    """Draw a usual rope: 4 to 25 Hz."""
    return RopeSpec(
        free_length=float(rng.uniform(2.6, 5.0)),
        linear_density=0.575,
        flexural_rigidity=float(rng.uniform(0.02, 0.08)) * solid_rod_rigidity(0.013),
        hitch_tension=float(np.exp(rng.uniform(np.log(1200.0), np.log(7000.0)))),
    )


def ring_of(rng: Generator, spec: RopeSpec, seconds: float = SECONDS) -> Array:
    """Make a good pluck of a rope, its highest sample 1."""
    modes = solve(spec)
    pluck = Pluck(
        onset=0.0,
        place=float(rng.uniform(0.12, 0.4)),
        width=float(rng.uniform(0.02, 0.06)),
        amplitude=0.005,
        release=float(rng.uniform(0.0003, 0.001)),
    )
    weights = sensed(modes, Sensor.MICROPHONE, float(rng.uniform(0.15, 0.35)), 0.12)
    sound = ring(
        modes,
        weights * modal_amplitudes(modes, pluck),
        Damping(
            at_zero=float(rng.uniform(0.001, 0.003)),
            at_400=float(rng.uniform(0.002, 0.008)),
        ),
        n_samples=int(seconds * MODELLING_RATE),
        planes=Planes(split=float(rng.uniform(0.0, 0.002)), weak_level=0.4),
    )
    full: Array = resample(sound, int(seconds * RATE))
    return full / float(np.max(np.abs(full)))


def _ring(rng: Generator, onset: float = 0.8) -> Array:
    return _place(ring_of(rng, draw_spec(rng), SECONDS - onset), [onset])


def clipped_throughout(rng: Generator) -> Array:
    drive = rng.uniform(40.0, 120.0)
    return np.clip(drive * (_ring(rng) + 0.2 * disturbances.fan(rng, N, RATE)), -1, 1)


def silent(rng: Generator) -> Array:
    return rng.integers(-1, 2, N) / 32768.0


def zeros(_rng: Generator) -> Array:
    return np.zeros(N)


def speech_only(rng: Generator) -> Array:
    return _room(rng) + _level(rng, 0.07) * disturbances.speech(rng, N, RATE)


def speech_recorder(rng: Generator) -> Array:
    """Talk through a recorder for speech: a telephone's band, and a gate."""
    band = butter(4, [300.0, 3400.0], "bandpass", fs=RATE, output="sos")
    talk = sosfilt(band, disturbances.speech(rng, N, RATE))
    return gate(0.4 * talk / np.max(np.abs(talk)), RATE, 0.06, 0.1)


def hum_50(rng: Generator) -> Array:
    return _room(rng) + _level(rng, 0.1) * disturbances.hum(rng, N, RATE, 50.0, 12)


def hum_60(rng: Generator) -> Array:
    return _room(rng) + _level(rng, 0.1) * disturbances.hum(rng, N, RATE, 60.0, 15)


def white_noise(rng: Generator) -> Array:
    return _level(rng, 0.1) * disturbances.white_noise(rng, N)


def pink_noise(rng: Generator) -> Array:
    return _level(rng, 0.15) * _pink(rng)


def _strummed(rng: Generator, ratios: Array, times: Array) -> Array:
    """Ropes of one set plucked within a moment, about equally loud."""
    spec = draw_spec(rng)
    total = _room(rng)
    for ratio, time in zip(ratios, times, strict=True):
        own = RopeSpec(
            free_length=spec.free_length,
            linear_density=spec.linear_density,
            flexural_rigidity=spec.flexural_rigidity,
            hitch_tension=spec.hitch_tension * float(ratio),
        )
        sound = ring_of(rng, own, 5.0)
        sound /= disturbances.rms(sound[:RATE])
        total += 0.06 * _place(sound, [float(time)])
    return total


def two_ropes_at_once(rng: Generator) -> Array:
    """Two ropes 5 to 25 % apart in tension, within 3 dB of one another."""
    start = rng.uniform(0.6, 1.0)
    ratios = np.array([1.0, rng.uniform(1.05, 1.25)])
    return _strummed(rng, ratios, np.array([start, start + rng.uniform(0.0, 0.02)]))


def strummed(rng: Generator) -> Array:
    """A hand along all ropes of a set."""
    ratios = rng.uniform(0.85, 1.15, 4)
    gap = float(rng.uniform(0.03, 0.15))
    return _strummed(
        rng, ratios, np.array([0.8, 0.8 + gap, 0.8 + 2 * gap, 0.8 + 3 * gap])
    )


def hammer_blow(rng: Generator) -> Array:
    """Rope lengthwise, plate and rod: fixed tones of metal."""
    moments = _moments()
    blow = np.zeros(N)
    scale = rng.uniform(0.97, 1.3)
    for frequency, decay in ((468.0, 0.5), (611.0, 0.25), (742.0, 0.3), (1403.0, 0.2)):
        angular = 2 * np.pi * scale * frequency
        fall = np.exp(-moments / (decay * rng.uniform(0.7, 1.4)))
        blow += fall * np.sin(angular * moments)
    return _room(rng) + _level(rng, 0.12) * _place(blow, [0.8, 2.4, 4.0])


def spanner_dropped(rng: Generator) -> Array:
    """A spanner falls on the car top and bounces."""
    moments = _moments()
    total = _room(rng)
    time, gap, level = 0.9, rng.uniform(0.35, 0.6), 0.5
    while time < 4.0 and level > 0.02:
        clang = np.zeros(N)
        for frequency in rng.uniform(600.0, 3500.0, 5):
            fall = np.exp(-moments / rng.uniform(0.05, 0.25))
            clang += fall * np.sin(2 * np.pi * frequency * moments)
        total += 0.3 * level * _place(clang, [time])
        time, gap, level = time + gap, 0.7 * gap, 0.6 * level
    return total


def knocks(rng: Generator) -> Array:
    total = _room(rng)
    for time in np.array((0.7, 1.5, 2.1, 3.3, 4.4, 5.2)) + rng.uniform(-0.2, 0.2, 6):
        sound = disturbances.knock(rng, RATE // 2, RATE)
        total += _level(rng, 0.4) * _place(sound, [time])
    return total


def door_slams(rng: Generator) -> Array:
    total = _room(rng)
    for time in (rng.uniform(0.6, 1.2), rng.uniform(2.6, 3.6)):
        sound = disturbances.door_slam(rng, 2 * RATE, RATE)
        total += _level(rng, 0.45) * _place(sound, [time])
    return total


def handling(rng: Generator) -> Array:
    return _room(rng) + _level(rng, 0.45) * disturbances.handling(rng, N, RATE)


def fan(rng: Generator) -> Array:
    return _level(rng, 0.15) * disturbances.fan(rng, N, RATE)


def gated(rng: Generator) -> Array:
    """A gate that opens for the attack only."""
    sound = _ring(rng) + _room(rng)
    return gate(sound, RATE, 0.7, 0.03)


def too_short(rng: Generator) -> Array:
    length = int(rng.uniform(0.08, 0.4) * RATE)
    return ring_of(rng, draw_spec(rng), 1.0)[:length]


def ends_with_pluck(rng: Generator) -> Array:
    """The recording is stopped as soon as the rope was let go."""
    onset = rng.uniform(1.0, 4.0)
    sound = _room(rng)
    sound += 0.5 * _ring(rng, onset)
    return sound[: int((onset + rng.uniform(0.1, 0.45)) * RATE)]


def music(rng: Generator) -> Array:
    """A tune in three voices with a steady beat."""
    total = _room(rng)
    moments = _moments(RATE // 2)
    key = rng.uniform(160.0, 300.0)
    beat = rng.uniform(0.2, 0.4)
    for i in range(int(5.6 / beat)):
        note = key * 2.0 ** (rng.choice([0, 2, 4, 5, 7, 9, 12]) / 12.0)
        for voice in (0.5, 1.0, 1.5):
            tone = sum(
                np.sin(2 * np.pi * k * voice * note * moments) / k for k in range(1, 6)
            )
            total += 0.05 * _place(tone * np.exp(-moments / 0.3), [beat * i])
    return total


def drive_running(rng: Generator) -> Array:
    return _room(rng) + _level(rng, 0.15) * disturbances.whine(rng, N, RATE)


def car_moving(rng: Generator) -> Array:
    """Shoes rumble and tick over the rail joints, the drive sings."""
    rumble = disturbances.pink_noise(rng, N, RATE, 15.0)
    swell = 1.0 + 0.5 * disturbances.slow_wander(rng, N, RATE, 0.4)
    total = _level(rng, 0.1) * rumble * np.maximum(0.2, swell)
    for time in np.arange(rng.uniform(0.2, 1.0), 5.5, rng.uniform(1.2, 2.2)):
        joint = disturbances.knock(rng, RATE // 4, RATE)
        total += 0.15 * _place(joint, [float(time)])
    return total + 0.06 * disturbances.whine(rng, N, RATE)


def car_passing(rng: Generator) -> Array:
    middle, width = rng.uniform(2.5, 3.5), rng.uniform(0.8, 1.6)
    swell = np.exp(-(((_moments() - middle) / width) ** 2))
    rumble = disturbances.pink_noise(rng, N, RATE, 20.0)
    return _room(rng) + _level(rng, 0.2) * swell * rumble


def steady_tone(rng: Generator) -> Array:
    tone = np.sin(2 * np.pi * rng.uniform(180.0, 1000.0) * _moments())
    return _room(rng) + _level(rng, 0.3) * tone


def offset_only(rng: Generator) -> Array:
    return rng.uniform(-0.5, 0.5) + rng.integers(-1, 2, N) / 32768.0


def beeps(rng: Generator) -> Array:
    pitch = rng.uniform(500.0, 1100.0)
    square = np.sign(np.sin(2 * np.pi * pitch * _moments(RATE // 5)))
    return _room(rng) + 0.3 * _place(square, [0.5, 1.0, 1.5, 3.0, 3.5, 4.0])


def singing(rng: Generator) -> Array:
    """A held note with vibrato that swells and fades."""
    moments = _moments()
    vibrato = rng.uniform(0.01, 0.02) * np.sin(2 * np.pi * 5.5 * moments)
    pitch = rng.uniform(110.0, 240.0) * (1.0 + vibrato)
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    tone = sum(np.sin(k * phase) / k for k in range(1, 9))
    swell = np.sin(np.pi * moments / SECONDS) ** 2
    return _room(rng) + 0.2 * swell * tone


def clicking(rng: Generator) -> Array:
    """A relay or escapement: some clicks a second, for ever."""
    click = disturbances.knock(rng, RATE // 20, RATE)
    period = rng.uniform(0.06, 0.2)
    return _room(rng) + 0.4 * _place(click, list(np.arange(0.0, 5.9, period)))


def ratchet(rng: Generator) -> Array:
    """A ratchet or a rod along a grating: a burst of even clicks that dies away."""
    click = disturbances.knock(rng, RATE // 20, RATE)
    times = rng.uniform(0.6, 1.2) + np.arange(60) / rng.uniform(12.0, 30.0)
    total = _room(rng)
    for i, time in enumerate(times[times < 5.5]):
        total += 0.4 * np.exp(-i / 20.0) * _place(click, [float(time)])
    return total


def footsteps(rng: Generator) -> Array:
    total = _room(rng)
    for time in np.arange(0.3, 5.6, rng.uniform(0.45, 0.65)):
        step = disturbances.door_slam(rng, RATE // 3, RATE)
        total += _level(rng, 0.25) * _place(step, [float(time)])
    return total


def room_only(rng: Generator) -> Array:
    return _room(rng, 0.02) + 0.01 * disturbances.hum(rng, N, RATE, 50.0, 6)


def _turning(rng: Generator, turns: Array, n_multiples: int = 15) -> Array:
    """A machine with all multiples of its speed; turns counted at each sample."""
    total = np.zeros(turns.size)
    for k in range(1, n_multiples + 1):
        level = rng.uniform(0.3, 1.5)
        total += level * np.sin(2 * np.pi * k * turns + rng.uniform(0, 6))
    return total


def compressor(rng: Generator) -> Array:
    """A steady machine, with all multiples of its speed."""
    turns = rng.uniform(8.0, 40.0) * _moments()
    return 0.05 * _pink(rng) + _level(rng, 0.06) * _turning(rng, turns)


def machine_starts(rng: Generator) -> Array:
    """A machine is switched on, and runs."""
    start = int(rng.uniform(0.7, 2.0) * RATE)
    begins = np.clip((np.arange(N) - start) / (rng.uniform(0.005, 0.1) * RATE), 0, 1)
    turns = rng.uniform(8.0, 30.0) * _moments()
    return _room(rng) + _level(rng, 0.05) * begins * _turning(rng, turns)


def machine_stops(rng: Generator) -> Array:
    """A machine is switched on for a moment, and runs down."""
    start = int(rng.uniform(0.7, 1.5) * RATE)
    after = np.maximum(0.0, (np.arange(N) - start) / RATE)
    falls = rng.uniform(0.6, 2.0)
    speed = rng.uniform(12.0, 35.0) * np.exp(-after / (6.0 * falls))
    loud = (after > 0.0) * np.exp(-after / falls)
    return _room(rng) + 0.06 * loud * _turning(rng, np.cumsum(speed) / RATE)


def wind(rng: Generator) -> Array:
    period = rng.uniform(0.5, 1.2)
    gusts = np.maximum(0.0, 1.0 + disturbances.slow_wander(rng, N, RATE, period))
    noise = disturbances.pink_noise(rng, N, RATE, 8.0)
    return _room(rng) + _level(rng, 0.05) * gusts * noise


def wrong_file(rng: Generator) -> Array:
    """The bytes of a text, taken for samples."""
    words = b"Granary Wharf goods lift 2, ropes renewed, springs greased. "
    words = words[int(rng.integers(0, 20)) :]
    text = (words * (2 * N // len(words) + 1))[: 2 * N]
    samples: Array = np.frombuffer(text, dtype="<i2") / 32768.0
    return samples


def bytes_of_a_picture(rng: Generator) -> Array:
    """Packed bytes, as of a picture, taken for samples."""
    samples: Array = rng.integers(-32768, 32768, N) / 32768.0
    return samples


def played_backwards(rng: Generator) -> Array:
    """One to three plucks, the file turned round."""
    total: Array = np.zeros(N)
    spec = draw_spec(rng)
    n_plucks = int(rng.integers(1, 4))
    for onset in np.linspace(0.3, SECONDS, n_plucks, endpoint=False):
        total += _place(ring_of(rng, spec), [float(onset)])
    level = _level(rng, 0.3)
    return _room(rng) + level / float(np.max(np.abs(total))) * total[::-1]


def loop(rng: Generator) -> Array:
    """A piece of a ring, repeated without end."""
    first = int(rng.uniform(0.05, 0.5) * RATE)
    length = int(rng.uniform(0.3, 0.9) * RATE)
    piece = ring_of(rng, draw_spec(rng), 2.0)[first : first + length]
    total: Array = np.resize(piece, N)
    return 0.3 / float(np.max(np.abs(piece))) * total + _room(rng)


def buzzing_phone(rng: Generator) -> Array:
    pitch = rng.uniform(140.0, 220.0)
    buzz = np.sign(np.sin(2 * np.pi * pitch * _moments(int(0.5 * RATE))))
    return _room(rng) + 0.2 * _place(buzz, [0.6, 1.6, 2.6, 3.6, 4.6])


def too_faint(rng: Generator) -> Array:
    ringing = _ring(rng)
    level = disturbances.rms(ringing[RATE : 2 * RATE])
    noise = disturbances.pink_noise(rng, N, RATE, 20.0)
    return 0.2 * (noise + 10 ** (-30 / 20) * ringing / level)


def stopped_at_once(rng: Generator) -> Array:
    """A hand stays on the rope: it dies within two tenths of a second."""
    choke = np.exp(-np.maximum(0.0, _moments() - 0.8) / rng.uniform(0.02, 0.04))
    return _room(rng, 0.01) + 0.5 * _ring(rng) * choke


def gong(rng: Generator) -> Array:
    """A landing gong: two tones, each dying slowly."""
    moments = _moments()
    total = _room(rng)
    for time, pitch in ((0.8, rng.uniform(600.0, 900.0)), (1.4, 500.0)):
        for ratio in (1.0, 2.76, 5.4):
            tone = np.exp(-moments / (0.8 / ratio)) / ratio
            tone = tone * np.sin(2 * np.pi * ratio * pitch * moments)
            total += _level(rng, 0.2) * _place(tone, [time])
    return total


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
    "all ropes strummed": strummed,
    "spanner dropped": spanner_dropped,
    "talk on a recorder for speech": speech_recorder,
    "stopped as the rope is let go": ends_with_pluck,
    "car moving": car_moving,
    "ratchet": ratchet,
    "machine switched on": machine_starts,
    "machine running down": machine_stops,
    "bytes of a picture": bytes_of_a_picture,
    "a piece repeated": loop,
    "landing gong": gong,
}


def make_bad(kind: str, seed: int) -> BadRecording:
    """Make one recording of a kind."""
    rng = np.random.default_rng([seed, 20, list(KINDS).index(kind)])
    return BadRecording(kind=kind, samples=quantised(KINDS[kind](rng)))


def make_bad_recordings(seed: int) -> tuple[BadRecording, ...]:
    """Make one of each kind."""
    return tuple(make_bad(kind, seed) for kind in KINDS)
