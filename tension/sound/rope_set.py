"""The set: what its ropes lend each other, weighed together, and one stiffness."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tension.sound.candidates import RopeCandidates, distinct, in_order
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.hitch_resonance import HitchResonance
from tension.sound.hitch_search import search_told
from tension.sound.mode_assignment import weigh_series
from tension.sound.partial_series import PartialSeries
from tension.sound.recording import Array
from tension.sound.spectra import Lines, below, first_of_each
from tension.sound.string_fit import Candidate, StringFit, fit_strings, series_of

STRONG = 35.0
"""Evidence from which the string of a rope is beyond doubt. [1]"""
AHEAD = 10.0
"""By which it is likelier than any other pitch. [1]"""
ANOTHER_PITCH = 0.012
"""Relative distance of another pitch. [1]"""
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
MOST_STRINGS, APART = 8, 4
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
    first = first_of_each(
        best.size, MOST_STRINGS, lambda k: np.abs(best - best[k]) > APART
    )
    starts = series.of(best[first])
    slacks = STIFFNESS_SLACK * np.sqrt(starts.dispersions)
    known = [fit for fit in fit_strings(lines, starts, slacks) if fit is not None]
    if not known:
        return ()
    weighed = weigh_series(lines, series_of(known))
    return tuple(
        Candidate(fit=fit, log_likelihood=log, node_order=order)
        for fit, log, order in zip(
            known,
            weighed.log_likelihoods.tolist(),
            weighed.node_orders.tolist(),
            strict=True,
        )
    )


TEMPER = 0.8
"""Exponent of the likelihood ratios: lines of one ring are not independent evidence. On
246 made ropes heard alone, one misjudged by 5.7 in ln likelihood had a claim of 99 %;
the others claimed at 95 % and above were right, but for a row of mains multiples."""
OWN_RANGE = 10.0
"""A rival worse than this in its own recording is none, whatever the set says."""
TAIL_DEGREES = 3.0
"""Of Student's t of what is expected: a slack rope is rare, not impossible. [1]"""
RIGIDITIES = (-6.0, 3.0, 109)
"""EI/m tried about that expected, in widths of its logarithm: from the thinnest wire
to a solid rod. [1]"""
BENDING_SCATTER = 0.05
"""Relative scatter of bendings about what EI/m and wave speed make of them. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Posterior:
    """What the recordings of one rope and those of its set say of its candidates."""

    # of each candidate, given that one is right [1], shape (n_candidates,)
    probabilities: Array
    # ln of how much likelier the pitch and stiffness of each are with the other ropes
    # heard than without; 0 for a rope alone [1], shape (n_candidates,)
    support: Array


def weigh_candidates(
    candidates: Sequence[Sequence[Candidate]],
    lengths: Sequence[float | None],
    prior: HearingPrior,
    witnesses: Sequence[bool] | None = None,
) -> tuple[Posterior, ...]:
    """Weigh the candidates of each rope, the set heard together.

    `candidates`: rivals of each rope, likeliest first; may be empty; `lengths` [m]:
    free lengths; `witnesses`: ropes that the others are held against; all if not given.
    Several weak ropes on swinging sockets are miscounted alike, and would bear each
    other out.

    Notes
    -----
    Ropes are independent given the wave speed of the set and its EI/m; both are summed
    over a grid. The recording's own evidence bounds what the set may rank. Candidates
    weigh by their best fit, not by the width of it: a fit that has found no partials is
    wide, and its width would speak for it. Without lengths the bending, which does not
    depend on them, is still held against that of hoist ropes. A rope that agrees with
    the others gains, and so do they.
    """
    scale = np.array([2.0 * (length or 0.5) for length in lengths])
    pitches = [
        float(np.log(factor * one.fit.fundamental_frequency))
        for rivals, factor in zip(candidates, scale, strict=True)
        for one in rivals
    ]
    grid = _Grid(pitches, prior, known=None not in lengths)
    own, agreements = [], []
    for rivals, factor in zip(candidates, scale.tolist(), strict=True):
        agreements.append([grid.log_fit(one.fit, factor) for one in rivals])
        log_likelihoods = np.array([TEMPER * one.log_likelihood for one in rivals])
        log_likelihoods -= log_likelihoods.max(initial=-np.inf)
        own.append(np.where(log_likelihoods < -OWN_RANGE, -np.inf, log_likelihoods))
    counts = [True] * len(own) if witnesses is None else witnesses
    told = [
        np.logaddexp.reduce([e + a for e, a in zip(ev, fits, strict=True)], axis=0)
        if fits and counts_here
        else np.zeros_like(grid.log_prior)
        for ev, fits, counts_here in zip(own, agreements, counts, strict=True)
    ]
    joint = grid.log_prior + sum(told)
    before = _normal(grid.log_prior)
    return tuple(
        _of_rope(log_likelihoods, fits, _normal(joint - here), before)
        for log_likelihoods, fits, here in zip(own, agreements, told, strict=True)
    )


def _normal(logs: Array) -> Array:
    """Logarithms of shares that sum to one."""
    normal: Array = logs - np.logaddexp.reduce(logs, axis=None)
    return normal


def _of_rope(
    log_likelihoods: Array, fits: Sequence[Array], others: Array, before: Array
) -> Posterior:
    """Weigh the candidates of one rope by its own evidence and by the others."""
    if not fits:
        return Posterior(probabilities=np.empty(0), support=np.empty(0))
    told = np.array([np.logaddexp.reduce(others + a, axis=None) for a in fits])
    alone = np.array([np.logaddexp.reduce(before + a, axis=None) for a in fits])
    shares = np.exp(_normal(log_likelihoods + told))
    return Posterior(probabilities=shares, support=told - alone)


class _Grid:
    """Logarithms of wave speed and EI/m of a set, and the prior over them.

    `pitches`: ln of twice the length times the fundamental of all candidates; EI/m has
    one value where lengths are not `known`.
    """

    def __init__(
        self, pitches: Sequence[float], prior: HearingPrior, *, known: bool
    ) -> None:
        self.prior, self.known = prior, known
        low, high = min(pitches, default=0.0), max(pitches, default=1.0)
        # any rope may lie anywhere in the range searched, whatever this one could be
        reach = np.log(prior.highest_frequency / prior.lowest_frequency)
        more = 0.5 * max(reach - (high - low), 0.0)
        step = min(0.4 * prior.spread_width, 0.1)
        self.speeds = np.arange(low - more - step, high + more + 1.5 * step, step)
        self.usual = prior.usual_wave_speed, prior.usual_wave_speed_width
        if prior.wave_speed is not None:
            self.usual = prior.wave_speed, prior.wave_speed_width
        if not known:
            self.log_prior = np.zeros((self.speeds.size, 1))
            return
        away = np.linspace(*RIGIDITIES)
        middle = np.log(prior.rigidity_per_density)
        self.rigidities = middle + prior.rigidity_width * away
        speed, width = self.usual
        log_speed = _log_t((self.speeds - np.log(speed)) / width)
        log_rigidity = _log_t((self.rigidities - middle) / prior.rigidity_width)
        self.log_prior = log_speed[:, None] + log_rigidity[None, :]

    def log_fit(self, fit: StringFit, factor: float) -> Array:
        """How well one assignment agrees with each wave speed and EI/m.

        `factor` [m]: twice the length.
        """
        own = np.log(factor * fit.fundamental_frequency)
        log_speed = _log_t((own - self.speeds) / self.prior.spread_width)[:, None]
        if not self.known:
            result: Array = log_speed + self._log_bending(fit)
            return result
        # bending = 2 pi sqrt(EI/m) / c^2, c without stiffness
        speed = np.log(factor * fit.string_fundamental)
        expected = 2.0 * np.pi * np.exp(0.5 * self.rigidities - 2.0 * speed)
        result = log_speed + _log_stiff(fit, expected)[None, :]
        return result

    def _log_bending(self, fit: StringFit) -> float:
        """How well the bending, which knows no length, agrees with hoist ropes."""
        speed, spread = self.usual
        rigidity = np.sqrt(self.prior.rigidity_per_density)
        centre = np.log(2.0 * np.pi * rigidity / speed**2)
        width = np.hypot(0.5 * self.prior.rigidity_width, 2.0 * spread)
        away = np.arange(-6.0, 6.02, 0.04)
        log_stiff = _log_stiff(fit, np.exp(centre + width * away))
        # a bending that is badly known agrees with many: the mean, not the sum
        spread = np.sqrt(fit.covariance[1, 1]) / fit.sqrt_dispersion
        reach = np.log(np.hypot(BENDING_SCATTER, spread))
        return float(np.logaddexp.reduce(log_stiff - 0.5 * away**2) - reach)


def _log_stiff(fit: StringFit, expected: Array) -> Array:
    """Student's t of four degrees of the bending about those expected. [s]."""
    sigma = np.sqrt(fit.covariance[1, 1] + (BENDING_SCATTER * expected) ** 2)
    off = (fit.sqrt_dispersion - expected) / sigma
    result: Array = -2.5 * np.log1p(off**2 / 4.0)
    return result


