"""The three-way decision: equal, unequal or cannot tell, against a named rule."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import isfinite

import numpy as np

from tension.assessment.interval import (
    SOCKET_STAGGER,
    SetSimulation,
    find_bounds,
    rank_repeats,
    springs_question,
    verdict_of,
)
from tension.assessment.outcome import Assessment, Reason, RopeShare, Spread, Verdict
from tension.catalogue.rules import Metric, Rule, find_rule
from tension.measurement.outcome import LengthKnowledge, SetMeasurement
from tension.notes import Note, NoteKind
from tension.quantity.units import is_same

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
    simulation = SetSimulation(measurement.hypotheses, measurement.covariance)
    spreads = {m: find_bounds(measurement, simulation, m) for m in Metric}
    own = spreads[rule.metric]
    verdict = verdict_of(own, rule.limit)
    is_open = verdict is Verdict.CANNOT_TELL
    springs = springs_question(measurement, rule) if is_open else None
    again: tuple[int, ...] = ()
    if is_open:
        # some doubts are not settled by another reading
        is_doubtful = _lengths_unknown(measurement) or measurement.doubts
        again = measurement.missing if is_doubtful else rank_repeats(measurement, rule)
    chance = None
    if not (measurement.missing or _lengths_unknown(measurement) or measurement.doubts):
        chance = simulation.probability_over(rule.limit, rule.metric)
    reason, note = _reason(measurement, verdict, springs)
    told = (
        *_notes_of(measurement),
        *_notes_on(measurement, verdict, springs),
        *_on_other_rules(spreads, rule, verdict),
    )
    return Assessment(
        measurement=measurement,
        rule=rule,
        verdict=verdict,
        reason=reason,
        reason_note=note,
        is_complete=not measurement.missing,
        spread=replace(own, probability_over_limit=chance),
        other_spreads=tuple(s for s in spreads.values() if s is not own),
        shares=_shares(measurement),
        measure_again=again,
        notes=tuple(dict.fromkeys(told)),
    )


def _lengths_unknown(measurement: SetMeasurement) -> bool:
    """Whether one length stands for sockets that may be staggered."""
    return measurement.lengths is LengthKnowledge.UNKNOWN


def _shares(measurement: SetMeasurement) -> tuple[RopeShare, ...]:
    """Shares of all ropes, of the mean of the ropes given, in order of number.

    One rope has none, and only its tension stands; nothing does of a set refused.
    """
    known: dict[int, tuple[float, float]] = {}
    is_told = measurement.refusal is None
    tensions = np.array([r.tension.value for r in measurement.ropes if r.tension])
    if is_told and tensions.size > 1:
        shares = tensions / tensions.mean()
        # ln share_i has the gradient e_i - T/sum(T): errors common to all drop out
        gradient = np.eye(len(tensions)) - tensions / tensions.sum()
        variances = np.diag(gradient @ measurement.covariance @ gradient.T)
        widths = shares * np.sqrt(np.maximum(variances, 0))
        rows = zip(shares.tolist(), widths.tolist(), strict=True)
        known = dict(zip(measurement.given, rows, strict=True))
    result = []
    for rope in measurement.ropes:
        share, uncertainty = known.get(rope.number, (None, None))
        absolute = rope.tension if is_told and measurement.is_absolute else None
        result.append(
            RopeShare(
                number=rope.number,
                share=share,
                share_uncertainty=uncertainty,
                tension=absolute.value if absolute else None,
                tension_uncertainty=absolute.standard_uncertainty if absolute else None,
            )
        )
    return tuple(result)


def _reason(
    measurement: SetMeasurement, verdict: Verdict, springs: Note | None
) -> tuple[Reason, Note | None]:
    """Why, and the note that it rests on; unknown lengths come before doubts."""
    doubt = next(iter(measurement.doubts), None)
    holds: tuple[tuple[bool, Reason, Note | None], ...] = (
        (verdict is Verdict.EQUAL, Reason.ALL_WITHIN, None),
        (verdict is Verdict.UNEQUAL, Reason.APART, None),
        (_lengths_unknown(measurement), Reason.LENGTHS_UNKNOWN, None),
        (doubt is not None, Reason.LOOK_FIRST, doubt),
        (bool(measurement.missing), Reason.ROPES_MISSING, None),
        (springs is not None, Reason.SPRINGS_OPEN, springs),
        (True, Reason.REPEAT_DECIDES, None),
    )
    return next((reason, note) for is_so, reason, note in holds if is_so)


def _notes_on(
    measurement: SetMeasurement, verdict: Verdict, springs: Note | None
) -> Iterator[Note]:
    """What the verdict rests on besides the readings."""
    if measurement.missing:
        yield NoteKind.ROPES_MISSING.note(ropes=measurement.missing)
    if _lengths_unknown(measurement):
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
        if other is verdict or spread.observed is None:
            continue
        yield NoteKind.OTHER_RULE_DIFFERS.note(
            limit=100 * rule.limit,
            metric=rule.metric,
            verdict=other,
            percent=100 * spread.observed,
        )


def _notes_of(measurement: SetMeasurement) -> tuple[Note, ...]:
    """Notes of the set and of its ropes, each rope named."""
    notes = list(measurement.notes)
    for rope in measurement.ropes:
        told = (*rope.notes, *((rope.refusal,) if rope.refusal is not None else ()))
        notes += [each.as_note(*(each.ropes or (rope.number,))) for each in told]
    return tuple(notes)


def _no_result(measurement: SetMeasurement, rule: Rule) -> Assessment:
    """Say that there is no result, why, and what is left."""
    is_single = len(measurement.ropes) == 1
    refusal = measurement.refusal
    if refusal is None:
        n_given, n_ropes = len(measurement.given), len(measurement.ropes)
        refusal = (
            NoteKind.ONE_ROPE.refusal()
            if is_single and n_given
            else NoteKind.TOO_FEW_ROPES.refusal(n_given=n_given, n_ropes=n_ropes)
        )
    reason = refusal.as_note()
    return Assessment(
        measurement=measurement,
        rule=rule,
        verdict=Verdict.NO_RESULT,
        reason=Reason.REFUSED,
        reason_note=reason,
        is_complete=not measurement.missing,
        spread=Spread(metric=rule.metric),
        other_spreads=tuple(Spread(metric=m) for m in Metric if m is not rule.metric),
        shares=_shares(measurement),
        measure_again=() if is_single else measurement.missing,
        notes=tuple(dict.fromkeys((reason, *_notes_of(measurement)))),
    )
