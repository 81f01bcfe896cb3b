"""The three-way decision: equal, unequal or cannot tell, against a named rule."""

from dataclasses import dataclass, replace
from math import isfinite

import numpy as np

from tension.assessment.again import rank_repeats
from tension.assessment.bounds import (
    SOCKET_STAGGER,
    find_bounds,
    simulate,
    springs_question,
    verdict_of,
)
from tension.assessment.interval import SetSimulation
from tension.assessment.outcome import Assessment, Reason, RopeShare, Spread, Verdict
from tension.catalogue.rules import Metric, Rule, find_rule
from tension.measurement.outcome import LengthKnowledge, SetMeasurement
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.comparison import is_same
from tension.wording import limit_text, percent_text

_COMMON_RULES = ("gb50310-2002-4.9.5", "a17.1-trade-education", "a17.1-8.6.4.1.3")
"""Rules of the catalogue beside which a result is read."""


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
    if measurement.refusal is not None or len(measurement.given) < 2:
        return _no_result(measurement, rule)
    simulation = simulate(measurement)
    spreads = {m: find_bounds(measurement, simulation, m) for m in Metric}
    own = spreads[rule.metric]
    verdict = verdict_of(own, rule.limit)
    again = _measure_again(measurement, rule, verdict)
    chance = _chance_over(measurement, simulation, rule)
    decision = _Decision(
        measurement=measurement,
        rule=rule,
        spreads=spreads,
        verdict=verdict,
        again=again,
        springs=springs_question(measurement, rule, verdict),
    )
    reason, note = decision.reason()
    return Assessment(
        measurement=measurement,
        rule=rule,
        verdict=verdict,
        reason=reason,
        reason_note=note,
        is_complete=len(measurement.given) == len(measurement.ropes),
        spread=replace(own, probability_over_limit=chance),
        other_spreads=tuple(s for s in spreads.values() if s is not own),
        shares=shares_from_measurement(measurement),
        measure_again=again,
        notes=_unique((*_notes_of(measurement), *decision.notes())),
    )


def shares_from_measurement(measurement: SetMeasurement) -> tuple[RopeShare, ...]:
    """Shares of all ropes, of the mean of the ropes given.

    In order of number; None where there is no number.

    Notes
    -----
    With T_i the tensions and S the covariance of their logarithms, ln share_i has the
    gradient e_i - T/sum(T), so that errors common to all ropes drop out.
    """
    tensions = np.array([r.tension.value for r in measurement.ropes if r.tension])
    if not len(tensions):
        return tuple(_empty_share(rope.number) for rope in measurement.ropes)
    shares = tensions / tensions.mean()
    gradient = np.eye(len(tensions)) - tensions / tensions.sum()
    variances = np.diag(gradient @ measurement.covariance @ gradient.T)
    uncertainties = shares * np.sqrt(np.maximum(variances, 0))
    found = iter(zip(shares, uncertainties, strict=True))
    result = []
    for rope in measurement.ropes:
        if rope.tension is None:
            result.append(_empty_share(rope.number))
            continue
        share, uncertainty = next(found)
        absolute = rope.tension if measurement.is_absolute else None
        result.append(
            RopeShare(
                number=rope.number,
                share=float(share),
                share_uncertainty=float(uncertainty),
                tension=absolute.value if absolute else None,
                tension_uncertainty=absolute.standard_uncertainty if absolute else None,
            )
        )
    return tuple(result)


def _empty_share(number: int) -> RopeShare:
    """Share of a rope without a number."""
    return RopeShare(
        number=number,
        share=None,
        share_uncertainty=None,
        tension=None,
        tension_uncertainty=None,
    )


def _chance_over(
    measurement: SetMeasurement, simulation: SetSimulation, rule: Rule
) -> float | None:
    """Probability over the limit; None where a rope is missing or in doubt."""
    if (
        len(measurement.given) < len(measurement.ropes)
        or measurement.lengths is LengthKnowledge.UNKNOWN
        or measurement.doubts
    ):
        return None
    return simulation.probability_over(rule.limit, rule.metric)


