"""Partials followed through a ring: phase and level of each, frame by frame."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.physics.partials import mode_frequencies
from tension.sound.strings.string_fit import StringFit

Array = NDArray[np.float64]

PERIODS = 2.5
"""Frame length in periods of the spacing: the next partials fall on zeros of its Hann
window's side lobes or beyond."""
LEAST_SIGNAL = 8.0
"""Power over noise of a frame whose phase can be followed. [1]"""
FRAME_SCATTER = 0.011
"""Scatter of phases that noise does not explain, neighbours 20 dB down. [cycles]"""
WANDER = 3.5
"""Neighbouring frames wander together: variance counts so many times. With this and the
above 97 in 100 of 990 ropes of made contact, phone and hard sets lay within two
standard uncertainties, 94 to 99 in each third. [1]"""
LARGEST_OFFSET = 5e-3
"""A phase that runs off more follows another line: planes, glides. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Track:
    """Phases of one partial in one ring.

    Attributes
    ----------
    mode : int
        Mode number.
    ring : int
        Which ring.
    frequency : float
        At which it was demodulated. [Hz]
    times : ndarray, shape (n_frames,)
        From the onset. [s]
    phases : ndarray, shape (n_frames,)
        Unwrapped, against the frequency above. [cycles]
    variances : ndarray, shape (n_frames,)
        From noise. [cycles^2]
    levels : ndarray, shape (n_frames,)
        Logarithm of the amplitude over 2 pi, so that its variance is the phase's. [1]
    damping : float
        Damping ratio, from the fall of the amplitude. [1]
    log_amplitude : float
        Of the partial at the onset. [1]
    """

    mode: int
    ring: int
    frequency: float
    times: Array
    phases: Array
    variances: Array
    levels: Array
    damping: float
    log_amplitude: float


def follow_phases(
    ring: Array,
    sampling_rate: float,
    index: int,
    fit: StringFit,
    modes: NDArray[np.int64],
    noise: Array,
) -> list[Track]:
    """Follow the phases of partials through one ring.

    Parameters
    ----------
    ring : ndarray, shape (n_samples,)
        From shortly after the onset. [1]
    sampling_rate : float
        Of the samples. [Hz]
    index : int
        Of the ring.
    fit : StringFit
        Where the partials are.
    modes : ndarray, shape (n_modes,)
        Which to follow.
    noise : ndarray, shape (n_modes,)
        Noise variance per sample at each. [1]

    Returns
    -------
    list of Track
        Those that can be followed over three frames at least.
    """
    spacing = fit.fundamental_frequency
    length = int(np.clip(PERIODS / spacing, 0.06, 1.0) * sampling_rate)
    hop = max(1, length // 2)
    if ring.size < 2 * length:
        return []
    frequencies = mode_frequencies(
        modes.astype(np.float64), fit.spacing, fit.dispersion, fit.n_clamped_ends
    )
    view = np.lib.stride_tricks.sliding_window_view(ring, length)[::hop]
    window = np.hanning(length)
    moments = np.arange(length) / sampling_rate
    kernel = window[:, None] * np.exp(-2j * np.pi * moments[:, None] * frequencies)
    starts = np.arange(view.shape[0]) * hop / sampling_rate
    values = view @ kernel * np.exp(-2j * np.pi * starts[:, None] * frequencies)
    signal = np.abs(values) ** 2 / (noise * np.sum(window**2))
    times = starts + 0.5 * length / sampling_rate
    tracks = []
    for k, mode in enumerate(modes):
        weak = np.flatnonzero(signal[:, k] < LEAST_SIGNAL)
        end = int(weak[0]) if weak.size else times.size
        if end < 3:
            continue
        phase = np.unwrap(np.angle(values[:end, k])) / (2.0 * np.pi)
        strength = signal[:end, k]
        time = times[:end] - np.average(times[:end], weights=strength)
        fall = 0.5 * np.log(strength)
        rate = -np.sum(strength * time * fall) / np.sum(strength * time**2)
        tracks.append(
            Track(
                mode=int(mode),
                ring=index,
                frequency=float(frequencies[k]),
                times=times[:end],
                phases=phase,
                variances=0.5 / strength / (2.0 * np.pi) ** 2,
                levels=np.log(np.abs(values[:end, k])) / (2.0 * np.pi),
                damping=float(rate / (2.0 * np.pi * frequencies[k])),
                log_amplitude=float(
                    np.log(np.abs(values[:end, k]).max()) + rate * times[0]
                ),
            )
        )
    return tracks


def trusted_tracks(tracks: list[Track]) -> list[Track]:
    """Leave out tracks of other lines, and trust rough ones less.

    Returns
    -------
    list of Track
        Those that agree, their variances raised by what noise does not explain.
    """
    return [_roughened(track) for track in _agreeing(tracks)]


def _agreeing(tracks: list[Track]) -> list[Track]:
    """Leave out tracks that followed something else than the partial."""
    if len(tracks) < 2:
        return tracks
    slopes = []
    for track in tracks:
        weight = 1.0 / (track.variances + FRAME_SCATTER**2)
        time = track.times - np.average(track.times, weights=weight)
        slope = np.sum(weight * time * track.phases) / np.sum(weight * time**2)
        slopes.append(slope / track.frequency)
    offset = np.array(slopes) - np.median(slopes)
    return [
        track
        for track, off in zip(tracks, offset, strict=True)
        if abs(off) < LARGEST_OFFSET
    ]


def _roughened(track: Track) -> Track:
    """Add to the variance what the phase wanders about a parabola: other lines near."""
    if track.times.size < 5:
        return track
    weight = 1.0 / np.sqrt(track.variances + FRAME_SCATTER**2)
    curve = np.polyfit(track.times, track.phases, 2, w=weight)
    residual = track.phases - np.polyval(curve, track.times)
    rough = float(np.average(residual**2, weights=weight**2))
    expected = float(np.average(track.variances, weights=weight**2))
    extra = WANDER * max(rough - expected, 0.0)
    return replace(track, variances=track.variances + extra)