def _log_t(away: Array) -> Array:
    """Student's t of `TAIL_DEGREES`, 0 at its centre: unusual is not impossible."""
    result: Array = -0.5 * (TAIL_DEGREES + 1.0) * np.log1p(away**2 / TAIL_DEGREES)
    return result


TYPE_SCATTER = 0.02
"""Relative scatter of sqrt(EI/m) between ropes of one reel. [1]"""
OUTLYING = 3.0
"""A rope whose bending is off by so many standard deviations keeps its own. [1]"""
NEIGHBOUR_SHARE = 0.1
"""Amplitude at which a rope is set going by the one plucked beside it. [1]"""
RING_CYCLES = 80.0
"""Cycles in which a partial dies, 1/(2 pi 0.002). [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Measured:
    """One rope measured by itself.

    Free `length` [m]; first natural frequency, and spacing of its partials without
    stiffness [Hz]; square root of its dispersion, the bending [s]; `covariance` (2, 2)
    of the logarithm of the fundamental and the bending.
    """

    number: int
    length: float | None
    fundamental_frequency: float
    string_fundamental: float
    sqrt_dispersion: float
    covariance: Array


@dataclass(frozen=True, kw_only=True, slots=True)
class Shared:
    """Ropes measured together.

    `changes` (n_ropes,) and `covariance` (n_ropes, n_ropes) of ln of the fundamentals
    [1]; `rigidity_per_density`, EI/m [m^4/s^2], and its relative standard uncertainty
    [1], both nan if not determined.
    """

    changes: Array
    covariance: Array
    rigidity_per_density: float
    rigidity_uncertainty: float


def share_stiffness(ropes: Sequence[Measured], prior: HearingPrior) -> Shared:
    """Let the ropes of one type lend each other their stiffness.

    Notes
    -----
    bending = 2 pi g / c^2 with g = sqrt(EI/m) common to a rope type and c = 2 L
    spacing. Where the fundamental is not in the file it is extrapolated from above, and
    its error goes with that of the bending; a bending known from the other ropes takes
    it away. Each rope is told by the others only, so that nothing counts twice.
    """
    n_ropes = len(ropes)
    changes = np.zeros(n_ropes)
    covariances = np.array([rope.covariance for rope in ropes]).reshape(-1, 2, 2)
    covariance = np.diag(covariances[:, 0, 0] + _neighbour_variances(ropes))
    nothing = Shared(
        changes=changes,
        covariance=covariance,
        rigidity_per_density=float("nan"),
        rigidity_uncertainty=float("nan"),
    )
    lengths = [rope.length for rope in ropes if rope.length is not None]
    if not ropes or len(lengths) < n_ropes:
        return nothing
    spacings = np.array([rope.string_fundamental for rope in ropes])
    factor = (2.0 * np.array(lengths) * spacings) ** 2 / (2.0 * np.pi)
    own = np.array([rope.sqrt_dispersion for rope in ropes]) * factor
    variance = covariances[:, 1, 1] * factor**2
    cross = covariances[:, 0, 1] * factor
    centre = np.sqrt(prior.rigidity_per_density)
    wide = (0.5 * prior.rigidity_width * centre) ** 2
    keep = np.ones(n_ropes, dtype=bool)
    for _ in range(3):
        mean, spread = _combine(own[keep], variance[keep], centre, wide)
        scatter = (TYPE_SCATTER * mean) ** 2
        keep = np.abs(own - mean) / np.sqrt(variance + spread + scatter) < OUTLYING
        if not keep.any():
            return nothing
    mean, spread = _combine(own[keep], variance[keep], centre, wide)
    for k in np.flatnonzero(keep).tolist():
        others = keep & (np.arange(n_ropes) != k)
        told, trust = _combine(own[others], variance[others], centre, wide)
        trust += (TYPE_SCATTER * told) ** 2
        gain = cross[k] / (variance[k] + trust)
        changes[k] = gain * (told - own[k])
        covariance[k, k] -= gain * cross[k]
    return replace(
        nothing,
        rigidity_per_density=float(mean**2),
        rigidity_uncertainty=float(2.0 * np.sqrt(spread) / mean),
    )


def _combine(
    own: Array, variance: Array, centre: float, wide: float
) -> tuple[float, float]:
    """Weighted mean of sqrt(EI/m), its prior included, and its variance."""
    scatter = (TYPE_SCATTER * centre) ** 2
    weight = np.concatenate([1.0 / (variance + scatter), [1.0 / wide]])
    mean = float(np.sum(weight * np.concatenate([own, [centre]])) / weight.sum())
    return mean, float(1.0 / weight.sum())


def _neighbour_variances(ropes: Sequence[Measured]) -> Array:
    """Variance that ropes beside a rope add, ringing unresolved at almost its pitch."""
    # share r at distance d shifts by r d while a ring of Q cycles does not resolve it
    numbers = np.array([rope.number for rope in ropes])
    pitches = np.log([rope.fundamental_frequency for rope in ropes])
    is_beside = np.abs(numbers[:, None] - numbers) == 1
    distance = pitches - pitches[:, None]
    unresolved = 1.0 / (1.0 + (RING_CYCLES * distance) ** 2) ** 2
    added = (NEIGHBOUR_SHARE * distance * unresolved) ** 2
    result: Array = np.sum(added * is_beside, axis=1)
    return result
