"""Faults: why a recording holds no rope that could be used, and what to do."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.hearing import Pluck
from tension.sound.lines.hum import near_mains
from tension.sound.lines.noise import noise_floor
from tension.sound.plucks.gain import FALLS, gain_fall
from tension.sound.plucks.portraits import (
    DIES_AT_ONCE,
    DIES_SOON,
    METAL_TONES,
    TOO_SHORT,
)
from tension.sound.plucks.scenes import name_scene, why_odd
from tension.sound.recording import Recording

Array = NDArray[np.float64]

LOOKED_AT = 60.0
"""Of a long recording. [s]"""
FRAME = 0.5
"""Of the spectra that tell tones from noise. [s]"""
BAND = (20.0, 1200.0)
"""[Hz]"""
OVERDRIVEN_SHARE = 0.2
"""Share of the time at full scale of a recording that is overdriven throughout. [1]"""
SILENT_SHARE = 0.15
"""Share of digital silence that a gate leaves. [1]"""
NOTHING = 3e-5
"""Largest sample of silence: the last bit of 16. [1]"""
STEADY = 10.0
"""Power over noise of a tone that is there most of the time. [1]"""
STEADY_SHARE, ALL_STEADY = 0.1, 0.5
"""Share of the power in steady tones that makes them the reason: where nothing rings,
and where something seems to. [1]"""
LOWS, MIDDLE = (80.0, 180.0), (220.0, 600.0)
"""Bands compared for what a recorder for speech takes away. [Hz]"""
NO_LOWS = 1e-3
"""Density of power in the one over that in the other; a phone's low cut of fourth
order at 120 Hz leaves more than a hundredth. [1]"""


def why_no_ring(recording: Recording, plucks: Sequence[Pluck], rope: int) -> Refusal:
    """Choose the reason why a recording holds no ring of a rope.

    Returns
    -------
    Refusal
        Overdriven, silent, gated, no sound, backwards, cut short, struck, hum, a
        machine, talk, music, knocks, bumps, rumble, or noise.
    """
    name = recording.name
    if overdriven_share(recording) > OVERDRIVEN_SHARE:
        return NoteKind.OVERDRIVEN_THROUGHOUT.refusal(recording=name)
    frames = _frames(recording)
    if float(np.median(np.abs(frames).max(axis=1))) < 2.0 * NOTHING:
        return NoteKind.SILENT.refusal(recording=name)
    reasons = [pluck.reason for pluck in plucks]
    if plucks and _gated_share(recording) > SILENT_SHARE:
        return NoteKind.GATED.refusal(recording=name)
    told = why_odd(recording) or _by_reasons(reasons, name, rope)
    return told if told is not None else _by_sound(recording, frames, rope)


def only_steady(recording: Recording) -> Refusal | None:
    """Tell a recording that holds little but hum or other steady tones.

    Returns
    -------
    Refusal or None
        Hum or a machine; None if other sound is stronger.
    """
    return _steady(
        recording.name, _Spectra.of(recording, _frames(recording)), ALL_STEADY
    )


def doubts_of(
    recording: Recording, ropes: tuple[int, ...], starts: Sequence[float] = ()
) -> tuple[Note, ...]:
    """Tell what a recorder did to a recording that can be used all the same.

    Parameters
    ----------
    recording : Recording
        One that could be read.
    ropes : tuple of int
        Ropes plucked in it.
    starts : sequence of float
        Their releases, in order. [s]

    Returns
    -------
    tuple of Note
        Gate, gain control, and nothing under 200 Hz.
    """
    notes = []
    numbers = tuple(dict.fromkeys(ropes))
    if _gated_share(recording) > SILENT_SHARE:
        notes.append(NoteKind.GATED.note(ropes=numbers, recording=recording.name))
    elif gain_fall(recording, starts) > FALLS:
        notes.append(
            NoteKind.GAIN_CONTROL.note(ropes=numbers, recording=recording.name)
        )
    frames = _frames(recording)
    spectrum = np.mean(
        np.abs(np.fft.rfft(frames * np.hanning(frames.shape[1]))) ** 2, 0
    )
    grid = np.arange(spectrum.size) * recording.sampling_rate / frames.shape[1]
    low, middle = (
        spectrum[(grid > band[0]) & (grid < band[1])] for band in (LOWS, MIDDLE)
    )
    if low.size and middle.size and low.mean() < NO_LOWS * middle.mean():
        notes.append(NoteKind.NOTHING_LOW.note(ropes=numbers, recording=recording.name))
    return tuple(notes)


def _by_reasons(reasons: list[str], name: str, rope: int) -> Refusal | None:
    """Reason from what the events were taken for."""
    if METAL_TONES in reasons:
        return NoteKind.HAMMER_BLOW.refusal(rope=rope)
    if reasons and reasons.count(TOO_SHORT) > 0.3 * len(reasons):
        return NoteKind.RINGS_SHORT.refusal(recording=name)
    most = max(reasons, key=reasons.count, default="")
    kind = {
        DIES_SOON: NoteKind.DIES_SOON,
        DIES_AT_ONCE: NoteKind.ONLY_KNOCKS,
    }.get(most)
    return kind.refusal(recording=name) if kind else None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Spectra:
    """Power of each frame over frequency [Hz], and what it falls to when it is low."""

    grid: Array
    power: Array
    lowest: Array
    over_noise: Array

    @classmethod
    def of(cls, recording: Recording, frames: Array) -> Self:
        rate = recording.sampling_rate
        n_transform = 1 << int(np.ceil(np.log2(2.0 * frames.shape[1])))
        grid = np.arange(n_transform // 2 + 1) * rate / n_transform
        keep = (grid >= BAND[0]) & (grid <= min(BAND[1], 0.46 * rate))
        spectra = np.abs(np.fft.rfft(frames * np.hanning(frames.shape[1]), n_transform))
        power = spectra[:, keep] ** 2
        lowest = np.quantile(power, 0.15, axis=0)
        floor = np.maximum(noise_floor(lowest, rate / n_transform), 1e-30)
        return cls(
            grid=grid[keep], power=power, lowest=lowest, over_noise=lowest / floor
        )


def _steady(name: str, spectra: _Spectra, least: float) -> Refusal | None:
    """Steady tones, if they hold at least a share of the power."""
    levels = spectra.over_noise
    inner = levels[1:-1]
    peaks = 1 + np.flatnonzero(
        (inner > levels[:-2]) & (inner >= levels[2:]) & (inner > STEADY)
    )
    strongest = peaks[np.argsort(-spectra.lowest[peaks])[:4]]
    steady = np.sort(spectra.grid[strongest])
    held = 4.0 * spectra.lowest[strongest].sum()
    if held <= least * (spectra.power.mean(axis=0).sum() + 1e-30):
        return None
    told = ", ".join(f"{f:.0f} Hz" for f in steady)
    if np.count_nonzero(near_mains(steady)) > 0.5 * steady.size:
        return NoteKind.ONLY_HUM.refusal(recording=name, lines=told)
    return NoteKind.STEADY_TONES.refusal(recording=name, lines=told)


def _by_sound(recording: Recording, frames: Array, rope: int) -> Refusal:
    """Reason from the recording as a whole."""
    spectra = _Spectra.of(recording, frames)
    told = _steady(recording.name, spectra, STEADY_SHARE)
    if told is not None:
        return told
    highest = np.sort(spectra.power, axis=1)[:, -10:].sum(axis=1)
    tonal = float(np.median(highest / (spectra.power.sum(axis=1) + 1e-30)))
    return name_scene(recording, tonal, rope)


def _frames(recording: Recording) -> Array:
    """Half seconds of the first minute, offset taken off."""
    rate = recording.sampling_rate
    samples = np.asarray(recording.samples[: round(LOOKED_AT * rate)], dtype=np.float64)
    length = max(2, min(round(FRAME * rate), samples.size))
    n_frames = max(1, samples.size // length)
    if samples.size < length:
        samples = np.pad(samples, (0, length - samples.size))
    frames = samples[: n_frames * length].reshape(n_frames, length)
    result: Array = frames - frames.mean()
    return result


def overdriven_share(recording: Recording) -> float:
    """Find how much of a recording is at full scale.

    Returns
    -------
    float
        Share of the tenths of a second that touch full scale. [1]
    """
    if not recording.clipped.size:
        return 0.0
    seconds = recording.samples.size / recording.sampling_rate
    n_cells = max(1, int(10.0 * seconds))
    cells = np.zeros(n_cells, dtype=bool)
    for start, end in recording.clipped:
        cells[int(10.0 * start) : int(10.0 * end) + 1] = True
    return float(cells.mean())


def _gated_share(recording: Recording) -> float:
    """Share of digital silence in a recording that is not silent."""
    length = max(1, round(0.02 * recording.sampling_rate))
    n_blocks = recording.samples.size // length
    if not n_blocks:
        return 0.0
    blocks = recording.samples[: n_blocks * length].reshape(n_blocks, length)
    return float(np.mean(np.abs(blocks).max(axis=1) < 1e-2 * NOTHING))
