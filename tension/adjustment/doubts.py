"""When no nut is turned: a rope in doubt, readings too uncertain, or a set equal."""

import numpy as np

from tension.adjustment.outcome import NoPlan, NoPlanKind
from tension.adjustment.simulation import upper_of_equal_set
from tension.assessment.outcome import Assessment, Verdict
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.notes import NoteKind, Refusal

LOOK_FIRST_SHARE = 0.60
"""Under this share of an even one a person looks before turning. [1]"""

_RIVAL_PROBABILITY = 0.01
"""A rival numbering at least as probable as this is a doubt. [1]"""

_DOUBTFUL_WORDS = ("touch", "swapped", "exchanged", "ambiguous", "stagger")
"""Parts of note codes that tell of a doubt about one rope."""


def find_no_plan(assessment: Assessment) -> NoPlan | None:
    """Find why no plan may be made of an assessment.

    Parameters
    ----------
    assessment : Assessment
        The set as measured.

    Returns
    -------
    NoPlan or None
        The reasons, all at once; None if nuts may be turned.
    """
    measurement = assessment.measurement
    if measurement.refusal is not None:
        return NoPlan(kind=NoPlanKind.NO_RESULT, reasons=(measurement.refusal,))
    doubts = find_doubts(assessment)
    if doubts:
        return NoPlan(kind=NoPlanKind.LOOK_FIRST, reasons=doubts)
    if assessment.verdict is Verdict.EQUAL:
        return NoPlan(kind=NoPlanKind.LEAVE_IT, reasons=(NoteKind.LEAVE_IT.refusal(),))
    uncertain = _find_uncertain(assessment)
    if uncertain is not None:
        return NoPlan(kind=NoPlanKind.MEASURE_FIRST, reasons=(uncertain,))
    return None


def find_doubts(assessment: Assessment) -> tuple[Refusal, ...]:
    """Find every doubt that a rope or the set carries.

    Parameters
    ----------
    assessment : Assessment
        The set as measured.

    Returns
    -------
    tuple of Refusal
        One per doubt, with what to do about it; empty if there is none.
    """
    found: list[Refusal] = []
    measurement = assessment.measurement
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        found.append(NoteKind.LENGTHS_UNKNOWN.refusal())
    for rope in measurement.ropes:
        found.extend(_doubts_of(rope))
    found.extend(
        NoteKind.FAR_BELOW.refusal(rope=share.number, share=100 * share.share)
        for share in assessment.shares
        if share.share is not None and share.share < LOOK_FIRST_SHARE
    )
    return tuple(found)


def _doubts_of(rope: RopeMeasurement) -> list[Refusal]:
    """Doubts about one rope."""
    if rope.tension is None:
        reason = rope.refusal.text if rope.refusal else "it was not measured."
        return [NoteKind.NO_SHARE.refusal(rope=rope.number, reason=reason)]
    found = []
    if any(rival.probability >= _RIVAL_PROBABILITY for rival in rope.rivals):
        found.append(NoteKind.RIVAL_NUMBERS.refusal(rope=rope.number))
    found.extend(
        NoteKind.ROPE_TOUCHES.refusal(rope=rope.number, reason=note.text)
        for note in rope.notes
        if any(word in note.code for word in _DOUBTFUL_WORDS)
    )
    return found


def _find_uncertain(assessment: Assessment) -> Refusal | None:
    """Find whether the readings are too uncertain to turn by."""
    rule, covariance = assessment.rule, assessment.measurement.covariance
    given = [share for share in assessment.shares if share.share is not None]
    widest = sorted(given, key=lambda s: -(s.share_uncertainty or 0.0))
    again = assessment.measure_again or tuple(s.number for s in widest[:2])
    ropes = "rope " + ", ".join(str(number) for number in again)
    upper = upper_of_equal_set(covariance, rule)
    if upper > rule.limit:
        return NoteKind.MEASURE_FIRST.refusal(
            reason=f"even a perfectly equal set could read {100 * upper:.0f} % apart, "
            f"over the limit of {100 * rule.limit:.0f} %",
            ropes=ropes,
        )
    off = np.array([abs((s.share or 1.0) - 1.0) for s in given])
    wide = np.array([2.0 * (s.share_uncertainty or 0.0) for s in given])
    if np.all(off <= wide):
        return NoteKind.MEASURE_FIRST.refusal(
            reason="no rope is further from an even share than twice its uncertainty",
            ropes=ropes,
        )
    return None
