"""What else sounds: other pitches in parts of a recording, other strings in lines."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.physics.partials import mode_frequencies
from tension.sound.lines.spectra import HIGHEST, Lines, believed, find_lines
from tension.sound.strings.comb import Combs, find_combs
from tension.sound.strings.mode_assignment import fit_combs, weigh_combs
from tension.sound.strings.string_fit import StringFit

PART, PART_PERIODS = 0.6, 5.0
"""Parts that a recording is looked at in: in seconds, and in periods. [s, 1]"""
LOUD = 0.03
"""Power of a loud part over that of the loudest. [1]"""
MOST_PARTS, MOST_LINES = 16, 40
"""Looked at, and lines in each, the highest. [1]"""
PITCH_STEP = 0.008
"""Of the logarithm of the pitches tried in a part. [1]"""
OWN_PITCHES = np.exp(np.arange(-0.012, 0.0121, 0.002))
"""Of its own pitch, glide and planes included, over it. [1]"""
SIMPLE_RATIOS, SIMPLE = np.array([0.5, 2.0 / 3.0, 1.0, 1.5, 2.0]), 0.02
"""Pitches that share partials with it tell nothing within this of ln. [1]"""
LOWEST_LINE = 8.0
"""As in the search for candidates. [Hz]"""
NEAR, BESIDE = 0.004, 0.02
"""A line so near a partial is its: relative, and in spacings. [1]"""


def elsewhere_of(
    whole: Sequence[NDArray[np.float32]], rate: float, fit: StringFit
) -> float:
    """Hold a string against each loud part of the recordings.

    Parameters
    ----------
    whole : sequence of ndarray, shape (n_samples,)
        Recordings of this rope alone. [1]
    rate : float
        Sampling rate. [Hz]
    fit : StringFit
        The string chosen.

    Returns
    -------
    float
        ln of one and the log-likelihood of the best string of another pitch over its
        own, in the part where that is most. [1]
    """
    length = round(max(PART, PART_PERIODS / fit.fundamental_frequency) * rate)
    parts = [
        np.asarray(samples[first : first + length], dtype=np.float64)
        for samples in whole
        for first in range(0, samples.size - length + 1, length)
    ]
    powers = np.array([float(np.mean(part**2)) for part in parts])
    loud = np.flatnonzero(powers > LOUD * powers.max(initial=0.0))[:MOST_PARTS]
    others = _other_pitches(fit)
    count = np.ceil(HIGHEST / others.spacings.min()) + 1.0
    table = mode_frequencies(
        np.arange(count),
        others.spacings[:, None],
        others.dispersions[:, None],
        fit.n_clamped_ends,
    )
    ahead = [0.0]
    for k in loud:
        lines = find_lines([parts[k]], rate, LOWEST_LINE, most=MOST_LINES)
        if lines.frequencies.size < 2:
            continue
        weighed = weigh_combs(lines, others, fit.n_clamped_ends, table)
        own, other = np.split(weighed.log_likelihoods, [OWN_PITCHES.size])
        ahead.append(float(other.max() - own.max()))
    return float(np.log1p(max(ahead)))


def _other_pitches(fit: StringFit) -> Combs:
    """Strings of about its own pitch, and then those of all others nearby."""
    ratios = np.exp(np.arange(-np.log(2.2), np.log(2.2), PITCH_STEP))
    away = np.abs(np.log(ratios[:, None] / SIMPLE_RATIOS)).min(axis=1)
    ratios = np.concatenate([OWN_PITCHES, ratios[away > SIMPLE]])
    return Combs(
        spacings=fit.spacing * ratios,
        dispersions=np.full(ratios.size, fit.dispersion),
    )


def second_string(lines: Lines, fit: StringFit) -> float:
    """Look for another string among the lines that are none of a string's partials.

    Returns
    -------
    float
        ln of its log-likelihood, 0 if there is none. [1]
    """
    place = fit.places(lines.frequencies)
    off = np.abs(place - np.maximum(np.rint(place), 1.0))
    rest = (off * fit.spacing < NEAR * lines.frequencies) | (off < BESIDE)
    rest[fit.lines] = True
    left = believed(lines, np.where(rest, 0.0, lines.weights))
    lowest, highest = 0.5 * fit.fundamental_frequency, 2.0 * fit.fundamental_frequency
    combs = find_combs(
        left, lowest, highest, fit.dispersion * 1.5 + 1e-6, fit.n_clamped_ends
    )
    if not combs.spacings.size:
        return 0.0
    fitted = fit_combs(left, combs, fit.n_clamped_ends, gate=0.07)
    found = weigh_combs(left, fitted, fit.n_clamped_ends)
    return float(np.log(found.log_likelihoods.max(initial=1.0)))
