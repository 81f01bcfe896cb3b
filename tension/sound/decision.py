"""One string decided on, the set heard together, or the check that forbids it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from tension.notes import NoteKind, Refusal
from tension.sound.decays import FoundRope
from tension.sound.hearing import (
    Array,
    Check,
    HearingPrior,
    Recording,
    Rival,
    RopeHearing,
)
from tension.sound.noise_class import only_steady, why_no_ring
from tension.sound.statistics import Statistics, describe_string
from tension.sound.string_fit import Candidate, StringFit


class Term(NamedTuple):
    """One row: how a statistic beyond its usual range takes from the odds."""

    statistic: str  # name in `tension.sound.statistics.Statistics`
    edge: float  # where it begins to count [that of the statistic]
    scale: float  # positive: above the edge; negative: under it [that of the statistic]
    weight: float  # ln of odds taken per scale [1]


LEAST_PROBABILITY = 0.9
LEAST_ODDS = 0.0
# Set by `python -m tests.benchmarks.ear_table collect --seed 9 --scale 0.6` and `fit`,
# 2026-11-29, on 1930 recordings of the building halves. With each source left out of
# the fit in turn, one rope at a time without its set: real strings given 90 %, 0.13 %
# of these wrong, 6 % right and refused; made ropes given 96 %; no rope given 7 %, a
# quarter of it drawn from the kinds that sound most like a rope.
CONSTANT = 5.26
TERMS: tuple[Term, ...] = (
    Term("log_likelihood_ratio", 4.1, -0.841, 1.90),
    Term("margin", 0.279, -0.243, 2.69),
    Term("explained", 0.741, -0.371, 1.65),
    Term("fastest", 0.503, -0.421, 0.71),
    Term("rising", -0.11, -0.63, 1.04),
    Term("rising", 0.325, 0.659, 1.42),
    Term("stretch", -2.64, -5.34, 3.75),
    Term("stretch", -0.338, 1.35, 2.31),
    Term("peak", 0.214, 0.786, 1.78),
    Term("second", 3.11, 0.706, 2.00),
    Term("elsewhere", 0.61, 1.61, 1.90),
    Term("steady", 0.0662, 0.119, 1.22),
)


FURTHEST = 4.0  # scales beyond the edge of a term from which it counts no more [1]
SUPPORT = (-1.5, 2.0)
"""What the other ropes of a set may add to the odds, least and most: a rope at a
quarter of its share is a finding and needs its own evidence only. [1]"""
SWELLS = -0.1
"""Fall of the fastest fifth of the partials under which a sound swells. [1/s]"""


class Reason(StrEnum):
    """What speaks against a string."""

    COUNT = "count"
    FAINT = "faint"
    SEVERAL = "several"
    APART = "apart"
    STEADY = "steady"
    EXACT = "exact"


REASONS = {
    "log_likelihood_ratio": Reason.FAINT,
    "margin": Reason.COUNT,
    "explained": Reason.SEVERAL,
    "fastest": Reason.FAINT,
    "rising": Reason.STEADY,
    "stretch": Reason.EXACT,
    "peak": Reason.STEADY,
    "second": Reason.SEVERAL,
    "elsewhere": Reason.APART,
    "steady": Reason.STEADY,
}
"""What an unusual statistic tells a person."""


def rope_odds(statistics: Statistics) -> tuple[float, Reason]:
    """Find ln of the odds that a string is one rope and counted right. [1].

    Gives with it what speaks most against the string.

    Notes
    -----
    Within its usual range a statistic says nothing; beyond the edge of a term it takes
    from the odds in proportion, at most `FURTHEST` scales. A logistic regression with
    terms that can only take: a good sign never makes up for a bad one.
    """
    taken = dict.fromkeys(Reason, 0.0)
    for term in TERMS:
        away = (getattr(statistics, term.statistic) - term.edge) / term.scale
        taken[REASONS[term.statistic]] += term.weight * min(max(away, 0.0), FURTHEST)
    worst = max(taken, key=lambda reason: taken[reason])
    return CONSTANT - sum(taken.values()), worst


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


def weigh_candidates(
    ropes: Sequence[FoundRope],
    prior: HearingPrior,
    witnesses: Sequence[bool] | None = None,
) -> list[tuple[Array, Array]]:
    """Weigh the candidates of each rope, the set heard together.

    `witnesses`: ropes that the others are held against; all if not given. Several weak
    ropes on swinging sockets are miscounted alike, and would bear each other out.

    Gives of each rope the probability of each candidate, given that one is right, and
    ln of how much likelier the pitch and stiffness of each are with the other ropes
    heard than without; 0 for a rope alone. Both of shape (n_candidates,). [1]

    Notes
    -----
    Ropes are independent given the wave speed of the set and its EI/m; both are summed
    over a grid. The recording's own evidence bounds what the set may rank. Candidates
    weigh by their best fit, not by the width of it: a fit that has found no partials is
    wide, and its width would speak for it. Without lengths the bending, which does not
    depend on them, is still held against that of hoist ropes. A rope that agrees with
    the others gains, and so do they.
    """
    twice = [2.0 * (rope.span.free_length or 0.5) for rope in ropes]
    pitches = [
        float(np.log(factor * one.fit.fundamental_frequency))
        for rope, factor in zip(ropes, twice, strict=True)
        for one in rope.candidates
    ]
    known = all(rope.span.free_length is not None for rope in ropes)
    grid = _Grid(pitches, prior, known=known)
    joint, parts = grid.log_prior, []
    counts = [True] * len(ropes) if witnesses is None else witnesses
    for rope, factor, is_witness in zip(ropes, twice, counts, strict=True):
        fits = np.array([grid.log_fit(one.fit, factor) for one in rope.candidates])
        fits = fits.reshape(-1, *grid.log_prior.shape)
        own = np.array([TEMPER * one.log_likelihood for one in rope.candidates])
        own -= own.max(initial=-np.inf)
        own = np.where(own < -OWN_RANGE, -np.inf, own)
        told = np.zeros_like(grid.log_prior)
        if own.size and is_witness:
            told = np.logaddexp.reduce(own[:, None, None] + fits, axis=0)
        joint = joint + told
        parts.append((own, fits, told))
    weighed, before = [], _normal(grid.log_prior)
    for own, fits, told in parts:
        alone, agreed = (
            np.logaddexp.reduce(told_before + fits, axis=(1, 2))
            for told_before in (before, _normal(joint - told))
        )
        weighed.append((np.exp(_normal(own + agreed)), agreed - alone))
    return weighed


def _normal(logs: Array) -> Array:
    """Logarithms of shares that sum to one."""
    return np.asarray(logs - np.logaddexp.reduce(logs, axis=None))


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
        middle, away = np.log(prior.rigidity_per_density), np.linspace(*RIGIDITIES)
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
            return log_speed + self._log_bending(fit)
        # bending = 2 pi sqrt(EI/m) / c^2, c without stiffness
        speed = np.log(factor * fit.string_fundamental)
        expected = 2.0 * np.pi * np.exp(0.5 * self.rigidities - 2.0 * speed)
        return log_speed + _log_stiff(fit, expected)

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
    return _log_t((fit.sqrt_dispersion - expected) / sigma, 4.0)


def _log_t(away: Array, degrees: float = TAIL_DEGREES) -> Array:
    """Student's t, 0 at its centre: unusual is not impossible."""
    return np.asarray(-0.5 * (degrees + 1.0) * np.log1p(away**2 / degrees))


