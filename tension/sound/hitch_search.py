"""Where the hitch end may swing: strings and ends that many lines agree with."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.physics.partials import mode_positions
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.hitch_fit import (
    counted,
    fit_with_hitch,
    refine_ends,
    weigh_ends,
)
from tension.sound.hitch_resonance import (
    NOD,
    RESONANCE,
    SQRT_DISPERSION,
    STRING_FUNDAMENTAL,
    Expected,
    HitchResonance,
    end_turn,
    expected_ends,
    told_ends,
)
from tension.sound.recording import Array
from tension.sound.spectra import Lines
from tension.sound.string_fit import LARGEST_SQRT_DISPERSION, Candidate, StringFit

Numbers = list[int]

SPEEDS = (35.0, 180.0)
"""Of waves on ropes that carry a sixth to four times their usual load. [m/s]"""
LOWEST_STRING_FUNDAMENTAL = 3.0
"""Looked for without a length. [Hz]"""
BLOCK = 8192
"""Strings weighed at a time, for the memory's sake."""
TOP = 350.0
"""Lines looked at first: above it stiffness must be known well. [Hz]"""
MOST_PLACES = 80.0
"""Partials looked at first: of a long rope more are of no use, and cost much."""
FIRST_GATE = 0.05
"""Starts lie so near, in places: wider ones are drawn aside by stray lines. [1]"""
MOST_LINES = 60
MOST_SCORES = 3000
"""Pairs of string and end among which starts are chosen."""
MOST_STARTS = 40
"""Starts refined."""
MOST_KEPT = 4
"""Strings tried with several nodding resonances."""
RESONANCES = np.geomspace(14.0, 190.0, 36)
"""Of the socket to and fro: from a thin rod of 0.5 m to one of 0.1 m. [Hz]"""
NODS = (110.0, 160.0, 230.0, 330.0)
"""Of the nodding socket. [Hz]"""
WIDTH_STEPS = np.array([-1.2, -0.4, 0.4, 1.2])
"""Widths tried, in standard deviations of the prior. [1]"""
SLACK = 0.06
"""How far ends and EI/m of one set differ, one standard deviation of ln. [1]"""
TOLD_RANGE = 0.25
"""How far the wave speed of a rope may lie from that of the others, of its log. [1]"""


def search_hitches(
    lines: Lines,
    span: RopeSpan,
    prior: HearingPrior,
    known: Sequence[StringFit],
) -> tuple[Candidate, ...]:
    """Find strings on swinging ends that agree with lines.

    `known`: strings found with the socket at rest: upper partials may be right.
    """
    expected = expected_ends(span, prior)
    if span.free_length is None:
        low, high = LOWEST_STRING_FUNDAMENTAL, prior.highest_frequency
    else:
        low, high = (speed / (2.0 * span.free_length) for speed in SPEEDS)
    top = min(TOP, MOST_PLACES * float(np.sqrt(low * high)))
    strings = np.concatenate(
        [_strings(low, high, top, expected), _strings_beside(known)], axis=0
    )
    ends = _starts(lines, strings, top, expected, span.n_clamped_ends)
    found = _settle(lines, ends, expected, span.n_clamped_ends, gate=FIRST_GATE)
    best = _distinct(*found)[:MOST_KEPT]
    again = np.repeat(found[0][best], len(NODS), axis=0)
    again[:, NOD] = np.tile(np.log(NODS), len(best))
    more = _settle(lines, again, expected, span.n_clamped_ends, gate=0.1)
    ends = np.concatenate([more[0], found[0][best]])
    logs = np.concatenate([more[1], found[1][best]])
    return _readings(lines, ends, logs, expected, span.n_clamped_ends)