def _measure_again(
    measurement: SetMeasurement, rule: Rule, verdict: Verdict
) -> tuple[int, ...]:
    """Ropes to measure again; some doubts are not settled by another reading."""
    if verdict is not Verdict.CANNOT_TELL:
        return ()
    if measurement.lengths is LengthKnowledge.UNKNOWN or measurement.doubts:
        return _without_number(measurement)
    return rank_repeats(measurement, rule)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Decision:
    """A verdict and what it rests on."""

    measurement: SetMeasurement
    rule: Rule
    spreads: dict[Metric, Spread]
    verdict: Verdict
    again: tuple[int, ...]
    springs: Note | None

    @property
    def _missing(self) -> tuple[int, ...]:
        """Numbers of the ropes without a number."""
        return _without_number(self.measurement)

    @property
    def _lengths_unknown(self) -> bool:
        """Whether one length stands for sockets that may be staggered."""
        return self.measurement.lengths is LengthKnowledge.UNKNOWN

    def reason(self) -> tuple[Reason, Note | None]:
        """Why, and the note that it rests on; unknown lengths come before doubts."""
        doubt = next(iter(self.measurement.doubts), None)
        holds: tuple[tuple[bool, Reason, Note | None], ...] = (
            (self.verdict is Verdict.EQUAL, Reason.ALL_WITHIN, None),
            (self.verdict is Verdict.UNEQUAL, Reason.APART, None),
            (self._lengths_unknown, Reason.LENGTHS_UNKNOWN, None),
            (doubt is not None, Reason.LOOK_FIRST, doubt),
            (bool(self._missing), Reason.ROPES_MISSING, None),
            (self.springs is not None, Reason.SPRINGS_OPEN, self.springs),
            (True, Reason.REPEAT_DECIDES, None),
        )
        return next((reason, note) for is_so, reason, note in holds if is_so)

    def notes(self) -> tuple[Note, ...]:
        """Everything the verdict adds to the notes."""
        notes = []
        if self._missing:
            notes.append(NoteKind.ROPES_MISSING.note(ropes=self._missing))
        if self._lengths_unknown:
            notes.append(self._length_note())
        if self.springs is not None:
            notes.append(self.springs)
        doubtful = self._doubtful_numberings()
        if doubtful:
            notes.append(NoteKind.RIVALS_WIDEN.note(ropes=doubtful))
        others = self._other_rules()
        if others:
            notes.append(NoteKind.OTHER_RULE_DIFFERS.note(others="; ".join(others)))
        return tuple(notes)

    def _length_note(self) -> Note:
        """Ask the one question about the lengths, or say that it does not matter."""
        if not any(isfinite(length) for length in self.measurement.free_lengths):
            return NoteKind.NO_LENGTH_QUESTION.note()
        kind = (
            NoteKind.LENGTH_QUESTION
            if self.verdict is Verdict.CANNOT_TELL
            else NoteKind.LENGTH_NOT_DECISIVE
        )
        return kind.note(stagger=f"{1000 * SOCKET_STAGGER:.0f}")

    def _doubtful_numberings(self) -> tuple[int, ...]:
        """Ropes whose rivals together are likelier than one in a hundred."""
        return tuple(
            rope.number
            for rope in self.measurement.ropes
            if rope.tension is not None
            and sum(rival.probability for rival in rope.rivals) > 0.01
        )

    def _other_rules(self) -> list[str]:
        """Common rules that would say something else of the same set."""
        said = []
        for rule in map(find_rule, _COMMON_RULES):
            if rule.metric is self.rule.metric and is_same(rule.limit, self.rule.limit):
                continue
            spread = self.spreads[rule.metric]
            other = verdict_of(spread, rule.limit)
            if other is not self.verdict:
                said.append(
                    f"{limit_text(rule.limit)} {rule.metric.value} would say "
                    f"{other.words} ({percent_text(spread.observed)})"
                )
        return said


def _notes_of(measurement: SetMeasurement) -> tuple[Note, ...]:
    """Notes of the set and of its ropes, each rope named."""
    notes = list(measurement.notes)
    for rope in measurement.ropes:
        told = (*rope.notes, *((rope.refusal,) if rope.refusal is not None else ()))
        notes += [each.as_note(*(each.ropes or (rope.number,))) for each in told]
    return tuple(notes)


def _without_number(measurement: SetMeasurement) -> tuple[int, ...]:
    """Numbers of the ropes without a number."""
    return tuple(r.number for r in measurement.ropes if r.tension is None)


def _unique(notes: tuple[Note, ...]) -> tuple[Note, ...]:
    """Drop repeated notes, keeping the order."""
    return tuple(dict.fromkeys(notes))


def _too_few(measurement: SetMeasurement) -> Refusal:
    """Say that there is nothing to compare."""
    if len(measurement.ropes) == 1 and measurement.given:
        return NoteKind.ONE_ROPE.refusal()
    return NoteKind.TOO_FEW_ROPES.refusal(
        n_given=len(measurement.given), n_ropes=len(measurement.ropes)
    )


def _without_shares(measurement: SetMeasurement) -> tuple[RopeShare, ...]:
    """Tensions that stand by themselves; nothing where the whole set is refused."""
    if measurement.refusal is not None:
        return tuple(_empty_share(rope.number) for rope in measurement.ropes)
    return tuple(
        replace(share, share=None, share_uncertainty=None)
        for share in shares_from_measurement(measurement)
    )


def _no_result(measurement: SetMeasurement, rule: Rule) -> Assessment:
    """Say that there is no result, why, and what is left."""
    refusal = measurement.refusal or _too_few(measurement)
    reason = refusal.as_note()
    empty = {m: Spread(metric=m, observed=None, lower=None, upper=None) for m in Metric}
    return Assessment(
        measurement=measurement,
        rule=rule,
        verdict=Verdict.NO_RESULT,
        reason=Reason.REFUSED,
        reason_note=reason,
        is_complete=len(measurement.given) == len(measurement.ropes),
        spread=empty[rule.metric],
        other_spreads=tuple(s for m, s in empty.items() if m is not rule.metric),
        shares=_without_shares(measurement),
        measure_again=_without_number(measurement)
        if len(measurement.ropes) > 1
        else (),
        notes=_unique((reason, *_notes_of(measurement))),
    )
