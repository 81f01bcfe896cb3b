"""Statistics of a chosen string: how it explains what is heard, and how that rings."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from tension.sound.lines.hum import amplitudes
from tension.sound.lines.spectra import Lines, believed, envelope, find_lines
from tension.sound.plucks.ring import Ring
from tension.sound.strings.comb import Combs, find_combs
from tension.sound.strings.mode_assignment import fit_combs, weigh_combs
from tension.sound.strings.string_fit import StringFit, explained_share, fit_string

Array = NDArray[np.float64]

LONGEST = 3.0
"""Looked at of a ring: what is left later is the lowest partials. [s]"""
SHORTEST = 0.3
"""A shorter ring tells no fall. [s]"""
PART, PART_PERIODS = 0.6, 5.0
"""Parts that a recording is looked at in: in seconds, and in periods. [s, 1]"""
LOUD = 0.03
"""Power of a loud part over that of the loudest. [1]"""
MOST_PARTS, MOST_LINES = 16, 40
"""Looked at, and lines in each, the highest. [1]"""
PITCH_STEP = 0.004
"""Of the logarithm of the pitches tried in a part. [1]"""
OWN_PITCHES = np.exp(np.arange(-0.012, 0.0121, 0.002))
"""Of its own pitch, glide and planes included, over it. [1]"""
SIMPLE_RATIOS, SIMPLE = np.array([0.5, 2.0 / 3.0, 1.0, 1.5, 2.0]), 0.02
"""Pitches that share partials with it tell nothing within this of ln. [1]"""
N_PARTS = 8
"""Parts of a ring in which the level of all partials is taken. [1]"""
MANY = 25
"""Partials from which exact multiples are told from a stiff string. [1]"""
USUAL_STRETCH = -3.0
"""ln of the rise by stiffness of fewer. [1]"""
MOST_RINGS = 4
"""Rings compared with one another, the loudest. [1]"""
UNCHANGED = 0.03
"""Fall of a tone that keeps its level. [1/s]"""
LEAST_FALL = 0.01
"""Added to the standard error of the falls. [1/s]"""
EXPECTED = 12.0
"""Envelope over noise of places where a partial should be seen. [dB]"""
LOWEST_LINE = 8.0
"""As in the search for candidates. [Hz]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Statistics:
    """What a chosen string shows; each is a plain number.

    Attributes
    ----------
    evidence : float
        ln of the log-likelihood ratio against stray lines only. [1]
    margin : float
        Log-likelihood over that of the next rival, over the first. [1]
    explained : float
        Share of the strength of all lines that are partials of it. [1]
    power : float
        Share of their power, ln of the rest. [1]
    filled : float
        Share of the places under the envelope that hold a partial. [1]
    scatter : float
        ln of the scatter of the partials about the string. [1]
    fall : float
        Median fall of the partials, ln of amplitude per second. [1/s]
    fastest : float
        Fall that a fifth of the partials exceed. [1/s]
    rising : float
        Fall that a fifth of the partials are under. [1/s]
    falling : float
        Mean fall of the partials over its standard error among them. [1]
    dulls : float
        ln of power of the upper over the lower half of the partials, at first over
        later. [1]
    sorted_falls : float
        How much faster the upper partials fall, per octave. [1/s]
    stretch : float
        ln of the relative rise of the highest partial by stiffness. [1]
    least_ring : float
        Least share explained in a single ring. [1]
    apart : float
        ln of the largest relative distance of pitch between rings. [1]
    attack : float
        ln of the power of the first part of the rings over that of the last. [1]
    rise : float
        Largest rise of level at a release. [1]
    peak : float
        Part of the ring after which the partials together are loudest. [1]
    wobble : float
        Scatter of ln power of the partials together about a straight fall. [1]
    second : float
        ln of the evidence of another string among the lines that are none of its
        partials. [1]
    mostly : float
        Mean share of the power, in the loud parts of the recordings, that its partials
        hold. [1]
    elsewhere : float
        ln of the log-likelihood by which a string of another pitch is likelier than it
        in one of those parts, the largest. [1]
    exact : float
        ln of the rise of the highest partial by stiffness, where many are heard. [1]
    steady : float
        Share of the partials that keep their level. [1]
    """

    evidence: float
    margin: float
    explained: float
    power: float
    filled: float
    scatter: float
    fall: float
    fastest: float
    rising: float
    falling: float
    dulls: float
    sorted_falls: float
    stretch: float
    least_ring: float
    apart: float
    attack: float
    rise: float
    peak: float
    wobble: float
    second: float
    mostly: float
    elsewhere: float
    exact: float
    steady: float

    def values(self) -> Array:
        """Give all in the order of the fields.

        Returns
        -------
        ndarray, shape (n_statistics,)
            Plain numbers.
        """
        return np.array([getattr(self, each.name) for each in fields(self)])


