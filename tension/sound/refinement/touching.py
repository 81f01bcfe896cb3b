"""Touching: a rope that meets a guard while it swings wide, and then comes free."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.sound.lines.hum import amplitudes
from tension.sound.lines.spectra import Lines
from tension.sound.plucks.ring import Ring
from tension.sound.strings.string_fit import StringFit

Array = NDArray[np.float64]

FREE = (1.1, 4.0)
"""Part of a ring in which the swing has grown small. [s]"""
LOUDEST = 14
"""Partials followed into it, the loudest. [1]"""
FIRST = 0.25
"""Shortest stretch at the release in which partials are told apart. [s]"""
PERIODS = 2.5
"""That stretch in periods of the spacing. [1]"""
GROWS = -0.3
"""ln of amplitude at the release over that a second later, of partials that grow: those
of the free rope appear when it comes free. [1]"""
GROWING = 0.2
"""Share of the partials that must grow so. [1]"""


def comes_free(rings: Sequence[Ring], lines: Lines, fit: StringFit) -> bool:
    """Tell whether partials are louder a second after the release than at it.

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
