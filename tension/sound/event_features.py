"""Events: what rings on like a rope, and what is talk, a knock, handling or metal."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.onsets import Event, frame_powers
from tension.sound.recording import Array
from tension.sound.spectra import noise_floor, ring_window

SKIP = 0.03
"""The release itself is no free ring. [s]"""
WINDOWS = (1.6, 4.0)
"""Looked at: partials at 300 Hz die in the first, ropes of 2 Hz need more. [s]"""
SHORTEST = 0.3
"""A shorter event shows no lines. [s]"""
AWAY = 0.08
"""Kept clear before an onset. [s]"""
BESIDE = 0.5
"""Stretches compared for the rise of the lines at the onset. [s]"""
TOP = 1200.0
"""[Hz]"""
BOTTOM = 15.0
"""[Hz]"""
ROPE_TOP = 420.0
"""Every rope of 2 to 60 Hz has partials under this, a struck plate mostly has not.
[Hz]"""
CLEAR = 10.0
"""Power over noise of a line; noise alone exceeds it in one cell of 20000. [1]"""
STILL_CLEAR = 5.0
"""And in the second half of the ring. [1]"""
LEAST_STRENGTH = 5.0
"""Two lines that last, just over the noise. [1]"""
SWELL = 0.8
"""ln of line power late over early: a ring falls. [1]"""
CHOKE = -5.0
"""A ring that falls so far from one half of 1.6 s to the other is none: ropes damp 1 %
at 400 Hz, 0.3 % at 30 Hz. [1]"""
LIFT = 0.35
"""Of ln line power after over before: what rang already was not plucked ... [1]"""
DIP = 1.35
"""... unless a hand stopped it: ln level after over the quietest moment before. [1]"""
METAL = 10.0
"""Strength of lasting lines over the ropes' band. [1]"""
STRUCK = -0.3
"""ln of line power late over early of metal that was struck: it dies within a second or
two, a test tone does not. [1]"""
OCTAVES = (20.0, 640.0)
"""Band in which two events are compared. [Hz]"""
STEP = 1.5e-3
"""Of the logarithm of frequency. [1]"""
DEAD = -4.0
"""ln of level late over early of what has died at once. [1]"""

NOTHING_BEGINS = "nothing begins to ring here: a knock or talk over a ring"
DIES_SOON = "dies within a moment: a slam, or a hand on the rope"
DIES_AT_ONCE = "dies at once: a knock or a step"
TOO_SHORT = "too short to tell the partials apart"
NOTHING_LASTS = "no tones that ring on"
METAL_TONES = "high fixed tones of metal: struck, not plucked"
SWELLS = "swells instead of dying away: talk, handling or a passing car"


@dataclass(frozen=True, kw_only=True, slots=True)
class EventFeatures:
    """How an event sounds.

    Attributes
    ----------
    strength : float
        Sum of ln level of new lines that last, in the band of the ropes. [1]
    metal : float
        The same over that band. [1]
    fall : float
        ln of line power in the second half over the first; 0 without lines. [1]
    lift : float
        ln of line power just after the onset over just before. [1]
    dip : float
        ln of the level after the onset over the quietest moment before it. [1]
    drop : float
        ln of the level late over that at first, all of the band. [1]
    level : float
        ln of power while the lines are looked for. [1]
    log_spectrum : ndarray, shape (n_log_frequencies,)
        Levels on a logarithmic axis, mean taken off, of length 1; zeros if nothing.
    """

    strength: float
    metal: float
    fall: float
    lift: float
    dip: float
    drop: float
    level: float
    log_spectrum: Array

    @property
    def reason(self) -> str:
        """Why it is no pluck, in plain words; empty if it may be one."""
        if self.strength < LEAST_STRENGTH:
            return self._why_no_lines()
        if self.fall > SWELL:
            return SWELLS
        if self.fall < CHOKE:
            return DIES_SOON
        if self.lift < LIFT and self.dip < DIP:
            return NOTHING_BEGINS
        return ""

    def _why_no_lines(self) -> str:
        """Why nothing rings on."""
        if self.metal > METAL and self.fall < STRUCK:
            return METAL_TONES
        if self.drop < DEAD:
            return DIES_AT_ONCE
        if self.drop > 0.3:
            return SWELLS
        return NOTHING_LASTS


