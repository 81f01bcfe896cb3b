"""Rocking: a slow waver that all partials share, as of a car that still moves."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.refinement.tracks import FRAME_SCATTER, Track

Array = NDArray[np.float64]

RATES = np.arange(0.7, 3.55, 0.05)
"""A car bounces on its ropes two or three times a second, its guide shoes slower:
common practice, no source. [Hz]"""
FRAMES, PERIODS = 3.0, 1.5
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

    Returns
    -------
    Waver or None
        The strongest of the rings; None if the partials share none.

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
    slowest, fastest = PERIODS / longest, 1.0 / (FRAMES * hop)
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
