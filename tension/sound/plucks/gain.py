"""Gain: whether the recorder turns its level down when the rope is plucked."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.sound.recording import Recording

Array = NDArray[np.float64]

LOWEST = 500.0
"""Where noise is looked at: partials leave room between them there. [Hz]"""
QUANTILE = 0.25
"""Of the power of a stretch over frequency, which partials do not reach. [1]"""
BEFORE, AFTER, LATER = (-0.7, -0.1), (0.15, 0.75), (1.9, 3.4)
"""Stretches compared, from the release: quiet, loud, and nearly died away. [s]"""
FRAME = 0.1
"""Of the spectra averaged over a stretch. [s]"""
FALLS = 1.5
"""Noise that is lower by so much while the rope is loud than before and later was
turned down: a rope adds to it. Of 198 made recordings without gain control none reached
0.7 dB. [dB]"""
LEAST_POWER = 1e-11
"""Of a sample of noise: the last bit of 16, several times. [1]"""


def gain_fall(recording: Recording, starts: Sequence[float]) -> float:
    """Find by how much the noise falls when the rope is plucked.

    Parameters
    ----------
    recording : Recording
        One that could be read.
    starts : sequence of float
        Releases. [s]

    Returns
    -------
    float
        Median over the plucks, positive if a recorder turns its level down; 0 where
        nothing can be told. [dB]

    Notes
    -----
    Gain control follows the level of all that is heard: it turns the noise down with
    the rope while that is loud, and up again as it dies.
    """
    falls = []
    for k, start in enumerate(starts):
        end = starts[k + 1] if k + 1 < len(starts) else np.inf
        last = min(start + LATER[1], end - 0.1)
        spans = [
            (start + BEFORE[0], start + BEFORE[1]),
            (start + AFTER[0], start + AFTER[1]),
            (min(start + LATER[0], last - 0.6), last),
        ]
        noises = [_noise(recording, *span) for span in spans]
        before, loud, later = noises
        if min(noises) > LEAST_POWER:
            falls.append(10.0 * np.log10(min(before, later) / loud))
    return float(np.median(falls)) if falls else 0.0


def _noise(recording: Recording, begin: float, end: float) -> float:
    """Power of the noise between the partials, over a stretch; 0 outside."""
    rate = recording.sampling_rate
    length = round(FRAME * rate)
    first, last = max(0, round(begin * rate)), round(end * rate)
    part = np.asarray(recording.samples[first:last], dtype=np.float64)
    if part.size < 3 * length:
        return 0.0
    view = np.lib.stride_tricks.sliding_window_view(part, length)[:: length // 2]
    powers = np.abs(np.fft.rfft(view * np.hanning(length), axis=1)) ** 2
    grid = np.arange(powers.shape[1]) * rate / length
    band = (grid > LOWEST) & (grid < 0.4 * rate)
    if np.count_nonzero(band) < 10:
        return 0.0
    mean = np.mean(powers[:, band], axis=0) / length
    return float(np.quantile(mean, QUANTILE))
