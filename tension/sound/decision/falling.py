"""How the partials of a string ring: where they are loudest, and how they fall."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.sound.lines.hum import amplitudes
from tension.sound.plucks.ring import Ring

Array = NDArray[np.float64]

LONGEST = 3.0
"""Looked at of a ring: what is left later is the lowest partials. [s]"""
SHORTEST = 0.3
"""A shorter ring tells no fall. [s]"""
N_PARTS = 8
"""Parts of a ring in which the level of all partials is taken. [1]"""


def falls_of(rings: Sequence[Ring], frequencies: Array) -> Array:
    """Find the fall of each partial from one half of a ring to the other.

    Parameters
    ----------
    rings : sequence of Ring
        Of one rope.
    frequencies : ndarray, shape (n_partials,)
        Of its partials. [Hz]

    Returns
    -------
    ndarray, shape (n_partials,)
        ln of amplitude per second, mean of the rings; 0 where all are too short. [1/s]
    """
    falls, weights = [], []
    for ring in rings:
        rate = ring.sampling_rate
        half = min(ring.samples.size, round(LONGEST * rate)) // 2
        if 2 * half < SHORTEST * rate:
            continue
        early = amplitudes(ring.samples[:half], rate, frequencies)
        late = amplitudes(ring.samples[half : 2 * half], rate, frequencies)
        falls.append(np.log((early + 1e-30) / (late + 1e-30)) * rate / half)
        weights.append(half / rate)
    if not falls:
        return np.zeros(frequencies.size)
    return np.asarray(np.average(falls, axis=0, weights=weights), dtype=np.float64)


def peak_of(rings: Sequence[Ring], frequencies: Array) -> float:
    """Find where in a ring the partials together are loudest.

    Parameters
    ----------
    rings : sequence of Ring
        Of one rope.
    frequencies : ndarray, shape (n_partials,)
        Of its partials. [Hz]

    Returns
    -------
    float
        Part of the ring, median of the rings; 0 where all are too short. [1]
    """
    peaks = []
    for ring in rings:
        rate = ring.sampling_rate
        size = min(ring.samples.size, round(LONGEST * rate))
        length = 2 * size // (N_PARTS + 1)
        if size < SHORTEST * rate:
            continue
        starts = [k * length // 2 for k in range(N_PARTS)]
        powers = [
            np.sum(amplitudes(ring.samples[a : a + length], rate, frequencies) ** 2)
            for a in starts
        ]
        peaks.append(float(np.argmax(powers)) / (N_PARTS - 1))
    return float(np.median(peaks)) if peaks else 0.0
