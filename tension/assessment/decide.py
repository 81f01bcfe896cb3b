"""The three-way decision against a named rule: equal, unequal or cannot tell.

Ropes without a number, lengths in doubt and doubts about the set widen the bounds of
its true spread or leave none. Some readings are explained under different premises,
such as springs at the hitch or none: the set is judged under all of them together;
where that does not decide, under each alone, to see whether the answer to one question
would, and with each rope measured again, to see whose repeat would.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import exp, inf, isfinite, sqrt
from statistics import NormalDist
from typing import Any

import numpy as np

from tension.assessment.interval import OUTER, Interval, SetSimulation, Spread
from tension.catalogue.rules import Metric, Rule, find_rule
from tension.measurement.combine import Premise, SetMeasurement, TensionHypothesis
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import Note, NoteKind
from tension.physics import FloatArray as Array
from tension.quantity.units import is_same
from tension.shown import Shown

SOCKET_STAGGER = 0.15
"""How far apart sockets in a row commonly stand; common practice, no source. [m]"""

_COMMON_RULES = ("gb50310-2002-4.9.5", "a17.1-trade-education", "a17.1-8.6.4.1.3")
"""Rules of the catalogue beside which a result is read."""

_HAIR = 1e-6
"""Spread taken as being on the limit, which counts as equal. [1]"""

_N_DRAWS_RANKED, _HEAVIEST_RANKED = 1000, 5
_NODES = tuple(NormalDist().inv_cdf(p) for p in (0.1, 0.3, 0.5, 0.7, 0.9))
"""Quantiles that stand for all a repeat may read, standard [1]"""
_SAME_NUMBERING = 0.02  # tensions of one rope nearer than this are of one numbering [1]

_USEFUL = 0.98
"""Part of the doubt to which a repeat must bring it to be asked for. [1]"""


class Verdict(StrEnum):
    """The four answers."""

    EQUAL = "equal"
    UNEQUAL = "unequal"
    CANNOT_TELL = "cannot-tell"
    NO_RESULT = "no-result"

    @property
    def words(self) -> str:
        """The answer as it is said."""
        return self.value.replace("-", " ")

    @property
    def banner(self) -> str:
        """The answer as it stands over a result."""
        return self.words.upper()


class Reason(StrEnum):
    """Why the answer is what it is; `tension.telling` says it in a sentence."""

    ALL_WITHIN = "all-within"
    APART = "apart"
    LOOK_FIRST = "look-first"
    LENGTHS_UNKNOWN = "lengths-unknown"
    ROPES_MISSING = "ropes-missing"
    SPRINGS_OPEN = "springs-open"
    REPEAT_DECIDES = "repeat-decides"
    REFUSED = "refused"


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeShare:
    """Share of one rope."""

    number: int  # rope number
    share: float | None = None  # tension over the mean of the ropes given [1]
    share_uncertainty: float | None = None  # standard uncertainty of the share [1]
    tension: float | None = None  # at the hitch; None without linear density [N]
    # standard uncertainty, shared sources included [N]
    tension_uncertainty: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Assessment(Shown):
    """Result of one series against one rule."""

    measurement: SetMeasurement  # what it rests on
    rule: Rule  # the rule that decides
    verdict: Verdict  # the answer
    reason: Reason  # why
    is_complete: bool  # whether every rope has a number
    spread: Spread  # by the metric of the rule
    other_spreads: tuple[Spread, ...]  # by the other metrics
    shares: tuple[RopeShare, ...]  # all ropes of the set, in order of number
    # rope numbers, the most useful first; empty when decided
    measure_again: tuple[int, ...]
    # everything a reader must know, those of the measurement included
    notes: tuple[Note, ...]
    # what the reason rests on, with its next act; None where the verdict speaks for
    # itself
    reason_note: Note | None = None

    def summary(self) -> str:
        """Say verdict, spread and limit."""
        spread = self.spread
        told = [self.verdict.words]
        if spread.observed is not None:
            ends = (spread.lower, spread.upper)
            low, high = ("?" if e is None else f"{100 * e:.1f}" for e in ends)
            told.append(f"{100 * spread.observed:.1f} % ({low} to {high} %)")
        told.append(f"{self.rule.metric.value} at most {100 * self.rule.limit:g} %")
        told.append(f"{len(self.measurement.given)} of {len(self.shares)} ropes")
        return ", ".join(told)

    def to_rows(self) -> list[dict[str, Any]]:
        """Turn it into one row per rope, all SI."""
        return [
            {
                "rope": share.number,
                "share": share.share,
                "share_uncertainty": share.share_uncertainty,
                "tension": share.tension,
                "tension_uncertainty": share.tension_uncertainty,
                "frequency": rope.fundamental.value if rope.fundamental else None,
                "reason": rope.refusal.text if rope.refusal else "",
            }
            for share, rope in zip(self.shares, self.measurement.ropes, strict=True)
        ]


def assess_set(measurement: SetMeasurement, rule: Rule) -> Assessment:
    """Assess one measured series against a rule.

    Equal needs the upper bound of the true spread at or under the limit, unequal
    the lower bound over it; in between nothing can be told.

    Parameters
    ----------
    measurement : SetMeasurement
        What was measured.
    rule : Rule
        The rule that decides.

    Examples
    --------
    >>> from tension.catalogue.rules import find_rule
    >>> from tension.workflow.assess import assess_record
    >>> measured = assess_record("recordings_demo/side-pulls").assessment.measurement
    >>> assess_set(measured, find_rule("gb50310-2002-4.9.5")).rule.limit
    0.05
    """
    of_ropes = [
        told.as_note(*(told.ropes or (rope.number,)))
        for rope in measurement.ropes
        for told in (*rope.notes, *filter(None, [rope.refusal]))
    ]
    none = Assessment(
        measurement=measurement,
        rule=rule,
        verdict=Verdict.NO_RESULT,
        reason=Reason.REFUSED,
        is_complete=not measurement.missing,
        spread=Spread(metric=rule.metric),
        other_spreads=tuple(Spread(metric=m) for m in Metric if m is not rule.metric),
        shares=_shares(measurement),
        measure_again=() if len(measurement.ropes) == 1 else measurement.missing,
        notes=(*measurement.notes, *of_ropes),
    )
    n_given, n_ropes = len(measurement.given), len(measurement.ropes)
    if measurement.refusal is None and n_given >= 2:
        return _decided(none)
    why = NoteKind.TOO_FEW_ROPES.note(n_given=n_given, n_ropes=n_ropes)
    if measurement.refusal is not None:
        why = measurement.refusal.as_note()
    elif n_ropes == n_given == 1:
        why = NoteKind.ONE_ROPE.note()
    notes = tuple(dict.fromkeys((why, *none.notes)))
    return replace(none, reason_note=why, notes=notes)


def _decided(none: Assessment) -> Assessment:
    """Fill in what the spread of the readings tells of a set."""
    measurement, rule = none.measurement, none.rule
    simulation = SetSimulation(measurement.hypotheses, measurement.covariance)
    spreads = {m: _bounded(measurement, simulation, m) for m in Metric}
    own = spreads[rule.metric]
    verdict = verdict_of(own, rule.limit)
    # some doubts are not settled by another reading
    is_unknown = measurement.lengths is LengthKnowledge.UNKNOWN
    is_doubtful = is_unknown or bool(measurement.doubts)
    again: tuple[int, ...] = ()
    springs = chance = None
    if verdict is Verdict.CANNOT_TELL:
        springs = _springs_question(measurement, rule)
        again = none.measure_again if is_doubtful else rank_repeats(measurement, rule)
    if not (measurement.missing or is_doubtful):
        chance = simulation.probability_over(rule.limit, rule.metric)
    reason, note = _reason(measurement, verdict, springs)
    told = (
        *none.notes,
        *_notes_on(measurement, verdict, springs),
        *_on_other_rules(spreads, rule, verdict),
    )
    return replace(
        none,
        verdict=verdict,
        reason=reason,
        reason_note=note,
        spread=replace(own, probability_over_limit=chance),
        other_spreads=tuple(s for s in spreads.values() if s is not own),
        measure_again=again,
        notes=tuple(dict.fromkeys(told)),
    )


def _shares(measurement: SetMeasurement) -> tuple[RopeShare, ...]:
    """Shares of all ropes, of the mean of the ropes given, in order of number.

    One rope has none, and only its tension stands; nothing does of a set refused.
    """
    is_told = measurement.refusal is None
    given = [rope.tension for rope in measurement.ropes if rope.tension and is_told]
    tensions = np.array([tension.value for tension in given])
    known: dict[int, tuple[float | None, ...]] = {}
    if len(given) > 1:
        shares = tensions / tensions.mean()
        # ln share_i has the gradient e_i - T/sum(T): errors common to all drop out
        gradient = np.eye(len(tensions)) - tensions / tensions.sum()
        variances = np.diag(gradient @ measurement.covariance @ gradient.T)
        widths = shares * np.sqrt(np.maximum(variances, 0))
        rows = zip(shares.tolist(), widths.tolist(), strict=True)
        known = dict(zip(measurement.given, rows, strict=True))
    is_absolute = is_told and measurement.is_absolute
    return tuple(
        RopeShare(
            number=rope.number,
            share=share,
            share_uncertainty=uncertainty,
            tension=absolute.value if absolute else None,
            tension_uncertainty=absolute.standard_uncertainty if absolute else None,
        )
        for rope in measurement.ropes
        for share, uncertainty in [known.get(rope.number, (None, None))]
        for absolute in [rope.tension if is_absolute else None]
    )


def _reason(
    measurement: SetMeasurement, verdict: Verdict, springs: Note | None
) -> tuple[Reason, Note | None]:
    """Why, and the note that it rests on; unknown lengths come before doubts."""
    if verdict is not Verdict.CANNOT_TELL:
        is_equal = verdict is Verdict.EQUAL
        return (Reason.ALL_WITHIN if is_equal else Reason.APART), None
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        return Reason.LENGTHS_UNKNOWN, None
    if measurement.doubts:
        return Reason.LOOK_FIRST, measurement.doubts[0]
    if measurement.missing:
        return Reason.ROPES_MISSING, None
    return (Reason.SPRINGS_OPEN if springs else Reason.REPEAT_DECIDES), springs


def _notes_on(
    measurement: SetMeasurement, verdict: Verdict, springs: Note | None
) -> Iterator[Note]:
    """What the verdict rests on besides the readings."""
    if measurement.missing:
        yield NoteKind.ROPES_MISSING.note(ropes=measurement.missing)
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        # ask the one question about the lengths, or say that it does not matter
        stagger = f"{1000 * SOCKET_STAGGER:.0f}"
        if not any(isfinite(length) for length in measurement.free_lengths):
            yield NoteKind.NO_LENGTH_QUESTION.note()
        elif verdict is Verdict.CANNOT_TELL:
            yield NoteKind.LENGTH_QUESTION.note(stagger=stagger)
        else:
            yield NoteKind.LENGTH_NOT_DECISIVE.note(stagger=stagger)
    if springs is not None:
        yield springs
    doubtful = tuple(
        rope.number
        for rope in measurement.ropes
        if rope.tension and sum(rival.probability for rival in rope.rivals) > 0.01
    )
    if doubtful:
        yield NoteKind.RIVALS_WIDEN.note(ropes=doubtful)


def _on_other_rules(
    spreads: Mapping[Metric, Spread], own: Rule, verdict: Verdict
) -> Iterator[Note]:
    """Common rules that would say something else of the same set."""
    for rule in map(find_rule, _COMMON_RULES):
        if rule.metric is own.metric and is_same(rule.limit, own.limit):
            continue
        spread = spreads[rule.metric]
        other = verdict_of(spread, rule.limit)
        if other is not verdict and spread.observed is not None:
            yield NoteKind.OTHER_RULE_DIFFERS.note(
                limit=100 * rule.limit,
                metric=rule.metric,
                verdict=other,
                percent=100 * spread.observed,
            )


def _bounded(
    measurement: SetMeasurement, simulation: SetSimulation, metric: Metric
) -> Spread:
    """Bound the true spread of the whole set by one metric.

    A rope without a number leaves no upper bound, a doubtful length widens both, a
    doubt about the set leaves none.
    """
    found = simulation.interval(metric)
    unbounded = Spread(metric=metric, observed=found.observed)
    is_unknown = measurement.lengths is LengthKnowledge.UNKNOWN
    stagger = measurement.effect_of_stagger(SOCKET_STAGGER) if is_unknown else 0.0
    if measurement.doubts or not isfinite(stagger):
        return unbounded
    ratio = simulation.interval(Metric.BELOW_HIGHEST)
    lower, upper = found.lower, found.upper
    if is_unknown:
        lower, upper = _with_any_stagger(found, exp(stagger), metric, ratio)
    if measurement.missing:
        # Wherever the tensions of the missing ropes lie: the largest distance from any
        # mean is at least half the range over the middle of the range; the range over
        # any mean is at least the range over the highest.
        below_highest = _nearer(ratio.lower, exp(stagger))
        if metric is Metric.OFF_MEAN:
            lower = below_highest / (2 - below_highest)
        if metric is Metric.RANGE_OF_MEAN:
            lower = below_highest
    is_bounded = not measurement.missing and isfinite(
        found.upper + simulation.interval(Metric.ABOVE_LOWEST).upper
    )
    return replace(unbounded, lower=lower, upper=upper if is_bounded else None)


def _nearer(below_highest: float, factor: float) -> float:
    """Below-highest after the extremes are brought nearer by a factor."""
    return max(0.0, 1 - (1 - below_highest) * factor)


def _with_any_stagger(
    found: Interval, factor: float, metric: Metric, ratio: Interval
) -> tuple[float, float]:
    """Widen by any stagger up to `SOCKET_STAGGER`, a factor, on any of the ropes."""
    if metric is Metric.BELOW_HIGHEST:
        return _nearer(found.lower, factor), 1 - (1 - found.upper) / factor
    lower, upper = (1 + found.lower) / factor - 1, (1 + found.upper) * factor - 1
    if metric is Metric.ABOVE_LOWEST:
        return max(0.0, lower), upper
    shrunk = _nearer(ratio.lower, factor)
    widest = factor / (1 - ratio.upper) - 1 if ratio.upper < 1 else inf
    if metric is Metric.RANGE_OF_MEAN:
        return shrunk, widest
    return max(0.0, lower, shrunk / (2 - shrunk)), min(widest, upper)


def verdict_of(spread: Spread, limit: float) -> Verdict:
    """Hold bounds against a limit [1]: equal at or under it, unequal over it."""
    if spread.lower is not None and spread.lower > limit + _HAIR:
        return Verdict.UNEQUAL
    if spread.upper is not None and spread.upper <= limit + _HAIR:
        return Verdict.EQUAL
    return Verdict.CANNOT_TELL


def _springs_question(measurement: SetMeasurement, rule: Rule) -> Note | None:
    """Ask "are there springs?", if it is open and either answer would decide."""
    answers: list[Verdict] = []
    for premise in (Premise.SPRINGS, Premise.NO_SPRINGS):
        found = [h for h in measurement.hypotheses if h.premise is premise]
        if not found:
            return None
        simulation = SetSimulation(_weighed(found), measurement.covariance)
        spread = _bounded(measurement, simulation, rule.metric)
        answers.append(verdict_of(spread, rule.limit))
    sprung, without = (answer.words for answer in answers)
    if set(answers) == {Verdict.CANNOT_TELL}:
        return None
    return NoteKind.SPRINGS_QUESTION.note(with_springs=sprung, without=without)


def _weighed(hypotheses: Sequence[TensionHypothesis]) -> list[TensionHypothesis]:
    """Some hypotheses, if one of them is so."""
    whole = sum(h.weight for h in hypotheses)
    return [replace(h, weight=h.weight / whole) for h in hypotheses]


def rank_repeats(measurement: SetMeasurement, rule: Rule) -> tuple[int, ...]:
    """Rank the ropes of a set that is not decided by how much a repeat would help.

    Ropes without a number come first, then the most useful; those whose repeat would
    not help are left out, but one is always named. A repeat of one rope halves the
    variance of its reading, moves it as repeats do, and settles how its partials are
    numbered; the decision is then made anew.
    """
    given, missing = measurement.given, measurement.missing
    hypotheses = measurement.hypotheses[:_HEAVIEST_RANKED]
    if any(h.covariance is not None for h in hypotheses):
        # cases that no repeat settles: the covariance holds all of them
        hypotheses = (replace(hypotheses[0], weight=1.0, covariance=None),)
    now = _doubt(hypotheses, measurement.covariance, rule)
    scores = [
        sum(
            weight * _doubt(known, covariance, rule)
            for weight, known, covariance in _after_repeat(
                measurement.covariance, hypotheses, index
            )
        )
        for index in range(len(given))
    ]
    order = sorted(range(len(given)), key=lambda i: (scores[i], given[i]))
    useful = [given[i] for i in order if scores[i] < _USEFUL * now]
    if not missing and not useful:
        useful = [given[order[0]]]
    return missing + tuple(useful)


def _after_repeat(
    covariance: Array, hypotheses: Sequence[TensionHypothesis], index: int
) -> Iterator[tuple[float, list[TensionHypothesis], Array]]:
    """What may be known, and its chance, after one rope has been measured again."""
    scale = np.ones(len(covariance))
    scale[index] = sqrt(0.5)
    after = covariance * np.outer(scale, scale)
    for group in _grouped(hypotheses, index):
        weight = sum(h.weight for h in group)
        for node in _NODES:
            factor = np.ones(len(scale))
            factor[index] = exp(sqrt(after[index, index]) * node)
            moved = [replace(h, tensions=h.tensions * factor) for h in group]
            yield weight / len(_NODES), _weighed(moved), after


def _grouped(
    hypotheses: Sequence[TensionHypothesis], index: int
) -> list[list[TensionHypothesis]]:
    """Group the hypotheses by the numbering of one rope."""
    groups: list[list[TensionHypothesis]] = []
    for hypothesis in hypotheses:
        for group in groups:
            ratio = hypothesis.tensions[index] / group[0].tensions[index]
            if abs(ratio - 1) < _SAME_NUMBERING:
                group.append(hypothesis)
                break
        else:
            groups.append([hypothesis])
    return groups


def _doubt(
    hypotheses: Sequence[TensionHypothesis], covariance: Array, rule: Rule
) -> float:
    """Chance that nothing is decided, plus a little for how far from it."""
    simulation = SetSimulation(hypotheses, covariance, n_draws=_N_DRAWS_RANKED)
    over = simulation.probability_over(rule.limit, rule.metric)
    nearest = min(over, 1 - over)
    return nearest + float(nearest >= OUTER)