def describe(
    rings: Sequence[Ring],
    whole: Sequence[NDArray[np.float32]],
    lines: Lines,
    fit: StringFit,
    log_likelihood: float,
    next_log_likelihood: float,
) -> Statistics:
    """Describe a chosen string.

    Parameters
    ----------
    rings : sequence of Ring
        Those listened to.
    whole : sequence of ndarray, shape (n_samples,)
        Recordings of this rope alone. [1]
    lines : Lines
        Of the rings.
    fit : StringFit
        The string chosen.
    log_likelihood, next_log_likelihood : float
        Of it, and of the best candidate of another pitch. [1]

    Returns
    -------
    Statistics
        Plain numbers.
    """
    frequencies = lines.frequencies[fit.lines]
    falls = _falls(rings, frequencies)
    octaves = np.log2(frequencies)
    octaves = octaves - octaves.mean()
    own = np.zeros(lines.frequencies.size, dtype=bool)
    place = fit.places(lines.frequencies)
    off = np.abs(place - np.maximum(np.rint(place), 1.0))
    own = (off * fit.spacing < 0.004 * lines.frequencies) | (off < 0.02)
    heard = lines.weights > 0.5
    strange = float(np.sum(lines.levels[heard & ~own]))
    total = float(np.sum(lines.levels[heard])) + 1e-9
    shares, pitches = _ring_by_ring(rings, fit)
    highest = float(fit.modes.max())
    held, ahead = _part_by_part(whole, rings[0].sampling_rate, fit)
    peak, wobble = _course(rings, frequencies)
    return Statistics(
        evidence=float(np.log(max(log_likelihood, 1.0))),
        margin=float((log_likelihood - next_log_likelihood) / max(log_likelihood, 1.0)),
        explained=explained_share(lines, fit),
        power=float(np.log(strange / total + 1e-4)),
        filled=_filled(lines, fit),
        scatter=float(np.log(fit.scatter)),
        fall=float(np.median(falls)),
        fastest=float(np.quantile(falls, 0.8)),
        rising=float(np.quantile(falls, 0.2)),
        falling=float(falls.mean() / (falls.std() / np.sqrt(falls.size) + LEAST_FALL)),
        dulls=_dulls(rings, frequencies),
        sorted_falls=float(octaves @ falls / max(float(octaves @ octaves), 1e-9)),
        stretch=float(np.log(0.5 * fit.inharmonicity * highest**2 + 1e-5)),
        least_ring=min(shares, default=1.0),
        apart=float(np.log(np.ptp(pitches) + 1e-4)) if len(pitches) > 1 else -9.2,
        attack=_attack(rings),
        rise=max(ring.rise for ring in rings),
        peak=peak,
        wobble=wobble,
        mostly=float(np.mean(held)) if held else 1.0,
        elsewhere=float(np.log1p(max((0.0, *ahead)))),
        second=_second(lines, fit, own),
        exact=(
            float(np.log(0.5 * fit.inharmonicity * highest**2 + 1e-5))
            if fit.modes.size >= MANY
            else USUAL_STRETCH
        ),
        steady=float(np.mean(np.abs(falls) < UNCHANGED)),
    )


def _falls(rings: Sequence[Ring], frequencies: Array) -> Array:
    """Fall of each partial from one half of a ring to the other, mean of the rings."""
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


def _course(rings: Sequence[Ring], frequencies: Array) -> tuple[float, float]:
    """Where the partials together are loudest in a ring, and how they waver."""
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