def search_told(
    lines: Lines,
    span: RopeSpan,
    speed: float,
    rigidity: float,
    hitches: Sequence[HitchResonance],
) -> tuple[Candidate, ...]:
    """Find what agrees with lines if the rope is like others of its set.

    `speed` [m/s]: wave speed of the others; `rigidity` [m^4/s^2]: EI/m of the others.
    """
    if span.free_length is None:
        return ()
    middle = np.log(speed / (2.0 * span.free_length))
    result: list[Candidate] = []
    for hitch in hitches:
        expected = told_ends(span, rigidity, hitch, SLACK)
        string_fundamental = middle + np.arange(-TOLD_RANGE, TOLD_RANGE, 0.004)
        ends = np.tile(
            np.concatenate([[0.0], expected.means]), (string_fundamental.size, 1)
        )
        ends[:, STRING_FUNDAMENTAL], ends[:, SQRT_DISPERSION] = (
            string_fundamental,
            expected.sqrt_dispersion(string_fundamental),
        )
        place = counted(lines.frequencies, ends, span.n_clamped_ends)
        score = np.cos(2.0 * np.pi * place) @ _strength(lines)
        ends = ends[np.argsort(-score)[: MOST_STARTS // 4]]
        found = _settle(lines, ends, expected, span.n_clamped_ends, gate=0.15)
        logs = found[1] - np.log(len(hitches))
        result += _readings(lines, found[0], logs, expected, span.n_clamped_ends)
    result.sort(key=lambda one: -one.log_likelihood)
    return tuple(result)


def _strength(lines: Lines) -> Array:
    """What each line counts."""
    strength: Array = lines.weights * np.log1p(0.02 / lines.densities)
    return strength


def _strings(low: float, high: float, top: float, expected: Expected) -> Array:
    """Logarithms of spacing and bending to try, shape (n_strings, 2)."""
    string_fundamentals = []
    string_fundamental = low
    while string_fundamental < high:
        string_fundamentals.append(string_fundamental)
        string_fundamental *= 1.0 + min(0.2 * string_fundamental / top, 0.01)
    if not string_fundamentals:
        return np.empty((0, 2))
    grid = np.array(string_fundamentals)
    usual, width = expected.sqrt_dispersion(np.log(grid)), expected.widths[0]
    largest = np.exp(2.0 * (usual + 1.7 * width))
    largest = np.minimum(largest, LARGEST_SQRT_DISPERSION**2)
    # a place at half the band and a little moves by a third from one to the next
    step = 0.7 * grid / (0.57 * top) ** 3
    steps = [np.exp(2.0 * (usual - 3.0 * width))]
    while np.any(steps[-1] < largest):
        steps.append(steps[-1] + np.maximum(step, 0.1 * steps[-1]))
    dispersions = np.stack(steps, axis=1)
    row, column = np.nonzero(dispersions < largest[:, None])
    logs = np.log(grid)[row], 0.5 * np.log(dispersions[row, column])
    return np.stack(logs, axis=1)


def _strings_beside(known: Sequence[StringFit]) -> Array:
    """The same of strings found already, and a little beside them."""
    return np.array(
        [
            (
                np.log(fit.string_fundamental) + aside,
                np.log(max(fit.sqrt_dispersion, 1e-6)),
            )
            for fit in known
            for aside in (-0.008, -0.004, 0.0, 0.004, 0.008)
        ]
    ).reshape(-1, 2)


def _starts(
    lines: Lines, strings: Array, top: float, expected: Expected, clamped: int
) -> Array:
    """The strings and ends whose places lie nearest to whole numbers."""
    strength = _strength(lines)
    pick = np.flatnonzero(lines.frequencies < top)
    pick = pick[np.argsort(-strength[pick])[:MOST_LINES]]
    f = lines.frequencies[pick][None, :]
    widths = expected.means[2] + expected.widths[2] * WIDTH_STEPS
    hitches = np.array([(a, b) for a in np.log(RESONANCES) for b in widths])
    turn = end_turn(f, np.exp(hitches[:, :1]), np.exp(hitches[:, 1:]))
    of_hitch = _waves(turn).T
    off = (hitches - expected.means[1:3]) / expected.widths[1:3]
    held = 0.5 * np.sum(off**2, axis=1).astype(np.float32)
    scores, rows, columns = [], [], []
    least = -np.inf
    for first in range(0, len(strings), BLOCK):
        block = strings[first : first + BLOCK]
        place = mode_positions(
            f, np.exp(block[:, :1]), np.exp(2.0 * block[:, 1:]), clamped
        )
        # whole numbers speak for a string and end, half ones against it
        of_string = np.tile(strength[pick], 2) * _waves(-place)
        score = (of_string.astype(np.float32) @ of_hitch - held).ravel()
        # of all so far as many are as high
        best = np.flatnonzero(score >= least)
        if best.size > MOST_SCORES:
            best = best[np.argpartition(-score[best], MOST_SCORES)[:MOST_SCORES]]
            least = score[best].min()
        scores.append(score[best])
        rows.append(first + best // len(hitches))
        columns.append(best % len(hitches))
    order = np.argsort(-np.concatenate(scores))[:MOST_SCORES]
    row, column = np.concatenate(rows)[order], np.concatenate(columns)[order]
    found = np.hstack([strings[row], hitches[column]])
    kept: list[Array] = []
    is_left = np.ones(len(found), dtype=bool)
    while is_left.any() and len(kept) < MOST_STARTS:
        one = found[int(np.argmax(is_left))]
        kept.append(one)
        away = np.abs(found - one)
        is_left &= (away[:, STRING_FUNDAMENTAL] > 0.008) | (away[:, RESONANCE] > 0.15)
    return np.hstack([kept, np.tile(expected.means[3:], (len(kept), 1))])


def _waves(turn: Array) -> NDArray[np.float32]:
    """Cosines and sines of turns, one beside the other."""
    angle = 2.0 * np.pi * turn
    return np.hstack([np.cos(angle), np.sin(angle)]).astype(np.float32)


def _settle(
    lines: Lines,
    ends: Array,
    expected: Expected,
    clamped: int,
    *,
    gate: float,
) -> tuple[Array, Array]:
    """Refine and weigh: ends and their log-likelihoods."""
    settled, normal = refine_ends(lines, ends, expected, clamped, gate=gate)
    return settled, weigh_ends(lines, settled, normal, expected, clamped)


def _distinct(ends: Array, logs: Array) -> Numbers:
    """Likeliest of each group of like spacings, in order."""
    kept: Numbers = []
    for k in np.argsort(-logs).tolist():
        if all(
            abs(ends[k, STRING_FUNDAMENTAL] - ends[m, STRING_FUNDAMENTAL]) > 0.003
            for m in kept
        ):
            kept.append(k)
    return kept


def _readings(
    lines: Lines, ends: Array, logs: Array, expected: Expected, clamped: int
) -> tuple[Candidate, ...]:
    """Fit the likeliest well."""
    result = []
    for k in _distinct(ends, logs)[:MOST_KEPT]:
        fit = fit_with_hitch(lines, ends[k], expected, clamped)
        if fit is not None and fit.modes.size >= 3:
            result.append(Candidate(fit=fit, log_likelihood=float(logs[k])))
    return tuple(result)
