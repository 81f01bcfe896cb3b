"""One string decided on, or the check that forbids it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.notes import NoteKind, Refusal
from tension.sound.candidates import RopeCandidates
from tension.sound.hearing import Check, Rival
from tension.sound.noise_class import only_steady, why_no_ring
from tension.sound.recording import Array, Recording
from tension.sound.rope_odds import (
    LEAST_ODDS,
    LEAST_PROBABILITY,
    SUPPORT,
    SWELLS,
    Reason,
    rope_odds,
)
from tension.sound.rope_set import Posterior
from tension.sound.statistics import Statistics, describe_string
from tension.sound.string_fit import Candidate

SAME_NUMBER = 0.012
"""Rivals so near in the fundamental widen the number and do not forbid it: a fortieth
of tension at most, where another number of a low partial is a quarter or more. [1]"""
RIVAL_TOLD = 1e-4
"""Probability from which a rival is carried on. [1]"""
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


def decide(
    heard: RopeCandidates, posterior: Posterior, alone: Decision | None = None
) -> Decision | None:
    """Decide on a string.

    `alone`: on the rope by itself; its statistics hold if it chose the same candidate.

    Notes
    -----
    The one place where a rope is given or refused. Two checks: the
    probability of its count among the rivals, and the odds that what rings is a rope
    and that it is counted right, to which the agreement with the set is added.
    """
    if heard.lines is None or not heard.candidates:
        return None
    order = np.argsort(-posterior.probabilities, kind="stable")
    candidates = [heard.candidates[k] for k in order.tolist()]
    shares = posterior.probabilities[order]
    best = candidates[0]
    pitches = np.array([one.fit.fundamental_frequency for one in candidates])
    offsets = np.log(pitches / pitches[0])
    beside = np.abs(offsets) < SAME_NUMBER
    log_likelihoods = np.array([one.log_likelihood for one in candidates])
    own = int(np.argmax(log_likelihoods))
    known = alone.statistics if alone is not None and alone.best is best else None
    statistics = known or describe_string(
        heard.found.decays,
        heard.found.whole,
        heard.lines,
        best.fit,
        float(log_likelihoods[beside].max()),
        float(log_likelihoods[~beside].max(initial=0.0)),
    )
    odds = rope_odds(statistics)
    support = float(np.clip(posterior.support[order[0]], *SUPPORT))
    checks = (
        Check(name="count", value=float(shares[beside].sum()), least=LEAST_PROBABILITY),
        Check(name="rope", value=odds.total + support, least=LEAST_ODDS),
    )
    spread = float(np.sum((shares * offsets**2)[beside]))
    reason = None
    if not checks[1].passed:
        reason = odds.reason
    elif not checks[0].passed:
        reason = Reason.COUNT
    return Decision(
        best=best,
        rivals=_rivals(pitches, shares, beside),
        spread=spread,
        checks=checks,
        statistics=statistics,
        reason=reason,
        confirmed=reason is None and odds.total < LEAST_ODDS,
        passed_over=float("nan") if beside[own] else float(pitches[own]),
    )


def _rivals(
    pitches: Array,
    shares: Array,
    beside: NDArray[np.bool_],
) -> tuple[Rival, ...]:
    """All pitches that are apart, likeliest first."""
    return tuple(
        Rival(fundamental_frequency=float(pitches[k]), probability=float(shares[k]))
        for k in range(pitches.size)
        if shares[k] > RIVAL_TOLD and (k == 0 or not beside[k])
    )


def why_refused(
    number: int,
    heard: RopeCandidates,
    decision: Decision | None,
    recording: Recording,
) -> Refusal:
    """Tell why a rope is not given.

    `decision`: a check of which failed; None without a candidate.
    """
    told = only_steady(recording)
    if told is not None:
        return told
    if decision is None or _is_faint(decision):
        return why_no_ring(recording, heard.found.plucks, number)
    if decision.reason is Reason.COUNT and len(decision.rivals) < 2:
        return NoteKind.TOO_NOISY.refusal(rope=number)
    return _against(number, heard, decision, recording.name)


def _against(
    number: int, heard: RopeCandidates, decision: Decision, name: str
) -> Refusal:
    """Tell what speaks most against a string."""
    fit, statistics = decision.best.fit, decision.statistics
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
        times = ", ".join(
            f"{one.pluck.start:.1f} s ({one.pluck.recording})"
            for one in heard.found.decays
        )
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


def _is_faint(decision: Decision) -> bool:
    """Whether too little rings to tell of any string."""
    return (
        decision.reason is Reason.FAINT
        or decision.statistics.log_likelihood_ratio < FAINT
    )
