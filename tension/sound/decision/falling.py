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


def course_of(rings: Sequence[Ring], frequencies: Array) -> tuple[float, float]:
    """Find where the partials together are loudest in a ring, and how they waver.

    Parameters
    ----------
    rings : sequence of Ring
        Of one rope.
    frequencies : ndarray, shape (n_partials,)
        Of its partials. [Hz]

    Returns
    -------
    peak : float
        Part of the ring at which they are loudest, median of the rings. [1]
    wobble : float
        Scatter of ln power about a straight fall. [1]
    """
    peaks, wobbles = [], []
    for ring in rings:
        rate = ring.sampling_rate
        size = min(ring.samples.size, round(LONGEST * rate))
        length = 2 * size // (N_PARTS + 1)
        if size < SHORTEST * rate:
            continue
        starts = [k * length // 2 for k in range(N_PARTS)]
        levels = np.array(
            [
                np.log(
                    np.sum(
                        amplitudes(ring.samples[a : a + length], rate, frequencies) ** 2
                    )
                    + 1e-30
                )
                for a in starts
            ]
        )
        peaks.append(float(np.argmax(levels)) / (N_PARTS - 1))
        part = np.arange(N_PARTS)
        wobbles.append(
            float(np.std(levels - np.polyval(np.polyfit(part, levels, 1), part)))
        )
    return (
        float(np.median(peaks)) if peaks else 0.0,
        float(np.median(wobbles)) if wobbles else 0.0,
    )


def attack_of(rings: Sequence[Ring]) -> float:
    """Compare the power of the first fifth of the rings with that of the last.

    Parameters
    ----------
    rings : sequence of Ring
        Of one rope.

    Returns
    -------
    float
        ln of the ratio, median of the rings. [1]
    """
    found = []
    for ring in rings:
        fifth = min(ring.samples.size, round(LONGEST * ring.sampling_rate)) // 5
        if fifth > 3:
            first = float(np.mean(ring.samples[:fifth] ** 2))
            last = float(np.mean(ring.samples[4 * fifth : 5 * fifth] ** 2))
            found.append(np.log((first + 1e-20) / (last + 1e-20)))
    return float(np.median(found)) if found else 0.0
