"""Statistics of a chosen string: how it explains what is heard, and how it decays."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.decays import Decay, FoundRope
from tension.sound.hearing import Array
from tension.sound.mode_assignment import find_series, fit_series, weigh_series
from tension.sound.spectra import HIGHEST, amplitudes, believed, find_lines
from tension.sound.string_fit import PartialSeries, StringFit, explained_share

LONGEST, SHORTEST = 3.0, 0.3
"""Looked at of a ring: what is left later is the lowest partials; a shorter ring tells
no fall. [s]"""
N_PARTS = 8  # parts of a ring in which the level of all partials is taken [1]
PART, PART_PERIODS = 0.6, 5.0
"""Parts that a recording is looked at in: in seconds, and in periods. [s, 1]"""
LOUD = 0.03  # power of a loud part over that of the loudest [1]
MOST_PARTS, MOST_LINES = 16, 40  # looked at, and lines in each, the highest [1]
FURTHEST, PITCH_STEP = 2.2, 0.008
"""Pitches tried in a part: so many times higher and lower, steps of ln. [1]"""
OWN_PITCHES = np.exp(np.arange(-0.012, 0.0121, 0.002))
"""Of its own pitch, glide and planes included, over it. [1]"""
SIMPLE_RATIOS, SIMPLE = np.array([0.5, 2.0 / 3.0, 1.0, 1.5, 2.0]), 0.02
"""Pitches that share partials with it tell nothing within this of ln. [1]"""
UNCHANGED = 0.03  # fall of a tone that keeps its level [1/s]


@dataclass(frozen=True, kw_only=True, slots=True)
class Statistics:
    """What a chosen string shows; each is a plain number."""

    # ln of the log-likelihood ratio against stray lines only [1]
    log_likelihood_ratio: float
    margin: float  # log-likelihood over that of the next rival, over the first [1]
    explained: float  # share of the strength of all lines that are partials of it [1]
    fastest: float  # fall that a fifth of the partials exceed [1/s]
    rising: float  # fall that a fifth of the partials are under [1/s]
    stretch: float  # ln of the relative rise of the highest partial by stiffness [1]
    peak: float  # part of the ring after which the partials together are loudest [1]
    # ln of the evidence of another string in lines that are none of its partials [1]
    second: float
    # ln of the log-likelihood by which a string of another pitch is likelier than it in
    # one of those parts, the largest [1]
    elsewhere: float
    steady: float  # share of the partials that keep their level [1]


def describe_string(
    rope: FoundRope, fit: StringFit, log_likelihood: float, next_log_likelihood: float
) -> Statistics:
    """Describe a chosen string.

    `log_likelihood`, `next_log_likelihood` [1]: of it, and of the best candidate of
    another pitch.
    """
    lines = rope.lines
    assert lines is not None  # noqa: S101  (a string has lines)
    is_own = fit.has_partials_at(lines.frequencies)
    is_own[fit.lines] = True
    rest = believed(lines, np.where(is_own, 0.0, lines.weights))
    lowest, highest = 0.5 * fit.fundamental_frequency, 2.0 * fit.fundamental_frequency
    most = fit.dispersion * 1.5 + 1e-6
    others = find_series(rest, lowest, highest, most, fit.n_clamped_ends)
    second = 1.0
    if others.string_fundamentals.size:
        found = weigh_series(rest, fit_series(rest, others, gate=0.07))
        second = found.log_likelihoods.max(initial=1.0)
    falls, peak = _course(rope.decays, lines.frequencies[fit.lines])
    return Statistics(
        log_likelihood_ratio=float(np.log(max(log_likelihood, 1.0))),
        margin=float((log_likelihood - next_log_likelihood) / max(log_likelihood, 1.0)),
        explained=explained_share(lines, fit),
        fastest=float(np.quantile(falls, 0.8)),
        rising=float(np.quantile(falls, 0.2)),
        stretch=float(np.log(0.5 * fit.inharmonicity * fit.modes.max() ** 2.0 + 1e-5)),
        peak=peak,
        second=float(np.log(second)),
        elsewhere=_elsewhere(rope.whole, rope.decays[0].sampling_rate, fit),
        steady=float(np.mean(np.abs(falls) < UNCHANGED)),
    )


def _course(rings: Sequence[Decay], frequencies: Array) -> tuple[Array, float]:
    """How far partials fall from one half of a ring to the other, and their peak.

    Gives shape (n_partials,), ln of amplitude per second, mean of the rings [1/s]; and
    the part of the ring where all together are loudest, median of the rings [1]. 0
    where all rings are too short.
    """
    falls, weights, peaks = [], [], []
    for ring in rings:
        rate = ring.sampling_rate
        cut = ring.samples[: round(LONGEST * rate)]
        if cut.size < SHORTEST * rate:
            continue
        half, length = cut.size // 2, 2 * cut.size // (N_PARTS + 1)
        early = amplitudes(cut[:half], rate, frequencies)
        late = amplitudes(cut[half : 2 * half], rate, frequencies)
        falls.append(np.log((early + 1e-30) / (late + 1e-30)) * rate / half)
        weights.append(half / rate)
        starts = [k * length // 2 for k in range(N_PARTS)]
        parts = [amplitudes(cut[a : a + length], rate, frequencies) for a in starts]
        peaks.append(float(np.argmax(np.sum(np.square(parts), axis=1))) / (N_PARTS - 1))
    if not falls:
        return np.zeros(frequencies.size), 0.0
    fall = np.average(falls, axis=0, weights=weights)
    return np.asarray(fall, dtype=np.float64), float(np.median(peaks))


def _elsewhere(
    whole: Sequence[NDArray[np.float32]], rate: float, fit: StringFit
) -> float:
    """Hold a string against each loud part of the recordings (n_samples,) [1].

    Gives ln of one and the log-likelihood of the best string of another pitch over its
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
    ahead = [0.0]
    held = [parts[k] for k in loud]
    for values in pitch_likelihoods(held, rate, fit, FURTHEST, PITCH_STEP)[1]:
        own, other = np.split(values, [OWN_PITCHES.size])
        ahead.append(float(other.max() - own.max()))
    return float(np.log1p(max(ahead)))


