"""Candidates: the strings that the lines of a rope could be, and those of its set."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tension.sound.decays import RopeDecays
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.hitch_search import search_hitches, search_told
from tension.sound.mode_assignment import (
    ModeAssignments,
    find_assignments,
    find_related,
    find_series,
    weigh_series,
)
from tension.sound.recording import Array
from tension.sound.spectra import (
    MAINS,
    Lines,
    believed,
    below,
    find_lines,
    first_of_each,
)
from tension.sound.string_fit import (
    Candidate,
    HitchResonance,
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
SAME_PLACES = 0.3  # strings that count most lines so much alike, in places, are one [1]
LEAST_MULTIPLES = 4
"""Fewer tell no level."""
LEAST_MAINS = 4
"""Partials from which a row at mains multiples is no chance."""
MAINS_SHARE = 0.7
"""Share of partials at multiples of one mains frequency that no rope has: its own would
have to be one, and stiffness carries its upper partials away from them. [1]"""
MAINS_DRIFT = 3.5e-3  # mains are off by, in a small building grid; relative [1]
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
    if found.refusal is not None:
        return RopeCandidates(found=replace(found, hum=[]))
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
    candidates = _fitted(lines, find_assignments(lines, series, (low, high)))
    if candidates:
        # fitted well, a multiple of a string may turn out to be the better one
        first = [one.fit for one in candidates[:MOST_RELATED]]
        again = find_related(lines, first, (low, high))
        more = _fitted(lines, again.of(slice(MOST_AGAIN)))
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
    is_better = again.log_likelihoods > before.log_likelihoods
    found = [
        _without_strays(lines, (again if better else before).of(slice(k, k + 1)), fit)
        for k, (fit, better) in enumerate(zip(good.values(), is_better, strict=True))
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
    return _candidate(fit, one, 0)


def _candidate(fit: StringFit, weighed: ModeAssignments, place: int) -> Candidate:
    """Take a string with what its numbering, in one place of those weighed, says."""
    return Candidate(
        fit=fit,
        log_likelihood=float(weighed.log_likelihoods[place]),
        node_order=int(weighed.node_orders[place]),
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


STRONG = 35.0  # evidence from which the string of a rope is beyond doubt [1]
AHEAD = 10.0  # by which it is likelier than any other pitch [1]
ANOTHER_PITCH = 0.012  # relative distance of another pitch [1]
LEAST_LENDERS = 2
"""Ropes beyond doubt whose stiffness is lent: one may be of another kind."""
MOST_ENDS = 4
"""Ends lent."""
RANGE, STEP = 0.2, 0.001
"""How far beyond the wave speeds of the others a rope is looked for, and how densely,
of its log. [1]"""
STIFFNESS_SLACK = 0.04
"""How well the bending of others is that of a rope, relative: hitch, planes. [1]"""
LEAST_LINES = 3
"""Fewer lines agree with any string. [1]"""
FIRST_PLACES = 25
"""Partials looked at while the wave speed is looked for: many more only cost time."""
MOST_LENT, APART = 8, 4
"""Strings fitted of those looked at, and how many steps they lie apart."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SetPrior:
    """What the ropes of a set that are heard beyond doubt have in common.

    Wave `speeds` (n_ropes,) [m/s]; the median EI/m, `rigidity` [m^4/s^2]; ends that
    swing.
    """

    speeds: Array
    rigidity: float
    hitches: tuple[HitchResonance, ...]


def with_set_prior(
    heard: Sequence[RopeCandidates], spans: Sequence[RopeSpan]
) -> list[RopeCandidates]:
    """Look in each rope for the stiffness, wave speeds and ends of the others.

    Notes
    -----
    Ropes of one set are of one type and their sockets alike: a string as stiff as the
    others is likelier than any other, and so is an end that one of them has shown.
    """
    strong = [
        (one.candidates[0].fit, 2.0 * span.free_length)
        for one, span in zip(heard, spans, strict=True)
        if span.free_length is not None and _is_strong(one)
    ]
    if not strong:
        return list(heard)
    speeds = np.array([twice * fit.string_fundamental for fit, twice in strong])
    # bending = 2 pi sqrt(EI/m) / c^2
    bendings = np.array([fit.sqrt_dispersion for fit, _ in strong])
    hitches = [fit.hitch for fit, _ in strong if fit.hitch is not None]
    common = SetPrior(
        speeds=speeds,
        rigidity=float(np.median((bendings * speeds**2 / (2.0 * np.pi)) ** 2)),
        hitches=tuple(hitches[:MOST_ENDS]),
    )
    return [_with(one, span, common) for one, span in zip(heard, spans, strict=True)]


def _is_strong(one: RopeCandidates) -> bool:
    """Whether one pitch of a rope is beyond doubt."""
    if not one.candidates:
        return False
    first = one.candidates[0]
    return first.log_likelihood > STRONG and all(
        other.log_likelihood < first.log_likelihood - AHEAD
        for other in one.candidates[1:]
        if abs(np.log(other.fit.string_fundamental / first.fit.string_fundamental))
        > ANOTHER_PITCH
    )


def _with(one: RopeCandidates, span: RopeSpan, common: SetPrior) -> RopeCandidates:
    """Add what a rope shows if it is as the others."""
    if one.lines is None or span.free_length is None:
        return one
    is_strong = _is_strong(one)
    candidates = one.candidates
    if not is_strong and common.speeds.size >= LEAST_LENDERS:
        strings = _strings(one.lines, span.free_length, span.n_clamped_ends, common)
        candidates = distinct(one.lines, in_order((*candidates, *strings)))
    if common.hitches and not (is_strong and candidates[0].fit.hitch is not None):
        speed = float(np.median(common.speeds))
        told = search_told(one.lines, span, speed, common.rigidity, common.hitches)
        candidates = in_order((*candidates, *told))
    return replace(one, candidates=candidates)


def _strings(
    lines: Lines, free_length: float, n_clamped_ends: int, common: SetPrior
) -> tuple[Candidate, ...]:
    """Strings as stiff as the others, the socket at rest, that lines agree with."""
    low, high = np.log(common.speeds.min()) - RANGE, np.log(common.speeds.max()) + RANGE
    speeds = np.exp(np.arange(low, high, STEP))
    series = PartialSeries(
        string_fundamentals=speeds / (2.0 * free_length),
        dispersions=(2.0 * np.pi * np.sqrt(common.rigidity) / speeds**2) ** 2,
        n_clamped_ends=n_clamped_ends,
    )
    top = FIRST_PLACES * float(np.median(series.string_fundamentals))
    low_lines = below(lines, top)
    if low_lines.frequencies.size < LEAST_LINES:
        return ()
    best = np.argsort(-weigh_series(low_lines, series).log_likelihoods)
    starts = series.of(best[first_of_each(best, APART, MOST_LENT)])
    slacks = STIFFNESS_SLACK * np.sqrt(starts.dispersions)
    known = [fit for fit in fit_strings(lines, starts, slacks) if fit is not None]
    if not known:
        return ()
    weighed = weigh_series(lines, series_of(known))
    return tuple(_candidate(fit, weighed, k) for k, fit in enumerate(known))