def describe_events(
    samples: NDArray[np.floating], sampling_rate: float, events: tuple[Event, ...]
) -> tuple[EventFeatures, ...]:
    """Portray each event of a recording.

    `samples` (n_samples,) [1]: the recording; `sampling_rate` [Hz]: of the samples.

    Notes
    -----
    A rope rings in lines that last: peaks of the spectrum that stand at the same place
    in both halves of the ring.
    """
    n_transform = 1 << int(np.ceil(np.log2(max(WINDOWS) * sampling_rate)))
    spacing = sampling_rate / n_transform
    n_keep = int(min(TOP, 0.46 * sampling_rate) / spacing)
    grid = _Grid(sampling_rate=sampling_rate, n_transform=n_transform, n_keep=n_keep)
    return tuple(_describe(samples, grid, event) for event in events)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Grid:
    """Frequencies of all spectra of one recording."""

    sampling_rate: float
    n_transform: int
    n_keep: int

    @property
    def spacing(self) -> float:
        """Of the frequencies. [Hz]."""
        return self.sampling_rate / self.n_transform

    def cut(self, samples: NDArray[np.floating], start: float, end: float) -> Array:
        """Samples between two moments."""
        first = max(0, round(start * self.sampling_rate))
        last = max(first, round(end * self.sampling_rate))
        return np.asarray(samples[first:last], dtype=np.float64)

    def powers(self, cut: Array, window: Array) -> Array:
        """Power over the power of the window."""
        spectrum = np.fft.rfft(cut * window, self.n_transform)[: self.n_keep]
        result: Array = (spectrum.real**2 + spectrum.imag**2) / np.sum(window**2)
        return result


