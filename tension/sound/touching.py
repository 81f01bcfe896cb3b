"""Touching: a rope that meets a guard while it swings wide, and then comes free."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.sound.hum import amplitudes
from tension.sound.partials import StringFit
from tension.sound.rings import RingOf
from tension.sound.spectra import Lines, noise_floor

Array = NDArray[np.float64]

FREE = (1.1, 4.0)
"""Part of a ring in which the swing has grown small. [s]"""
SHORTEST = 0.8
"""Of that part. [s]"""
LOUDEST = 14
"""Partials followed into it, the loudest. [1]"""
HIGH = 50.0
"""Power over noise of a tone that counts there. [1]"""
GONE = 10.0
"""Power of another tone over that of a partial that is gone: of two ropes plucked at
once both remain. [1]"""
HALF = 0.45
"""Of the spacing, searched on either side of a partial. [1]"""
NEAR = 0.006
"""Reach of a partial itself: planes and glide, relative. [1]"""
FIRST = 0.25
"""Shortest stretch at the release in which partials are told apart. [s]"""
PERIODS = 2.5
"""That stretch in periods of the spacing. [1]"""
GROWS = -0.3
"""ln of amplitude at the release over that a second later, of partials that grow: those
of the free rope appear when it comes free. [1]"""
GROWING = 0.2
"""Share of the partials that must grow so. [1]"""


def pitch_changes(rings: Sequence[RingOf], lines: Lines, fit: StringFit) -> bool:
    """Tell whether other tones than the partials are left when the swing has died.

    Parameters
    ----------
    rings : sequence of RingOf
        Of one rope.
    lines : Lines
        Of the rings.
    fit : StringFit
        Numbering chosen from the whole rings.

    Returns
    -------
    bool
        True if beside most loud partials another tone is louder late in the ring.

    Notes
    -----
    A guard takes 3 to 15 % of the span while the rope swings wide: its partials die as
    the rope comes free, and those of the whole span remain.
    """
    lost, kept = 0, 0
    for one in rings:
        ring = one.ring
        first, last = (round(moment * ring.sampling_rate) for moment in FREE)
        late = ring.samples[first:last]
        if late.size >= SHORTEST * ring.sampling_rate:
            others, own = _left(late, ring.sampling_rate, lines, fit)
            lost, kept = lost + others, kept + own
    return lost > kept


def _left(late: Array, rate: float, lines: Lines, fit: StringFit) -> tuple[int, int]:
    """Partials beside which another tone is louder, and those that are louder."""
    n_transform = 1 << int(np.ceil(np.log2(4 * late.size)))
    powers = np.abs(np.fft.rfft(late * np.hanning(late.size), n_transform)) ** 2
    spacing = rate / n_transform
    levels = powers / np.maximum(noise_floor(powers, spacing), 1e-30)
    grid = spacing * np.arange(levels.size)
    cell = rate / late.size
    for hum in lines.frequencies[lines.weights < 0.5]:
        levels[np.abs(grid - hum) < max(3.0 * cell, 0.004 * hum)] = 0.0
    lost, kept = 0, 0
    for k in np.argsort(-lines.levels[fit.lines])[:LOUDEST]:
        f = lines.frequencies[fit.lines[k]]
        off = np.abs(grid - f)
        reach = max(2.0 * cell, NEAR * f)
        own = float(np.max(levels[off < reach], initial=0.0))
        beside = (off < HALF * fit.spacing) & (off > 1.5 * reach)
        other = float(np.max(levels[beside], initial=0.0))
        if max(own, other) > HIGH:
            lost, kept = lost + (other > GONE * own), kept + (other <= own)
    return lost, kept


def comes_free(rings: Sequence[RingOf], lines: Lines, fit: StringFit) -> bool:
    """Tell whether partials are louder a second after the release than at it.

    Parameters
    ----------
    rings : sequence of RingOf
        Of one rope.
    lines : Lines
        Of the rings.
    fit : StringFit
        Numbering chosen.

    Returns
    -------
    bool
        True if a fifth of the loudest partials grow in every ring.
    """
    loudest = np.argsort(-lines.levels[fit.lines])[:LOUDEST]
    frequencies = lines.frequencies[fit.lines[loudest]]
    stretch = max(FIRST, PERIODS / fit.spacing)
    grows = []
    for one in rings:
        rate = one.ring.sampling_rate
        length, later = round(stretch * rate), round(FREE[0] * rate)
        if one.ring.samples.size < later + length:
            continue
        early, late = (
            amplitudes(one.ring.samples[first : first + length], rate, frequencies)[0]
            for first in (0, later)
        )
        falls = np.log((early + 1e-30) / (late + 1e-30))
        grows.append(float(np.quantile(falls, GROWING)) < GROWS)
    return bool(grows) and all(grows)
