"""Find the same recorded sample in several collections.

Free collections borrow from each other. Two notes are one recording if their first
periods, drawn on an axis of periods, are alike; a copy in the building half of a note
in the final half goes, so that what is held back stays unheard.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

N_PERIODS = 20
POINTS = 32
"""A period."""
ALIKE = 0.96
ALIKE_RETOLD = 0.85
"""Of one pitch within a thousandth, in two collections: a copy coded anew."""
ALIKE_WITHIN = 0.999
"""Takes of one string of one maker are alike without being copies."""


def shape_of(samples: Array, rate: float, pitch: float) -> Array:
    """First periods of a ring on an axis of periods; unit energy."""
    places = np.arange(N_PERIODS * POINTS) / POINTS * rate / pitch
    shape = np.interp(places, np.arange(len(samples)), samples)
    found: Array = shape / max(float(np.linalg.norm(shape)), 1e-12)
    return found


def find_copies(
    shapes: Sequence[Array], makers: Sequence[str], pitches: Sequence[float]
) -> tuple[int | None, ...]:
    """For each note the earlier one that it is a copy of, if any.

    Parameters
    ----------
    shapes : sequence of ndarray, each shape (n_points,)
        From shape_of.
    makers : sequence of str
        Of each note.
    pitches : sequence of float
        First modes; copies may have been retuned by up to a semitone. [Hz]
    """
    size = 2 * N_PERIODS * POINTS
    spectra = np.array([np.fft.rfft(shape, size) for shape in shapes])
    tones = np.log2(np.array(pitches))
    named = np.array(makers)
    is_copy = np.zeros(len(shapes), dtype=bool)
    found: list[int | None] = []
    for i in range(len(shapes)):
        apart = np.abs(tones[:i] - tones[i])
        near = np.nonzero((apart < 1.0 / 12.0) & ~is_copy[:i])[0]
        crossed = np.fft.irfft(spectra[near] * np.conj(spectra[i]), size)
        likeness = np.max(np.abs(crossed), axis=1, initial=0.0)
        needed = np.where(apart[near] < 1e-3 / np.log(2.0), ALIKE_RETOLD, ALIKE)
        needed[named[near] == makers[i]] = ALIKE_WITHIN
        alike = near[likeness > needed]
        is_copy[i] = len(alike) > 0
        found.append(int(alike[0]) if len(alike) else None)
    return tuple(found)
