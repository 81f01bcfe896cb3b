"""One recording of a stepped set: what a sensor hears, disturbances, a recorder."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, resample, resample_poly, sosfilt

from tests.synthesis import disturbances
from tests.synthesis.mixing import Scene, from_decibels, hum_sound, noise, troubles
from tests.synthesis.plucking import MODELLING_RATE, Damping, Sensor
from tests.synthesis.recorder import LowCut, clip, gate, quantised
from tests.synthesis.sets import Recorder
from tests.synthesis.stepped.grid import STEP
from tests.synthesis.stepped.hands import Touch, play
from tests.synthesis.stepped.stepping import Ear, Hoist

Array = NDArray[np.float64]
Samples = NDArray[np.float32]
Generator = np.random.Generator


@dataclass(frozen=True, kw_only=True, slots=True)
class Listener:
    """Where the sound is taken.

    Attributes
    ----------
    sensor : Sensor
        Microphone by the rope or pickup on the hitch.
    place : float
        Of a microphone, as a fraction of the free length. [1]
    reach : float
        Of rope that it hears. [m]
    direction : float
        Of its axis, from the first plane. [rad]
    """

    sensor: Sensor
    place: float
    reach: float
    direction: float


@dataclass(frozen=True, kw_only=True)
class Session:
    """All that makes one recording.

    Attributes
    ----------
    hoist : Hoist
        The set.
    rope : int
        Plucked, from 0.
    touches : tuple of Touch
        In order of time; the first may lie before the recording.
    duration : float
        [s]
    listener : Listener
        One sensor.
    signal_to_noise, hum_level, neighbour_level : float
        As regimes.py defines them. [dB]
    troubles : tuple of str
        As in mixing.Scene.
    """

    hoist: Hoist
    rope: int
    touches: tuple[Touch, ...]
    duration: float
    listener: Listener
    signal_to_noise: float
    hum_level: float
    neighbour_level: float
    troubles: tuple[str, ...] = ()

    def scene(self, mains: float) -> Scene:
        """The part of a recording that has nothing to do with ropes."""
        return Scene(
            duration=self.duration,
            plucked=(),
            modes=(),
            planes=(),
            damping=Damping(at_zero=0.0, at_400=0.0),
            axial_stiffness=0.0,
            sensor=self.listener.sensor,
            sensor_place=self.listener.place,
            signal_to_noise=self.signal_to_noise,
            hum_level=self.hum_level,
            neighbour_level=self.neighbour_level,
            mains=mains,
            troubles=self.troubles,
        )


def make_ear(hoist: Hoist, listener: Listener) -> Ear:
    """Weights for a sensor at the like place of every rope."""
    windows = np.zeros((hoist.n_rows, len(hoist.planes)))
    rods = np.zeros(len(hoist.planes))
    for column, plane in enumerate(hoist.planes):
        share = (np.cos if column % 2 == 0 else np.sin)(listener.direction)
        if listener.sensor is Sensor.PICKUP:
            rods[column] = share * plane.hitch.stiffness
        else:
            window = plane.window(listener.place, listener.reach)
            windows[2:-2, column] = share * window[:-1]
    return Ear(windows=windows, rods=rods)


def sounds(session: Session, low_cut: LowCut) -> tuple[Array, Array]:
    """Plucked rope and the others at MODELLING_RATE, after the low cut.

    A microphone hears acceleration, a pickup the rate of change of the hitch force.
    """
    n_samples = round((session.duration + 0.5) * MODELLING_RATE)
    start = session.touches[0].pluck.onset
    ear = make_ear(session.hoist, session.listener)
    heard = play(
        session.hoist, session.rope, session.touches, session.duration + 0.5, ear
    )
    if session.listener.sensor is Sensor.MICROPHONE:
        heard = np.diff(heard, axis=0, prepend=0.0)
    ropes = heard[:, ::2] + heard[:, 1::2]
    distance = np.abs(np.arange(ropes.shape[1]) - session.rope)
    near = np.where(distance == 0, 0.0, 1.0 / np.maximum(distance, 1))
    out = []
    for fast in (ropes[:, session.rope], ropes @ near):
        slow = resample_poly(fast, 1, round(1.0 / STEP / MODELLING_RATE))
        slow = low_cut.apply(slow, MODELLING_RATE)
        first = round(start * MODELLING_RATE)
        whole = np.concatenate([np.zeros(max(first, 0)), slow[max(-first, 0) :]])
        out.append(np.pad(whole, (0, n_samples))[:n_samples])
    return out[0], out[1]


def ring_levels(session: Session, sound: Array) -> list[float]:
    """Root mean square of the first second of each ring, or of what there is of it."""
    levels = []
    for i, touch in enumerate(session.touches):
        begin = max(touch.pluck.onset, 0.0)
        last = session.touches[i + 1 :]
        end = min(begin + 1.0, *(later.taken for later in last), session.duration)
        part = sound[int(begin * MODELLING_RATE) : int(end * MODELLING_RATE)]
        if len(part):
            levels.append(disturbances.rms(part))
    return levels


def rope_sound(session: Session, low_cut: LowCut) -> Array:
    """All ropes; the median ring has level 1, the others sound at their level."""
    own, others = sounds(session, low_cut)
    total = own.copy()
    mine = ring_levels(session, own)
    if np.isfinite(session.neighbour_level) and np.any(others):
        heard = float(np.mean(ring_levels(session, others)))
        wanted = from_decibels(session.neighbour_level) * float(np.mean(mine))
        total += others * (wanted / heard)
    return total / float(np.median(mine))


def _scuffs(rng: Generator, session: Session, rate: int) -> Array:
    """The hand on the rope, where it takes hold."""
    total = np.zeros(round(session.duration * rate))
    for touch in session.touches:
        length = int(rng.uniform(0.04, 0.15) * rate)
        first = int(touch.taken * rate)
        if first < 0 or first + length > len(total):
            continue
        level = from_decibels(float(rng.uniform(-34.0, -16.0)))
        total[first : first + length] += level * disturbances.scuff(rng, length, rate)
    return total


def make_recording(rng: Generator, session: Session, recorder: Recorder) -> Samples:
    """Ropes, hum, noise and troubles through the recorder."""
    rate, low_cut = recorder.rate, recorder.low_cut
    scene = session.scene(recorder.mains)
    n_samples = round(session.duration * rate)
    slow = rope_sound(session, low_cut)
    slow += hum_sound(rng, scene, low_cut, len(slow))
    total = resample(slow, round(len(slow) * rate / MODELLING_RATE))[:n_samples]
    total += from_decibels(-session.signal_to_noise) * noise(rng, scene, rate, low_cut)
    total += troubles(rng, scene, rate, low_cut)
    total += low_cut.apply(_scuffs(rng, session, rate), rate)
    if recorder.gain_control is not None:
        total = recorder.gain_control.apply(total, rate)
    if rate <= 2.0 * MODELLING_RATE:
        # so that noise does not end at a wall
        sections = butter(4, 0.45 * rate, "lowpass", fs=rate, output="sos")
        total = sosfilt(sections, total)
    if recorder.gates:
        total = gate(total, rate, 0.25, float(rng.uniform(0.2, 0.8)))
    if recorder.clips:
        return quantised(clip(total, float(rng.uniform(0.1, 1.0))))
    peak = float(np.max(np.abs(total)))
    return quantised(total * (float(rng.uniform(0.08, 0.9)) / peak))
