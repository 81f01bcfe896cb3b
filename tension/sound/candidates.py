"""Candidates: the strings that the lines of a rope could be, and those of its set."""

from collections.abc import Iterable, Sequence

import numpy as np

from tension.sound.decays import FoundRope
from tension.sound.hearing import Array, Counts, HearingPrior, RopeSpan
from tension.sound.hitch_search import search_hitches, search_told
from tension.sound.mode_assignment import (
    ModeAssignments,
    find_assignments,
    find_related,
    find_series,
    weigh_series,
)
from tension.sound.spectra import Lines, believed, find_lines, first_of_each, off_mains
from tension.sound.string_fit import (
    Candidate,
    PartialSeries,
    StringFit,
    explained_share,
    fit_strings,
    series_of,
)

LARGEST_SCATTER = 0.01
"""Partials that scatter by more about a string are no partials of one. [1]"""
LARGEST_DISPERSION = 1e-3
"""EI/m of 200 at a wave speed of 53 m/s: thick ropes at half their load. [s^2]"""
SHORTEST_ROD = 0.02  # a socket on a shorter rod stands still [m]
STANDS_OUT = 16.0  # power over noise of lines that stand out [1]
LEAST_LINES = 3  # fewer agree with any string, its socket at rest or swinging [1]
EXPLAINED = 0.78
"""Share of the strength of the lines that a socket at rest leaves unexplained at most:
of made ropes clamped in their sockets nine in ten are over it, on rods one in ten."""
MOST_RELATED, MOST_AGAIN = 5, 8
"""Strings whose multiples are weighed, and how many of these are fitted. [1]"""
MOST_STRINGS = 10
"""Strings with the socket at rest from which swinging ends are looked for."""
HOLLOW_ORDERS = (2, 3)
HOLLOW = -10.0
"""Mean level of partials between multiples, against these, that no rope has: of 493
right counts of made ropes none was under -9, of half of the wrong ones it is. [dB]"""
SAME_PLACES = 0.3  # strings that count most lines so much alike, in places, are one [1]
LEAST_MULTIPLES = 4  # fewer tell no level
LEAST_MAINS = 4  # partials from which a row at mains multiples is no chance
MAINS_SHARE = 0.7
"""Share of partials at multiples of one mains frequency that no rope has: its own would
have to be one, and stiffness carries its upper partials away from them. [1]"""
MAINS_DRIFT = 3.5e-3  # mains are off by, in a small building grid; relative [1]
STRONGEST_WITHIN, LEAST_STRONGEST, SPARSE_ORDER = 8.0, 5, 4
"""Of a rope's strongest partials, so near in level and so many, not all are multiples
of the fourth or a higher one: nothing hides all the others. [dB, 1, 1]"""


def find_own_candidates(rope: FoundRope, prior: HearingPrior) -> None:
    """Find the lines of one rope by itself, and the strings that they could be."""
    rope.lines, rope.candidates = None, ()
    if rope.refusal is not None:
        rope.hum = []
        return
    rate = rope.decays[0].sampling_rate
    hum = [line.frequency for line in rope.hum]
    rope.lines = find_lines([one.samples for one in rope.decays], rate, hum)
    rope.candidates = find_candidates(rope.lines, rope.span, prior)


def find_candidates(
    lines: Lines, span: RopeSpan, prior: HearingPrior
) -> tuple[Candidate, ...]:
    """Find the strings that lines could be the partials of."""
    if lines.frequencies.size < 2:
        return ()
    low, high = prior.lowest_frequency, prior.highest_frequency
    series = find_series(lines, low, high, LARGEST_DISPERSION, span.n_clamped_ends)
    if not series.string_fundamentals.size:
        return ()
    candidates = _fitted(lines, find_assignments(lines, series, (low, high)))
    if candidates:
        # fitted well, a multiple of a string may turn out to be the better one
        first = [one.fit for one in candidates[:MOST_RELATED]]
        again = find_related(lines, first, (low, high))
        more = _fitted(lines, again.of(slice(MOST_AGAIN)))
        candidates = _distinct(lines, (*candidates, *more))
    if _is_hitch_in_doubt(lines, candidates, span):
        known = [one.fit for one in candidates[:MOST_STRINGS]]
        swinging = search_hitches(lines, span, prior, known)
        candidates = _in_order((*candidates, *swinging))
    return tuple(one for one in candidates if not _is_no_rope(lines, one.fit))


