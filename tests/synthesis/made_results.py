"""Assessments and records put together by hand, for tests of what follows from them."""

import numpy as np

from tension.assessment.decide import Assessment, Reason, RopeShare, Verdict
from tension.assessment.interval import Spread
from tension.catalogue import Standing
from tension.catalogue.rules import Metric, Rule
from tension.installation import Side, Span
from tension.measurement.combine import (
    RopeMeasurement,
    SetMeasurement,
    TensionHypothesis,
)
from tension.measurement.readings import Method, Series
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import Note, NoteKind
from tension.quantity.estimate import Estimate, Source
from tension.quantity.units import Dimension, Quantity, parse_quantity

HOUSE_RULE = Rule(
    name="house rule",
    metric=Metric.BELOW_HIGHEST,
    limit=0.10,
    source="house rule of 2026",
    edition="1",
    standing=Standing.USER,
)

_REASONS = {
    Verdict.EQUAL: Reason.ALL_WITHIN,
    Verdict.UNEQUAL: Reason.APART,
    Verdict.CANNOT_TELL: Reason.ROPES_MISSING,
    Verdict.NO_RESULT: Reason.REFUSED,
}


def length(text: str) -> Quantity:
    """A length as typed."""
    return parse_quantity(text, Dimension.LENGTH)


def force(text: str) -> Quantity:
    """A force as typed."""
    return parse_quantity(text, Dimension.FORCE)


def fraction(text: str) -> Quantity:
    """A percentage as typed."""
    return parse_quantity(text, Dimension.FRACTION)


def made_assessment(
    verdict: Verdict,
    *,
    series: str = "as found",
    span: str = "top, car side",
    shares: tuple[float | None, ...] = (1.09, 0.91, 1.0, 1.0),
    measure_again: tuple[int, ...] = (),
    notes: tuple[Note, ...] = (),
    rule: Rule = HOUSE_RULE,
) -> Assessment:
    """An assessment with the answer wanted; its numbers are not computed."""
    mean = 2746.0
    ropes = tuple(
        RopeMeasurement(
            number=number,
            tension=None
            if share is None
            else Estimate(
                value=share * mean, sources=(Source(name="length", relative=0.008),)
            ),
            methods=(Method.PLUCK,) if share is not None else (),
            fundamental=None if share is None else Estimate(value=11.3 * share**0.5),
            refusal=None
            if share is not None
            else NoteKind.NO_PLUCK.refusal(recording="rope-3.m4a"),
        )
        for number, share in enumerate(shares, start=1)
    )
    given = [share for share in shares if share is not None]
    observed = 1.0 - min(given) / max(given)
    spread = Spread(
        metric=rule.metric,
        observed=observed,
        lower=max(observed - 0.03, 0.0),
        upper=observed + 0.03,
        probability_over_limit=0.99,
    )
    others = tuple(
        Spread(metric=metric, observed=observed, lower=None, upper=observed + 0.04)
        for metric in Metric
        if metric is not rule.metric
    )
    return Assessment(
        measurement=SetMeasurement(
            series=Series(
                name=series, span=span, arrived="up", taken="2026-11-20 10:12 +00:00"
            ),
            span=Span(name=span, side=Side.CAR, position="top landing"),
            ropes=ropes,
            is_absolute=True,
            hypotheses=(
                TensionHypothesis(weight=1.0, tensions=mean * np.array(given)),
            ),
            covariance=np.zeros((len(given), len(given))),
            lengths=LengthKnowledge.ONE_HEIGHT,
        ),
        rule=rule,
        verdict=verdict,
        reason=_REASONS[verdict],
        reason_note=NoteKind.ONE_ROPE.note() if verdict is Verdict.NO_RESULT else None,
        is_complete=len(given) == len(shares),
        spread=spread,
        other_spreads=others,
        shares=tuple(
            RopeShare(
                number=number,
                share=share,
                share_uncertainty=None if share is None else 0.0082,
                tension=None if share is None else share * mean,
                tension_uncertainty=None if share is None else 0.05 * mean,
            )
            for number, share in enumerate(shares, start=1)
        ),
        measure_again=measure_again,
        notes=notes,
    )