def _part_by_part(
    whole: Sequence[NDArray[np.float32]], rate: float, fit: StringFit
) -> tuple[list[float], list[float]]:
    """Share of power that partials hold, lead of another pitch, in each loud part."""
    length = round(max(PART, PART_PERIODS / fit.fundamental_frequency) * rate)
    parts = [
        np.asarray(samples[first : first + length], dtype=np.float64)
        for samples in whole
        for first in range(0, samples.size - length + 1, length)
    ]
    powers = np.array([float(np.mean(part**2)) for part in parts])
    loud = np.flatnonzero(powers > LOUD * powers.max(initial=0.0))[:MOST_PARTS]
    others = _other_pitches(fit)
    shares, ahead = [], []
    for k in loud:
        lines = find_lines([parts[k]], rate, LOWEST_LINE, most=MOST_LINES)
        if lines.frequencies.size < 2:
            continue
        place = fit.places(lines.frequencies)
        off = np.abs(place - np.maximum(np.rint(place), 1.0)) * fit.spacing
        own = off < 0.004 * lines.frequencies + 0.5 * rate / length
        shares.append(float(lines.levels[own].sum() / lines.levels.sum()))
        weighed = [
            one.log_likelihood for one in weigh_combs(lines, others, fit.n_clamped_ends)
        ]
        n_own = OWN_PITCHES.size
        ahead.append(max(weighed[n_own:]) - max(weighed[:n_own]))
    return shares, ahead


def _other_pitches(fit: StringFit) -> Combs:
    """Strings of about its own pitch, and then those of all others nearby."""
    ratios = np.exp(np.arange(-np.log(2.2), np.log(2.2), PITCH_STEP))
    away = np.abs(np.log(ratios[:, None] / SIMPLE_RATIOS)).min(axis=1)
    ratios = np.concatenate([OWN_PITCHES, ratios[away > SIMPLE]])
    return Combs(
        spacings=fit.spacing * ratios,
        dispersions=np.full(ratios.size, fit.dispersion),
    )


def _second(lines: Lines, fit: StringFit, own: NDArray[np.bool_]) -> float:
    """Ln of the evidence of another string among the lines that are not its own."""
    rest = own.copy()
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
    return float(np.log(max((1.0, *(one.log_likelihood for one in found)))))


def _dulls(rings: Sequence[Ring], frequencies: Array) -> float:
    """How much duller the partials sound in the second half of a ring; median."""
    upper = frequencies > np.median(frequencies)
    found = []
    for ring in rings:
        rate = ring.sampling_rate
        half = min(ring.samples.size, round(LONGEST * rate)) // 2
        if 2 * half < SHORTEST * rate or not upper.any():
            continue
        early, late = (
            np.square(amplitudes(part, rate, frequencies))
            for part in (ring.samples[:half], ring.samples[half : 2 * half])
        )
        bright = [
            np.log((one[upper].sum() + 1e-30) / (one[~upper].sum() + 1e-30))
            for one in (early, late)
        ]
        found.append(float(bright[0] - bright[1]))
    return float(np.median(found)) if found else 0.0


def _filled(lines: Lines, fit: StringFit) -> float:
    """Share of the expected places that hold a partial."""
    modes = np.arange(1, int(fit.modes.max()) + 1)
    known = np.interp(modes, fit.modes, lines.frequencies[fit.lines])
    expected = envelope(lines, known) > EXPECTED
    expected |= np.isin(modes, fit.modes)
    return float(fit.modes.size / max(np.count_nonzero(expected), 1))


def _ring_by_ring(
    rings: Sequence[Ring], fit: StringFit
) -> tuple[list[float], list[float]]:
    """Share that the string explains of each ring, and ln of the pitch of each."""
    if len(rings) < 2:
        return [], []
    loudest = sorted(rings, key=lambda one: -float(np.mean(one.samples**2)))
    shares, pitches = [], []
    for ring in loudest[:MOST_RINGS]:
        lines = find_lines([ring.samples], ring.sampling_rate, LOWEST_LINE)
        if lines.frequencies.size < 2:
            continue
        shares.append(explained_share(lines, fit))
        own = fit_string(lines, fit.spacing, fit.dispersion, fit.n_clamped_ends)
        if own is not None:
            pitches.append(float(np.log(own.fundamental_frequency)))
    return shares, pitches


def _attack(rings: Sequence[Ring]) -> float:
    """Ln of the power of the first fifth over the last fifth, median of the rings."""
    found = []
    for ring in rings:
        fifth = min(ring.samples.size, round(LONGEST * ring.sampling_rate)) // 5
        if fifth > 3:
            first = float(np.mean(ring.samples[:fifth] ** 2))
            last = float(np.mean(ring.samples[4 * fifth : 5 * fifth] ** 2))
            found.append(np.log((first + 1e-20) / (last + 1e-20)))
    return float(np.median(found)) if found else 0.0