def _is_hitch_in_doubt(
    lines: Lines, candidates: tuple[Candidate, ...], span: RopeSpan
) -> bool:
    """Whether the socket may swing: its rod is free, or partials stand beside it.

    Without a length and a rod too many ends agree with anything.
    """
    if span.rod_free is not None:
        return span.rod_free > SHORTEST_ROD
    stands_out = (lines.weights > 0.5) & (lines.levels > STANDS_OUT)
    if span.free_length is None or np.count_nonzero(stands_out) < LEAST_LINES:
        return False
    return not candidates or explained_share(lines, candidates[0].fit) < EXPLAINED


def _in_order(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Candidates, likeliest first."""
    return tuple(sorted(candidates, key=lambda one: -one.log_likelihood))


def _distinct(lines: Lines, candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Candidates in order, but for those that number their lines as a likelier one."""
    kept: list[Candidate] = []
    for one in _in_order(candidates):
        f = lines.frequencies[one.fit.lines]
        others = np.array([other.fit.places(f) for other in kept]).reshape(-1, f.size)
        away = np.median(np.abs(one.fit.places(f) - others), axis=1)
        if np.all(away >= SAME_PLACES):
            kept.append(one)
    return tuple(kept)


def _fitted(lines: Lines, assignments: ModeAssignments) -> tuple[Candidate, ...]:
    """Fit each assignment well, weigh it again, and drop those that are alike."""
    good = {
        k: fit
        for k, fit in enumerate(fit_strings(lines, assignments))
        if fit is not None and fit.scatter < LARGEST_SCATTER
    }
    if not good:
        return ()
    before = assignments.of(np.array(list(good)))
    again = weigh_series(lines, series_of(list(good.values())))
    # the robust fit need not be the likeliest of its assignment: the better counts
    is_better = again.log_likelihoods > before.log_likelihoods
    found: list[Candidate] = []
    for k, (fit, better) in enumerate(zip(good.values(), is_better, strict=True)):
        one = (again if better else before).of(slice(k, k + 1))
        strays = _strays(lines, fit)
        if strays.size:
            weights = lines.weights.copy()
            weights[fit.lines[strays]] = 0.0
            one = weigh_series(believed(lines, weights), one)
        found += one.candidates([fit])
    return _distinct(lines, found)


def _strays(lines: Lines, fit: StringFit) -> Counts:
    """Places in a fit of what lies between multiples and is no partial."""
    # A place of pluck or sensor can hide every k-th partial; none hides all but every
    # k-th. Where those between are all far weaker, products of a distorting recorder or
    # another rope fill the gaps, and the rope sounds k times as high.
    level = 10.0 * np.log10(lines.levels[fit.lines])
    heard = np.bincount(np.append(fit.modes, 0), minlength=fit.modes.max() + 4) > 0
    for order in HOLLOW_ORDERS:
        is_multiple = fit.modes % order == 0
        # only beside multiples that are heard: what lies far above tells nothing
        last = order * (fit.modes // order)
        between = np.flatnonzero(~is_multiple & heard[last + order] & heard[last])
        if min(int(np.sum(is_multiple)), between.size) < LEAST_MULTIPLES:
            continue
        usual = np.interp(
            fit.modes[between], fit.modes[is_multiple], level[is_multiple]
        )
        if np.mean(level[between] - usual) < HOLLOW:
            return between
    return np.empty(0, dtype=np.int64)


def _is_no_rope(lines: Lines, fit: StringFit) -> bool:
    """Whether a string is a row of mains multiples, or a series too fine."""
    level = 10.0 * np.log10(lines.levels[fit.lines])
    strongest = fit.modes[level > level.max() - STRONGEST_WITHIN]
    if strongest.size >= LEAST_STRONGEST and np.gcd.reduce(strongest) >= SPARSE_ORDER:
        return True
    # kept as ring by mistake
    f = lines.frequencies[fit.lines][lines.levels[fit.lines] > STANDS_OUT]
    is_mains = off_mains(f) < 0.1 + MAINS_DRIFT * f
    return f.size >= LEAST_MAINS and bool(np.any(is_mains.mean(axis=1) > MAINS_SHARE))


STRONG = 35.0  # evidence from which the string of a rope is beyond doubt [1]
AHEAD = 10.0  # by which it is likelier than any other pitch [1]
ANOTHER_PITCH = 0.012  # relative distance of another pitch [1]
LEAST_LENDERS = 2
"""Ropes beyond doubt whose stiffness is lent: one may be of another kind."""
MOST_ENDS = 4  # ends lent
RANGE, STEP = 0.2, 0.001
"""How far beyond the wave speeds of the others a rope is looked for, and how densely,
of its log. [1]"""
STIFFNESS_SLACK = 0.04
"""How well the bending of others is that of a rope, relative: hitch, planes. [1]"""
FIRST_PLACES = 25
"""Partials looked at while the wave speed is looked for: many more only cost time."""
MOST_LENT, APART = 8, 4
"""Strings fitted of those looked at, and how many steps they lie apart."""


def lend_candidates(ropes: Sequence[FoundRope]) -> None:
    """Look in each rope for the stiffness, wave speeds and ends of the others.

    Notes
    -----
    Ropes of one set are of one type and their sockets alike: a string as stiff as the
    others is likelier than any other, and so is an end that one of them has shown.
    """
    lent = [
        (rope.candidates[0].fit, 2.0 * rope.span.free_length)
        for rope in ropes
        if rope.span.free_length is not None and _is_strong(rope)
    ]
    if not lent:
        return
    speeds = np.array([twice * fit.string_fundamental for fit, twice in lent])
    # bending = 2 pi sqrt(EI/m) / c^2
    bendings = np.array([fit.sqrt_dispersion for fit, _ in lent])
    rigidity = float(np.median((bendings * speeds**2 / (2.0 * np.pi)) ** 2))
    hitches = [fit.hitch for fit, _ in lent if fit.hitch is not None][:MOST_ENDS]
    for rope in ropes:
        lines, span, is_strong = rope.lines, rope.span, _is_strong(rope)
        if lines is None or span.free_length is None:
            continue
        if not is_strong and speeds.size >= LEAST_LENDERS:
            strings = _strings(lines, span, speeds, rigidity)
            rope.candidates = _distinct(lines, (*rope.candidates, *strings))
        if hitches and not (is_strong and rope.candidates[0].fit.hitch is not None):
            speed = float(np.median(speeds))
            told = search_told(lines, span, speed, rigidity, hitches)
            rope.candidates = _in_order((*rope.candidates, *told))


def _is_strong(rope: FoundRope) -> bool:
    """Whether one pitch of a rope is beyond doubt."""
    if not rope.candidates:
        return False
    first = rope.candidates[0]
    return first.log_likelihood > STRONG and all(
        other.log_likelihood < first.log_likelihood - AHEAD
        for other in rope.candidates[1:]
        if abs(np.log(other.fit.string_fundamental / first.fit.string_fundamental))
        > ANOTHER_PITCH
    )


def _strings(
    lines: Lines, span: RopeSpan, speeds: Array, rigidity: float
) -> tuple[Candidate, ...]:
    """Strings as stiff as the others, the socket at rest, that lines agree with."""
    assert span.free_length is not None  # noqa: S101  (asked by the caller)
    tried = np.exp(
        np.arange(np.log(speeds.min()) - RANGE, np.log(speeds.max()) + RANGE, STEP)
    )
    series = PartialSeries(
        string_fundamentals=tried / (2.0 * span.free_length),
        dispersions=(2.0 * np.pi * np.sqrt(rigidity) / tried**2) ** 2,
        n_clamped_ends=span.n_clamped_ends,
    )
    low_lines = lines.below(FIRST_PLACES * float(np.median(series.string_fundamentals)))
    if low_lines.frequencies.size < LEAST_LINES:
        return ()
    best = np.argsort(-weigh_series(low_lines, series).log_likelihoods)
    starts = series.of(best[first_of_each(best, APART, MOST_LENT)])
    slacks = STIFFNESS_SLACK * np.sqrt(starts.dispersions)
    known = [fit for fit in fit_strings(lines, starts, slacks) if fit is not None]
    if not known:
        return ()
    return weigh_series(lines, series_of(known)).candidates(known)