def pitch_likelihoods(
    parts: Sequence[NDArray[np.float64]],
    rate: float,
    fit: StringFit,
    furthest: float,
    step: float,
) -> tuple[Array, list[Array]]:
    """Hold a string, and others of all pitches nearby, against parts of recordings.

    `parts` (n_samples,) [1]; `furthest`: so many times higher and lower; `step`: of ln
    of the pitch. [1]

    Gives the pitches tried over its own, (n_pitches,), `OWN_PITCHES` first [1]; and for
    each part the log-likelihood ratios against stray lines, (n_pitches,), all 0 where
    it has fewer than two lines. [1]
    """
    ratios = np.exp(np.arange(-np.log(furthest), np.log(furthest), step))
    away = np.abs(np.log(ratios[:, None] / SIMPLE_RATIOS)).min(axis=1)
    ratios = np.concatenate([OWN_PITCHES, ratios[away > SIMPLE]])
    pitches = PartialSeries(
        string_fundamentals=fit.string_fundamental * ratios,
        dispersions=np.full(ratios.size, fit.dispersion),
        n_clamped_ends=fit.n_clamped_ends,
    )
    count = np.ceil(HIGHEST / pitches.string_fundamentals.min()) + 1.0
    table = pitches.partials(np.arange(count))
    told = []
    for part in parts:
        lines = find_lines([part], rate, most=MOST_LINES)
        told.append(np.zeros(ratios.size))
        if lines.frequencies.size >= 2:
            told[-1] = weigh_series(lines, pitches, table).log_likelihoods
    return ratios, told
