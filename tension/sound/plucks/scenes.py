"""Scenes: what a recording that holds no rope sounds like, so that it can be named."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.notes import NoteKind, Refusal
from tension.sound.plucks.onsets import find_events
from tension.sound.plucks.portraits import portray_events
from tension.sound.recording import Recording

Array = NDArray[np.float64]

LOOKED_AT = 60.0
"""Of a long recording. [s]"""
STEP = 0.03
"""Frame of the level: syllables and knocks last several. [s]"""
SLOW = 0.6
"""Levels are averaged over this for gusts and cars that pass. [s]"""
LOW = (10.0, 200.0)
"""Where bumps on floors and phones lie, and talk has little. [Hz]"""
CLEAR_STRENGTH = 15.0
"""Strength of a pluck, three loud lines that last, of a file played backwards. [1]"""
CLEAR_FALL = -0.3
"""ln of line power late over early of it. [1]"""
CLEAR_LIFT = 1.0
"""ln of line power after its onset over before. [1]"""
FAR_OFF = 2.5
"""Mean over standard deviation of what is no sound: pressure swings about zero. [1]"""
BURSTS = 0.9
"""Scatter of ln level from frame to frame of sounds in bursts; of noise 0.5. [1]"""
SYLLABLES = 1.8
"""The same of talk, which falls silent within a frame or two. [1]"""
GUSTS = 1.0
"""Scatter of the slow ln level of what swells and fades. [1]"""
MOSTLY_LOW = 0.8
"""Share of the power of bumps that is low. [1]"""
STOPPED = 0.9
"""A ring that the end of the recording cuts so soon is none. [s]"""
STOPPED_STEP = 0.05
"""Frame of its level. [s]"""
STOPPED_RISE = 0.1
"""Power of all that was before over that at the end. [1]"""
TUNEFUL = 0.3
"""Share of power in five cells of a spectrum, of music and signals. [1]"""
FLOWING = 0.35
"""Scatter of ln level from frame to frame of a tone that never stops. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Scene:
    """How the level of a recording moves, and where its power lies.

    Attributes
    ----------
    fast : float
        Scatter of ln level from one frame to the next. [1]
    slow : float
        Scatter of ln level averaged over `SLOW`. [1]
    low : float
        Share of power between 10 and 200 Hz. [1]
    """

    fast: float
    slow: float
    low: float


def scene_of(recording: Recording) -> Scene:
    """Describe a recording."""
    rate = recording.sampling_rate
    samples = np.asarray(recording.samples[: round(LOOKED_AT * rate)], dtype=np.float64)
    samples = samples - samples.mean()
    length = max(1, round(STEP * rate))
    n_frames = samples.size // length
    powers = np.mean(samples[: n_frames * length].reshape(n_frames, length) ** 2, 1)
    level = np.log(powers + 1e-10)
    width = min(max(1, round(SLOW / STEP)), level.size)
    slow = np.convolve(level, np.ones(width) / width, "valid")
    power = np.abs(np.fft.rfft(samples)) ** 2
    grid = np.fft.rfftfreq(samples.size, 1.0 / rate)
    low = power[(grid > LOW[0]) & (grid < LOW[1])].sum()
    return Scene(
        fast=float(np.std(np.diff(level))),
        slow=float(np.std(slow)),
        low=float(low / (power[grid > LOW[0]].sum() + 1e-30)),
    )


def is_no_sound(recording: Recording) -> bool:
    """Tell other bytes from sound: pressure swings about zero, they need not.

    Returns
    -------
    bool
        True if the samples lie far off zero all the time.
    """
    samples = recording.samples
    return bool(abs(float(samples.mean())) > FAR_OFF * float(samples.std()))


def is_backwards(recording: Recording) -> bool:
    """Tell whether a recording turned round holds a clear pluck.

    Returns
    -------
    bool
        True if a ring begins, falls and lasts when it is played the other way.
    """
    rate = recording.sampling_rate
    turned = recording.samples[: round(LOOKED_AT * rate)][::-1]
    portraits = portray_events(turned, rate, find_events(turned, rate))
    return any(
        not one.reason
        and one.strength > CLEAR_STRENGTH
        and one.fall < CLEAR_FALL
        and one.lift > CLEAR_LIFT
        for one in portraits
    )


def ends_in_ring(recording: Recording) -> float | None:
    """Tell how long before its end the only sound of a recording begins.

    Returns
    -------
    float or None
        None if it does not end in its loudest sound. [s]
    """
    length = max(1, round(STOPPED_STEP * recording.sampling_rate))
    n_frames = recording.samples.size // length
    samples = np.asarray(recording.samples[-n_frames * length :], dtype=np.float64)
    powers = np.mean((samples - samples.mean()).reshape(n_frames, length) ** 2, axis=1)
    quiet = np.flatnonzero(powers < STOPPED_RISE * powers[-1])
    n_last = n_frames - 1 - int(quiet[-1]) if quiet.size else n_frames
    if quiet.size + n_last < n_frames or n_last * STOPPED_STEP > STOPPED:
        return None
    return n_last * STOPPED_STEP


def why_odd(recording: Recording) -> Refusal | None:
    """Tell a file that is no sound, turned round, or stopped in the ring.

    Returns
    -------
    Refusal or None
        None if it is none of these.
    """
    if is_no_sound(recording):
        return NoteKind.NOT_SOUND.refusal(recording=recording.name)
    if is_backwards(recording):
        return NoteKind.SWELLS.refusal(recording=recording.name)
    stopped = ends_in_ring(recording)
    if stopped is None:
        return None
    return NoteKind.ENDS_EARLY.refusal(recording=recording.name, seconds=stopped)


def name_scene(recording: Recording, tonal: float, rope: int) -> Refusal:
    """Name what a recording without steady tones and without a rope holds.

    Parameters
    ----------
    recording : Recording
        One that could be read.
    tonal : float
        Share of power in the highest cells of its spectra, median. [1]
    rope : int
        Rope number.
    """
    scene = scene_of(recording)
    is_low = scene.low > MOSTLY_LOW
    is_tonal = tonal > TUNEFUL
    named = {
        NoteKind.MOVING_TONES: is_tonal and scene.fast < FLOWING,
        NoteKind.ONLY_BUMPS: is_low and scene.fast > BURSTS,
        NoteKind.ONLY_SPEECH: tonal < 1.5 * TUNEFUL and scene.fast > SYLLABLES,
        NoteKind.ONLY_MUSIC: is_tonal and not is_low,
        NoteKind.ONLY_KNOCKS: scene.fast > BURSTS,
        NoteKind.ONLY_RUMBLE: scene.slow > GUSTS,
    }
    kind = next((kind for kind, holds in named.items() if holds), None)
    if kind is None:
        return NoteKind.TOO_NOISY.refusal(rope=rope)
    return kind.refusal(recording=recording.name)
