"""Partials followed through a ring: phase, level, slow waver, and a guard met."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tension.physics.partials import mode_frequencies
from tension.sound.decays import Decay
from tension.sound.hum import amplitudes
from tension.sound.recording import Array, Counts
from tension.sound.spectra import Lines
from tension.sound.string_fit import StringFit

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
    modes: Counts,
    noise: Array,
) -> list[Track]:
    """Follow the phases of partials through one ring.

    `ring` (n_samples,) [1]: from shortly after the onset; `sampling_rate` [Hz]: of the
    samples; `modes` (n_modes,): which to follow; `noise` (n_modes,) [1]: noise variance
    per sample at each.
    """
    string_fundamental = fit.fundamental_frequency
    length = int(np.clip(PERIODS / string_fundamental, 0.06, 1.0) * sampling_rate)
    hop = max(1, length // 2)
    if ring.size < 2 * length:
        return []
    frequencies = mode_frequencies(
        modes.astype(np.float64),
        fit.string_fundamental,
        fit.dispersion,
        fit.n_clamped_ends,
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
        fall = _fall(times[:end], signal[:end, k])
        size = np.abs(values[:end, k])
        tracks.append(
            Track(
                mode=int(mode),
                ring=index,
                frequency=float(frequencies[k]),
                times=times[:end],
                phases=np.unwrap(np.angle(values[:end, k])) / (2.0 * np.pi),
                variances=0.5 / signal[:end, k] / (2.0 * np.pi) ** 2,
                levels=np.log(size) / (2.0 * np.pi),
                damping=float(fall / (2.0 * np.pi * frequencies[k])),
                log_amplitude=float(np.log(size.max()) + fall * times[0]),
            )
        )
    return tracks


def _fall(times: Array, strength: Array) -> float:
    """Rate at which ln of an amplitude falls, power over noise given. [1/s]."""
    time = times - np.average(times, weights=strength)
    fall = 0.5 * np.log(strength)
    return -float(np.sum(strength * time * fall) / np.sum(strength * time**2))


def trusted_tracks(tracks: list[Track]) -> list[Track]:
    """Leave out tracks of other lines, and trust rough ones less."""
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


RATES = np.arange(0.7, 3.55, 0.05)
"""A car bounces on its ropes two or three times a second, its guide shoes slower:
common practice, no source. [Hz]"""
WAVER_FRAMES, WAVER_PERIODS = 3.0, 1.5
"""Frames that a period takes up at least, and periods that a track holds. [1]"""
LEAST_TRACKS = 4
"""Partials of one ring that are asked. [1]"""
EXPLAINED = 0.5
"""Share of what a smooth glide leaves of the phases that one waver must explain of half
of the partials; planes and neighbours beat at each in its own time. [1]"""
LEAST_DEPTH = 4e-4
"""Relative waver of the pitch worth telling. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Waver:
    """A slow waver of the pitch.

    Attributes
    ----------
    rate : float
        [Hz]
    depth : float
        Largest change of the pitch, relative. [1]
    """

    rate: float
    depth: float


def find_waver(tracks: Sequence[Track]) -> Waver | None:
    """Find a waver that the partials of a ring share.

    Notes
    -----
    A tension that changes by 2 m sin(2 pi r t) changes every f_n by m f_n of that: the
    phases of all partials, over their frequencies, go to and fro by m/(2 pi r). Each
    track keeps its own parabola, which takes offset and glide.
    """
    found = []
    for ring in {track.ring for track in tracks}:
        waver = _of_ring([track for track in tracks if track.ring == ring])
        if waver is not None:
            found.append(waver)
    return max(found, key=lambda one: one.depth, default=None)


def _of_ring(tracks: Sequence[Track]) -> Waver | None:
    """The waver of one ring."""
    usable = [track for track in tracks if track.times.size >= 6]
    if len(usable) < LEAST_TRACKS:
        return None
    hop = float(usable[0].times[1] - usable[0].times[0])
    longest = max(float(np.ptp(track.times)) for track in usable)
    slowest, fastest = WAVER_PERIODS / longest, 1.0 / (WAVER_FRAMES * hop)
    rates = RATES[np.logical_and(slowest < RATES, fastest > RATES)]
    if not rates.size:
        return None
    parts = [_left(track, rates) for track in usable]
    square = sum(np.einsum("tri,trj->rij", waves, waves) for _, waves in parts)
    cross = sum(np.einsum("tri,t->ri", waves, rest) for rest, waves in parts)
    shares = (np.linalg.pinv(square) @ np.asarray(cross)[..., None])[..., 0]
    explained = np.median([_explained(*part, shares) for part in parts], axis=0)
    # a frame, two hops under a Hann window, averages the waver
    x = 2.0 * hop * rates
    depths = 2.0 * np.pi * rates * np.hypot(*shares.T) * (1.0 - x**2) / np.sinc(x)
    best = int(np.argmax(np.where(depths > LEAST_DEPTH, explained, -np.inf)))
    if explained[best] < EXPLAINED or depths[best] < LEAST_DEPTH:
        return None
    return Waver(rate=float(rates[best]), depth=float(depths[best]))


def _explained(rest: Array, waves: Array, shares: Array) -> Array:
    """Share of what is left of a track that the waver of each rate explains."""
    after = rest[:, None] - np.einsum("tri,ri->tr", waves, shares)
    left: Array = np.sum(after**2, axis=0) / max(float(rest @ rest), 1e-30)
    return 1.0 - left


def _left(track: Track, rates: Array) -> tuple[Array, Array]:
    """Phases over frequency, and sine and cosine of each rate, without parabolas."""
    weight = track.frequency / np.sqrt(track.variances + FRAME_SCATTER**2)
    own = np.vander(track.times - track.times.mean(), 3) * weight[:, None]
    basis = np.linalg.qr(own)[0]
    angle = 2.0 * np.pi * np.outer(track.times, rates)
    waves = np.stack([np.sin(angle), np.cos(angle)], axis=2).reshape(angle.shape[0], -1)
    both = np.column_stack([track.phases / track.frequency, waves]) * weight[:, None]
    both -= basis @ (basis.T @ both)
    return both[:, 0], both[:, 1:].reshape(*angle.shape, 2)


FREE = (1.1, 4.0)
"""Part of a ring in which the swing has grown small. [s]"""
LOUDEST = 14
"""Partials followed into it, the loudest. [1]"""
RELEASE = 0.25
"""Shortest stretch at the release in which partials are told apart. [s]"""
RELEASE_PERIODS = 2.5
"""That stretch in periods of the spacing. [1]"""
GROWS = -0.3
"""ln of amplitude at the release over that a second later, of partials that grow: those
of the free rope appear when it comes free. [1]"""
GROWING = 0.2
"""Share of the partials that must grow so. [1]"""


def comes_free(rings: Sequence[Decay], lines: Lines, fit: StringFit) -> bool:
    """Tell whether partials are louder a second after the release than at it."""
    loudest = np.argsort(-lines.levels[fit.lines])[:LOUDEST]
    frequencies = lines.frequencies[fit.lines[loudest]]
    stretch = max(RELEASE, RELEASE_PERIODS / fit.string_fundamental)
    grows = []
    for one in rings:
        rate = one.sampling_rate
        length, later = round(stretch * rate), round(FREE[0] * rate)
        if one.samples.size < later + length:
            continue
        early, late = (
            amplitudes(one.samples[first : first + length], rate, frequencies)
            for first in (0, later)
        )
        falls = np.log((early + 1e-30) / (late + 1e-30))
        grows.append(float(np.quantile(falls, GROWING)) < GROWS)
    return bool(grows) and all(grows)
