"""Beating: partials that are two tones each, all the same share of the pitch apart."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.sound.partials import StringFit
from tension.sound.rings import RingOf
from tension.sound.spectra import Lines

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

SKIPPED = 0.15
"""Of the ring: release and reflections. [s]"""
LISTENED = 1.6
"""Of the ring: long enough for 0.6 Hz, and the partials still sound. [s]"""
PERIODS = 2.5
"""Of the spacing, that a partial is averaged over to keep its neighbours out. [1]"""
AGAIN, MOST_TIMES = 4, 40
"""Averages that overlap, and the most of them. [1]"""
HIGHEST = 220.0
"""Of the partials listened to; higher ones die soon. [Hz]"""
LEAST_LEVEL = 22.0
"""Of such a partial over noise. [dB]"""
MOST, LEAST = 10, 4
"""Partials listened to, the loudest; and fewer tell nothing. [1]"""
PLANES = np.array([0.0, 0.001, 0.002, 0.003, 0.004, 0.006])
"""Distance of two tones that one rope has, its planes, relative. [1]"""
ROPES = np.arange(0.012, 0.075, 0.002)
"""The same of two ropes, the farther ones being resolved. [1]"""
RATES = np.array([0.4, 1.0, 2.5])
"""Decays tried. [1/s]"""
ASIDE = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
"""Where the line may lie between the tones. [1]"""
STEPS = np.array([-0.5, -0.25, 0.0, 0.25, 0.5])
"""How far off it may be, in cycles over what is listened to. [1]"""
FLOOR = 0.01
"""Share of a partial that no two tones explain: glide, noise. [1]"""
GAIN = 0.8
"""ln of what planes leave over what two ropes leave, mean of the partials: one rope
has less than a half. [1]"""
AS_LOUD = 7.5
"""Difference of the two tones, median; one rope's second is 14 dB lower. [dB]"""


def beats(rings: Sequence[RingOf], lines: Lines, fit: StringFit) -> bool:
    """Tell whether each partial is two tones as of two ropes.

    Parameters
    ----------
    rings : sequence of RingOf
        Of one rope; the longest is listened to.
    lines : Lines
        Of the rings.
    fit : StringFit
        The numbering chosen.

    Returns
    -------
    bool
        True if two tones a common share of the pitch apart explain the partials much
        better than two planes of one rope do, and are about as loud.

    Notes
    -----
    Two ropes whose partials a spectrum does not resolve pass for one between them. Two
    decaying tones are fitted to each partial by least squares, their distance common to
    all. With f_n^2 = n^2 f_0^2 + n^4 (EI/m) pi^2/(4 L^4) a change of tension moves
    ln f_n by (n f_0/f_n)^2 of what it moves ln f_0.
    """
    ring = max((one.ring for one in rings), key=lambda each: each.samples.size)
    rate = ring.sampling_rate
    length = round(PERIODS / fit.spacing * rate)
    first = round(SKIPPED * rate)
    samples = ring.samples[first : first + round(LISTENED * rate) + length]
    f = lines.frequencies[fit.lines]
    level = 10.0 * np.log10(lines.levels[fit.lines])
    good = (level > LEAST_LEVEL) & (f < HIGHEST) & (lines.weights[fit.lines] > 0.5)
    chosen = np.flatnonzero(good)
    chosen = chosen[np.argsort(-level[chosen])][:MOST]
    if chosen.size < LEAST or samples.size < 3 * length:
        return False
    shares = np.concatenate([PLANES, ROPES])
    left, steps = np.empty((2, chosen.size, shares.size))
    for row, k in enumerate(chosen):
        times, wave = _followed(samples, rate, float(f[k]), length)
        moves = min(1.0, float(fit.modes[k] * fit.spacing / f[k]) ** 2)
        left[row], steps[row] = _two_tones(times, wave, shares * f[k] * moves)
    rest = np.log(left + FLOOR)
    far = PLANES.size + int(np.argmin(rest[:, PLANES.size :].sum(axis=0)))
    gain = np.min(rest[:, : PLANES.size], axis=1) - rest[:, far]
    return bool(np.mean(gain) > GAIN and np.median(steps[:, far]) < AS_LOUD)


def _followed(
    samples: Array, rate: float, frequency: float, length: int
) -> tuple[Array, Complex]:
    """Times [s] and the wave at a frequency, averaged over a length."""
    turned = samples * np.exp(
        -2j * np.pi * frequency / rate * np.arange(samples.size, dtype=np.float64)
    )
    window = np.hanning(length) / np.sum(np.hanning(length))
    hop = max(length // AGAIN, samples.size // MOST_TIMES, 1)
    starts = np.arange(0, samples.size - length, hop)
    wave = np.array([turned[k : k + length] @ window for k in starts])
    times = np.asarray((starts + 0.5 * length) / rate, dtype=np.float64)
    return times, np.asarray(wave, dtype=np.complex128)


def _two_tones(times: Array, wave: Complex, distances: Array) -> tuple[Array, Array]:
    """Share that two decaying tones leave, and their difference in level [dB]."""
    turn = 2j * np.pi * times
    falls = np.exp(-RATES[:, None] * times)
    places = np.exp(-np.outer(distances, ASIDE)[..., None] * turn)
    steps = np.exp(STEPS[:, None] / LISTENED * turn)
    away = np.exp(distances[:, None] * turn)
    # the lower tone at every place, rate and step; the higher is it times away
    bases = (falls[:, None] * steps).reshape(-1, times.size).conj().T
    lower = places.conj() * wave
    of_one = (lower @ bases).reshape(distances.size, -1)
    of_other = ((lower * away.conj()[:, None]) @ bases).reshape(distances.size, -1)
    square = np.tile(np.repeat(np.sum(falls**2, axis=1), STEPS.size), ASIDE.size)
    cross = np.repeat(away @ (falls**2).T, STEPS.size, axis=1)
    cross = np.tile(cross, (1, ASIDE.size))
    # a ridge where both tones are one
    determinant = square**2 * (1.0 + 1e-6) - np.abs(cross) ** 2
    first = (square * of_one - cross * of_other) / determinant
    second = (square * of_other - cross.conj() * of_one) / determinant
    explained = (first.conj() * of_one + second.conj() * of_other).real
    best = np.argmax(explained, axis=1)[:, None]
    power = max(float(np.vdot(wave, wave).real), 1e-30)
    levels = [
        np.abs(np.take_along_axis(tone, best, axis=1))[:, 0] + 1e-15
        for tone in (first, second)
    ]
    left = 1.0 - np.take_along_axis(explained, best, axis=1)[:, 0] / power
    return np.maximum(left, 0.0), np.abs(20.0 * np.log10(levels[1] / levels[0]))
