"""Events: where something begins, and whether it rings on like a rope."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tension.sound.hearing import Array
from tension.sound.spectra import (
    first_of_each,
    noise_floor,
    peaks_over,
    power_of_two,
    ring_powers,
)

FRAME = 0.128  # length of a frame: short against a ring, long against the partials [s]
HOP = 0.016  # distance of frames [s]
LOOK, KEPT_CLEAR = 10, 4
"""Frames compared on either side of a supposed onset, and kept clear of it: 0.16 s and
half a frame. [1]"""
DEAD_TIME = 0.35
"""Two onsets closer than this are one event (a finger leaving, a rattle). [s]"""
CHUNK = 30.0  # looked at at once [s]
NOISE_RISE = 1.2
"""What the logarithm of power in noise rises by in one look in twelve. [1]"""
LEAST_RISE = 0.1
"""Three times what noise of any colour shows, a little over its highest in 10 s. [1]"""
BAND = (20.0, 1500.0)
"""Where the partials of ropes are heard; below it a phone hears nothing. [Hz]"""


SKIP = 0.03  # the release itself is no free ring [s]
WINDOWS = (1.6, 4.0)
"""Looked at: partials at 300 Hz die in the first, ropes of 2 Hz need more. [s]"""
SHORTEST = 0.3  # a shorter event shows no lines [s]
FAINT = 2.5  # strength of one line that lasts, as in noise as loud as the ring [1]
BEGINS = 0.5
"""Strength of what sounds at the start of a recording, over that of the clearest event,
from which it is a ring too. [1]"""
FAR_LOUDER = 2.5
"""ln of level of an event over that before it, beside which that is none. [1]"""
AWAY = 0.08  # kept clear before an onset [s]
BESIDE = 0.5  # stretches compared for the rise of the lines at the onset [s]
BOTTOM, TOP = 15.0, 1200.0  # of the lines looked for [Hz]
ROPE_TOP = 420.0
"""Every rope of 2 to 60 Hz has partials under this, a struck plate mostly has not.
[Hz]"""
CLEAR = 10.0
"""Power over noise of a line; noise alone exceeds it in one cell of 20000. [1]"""
STILL_CLEAR = 5.0  # and in the second half of the ring [1]
LEAST_STRENGTH = 5.0  # two lines that last, just over the noise [1]
SWELL = 0.8  # ln of line power late over early: a ring falls [1]
CHOKE = -5.0
"""A ring that falls so far from one half of 1.6 s to the other is none: ropes damp 1 %
at 400 Hz, 0.3 % at 30 Hz. [1]"""
LIFT = 0.35
"""Of ln line power after over before: what rang already was not plucked ... [1]"""
DIP = 1.35
"""... unless a hand stopped it: ln level after over the quietest moment before. [1]"""
METAL = 10.0  # strength of lasting lines over the ropes' band [1]
STRUCK = -0.3
"""ln of line power late over early of metal that was struck: it dies within a second or
two, a test tone does not. [1]"""
OCTAVES = (20.0, 640.0)  # band in which two events are compared [Hz]
STEP = 1.5e-3  # of the logarithm of frequency [1]
LOG_AXIS = np.exp(np.arange(np.log(OCTAVES[0]), np.log(OCTAVES[1]), STEP))
"""Frequencies at which they are compared. [Hz]"""
DEAD, GROWS = -4.0, 0.3
"""ln of level late over early of what has died at once, and of what swells. [1]"""

NOTHING_BEGINS = "nothing begins to ring here: a knock or talk over a ring"
DIES_SOON = "dies within a moment: a slam, or a hand on the rope"
DIES_AT_ONCE = "dies at once: a knock or a step"
TOO_SHORT = "too short to tell the partials apart"
NOTHING_LASTS = "no tones that ring on"
METAL_TONES = "high fixed tones of metal: struck, not plucked"
SWELLS = "swells instead of dying away: talk, handling or a passing car"


@dataclass(kw_only=True, slots=True)
class Event:
    """A sudden rise of level, and how it sounds."""

    # from the onset to the next event or the end of the recording [s]
    start: float
    end: float
    rise: float  # of the mean logarithmic spectrum; 0 at the recording's start [1]
    # sum of ln level of new lines that last, in the band of the ropes and over it [1]
    strength: float = 0.0
    metal: float = 0.0
    # ln of line power in the second half over the first, 0 without lines; and just
    # after the onset over just before [1]
    fall: float = 0.0
    lift: float = 0.0
    # ln of the level after the onset over the quietest moment before it; and late over
    # that at first, all of the band [1]
    dip: float = 0.0
    drop: float = 0.0
    level: float = -np.inf  # ln of power while the lines are looked for [1]
    # levels on a logarithmic axis, mean taken off, of length 1; zeros for nothing to
    # be compared with, shape (n_log_frequencies,)
    log_spectrum: Array = field(default_factory=lambda: np.zeros(LOG_AXIS.size))
    reason: str = ""  # why it is no pluck, in plain words; empty if it may be one
    entry: int = -1  # place of its rope in the order of the recording; -1 if none
    is_sure: bool = True  # whether it is surely of that rope


def _frame_powers(
    samples: Array, sampling_rate: float, frame: float = FRAME, hop: float = HOP
) -> tuple[Array, Array, Array]:
    """Power spectra of short windowed frames, `hop` [s] apart.

    Gives the middle of each frame (n_frames,) [s]; frequencies inside the band of the
    partials (n_frequencies,) [Hz]; and power (n_frames, n_frequencies) [1].
    """
    length = max(16, round(frame * sampling_rate))
    step = max(1, round(hop * sampling_rate))
    if samples.size < length:
        samples = np.pad(samples, (0, length - samples.size))
    view = np.lib.stride_tricks.sliding_window_view(samples, length)[::step]
    frequencies = np.fft.rfftfreq(length, 1.0 / sampling_rate).astype(np.float64)
    top = min(BAND[1], 0.46 * sampling_rate)
    low = BAND[0] if top > 4.0 * BAND[0] else 0.0
    keep = np.flatnonzero((frequencies >= low) & (frequencies <= top))
    spectra = np.fft.rfft(view * np.hanning(length), axis=1)[:, keep]
    powers = spectra.real**2 + spectra.imag**2
    middles = (np.arange(view.shape[0]) * step + 0.5 * length) / sampling_rate
    return np.asarray(middles, dtype=np.float64), frequencies[keep], powers


def find_events(samples: NDArray[np.floating], sampling_rate: float) -> list[Event]:
    """Find sudden rises of level over the whole band, and how they sound.

    `samples` (n_samples,) [1]: the recording.

    Notes
    -----
    The rise is the mean over frequency of what the logarithm of power after over power
    before exceeds ``NOISE_RISE`` by. A steady line, however loud, adds nothing to it,
    and a pluck that lifts a fifth of the bins out of the noise adds much. A rope rings
    in lines that last: peaks of the spectrum that stand at the same place in both
    halves of the ring.
    """
    grid = _Grid(samples, sampling_rate)
    events = _find_rises(samples, sampling_rate)
    for event in events:
        _describe(grid, event)
    return events


def find_rings(samples: NDArray[np.floating], sampling_rate: float) -> list[Event]:
    """Find the events of a recording (n_samples,) [1] to be taken for plucks.

    What sounds at its start is left out where something far clearer follows; the
    clearest event counts if there is none better.
    """
    found = find_events(samples, sampling_rate)
    first, later = found[0], found[1:]
    if later and not first.rise:
        loudest = max(one.level for one in later)
        is_faint = first.strength < BEGINS * max(one.strength for one in later)
        if first.reason or is_faint or first.level < loudest - FAR_LOUDER:
            found = later
    if all(one.reason for one in found):
        strongest = max(one.strength for one in found)
        for one in found:
            if one.strength >= max(strongest, FAINT):
                one.reason = ""
    return found


def _find_rises(samples: NDArray[np.floating], sampling_rate: float) -> list[Event]:
    """Find the onsets and how far the level rises at them."""
    duration = samples.size / sampling_rate
    moments, rise = _rise_curve(samples, sampling_rate)
    if not rise.size:
        return [Event(start=0.0, end=duration, rise=0.0)]
    centre = float(np.median(rise))
    scatter = 1.4826 * float(np.median(np.abs(rise - centre))) + 1e-3
    least = max(centre + 5.0 * scatter, LEAST_RISE)
    # the highest may be a little lower: something begins in every recording
    n_clear = max(int(np.sum(rise >= least)), int(rise.max() >= 0.5 * least))
    order = np.argsort(-rise)[:n_clear]
    n_dead = round(DEAD_TIME / HOP)
    found = [
        (_onset(samples, sampling_rate, float(moments[k])), float(rise[k]))
        for k in np.sort(order[first_of_each(order, n_dead, n_clear)])
    ]
    # two rises may come from one onset, seen from either side
    starts = [-np.inf, *(start for start, _ in found)]
    found = [
        one for one, last in zip(found, starts, strict=False) if one[0] > last + FRAME
    ]
    if not found or found[0][0] > DEAD_TIME:
        # the recording may begin in a ring, or so soon before it that no rise is seen
        found.insert(0, (0.0, 0.0))
    ends = [*(start - 0.5 * FRAME for start, _ in found[1:]), duration]
    return [
        Event(start=start, end=end, rise=risen)
        for (start, risen), end in zip(found, ends, strict=True)
    ]


def _rise_curve(
    samples: NDArray[np.floating], sampling_rate: float
) -> tuple[Array, Array]:
    """Rise of level over time, in chunks: an hour needs no more than a minute."""
    margin = LOOK + KEPT_CLEAR
    step = max(1, round(HOP * sampling_rate))
    chunk = round(CHUNK / HOP) * step
    overlap = (2 * margin + 1) * step + round(FRAME * sampling_rate)
    moments, rises, last = [np.empty(0)], [np.empty(0)], -1.0
    for first in range(0, max(samples.size - overlap // 2, 1), chunk):
        part = np.asarray(samples[first : first + chunk + overlap], dtype=np.float64)
        times, _, powers = _frame_powers(part, sampling_rate)
        if times.size < 2 * margin + 3:
            break
        rise = _rises(powers)
        moment = times[margin : margin + rise.size] + first / sampling_rate
        new = moment > last
        moments.append(moment[new])
        rises.append(rise[new])
        last = max(last, float(moment[-1]))
    return np.concatenate(moments), np.concatenate(rises)


def _onset(samples: NDArray[np.floating], sampling_rate: float, about: float) -> float:
    """Place an onset within a frame a quarter as long."""
    first = max(0, int((about - 0.2) * sampling_rate))
    last = min(samples.size, int((about + 0.4) * sampling_rate))
    part = np.asarray(samples[first:last], dtype=np.float64)
    times, _, powers = _frame_powers(part, sampling_rate, 0.25 * FRAME, 0.25 * HOP)
    margin = LOOK + KEPT_CLEAR
    if times.size < 2 * margin + 3:
        return about
    best = int(np.argmax(_rises(powers))) + margin
    return first / sampling_rate + float(times[best])


def _rises(powers: Array) -> Array:
    """Rise of level at each frame that has room on both sides."""
    floor = 1e-7 * float(np.median(powers)) + 1e-30
    total = np.cumsum(np.vstack([np.zeros(powers.shape[1]), powers]), axis=0)
    near, far = KEPT_CLEAR, KEPT_CLEAR + LOOK
    middle = np.arange(far, powers.shape[0] - far)
    before = total[middle - near + 1] - total[middle - far + 1]
    after = total[middle + far] - total[middle + near]
    # sums of silence differ by rounding only, and may come out below zero
    least = LOOK * floor + 1e-14 * total[-1]
    ratio = (np.maximum(after, 0.0) + least) / (np.maximum(before, 0.0) + least)
    change = np.log(ratio) - NOISE_RISE
    return np.asarray(np.maximum(change, 0.0).mean(axis=1))


class _Grid:
    """A recording, and the frequencies of all spectra of it."""

    def __init__(self, samples: NDArray[np.floating], rate: float) -> None:
        self.samples, self.rate = samples, rate
        self.n_transform = power_of_two(max(WINDOWS) * rate)
        self.spacing = rate / self.n_transform
        self.n_keep = int(min(TOP, 0.46 * rate) / self.spacing)

    def cut(self, start: float, end: float) -> Array:
        """Samples between two moments."""
        first = max(0, round(start * self.rate))
        last = max(first, round(end * self.rate))
        return np.asarray(self.samples[first:last], dtype=np.float64)

    def powers(self, cut: Array, window: Array | None = None) -> Array:
        """Give `ring_powers` of a cut at the frequencies kept."""
        return ring_powers(cut, self.n_transform, window)[: self.n_keep]

    def levels(self, cut: Array) -> tuple[Array, Array]:
        """Power of a ring, and that over its noise."""
        powers = self.powers(cut)
        return powers, powers / np.maximum(noise_floor(powers, self.spacing), 1e-30)


def _describe(grid: _Grid, event: Event) -> None:
    """Describe one event in the window that shows most of it."""
    start, lasting = event.start + SKIP, np.empty(0, dtype=np.intp)
    for window in WINDOWS:
        cut = grid.cut(start, min(event.end - 0.02, start + window))
        if cut.size < SHORTEST * grid.rate:
            break
        levels, peaks, lasts, fall = _lines(cut, grid)
        score = np.minimum(np.log(levels[peaks]), 6.0) * lasts
        is_low = peaks * grid.spacing < ROPE_TOP
        event.metal = max(event.metal, float(score[~is_low].sum()))
        strength, is_first = float(score[is_low].sum()), window == WINDOWS[0]
        if is_first:
            event.fall, event.drop = fall, _drop(cut, grid.rate)
            event.level = float(np.log(np.mean(cut**2) + 1e-30))
            event.log_spectrum = _log_spectrum(levels, grid.spacing)
        if is_first or strength > event.strength:
            event.strength, lasting = strength, peaks[lasts]
        if cut.size < 0.99 * window * grid.rate:
            break
    if np.isfinite(event.level):
        event.lift, event.dip = _lift(grid, event, lasting), _dip(grid, event)
    event.reason = _why_no_pluck(event)


def _why_no_pluck(event: Event) -> str:
    """Tell in plain words why it is no pluck; empty if it may be one."""
    whys = {
        SWELLS: event.fall > SWELL,
        DIES_SOON: event.fall < CHOKE,
        NOTHING_BEGINS: event.lift < LIFT and event.dip < DIP,
    }
    if event.strength < LEAST_STRENGTH:
        whys = {
            METAL_TONES: event.metal > METAL and event.fall < STRUCK,
            DIES_AT_ONCE: event.drop < DEAD,
            SWELLS: event.drop > GROWS,
            NOTHING_LASTS: True,
        }
    return next((why for why, is_so in whys.items() if is_so), "")


def _lines(
    cut: Array, grid: _Grid
) -> tuple[Array, NDArray[np.intp], NDArray[np.bool_], float]:
    """Levels of a stretch over its noise, its peaks, which of them last, their fall."""
    levels = grid.levels(cut)[1]
    peaks = peaks_over(levels, CLEAR)
    peaks = peaks[peaks * grid.spacing >= BOTTOM]
    half = cut.size // 2
    early = grid.powers(cut[:half])
    late, late_levels = grid.levels(cut[half:])
    reach = max(1, round(0.7 * grid.rate / cut.size / grid.spacing))
    padded = np.pad(late_levels, reach)
    near = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    lasts = near[peaks].max(axis=1) > STILL_CLEAR
    return levels, peaks, lasts, _ratio(late[peaks].sum(), early[peaks].sum())


def _ratio(one: float, other: float) -> float:
    """Ln of a ratio of powers, 0 of nothing."""
    return float(np.log((one + 1e-30) / (other + 1e-30)))


def _drop(cut: Array, rate: float) -> float:
    """Highest energy of a tenth of a second, second half over first quarter, ln."""
    step = max(1, round(0.1 * rate))
    n_steps = max(1, cut.size // step)
    energy = np.sum(np.square(cut[: n_steps * step].reshape(n_steps, -1)), axis=1)
    return _ratio(energy[n_steps // 2 :].max(), energy[: max(1, n_steps // 4)].max())


def _lift(grid: _Grid, event: Event, peaks: NDArray[np.intp]) -> float:
    """Ln of line power just after the onset over just before."""
    before = grid.cut(event.start - AWAY - BESIDE, event.start - AWAY)
    after = grid.cut(event.start + SKIP, event.start + SKIP + BESIDE)
    size = min(before.size, after.size)
    if not peaks.size or size < 0.2 * grid.rate:
        return float("inf")
    window = np.hanning(size)
    stood = grid.powers(before[-size:], window)[peaks].sum()
    return _ratio(grid.powers(after[:size], window)[peaks].sum(), stood)


def _dip(grid: _Grid, event: Event) -> float:
    """Ln of the mean level after the onset over the quietest moment before it."""
    if event.start < 0.2:
        return float("inf")
    first = max(0.0, event.start - AWAY - BESIDE)
    cut = grid.cut(first, event.start + BESIDE + 0.1)
    times, frequencies, powers = _frame_powers(cut, grid.rate, 0.064, 0.016)
    level = powers[:, frequencies < ROPE_TOP].sum(axis=1)
    times = times + first - event.start
    before, after = level[times < -SKIP], level[times > 0.1]
    if not before.size or not after.size:
        return float("inf")
    return _ratio(after.mean(), before.min())


def _log_spectrum(levels: Array, spacing: float) -> Array:
    """Levels on a logarithmic axis, of length 1."""
    axis = LOG_AXIS[spacing * (levels.size - 1) > LOG_AXIS]
    values = np.zeros(LOG_AXIS.size)
    own = np.interp(axis / spacing, np.arange(levels.size), levels)
    values[: axis.size] = np.log1p(own / CLEAR)
    return of_length_one(values - values.mean())


def of_length_one(values: Array) -> Array:
    """Give a log spectrum (n_log_frequencies,) the length 1, nothing as it is."""
    size = float(np.sqrt(np.sum(values**2)))
    return values / size if size > 0.0 else values
