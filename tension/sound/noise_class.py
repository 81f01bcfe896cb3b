"""Noise classes: why a recording holds no rope, and what a recorder did to it."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.events import (
    DIES_AT_ONCE,
    DIES_SOON,
    METAL_TONES,
    TOO_SHORT,
    find_events,
)
from tension.sound.hearing import Array, Pluck, Recording
from tension.sound.spectra import noise_floor, off_mains, peaks_over, power_of_two

LOWEST = 500.0  # where noise is looked at: partials leave room between them there [Hz]
QUANTILE = 0.25
"""Of the power of a stretch over frequency, which partials do not reach. [1]"""
BEFORE, AFTER, LATER = (-0.7, -0.1), (0.15, 0.75), (1.9, 3.4)
"""Stretches compared, from the release: quiet, loud, and nearly died away. [s]"""
GAIN_FRAME = 0.1  # of the spectra averaged over a stretch [s]
FALLS = 1.5
"""Noise that is lower by so much while the rope is loud than before and later was
turned down: a rope adds to it. Of 198 made recordings without gain control none reached
0.7 dB. [dB]"""
LEAST_POWER = 1e-11  # of a sample of noise: the last bit of 16, several times [1]


def _gain_fall(recording: Recording, starts: Sequence[float]) -> float:
    """Median fall of the noise at the releases [s]; 0 where nothing can be told. [dB].

    Gain control follows the level of all that is heard: it turns the noise down with
    the rope while that is loud, and up again as it dies.
    """
    falls = []
    for start, end in zip(starts, [*starts[1:], np.inf], strict=False):
        last = min(start + LATER[1], end - 0.1)
        before = _noise(recording, start + BEFORE[0], start + BEFORE[1])
        loud = _noise(recording, start + AFTER[0], start + AFTER[1])
        later = _noise(recording, min(start + LATER[0], last - 0.6), last)
        if min(before, loud, later) > LEAST_POWER:
            falls.append(10.0 * np.log10(min(before, later) / loud))
    return float(np.median(falls)) if falls else 0.0


def _noise(recording: Recording, begin: float, end: float) -> float:
    """Power of the noise between the partials, over a stretch; 0 outside."""
    rate = recording.sampling_rate
    length = round(GAIN_FRAME * rate)
    first, last = max(0, round(begin * rate)), round(end * rate)
    part = np.asarray(recording.samples[first:last], dtype=np.float64)
    if part.size < 3 * length:
        return 0.0
    view = np.lib.stride_tricks.sliding_window_view(part, length)[:: length // 2]
    powers = np.abs(np.fft.rfft(view * np.hanning(length), axis=1)) ** 2
    grid = np.arange(powers.shape[1]) * rate / length
    band = (grid > LOWEST) & (grid < 0.4 * rate)
    if np.count_nonzero(band) < 10:
        return 0.0
    mean = np.mean(powers[:, band], axis=0) / length
    return float(np.quantile(mean, QUANTILE))


LOOKED_AT = 60.0  # of a long recording [s]
FRAME = 0.5  # of the spectra that tell tones from noise [s]
BAND = (20.0, 1200.0)  # [Hz]
OVERDRIVEN_SHARE, OVERDRIVEN = 0.2, 0.5
"""Share of the time at full scale of a recording that is overdriven throughout, and
from which nothing is believed. [1]"""
SILENCE = 4e-5
"""Largest sample of a recording that holds nothing: the last bit of 16. [1]"""
SILENT_SHARE = 0.15  # share of digital silence that a gate leaves [1]
NOTHING = 3e-5  # largest sample of silence: the last bit of 16 [1]
STEADY = 10.0  # power over noise of a tone that is there most of the time [1]
STEADY_SHARE, ALL_STEADY = 0.1, 0.5
"""Share of the power in steady tones that makes them the reason: where nothing rings,
and where something seems to. [1]"""
LOWS, MIDDLE = (80.0, 180.0), (220.0, 600.0)
"""Bands compared for what a recorder for speech takes away. [Hz]"""
NO_LOWS = 1e-3
"""Density of power in the one over that in the other; a phone's low cut of fourth
order at 120 Hz leaves more than a hundredth. [1]"""
CLEAR_STRENGTH = 15.0
"""Strength of a pluck, three loud lines that last, of a file played backwards. [1]"""
CLEAR_FALL, CLEAR_LIFT = -0.3, 1.0
"""ln of its line power late over early, and after its onset over before. [1]"""
FAR_OFF = 2.5
"""Mean over standard deviation of what is no sound: pressure swings about zero. [1]"""
STOPPED, STOPPED_STEP = 0.9, 0.05
"""A ring that the end of the recording cuts so soon is none; frame of its level. [s]"""
STOPPED_RISE = 0.1  # power of all that was before over that at the end [1]
STEP, SLOW = 0.03, 0.6
"""Frame of the level: syllables and knocks last several; levels are averaged over the
other for gusts and cars that pass. [s]"""
LOW = (10.0, 200.0)  # where bumps on floors and phones lie, and talk has little [Hz]

BY_EVENTS = {DIES_SOON: NoteKind.DIES_SOON, DIES_AT_ONCE: NoteKind.ONLY_KNOCKS}
"""What a recording holds whose events are mostly of one kind."""


def why_unusable(recording: Recording, shortest: float) -> Refusal | None:
    """Refuse what cannot be read, is shorter than a ring [s], silent or overdriven."""
    name, seconds = recording.name, recording.duration
    if recording.refusal is not None:
        return recording.refusal
    if seconds < shortest:
        return NoteKind.TOO_SHORT.refusal(recording=name, seconds=seconds)
    if float(np.max(np.abs(recording.samples))) < SILENCE and recording.codec:
        return NoteKind.SILENT.refusal(recording=name)
    if _overdriven_share(recording) > OVERDRIVEN:
        return NoteKind.OVERDRIVEN_THROUGHOUT.refusal(recording=name)
    return None


def why_no_ring(recording: Recording, plucks: Sequence[Pluck], rope: int) -> Refusal:
    """Choose the reason why a recording holds no ring of a rope.

    Gives: overdriven, silent, gated, no sound, backwards, cut short, struck, hum, a
    machine, talk, music, knocks, bumps, rumble, or noise.
    """
    name = recording.name
    if _overdriven_share(recording) > OVERDRIVEN_SHARE:
        return NoteKind.OVERDRIVEN_THROUGHOUT.refusal(recording=name)
    if float(np.median(np.abs(_frames(recording)).max(axis=1))) < 2.0 * NOTHING:
        return NoteKind.SILENT.refusal(recording=name)
    if plucks and _gated_share(recording) > SILENT_SHARE:
        return NoteKind.GATED.refusal(recording=name)
    told = _why_odd(recording) or _by_events([p.reason for p in plucks], name, rope)
    if told is not None:
        return told
    grid, power = _powers(recording)
    return _steady(name, grid, power, STEADY_SHARE) or _by_noise(recording, power, rope)


def only_steady(recording: Recording) -> Refusal | None:
    """Tell what is no sound, and what holds little but hum or other steady tones."""
    if _is_no_sound(recording):
        return NoteKind.NOT_SOUND.refusal(recording=recording.name)
    return _steady(recording.name, *_powers(recording), ALL_STEADY)


def doubts_of(
    recording: Recording, ropes: tuple[int, ...], starts: Sequence[float] = ()
) -> tuple[Note, ...]:
    """Tell what a recorder did to a recording that can be used all the same.

    `starts` [s]: their releases, in order.
    """
    kinds = []
    if _gated_share(recording) > SILENT_SHARE:
        kinds.append(NoteKind.GATED)
    elif _gain_fall(recording, starts) > FALLS:
        kinds.append(NoteKind.GAIN_CONTROL)
    frames = _frames(recording)
    window = np.hanning(frames.shape[1])
    spectrum = np.mean(np.abs(np.fft.rfft(frames * window)) ** 2, axis=0)
    grid = np.arange(spectrum.size) * recording.sampling_rate / frames.shape[1]
    low = spectrum[(grid > LOWS[0]) & (grid < LOWS[1])]
    middle = spectrum[(grid > MIDDLE[0]) & (grid < MIDDLE[1])]
    if low.size and middle.size and low.mean() < NO_LOWS * middle.mean():
        kinds.append(NoteKind.NOTHING_LOW)
    numbers = tuple(dict.fromkeys(ropes))
    return tuple(kind.note(ropes=numbers, recording=recording.name) for kind in kinds)


def _overdriven_share(recording: Recording) -> float:
    """Share of the tenths of a second that touch full scale. [1]."""
    if not recording.clipped.size:
        return 0.0
    cells = np.zeros(max(1, int(10.0 * recording.duration)), dtype=bool)
    for start, end in recording.clipped:
        cells[int(10.0 * start) : int(10.0 * end) + 1] = True
    return float(cells.mean())


def _is_no_sound(recording: Recording) -> bool:
    """Whether these are other bytes: pressure swings about zero, they need not."""
    samples = recording.samples
    return bool(abs(float(samples.mean())) > FAR_OFF * float(samples.std()))


def _why_odd(recording: Recording) -> Refusal | None:
    """Tell a file that is no sound, turned round, or stopped in the ring."""
    name, rate = recording.name, recording.sampling_rate
    if _is_no_sound(recording):
        return NoteKind.NOT_SOUND.refusal(recording=name)
    # a ring begins, falls and lasts when it is played the other way
    turned = recording.samples[: round(LOOKED_AT * rate)][::-1]
    for one in find_events(turned, rate):
        is_clear = not one.reason and one.strength > CLEAR_STRENGTH
        if is_clear and one.fall < CLEAR_FALL and one.lift > CLEAR_LIFT:
            return NoteKind.SWELLS.refusal(recording=name)
    stopped = _ends_in_ring(recording)
    if stopped is None:
        return None
    return NoteKind.ENDS_EARLY.refusal(recording=name, seconds=stopped)


def _ends_in_ring(recording: Recording) -> float | None:
    """How long before its end the only and loudest sound begins, if at its end. [s]."""
    length = max(1, round(STOPPED_STEP * recording.sampling_rate))
    samples = np.asarray(recording.samples, dtype=np.float64)
    samples = samples[samples.size % length :] if samples.size >= length else samples
    frames = _framed(samples - samples.mean(), length)
    powers = np.mean(frames**2, axis=1)
    quiet = np.flatnonzero(powers < STOPPED_RISE * powers[-1])
    n_last = powers.size - 1 - int(quiet[-1]) if quiet.size else powers.size
    if quiet.size + n_last < powers.size or n_last * STOPPED_STEP > STOPPED:
        return None
    return float(n_last * STOPPED_STEP)


def _by_events(reasons: list[str], name: str, rope: int) -> Refusal | None:
    """Reason from what the events were taken for."""
    if METAL_TONES in reasons:
        return NoteKind.HAMMER_BLOW.refusal(rope=rope)
    if reasons and reasons.count(TOO_SHORT) > 0.3 * len(reasons):
        return NoteKind.RINGS_SHORT.refusal(recording=name)
    kind = BY_EVENTS.get(max(reasons, key=reasons.count, default=""))
    return kind.refusal(recording=name) if kind else None


def _powers(recording: Recording) -> tuple[Array, Array]:
    """Frequencies in the band, and power in each frame of a recording over them."""
    rate, frames = recording.sampling_rate, _frames(recording)
    n_transform = power_of_two(2.0 * frames.shape[1])
    grid = np.arange(n_transform // 2 + 1) * rate / n_transform
    keep = (grid >= BAND[0]) & (grid <= min(BAND[1], 0.46 * rate))
    spectra = np.abs(np.fft.rfft(frames * np.hanning(frames.shape[1]), n_transform))
    return grid[keep], spectra[:, keep] ** 2


def _steady(name: str, grid: Array, power: Array, least: float) -> Refusal | None:
    """Steady tones, if they hold more than a share of the power."""
    lowest = np.quantile(power, 0.15, axis=0)
    floor = np.maximum(noise_floor(lowest, float(grid[1] - grid[0])), 1e-30)
    peaks = peaks_over(lowest / floor, STEADY)
    strongest = peaks[np.argsort(-lowest[peaks])[:4]]
    held = 4.0 * lowest[strongest].sum() / (power.mean(axis=0).sum() + 1e-30)
    if held <= least:
        return None
    tones = np.sort(grid[strongest])
    near_mains = np.any(off_mains(tones) < 0.15 + 0.002 * tones, axis=0)
    is_hum = np.count_nonzero(near_mains) > 0.5 * tones.size
    kind = NoteKind.ONLY_HUM if is_hum else NoteKind.STEADY_TONES
    lines = ", ".join(f"{f:.0f} Hz" for f in tones)
    return kind.refusal(recording=name, lines=lines)


def _by_noise(recording: Recording, power: Array, rope: int) -> Refusal:
    """Reason from how the level of a recording moves, and where its power lies."""
    rate = recording.sampling_rate
    samples = np.asarray(recording.samples[: round(LOOKED_AT * rate)], dtype=np.float64)
    samples = samples - samples.mean()
    frames = _framed(samples, max(1, round(STEP * rate)))
    level = np.log(np.mean(frames**2, axis=1) + 1e-10)
    width = min(max(1, round(SLOW / STEP)), level.size)
    spectrum = np.abs(np.fft.rfft(samples)) ** 2
    grid = np.fft.rfftfreq(samples.size, 1.0 / rate)
    # share of power in ten cells of a spectrum; scatter of ln level from one frame to
    # the next, and averaged over `SLOW`; share of power in `LOW`
    highest = np.sort(power, axis=1)[:, -10:].sum(axis=1)
    tonal = np.median(highest / (power.sum(axis=1) + 1e-30))
    fast = np.std(np.diff(level))
    slow = np.std(np.convolve(level, np.ones(width) / width, "valid"))
    low = spectrum[(grid > LOW[0]) & (grid < LOW[1])].sum()
    low /= spectrum[grid > LOW[0]].sum() + 1e-30
    # sounds in bursts scatter by 0.9 from frame to frame, noise by 0.5, talk, which
    # falls silent within a frame or two, by 1.8, a tone that never stops by under 0.35
    kinds = {
        NoteKind.MOVING_TONES: tonal > 0.3 and fast < 0.35,
        NoteKind.ONLY_BUMPS: low > 0.8 and fast > 0.9,
        NoteKind.ONLY_SPEECH: fast > 1.8 and tonal < 0.45,
        NoteKind.ONLY_MUSIC: tonal > 0.3 and low < 0.8,
        NoteKind.ONLY_KNOCKS: fast > 0.9,
        NoteKind.ONLY_RUMBLE: slow > 1.0,
    }
    kind = next((each for each, is_so in kinds.items() if is_so), None)
    if kind is None:
        return NoteKind.TOO_NOISY.refusal(rope=rope)
    return kind.refusal(recording=recording.name)


def _framed(samples: NDArray[Any], length: int) -> NDArray[Any]:
    """Whole frames of so many samples, (n_frames, length)."""
    n_frames = samples.size // length
    return samples[: n_frames * length].reshape(n_frames, length)


def _frames(recording: Recording) -> Array:
    """Half seconds of the first minute, offset taken off."""
    rate = recording.sampling_rate
    samples = np.asarray(recording.samples[: round(LOOKED_AT * rate)], dtype=np.float64)
    frames = _framed(samples, max(1, min(round(FRAME * rate), samples.size)))
    return np.asarray(frames - frames.mean())


def _gated_share(recording: Recording) -> float:
    """Share of digital silence in a recording that is not silent."""
    blocks = _framed(recording.samples, max(1, round(0.02 * recording.sampling_rate)))
    loudest = np.maximum(blocks.max(axis=1), -blocks.min(axis=1))
    return float(np.mean(loudest < 1e-2 * NOTHING))