def _describe(
    samples: NDArray[np.floating], grid: _Grid, event: Event
) -> EventFeatures:
    """Portray one event in the window that shows most of it."""
    start = event.start + SKIP
    found = []
    for window in WINDOWS:
        cut = grid.cut(samples, start, min(event.end - 0.02, start + window))
        if cut.size < SHORTEST * grid.sampling_rate:
            break
        found.append(_look(cut, grid))
        if cut.size < 0.99 * window * grid.sampling_rate:
            break
    if not found:
        return EventFeatures(
            strength=0.0,
            metal=0.0,
            fall=0.0,
            lift=0.0,
            dip=0.0,
            drop=0.0,
            level=-np.inf,
            log_spectrum=np.zeros(_log_axis().size),
        )
    best = max(found, key=lambda look: look.strength)
    return EventFeatures(
        strength=best.strength,
        metal=max(look.metal for look in found),
        fall=found[0].fall,
        lift=_lift(samples, grid, event, best.peaks),
        dip=_dip(samples, grid, event),
        drop=found[0].drop,
        level=found[0].level,
        log_spectrum=found[0].log_spectrum,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Look:
    """What one window shows."""

    strength: float
    metal: float
    fall: float
    drop: float
    level: float
    peaks: NDArray[np.intp]
    log_spectrum: Array


def _look(cut: Array, grid: _Grid) -> _Look:
    """Find lines in a stretch, and those of them that last."""
    rate, spacing = grid.sampling_rate, grid.spacing
    seconds = cut.size / rate
    powers = grid.powers(cut, ring_window(cut.size))
    levels = powers / np.maximum(noise_floor(powers, spacing), 1e-30)
    inner = levels[1:-1]
    peaks = 1 + np.flatnonzero(
        (inner > levels[:-2]) & (inner >= levels[2:]) & (inner > CLEAR)
    )
    peaks = peaks[peaks * spacing >= BOTTOM]
    half = cut.size // 2
    reach = max(1, round(0.7 / seconds / spacing))
    early, late = (
        grid.powers(part, ring_window(part.size)) for part in (cut[:half], cut[half:])
    )
    late_levels = late / np.maximum(noise_floor(late, spacing), 1e-30)
    lasts = _highest_near(late_levels, peaks, reach) > STILL_CLEAR
    score = np.minimum(np.log(levels[peaks]), 6.0) * lasts
    is_low = peaks * spacing < ROPE_TOP
    fall = 0.0
    if peaks.size:
        fall = float(np.log((late[peaks].sum() + 1e-30) / (early[peaks].sum() + 1e-30)))
    return _Look(
        strength=float(score[is_low].sum()),
        metal=float(score[~is_low].sum()),
        fall=fall,
        drop=_drop(cut, rate),
        level=float(np.log(np.mean(cut**2) + 1e-30)),
        peaks=peaks[lasts],
        log_spectrum=_log_spectrum(levels, spacing),
    )


def _highest_near(levels: Array, peaks: NDArray[np.intp], reach: int) -> Array:
    """Highest level within some cells of each peak."""
    padded = np.pad(levels, reach)
    view = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    result: Array = view[peaks].max(axis=1) if peaks.size else np.zeros(0)
    return result


def _drop(cut: Array, rate: float) -> float:
    """Highest energy of a tenth of a second, second half over first quarter, ln."""
    step = max(1, round(0.1 * rate))
    n_steps = max(1, cut.size // step)
    energy = np.sum(np.square(cut[: n_steps * step].reshape(n_steps, -1)), axis=1)
    late = float(energy[n_steps // 2 :].max())
    early = float(energy[: max(1, n_steps // 4)].max())
    return float(np.log((late + 1e-30) / (early + 1e-30)))


def _lift(
    samples: NDArray[np.floating], grid: _Grid, event: Event, peaks: NDArray[np.intp]
) -> float:
    """Ln of line power just after the onset over just before."""
    before = grid.cut(samples, event.start - AWAY - BESIDE, event.start - AWAY)
    after = grid.cut(samples, event.start + SKIP, event.start + SKIP + BESIDE)
    if not peaks.size or min(before.size, after.size) < 0.2 * grid.sampling_rate:
        return float("inf")
    size = min(before.size, after.size)
    window = np.hanning(size)
    stood = grid.powers(before[-size:], window)[peaks].sum()
    sounds = grid.powers(after[:size], window)[peaks].sum()
    return float(np.log((sounds + 1e-30) / (stood + 1e-30)))


def _dip(samples: NDArray[np.floating], grid: _Grid, event: Event) -> float:
    """Ln of the mean level after the onset over the quietest moment before it."""
    if event.start < 0.2:
        return float("inf")
    first = max(0.0, event.start - AWAY - BESIDE)
    cut = grid.cut(samples, first, event.start + BESIDE + 0.1)
    times, frequencies, powers = frame_powers(cut, grid.sampling_rate, 0.064, 0.016)
    level = powers[:, frequencies < ROPE_TOP].sum(axis=1)
    times = times + first - event.start
    before, after = level[times < -SKIP], level[times > 0.1]
    if not before.size or not after.size:
        return float("inf")
    return float(np.log((after.mean() + 1e-30) / (before.min() + 1e-30)))


def _log_axis() -> Array:
    """Frequencies of the image. [Hz]."""
    low, high = np.log(OCTAVES)
    return np.exp(np.arange(low, high, STEP))


def _log_spectrum(levels: Array, spacing: float) -> Array:
    """Levels on a logarithmic axis, of length 1."""
    axis = _log_axis()
    axis = axis[axis < spacing * (levels.size - 1)]
    values = np.zeros(_log_axis().size)
    values[: axis.size] = np.log1p(
        np.interp(axis / spacing, np.arange(levels.size), levels) / CLEAR
    )
    values -= values.mean()
    size = float(np.sqrt(np.sum(values**2)))
    return values / size if size > 0.0 else values


def likeness(features: Sequence[EventFeatures]) -> Array:
    """How alike the spectra of events are.

    Gives shape (n_events, n_events): correlation of the images: near 1 for plucks of
    one rope, near 0 for ropes a few percent apart. [1]
    """
    if not features:
        return np.zeros((0, 0))
    log_spectra = np.stack([each.log_spectrum for each in features])
    result: Array = log_spectra @ log_spectra.T
    return result
