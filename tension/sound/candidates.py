"""Candidates: the strings that the lines of one rope could be."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from tension.notes import NoteKind
from tension.sound.decays import RopeDecays
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.hitch_search import search_hitches
from tension.sound.mode_assignment import (
    ModeAssignments,
    find_assignments,
    find_related,
    weigh_series,
)
from tension.sound.partial_series import find_series
from tension.sound.spectra import MAINS, Lines, believed, find_lines
from tension.sound.string_fit import (
    Candidate,
    StringFit,
    explained_share,
    fit_strings,
    series_of,
)

LARGEST_SCATTER = 0.01
"""Partials that scatter by more about a string are no partials of one. [1]"""
LARGEST_DISPERSION = 1e-3
"""EI/m of 200 at a wave speed of 53 m/s: thick ropes at half their load. [s^2]"""
SHORTEST_ROD = 0.02
"""A socket on a shorter rod stands still. [m]"""
STANDS_OUT, LEAST_LINES = 16.0, 8
"""Power over noise of lines that stand out, and how many a string with its end needs:
both have six unknowns. [1]"""
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
SAME_PLACES = 0.3
"""Strings that count most lines so much alike, in places, are one. [1]"""
LEAST_MULTIPLES = 4
"""Fewer tell no level."""
LEAST_MAINS = 4
"""Partials from which a row at mains multiples is no chance."""
MAINS_SHARE = 0.7
"""Share of partials at multiples of one mains frequency that no rope has: its own would
have to be one, and stiffness carries its upper partials away from them. [1]"""
MAINS_DRIFT = 3.5e-3
"""Mains are off by, in a small building grid; relative. [1]"""
STRONGEST_WITHIN, LEAST_STRONGEST, SPARSE_ORDER = 8.0, 5, 4
"""Of a rope's strongest partials, so near in level and so many, not all are multiples
of the fourth or a higher one: nothing hides all the others. [dB, 1, 1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeCandidates:
    """What was found of one rope, the lines of its decays, and strings they could be.

    The candidates stand likeliest first.
    """

    found: RopeDecays
    lines: Lines | None = None
    candidates: tuple[Candidate, ...] = ()


def candidates_of(
    found: RopeDecays, span: RopeSpan, prior: HearingPrior
) -> RopeCandidates:
    """Find the candidates of one rope by itself."""
    refusal = found.refusal
    if not found.names:
        refusal = NoteKind.NOT_RECORDED.refusal(rope=span.number)
    elif refusal is None and not found.decays:
        refusal = NoteKind.NO_PLUCK.refusal(recording=found.names[0])
    if refusal is not None:
        return RopeCandidates(found=replace(found, hum=[], refusal=refusal))
    rate = found.decays[0].sampling_rate
    hum = [line.frequency for line in found.hum]
    lines = find_lines([one.samples for one in found.decays], rate, hum)
    return RopeCandidates(
        found=found, lines=lines, candidates=find_candidates(lines, span, prior)
    )


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
    candidates = _fitted(lines, find_assignments(lines, series, low, high))
    if candidates:
        # fitted well, a multiple of a string may turn out to be the better one
        first = series_of([one.fit for one in candidates[:MOST_RELATED]])
        again = find_related(lines, first)
        pitch = again.fundamental_frequencies
        order = np.argsort(-again.log_likelihoods, kind="stable")
        order = order[(low <= pitch[order]) & (pitch[order] <= high)]
        more = _fitted(lines, again.of(order[:MOST_AGAIN]))
        candidates = distinct(lines, in_order((*candidates, *more)))
    if hitch_in_doubt(lines, candidates, span):
        known = [one.fit for one in candidates[:MOST_STRINGS]]
        swinging = search_hitches(lines, span, prior, known)
        candidates = in_order((*candidates, *swinging))
    return tuple(
        one
        for one in candidates
        if not _is_mains(lines, one) and not _is_sparse(lines, one)
    )


def hitch_in_doubt(
    lines: Lines, candidates: tuple[Candidate, ...], span: RopeSpan
) -> bool:
    """Whether the socket may swing: its rod is free, or partials stand beside it.

    Gives: whether it is worth looking for the end; without a length and a rod too many
    ends agree with anything.
    """
    if span.rod_free is not None:
        return span.rod_free > SHORTEST_ROD
    stands_out = (lines.weights > 0.5) & (lines.levels > STANDS_OUT)
    if span.free_length is None or np.count_nonzero(stands_out) < LEAST_LINES:
        return False
    return not candidates or explained_share(lines, candidates[0].fit) < EXPLAINED


def in_order(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Give candidates likeliest first."""
    return tuple(sorted(candidates, key=lambda one: -one.log_likelihood))


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
    better = np.where(again.log_likelihoods > before.log_likelihoods, 1, 0)
    chosen = before.joined(again).of(np.arange(better.size) + better.size * better)
    found = [
        _without_strays(lines, chosen.of(slice(k, k + 1)), fit)
        for k, fit in enumerate(good.values())
    ]
    return distinct(lines, in_order(found))


def distinct(lines: Lines, candidates: tuple[Candidate, ...]) -> tuple[Candidate, ...]:
    """Drop candidates that number their lines as a likelier one does."""
    kept: list[Candidate] = []
    for one in candidates:
        f = lines.frequencies[one.fit.lines]
        others = np.array([other.fit.places(f) for other in kept]).reshape(-1, f.size)
        away = np.median(np.abs(one.fit.places(f) - others), axis=1)
        if np.all(away >= SAME_PLACES):
            kept.append(one)
    return tuple(kept)


def _without_strays(lines: Lines, one: ModeAssignments, fit: StringFit) -> Candidate:
    """Weigh an assignment without lines between multiples that are no partials."""
    # A place of pluck or sensor can hide every k-th partial; none hides all but every
    # k-th. Where those between are all far weaker, products of a distorting recorder or
    # another rope fill the gaps, and the rope sounds k times as high.
    level = 10.0 * np.log10(lines.levels[fit.lines])
    heard = np.bincount(np.append(fit.modes, 0), minlength=fit.modes.max() + 4) > 0
    for order in HOLLOW_ORDERS:
        is_multiple = fit.modes % order == 0
        # only beside multiples that are heard: what lies far above tells nothing
        last = order * (fit.modes // order)
        beside = heard[last + order] & heard[last]
        between = np.flatnonzero(~is_multiple & beside)
        if min(int(np.sum(is_multiple)), between.size) < LEAST_MULTIPLES:
            continue
        usual = np.interp(
            fit.modes[between], fit.modes[is_multiple], level[is_multiple]
        )
        if np.mean(level[between] - usual) < HOLLOW:
            weights = lines.weights.copy()
            weights[fit.lines[between]] = 0.0
            one = weigh_series(believed(lines, weights), one)
            break
    return Candidate(
        fit=fit,
        log_likelihood=float(one.log_likelihoods[0]),
        node_order=int(one.node_orders[0]),
    )


def _is_mains(lines: Lines, one: Candidate) -> bool:
    """Whether a string is a row of mains multiples, kept as ring by mistake."""
    f = lines.frequencies[one.fit.lines]
    f = f[lines.levels[one.fit.lines] > STANDS_OUT]
    if f.size < LEAST_MAINS:
        return False
    for mains in MAINS:
        away = np.abs(f - mains * np.maximum(np.rint(f / mains), 1.0))
        if np.mean(away < 0.1 + MAINS_DRIFT * f) > MAINS_SHARE:
            return True
    return False


def _is_sparse(lines: Lines, one: Candidate) -> bool:
    """Whether the strongest partials are all multiples of one: a series too fine."""
    level = 10.0 * np.log10(lines.levels[one.fit.lines])
    strongest = one.fit.modes[level > level.max() - STRONGEST_WITHIN]
    if strongest.size < LEAST_STRONGEST:
        return False
    return int(np.gcd.reduce(strongest)) >= SPARSE_ORDER