SAME_NUMBER = 0.012
"""Rivals so near in the fundamental widen the number and do not forbid it: a fortieth
of tension at most, where another number of a low partial is a quarter or more. [1]"""
RIVAL_TOLD = 1e-4  # probability from which a rival is carried on [1]
LEAST_EXPLAINED = 0.75
"""Share of what is heard under which exact multiples are of several sounds. [1]"""
FAINT = 3.2
"""ln evidence under which what speaks against a string is told as no ring: most of such
recordings hold knocks, doors or talk (`ear_table collect`, seed 9). [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Decision:
    """What is made of the candidates of one rope."""

    best: Candidate  # the likeliest
    rivals: tuple[Rival, ...]  # all pitches that are apart, the likeliest first
    # variance of ln fundamental that rivals of almost the same pitch leave [1]
    spread: float
    checks: tuple[Check, ...]  # what it was held against, in order
    statistics: Statistics  # what it shows
    reason: Reason | None  # what speaks most against it if a check failed
    # it passes only because pitch and stiffness agree with the others of the set
    confirmed: bool
    # fundamental that the recording alone would have chosen; nan if the same [Hz]
    passed_over: float


def decide_set(
    ropes: Sequence[FoundRope], prior: HearingPrior
) -> list[Decision | None]:
    """Decide each rope by itself, then with those that stand by themselves."""
    by_itself = weigh_candidates(ropes, prior, [False] * len(ropes))
    alone = [decide(rope, *told) for rope, told in zip(ropes, by_itself, strict=True)]
    witnesses = [one is not None and one.reason is None for one in alone]
    together = weigh_candidates(ropes, prior, witnesses)
    return [
        decide(rope, *told, before)
        for rope, told, before in zip(ropes, together, alone, strict=True)
    ]


def decide(
    rope: FoundRope, probabilities: Array, support: Array, alone: Decision | None = None
) -> Decision | None:
    """Decide on a string.

    `probabilities`, `support` (n_candidates,) [1]: of `weigh_candidates`; `alone`: on
    the rope by itself; its statistics hold if it chose the same candidate.

    Notes
    -----
    The one place where a rope is given or refused. Two checks: the
    probability of its count among the rivals, and the odds that what rings is a rope
    and that it is counted right, to which the agreement with the set is added.
    """
    if rope.lines is None or not rope.candidates:
        return None
    order = np.argsort(-probabilities, kind="stable")
    candidates = [rope.candidates[k] for k in order.tolist()]
    shares = probabilities[order]
    best = candidates[0]
    pitches = np.array([one.fit.fundamental_frequency for one in candidates])
    offsets = np.log(pitches / pitches[0])
    beside = np.abs(offsets) < SAME_NUMBER
    log_likelihoods = np.array([one.log_likelihood for one in candidates])
    own = int(np.argmax(log_likelihoods))
    known = alone.statistics if alone is not None and alone.best is best else None
    statistics = known or describe_string(
        rope,
        best.fit,
        float(log_likelihoods[beside].max()),
        float(log_likelihoods[~beside].max(initial=0.0)),
    )
    odds, reason = rope_odds(statistics)
    borne = float(np.clip(support[order[0]], *SUPPORT))
    checks = (
        Check(name="count", value=float(shares[beside].sum()), least=LEAST_PROBABILITY),
        Check(name="rope", value=odds + borne, least=LEAST_ODDS),
    )
    rivals = tuple(
        Rival(fundamental_frequency=float(pitch), probability=float(share))
        for k, (pitch, share) in enumerate(zip(pitches, shares, strict=True))
        if share > RIVAL_TOLD and (k == 0 or not beside[k])
    )
    against = None if checks[0].passed else Reason.COUNT
    if not checks[1].passed:
        against = reason
    return Decision(
        best=best,
        rivals=rivals,
        spread=float(np.sum((shares * offsets**2)[beside])),
        checks=checks,
        statistics=statistics,
        reason=against,
        confirmed=against is None and odds < LEAST_ODDS,
        passed_over=float("nan") if beside[own] else float(pitches[own]),
    )


def refuse(
    rope: FoundRope, decision: Decision | None, recordings: Sequence[Recording]
) -> RopeHearing:
    """Tell of a rope that is not given; recordings of it, in order.

    `decision`: a check of which failed; None without a candidate.
    """
    return RopeHearing(
        number=rope.span.number,
        plucks=tuple(rope.plucks),
        hum=tuple(rope.hum),
        rivals=decision.rivals if decision else (),
        checks=decision.checks if decision else (),
        refusal=rope.refusal or _why_refused(rope, decision, recordings[0]),
        notes=tuple(rope.notes),
    )


def _why_refused(
    rope: FoundRope, decision: Decision | None, recording: Recording
) -> Refusal:
    """Why a rope is not given."""
    number = rope.span.number
    is_faint = decision is None or (
        decision.reason is Reason.FAINT
        or decision.statistics.log_likelihood_ratio < FAINT
    )
    told = only_steady(recording)
    if told is not None:
        return told
    if decision is None or is_faint:
        return why_no_ring(recording, rope.plucks, number)
    if decision.reason is Reason.COUNT and len(decision.rivals) < 2:
        return NoteKind.TOO_NOISY.refusal(rope=number)
    return _against(rope, decision, recording.name)


def _against(rope: FoundRope, decision: Decision, name: str) -> Refusal:
    """What speaks most against a string."""
    number, fit, statistics = rope.span.number, decision.best.fit, decision.statistics
    reason = decision.reason or Reason.COUNT
    if reason is Reason.EXACT and statistics.explained < LEAST_EXPLAINED:
        reason = Reason.SEVERAL
    if reason is Reason.COUNT:
        pitches = [f"{one.fundamental_frequency:.2f} Hz" for one in decision.rivals[:3]]
        return NoteKind.AMBIGUOUS.refusal(rope=number, rivals=" or ".join(pitches))
    if reason is Reason.EXACT:
        spacing = fit.string_fundamental
        return NoteKind.EXACT_MULTIPLES.refusal(recording=name, spacing=spacing)
    if reason is Reason.APART:
        times = ", ".join(one.told() for one in rope.decays)
        return NoteKind.PLUCKS_APART.refusal(rope=number, times=times)
    if reason is Reason.SEVERAL:
        return NoteKind.SEVERAL_SOUND.refusal(
            rope=number,
            percent=100.0 * statistics.explained,
            frequency=fit.fundamental_frequency,
        )
    if statistics.fastest < SWELLS:
        return NoteKind.SWELLS.refusal(recording=name)
    steady = ", ".join(f"{f:.0f} Hz" for f in fit.frequencies(np.arange(1, 5)))
    return NoteKind.STEADY_TONES.refusal(recording=name, lines=steady)
