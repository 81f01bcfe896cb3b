"""Onsets: where a ring begins and where it ends."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.recording import Array

FRAME = 0.128
"""Length of a frame: short against a ring, long against the partials. [s]"""
HOP = 0.016
"""Distance of frames. [s]"""
LOOK = 0.16
"""Stretch compared on either side of a supposed onset. [s]"""
DEAD_TIME = 0.35
"""Two onsets closer than this are one event (a finger leaving, a rattle). [s]"""
CHUNK = 30.0
"""Looked at at once. [s]"""
NOISE_RISE = 1.2
"""What the logarithm of power in noise rises by in one look in twelve. [1]"""
LEAST_RISE = 0.1
"""Three times what noise of any colour shows, a little over its highest in 10 s. [1]"""
BAND = (20.0, 1500.0)
"""Where the partials of ropes are heard; below it a phone hears nothing. [Hz]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Event:
    """A sudden rise of level.

    Attributes
    ----------
    start, end : float
        From the onset to the next event or the end of the recording. [s]
    rise : float
        Mean rise of the logarithmic spectrum; 0 at the start of the recording. [1]
    """

    start: float
    end: float
    rise: float


def frame_powers(
    samples: Array,
    sampling_rate: float,
    frame: float = FRAME,
    hop: float = HOP,
) -> tuple[Array, Array, Array]:
    """Split a recording into short windowed frames and take their power spectra.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        The recording. [1]
    sampling_rate : float
        Of the samples. [Hz]
    frame, hop : float
        Length and distance of the frames. [s]

    Returns
    -------
    times : ndarray, shape (n_frames,)
        Middle of each frame. [s]
    frequencies : ndarray, shape (n_frequencies,)
        Of the spectra, inside the band of the partials. [Hz]
    powers : ndarray, shape (n_frames, n_frequencies)
        Power. [1]
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
    window = np.hanning(length)
    powers = np.empty((view.shape[0], keep.size))
    block = 2048
    for first in range(0, view.shape[0], block):
        part = np.fft.rfft(view[first : first + block] * window, axis=1)[:, keep]
        powers[first : first + block] = part.real**2 + part.imag**2
    middles = (np.arange(view.shape[0]) * step + 0.5 * length) / sampling_rate
    times = np.asarray(middles, dtype=np.float64)
    return times, frequencies[keep], powers


def find_events(
    samples: NDArray[np.floating], sampling_rate: float
) -> tuple[Event, ...]:
    """Find sudden rises of level over the whole band.

    `samples` (n_samples,) [1]: the recording; `sampling_rate` [Hz]: of the samples.

    Notes
    -----
    The rise is the mean over frequency of what the logarithm of power after over power
    before exceeds ``NOISE_RISE`` by. A steady line, however loud, adds nothing to it,
    and a pluck that lifts a fifth of the bins out of the noise adds much.
    """
    duration = samples.size / sampling_rate
    n_look = max(1, round(LOOK / HOP))
    n_frame = max(1, round(0.5 * FRAME / HOP))
    moments, rise = _rise_curve(samples, sampling_rate, n_look, n_frame)
    if not rise.size:
        return (Event(start=0.0, end=duration, rise=0.0),)
    centre = float(np.median(rise))
    scatter = 1.4826 * float(np.median(np.abs(rise - centre))) + 1e-3
    least = max(centre + 5.0 * scatter, LEAST_RISE)
    n_dead = round(DEAD_TIME / HOP)
    chosen: list[int] = []
    for index in np.argsort(-rise):
        if rise[index] < least and (chosen or rise[index] < 0.5 * least):
            break
        if all(abs(int(index) - other) > n_dead for other in chosen):
            chosen.append(int(index))
    chosen.sort()
    starts = [_onset(samples, sampling_rate, float(moments[index])) for index in chosen]
    # two rises may come from one onset, seen from either side
    apart = [
        k for k in range(len(starts)) if not k or starts[k] > starts[k - 1] + FRAME
    ]
    starts, chosen = [starts[k] for k in apart], [chosen[k] for k in apart]
    rises = [float(rise[index]) for index in chosen]
    if not starts or starts[0] > DEAD_TIME:
        # the recording may begin in a ring, or so soon before it that no rise is seen
        starts, rises = [0.0, *starts], [0.0, *rises]
    ends = [*(start - 0.5 * FRAME for start in starts[1:]), duration]
    return tuple(
        Event(start=start, end=end, rise=risen)
        for start, end, risen in zip(starts, ends, rises, strict=True)
    )


def _rise_curve(
    samples: NDArray[np.floating], sampling_rate: float, n_look: int, n_frame: int
) -> tuple[Array, Array]:
    """Rise of level over time, in chunks: an hour needs no more than a minute."""
    margin = n_look + n_frame
    step = max(1, round(HOP * sampling_rate))
    chunk = round(CHUNK / HOP) * step
    overlap = (2 * margin + 1) * step + round(FRAME * sampling_rate)
    moments: list[Array] = []
    rises: list[Array] = []
    for first in range(0, max(samples.size - overlap // 2, 1), chunk):
        part = np.asarray(samples[first : first + chunk + overlap], dtype=np.float64)
        times, _, powers = frame_powers(part, sampling_rate)
        if times.size < 2 * margin + 3:
            break
        rise = _rises(powers, n_look, n_frame)
        moment = times[margin : margin + rise.size] + first / sampling_rate
        new = moment > (moments[-1][-1] if moments else -1.0)
        moments.append(moment[new])
        rises.append(rise[new])
        if not new.any():
            moments.pop()
            rises.pop()
    if not moments:
        return np.empty(0), np.empty(0)
    return np.concatenate(moments), np.concatenate(rises)


def _onset(samples: NDArray[np.floating], sampling_rate: float, about: float) -> float:
    """Place an onset within a frame a quarter as long."""
    frame, hop = 0.25 * FRAME, 0.25 * HOP
    n_look, n_frame = round(0.25 * LOOK / hop), round(0.5 * frame / hop)
    first = max(0, int((about - 0.2) * sampling_rate))
    last = min(samples.size, int((about + 0.4) * sampling_rate))
    part = np.asarray(samples[first:last], dtype=np.float64)
    times, _, powers = frame_powers(part, sampling_rate, frame, hop)
    if times.size < 2 * (n_look + n_frame) + 3:
        return about
    rise = _rises(powers, n_look, n_frame)
    best = int(np.argmax(rise)) + n_look + n_frame
    return first / sampling_rate + float(times[best])


def _rises(powers: Array, n_look: int, n_frame: int) -> Array:
    """Rise of level at each frame that has room on both sides."""
    floor = 1e-7 * float(np.median(powers)) + 1e-30
    total = np.cumsum(np.vstack([np.zeros(powers.shape[1]), powers]), axis=0)
    middle = np.arange(n_look + n_frame, powers.shape[0] - n_look - n_frame)
    before = total[middle - n_frame + 1] - total[middle - n_frame - n_look + 1]
    after = total[middle + n_frame + n_look] - total[middle + n_frame]
    # sums of silence differ by rounding only, and may come out below zero
    least = n_look * floor + 1e-14 * total[-1]
    change = np.log(
        (np.maximum(after, 0.0) + least) / (np.maximum(before, 0.0) + least)
    )
    change -= NOISE_RISE
    rise: Array = np.maximum(change, 0.0).mean(axis=1)
    return rise
