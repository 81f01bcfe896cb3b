"""When no nut is turned: a rope in doubt, readings too uncertain, or a set equal."""

from collections.abc import Sequence

import numpy as np

from tension.adjustment.outcome import NoPlan, NoPlanKind
from tension.adjustment.plan_basis import ANSWERABLE, PlanRequest
from tension.adjustment.running import SetState, reasons_of_state
from tension.adjustment.simulation import upper_of_equal_set
from tension.assessment.outcome import Assessment, Verdict
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.notes import Note, NoteKind, Refusal
from tension.wording import limit_text

# under this share of an even one a person looks before turning [1]
LOOK_FIRST_SHARE = 0.60
# a rival numbering at least as probable as this is a doubt [1]
_RIVAL_PROBABILITY = 0.01
_DOUBTFUL = (
    NoteKind.SWAPPED_ROPES,
    NoteKind.TOUCHING,
    NoteKind.ROPE_CONTRADICTS,
    NoteKind.MASS_RATIO_NAMED,
)
"""Notes that tell of a doubt about a rope or about how partials were counted."""


def find_no_plan(assessment: Assessment, request: PlanRequest) -> NoPlan | None:
    """Find why no plan may be made: all reasons at once; None if nuts may be turned."""
    refusal = assessment.measurement.refusal
    if refusal is not None:
        return NoPlan.of(NoPlanKind.NO_RESULT, refusal)
    unrun = _find_unrun(request.state)
    if unrun is not None:
        return unrun
    still_open = (
        doubt
        for doubt in request.doubts
        if doubt.code not in ANSWERABLE or not request.has_looked(doubt.code)
    )
    doubts = (*still_open, *_find_doubts(assessment, request))
    if doubts:
        return NoPlan.of(NoPlanKind.LOOK_FIRST, *doubts)
    if assessment.verdict is Verdict.EQUAL:
        return NoPlan.of(NoPlanKind.LEAVE_IT, NoteKind.LEAVE_IT.refusal())
    return _find_uncertain(assessment)


def measure_first(assessment: Assessment, reason: str, others: Sequence[int]) -> NoPlan:
    """Ask to measure again the ropes the verdict hangs on, or others if it does not."""
    ropes = ropes_text(assessment.measure_again or others)
    refusal = NoteKind.MEASURE_FIRST.refusal(reason=reason, ropes=ropes)
    return NoPlan.of(NoPlanKind.MEASURE_FIRST, refusal)


def ropes_text(numbers: Sequence[int]) -> str:
    """Name ropes to be measured again."""
    return "rope " + ", ".join(map(str, numbers))


def _find_unrun(state: SetState) -> NoPlan | None:
    """Whether the set must run, or be measured again, before anything is planned."""
    if not state.turned_since:
        reasons = reasons_of_state(state)
        return NoPlan.of(NoPlanKind.RUN_FIRST, *reasons) if reasons else None
    trips = state.wanted_since
    ropes = ", ".join(map(str, state.turned_since))
    reasons = (NoteKind.TURNED_SINCE.refusal(ropes=ropes, trips=trips),)
    if state.is_beyond_people:
        reasons = (*reasons, NoteKind.MANY_TRIPS.refusal(trips=trips))
    return NoPlan.of(
        NoPlanKind.RUN_FIRST if trips else NoPlanKind.MEASURE_FIRST, *reasons
    )


def _find_doubts(assessment: Assessment, request: PlanRequest) -> list[Refusal]:
    """Find every doubt that a rope or the set carries, with what to do about it."""
    measurement = assessment.measurement
    found: list[Refusal] = []
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        found.append(NoteKind.LENGTHS_UNKNOWN.refusal())
    found.extend(note.as_refusal() for note in measurement.doubts)
    for rope in measurement.ropes:
        found.extend(_doubts_of(rope))
    found.extend(
        NoteKind.ROPE_IN_DOUBT.refusal(reason=note.text)
        for note in every_note(assessment)
        if note.kind in _DOUBTFUL
    )
    found.extend(
        NoteKind.FAR_BELOW.refusal(rope=share.number, share=100 * share.share)
        for share in assessment.shares
        if share.share is not None
        and share.share < LOOK_FIRST_SHARE
        and not request.has_looked(NoteKind.FAR_BELOW.code, share.number)
    )
    return found


def every_note(assessment: Assessment) -> tuple[Note, ...]:
    """Notes of the set and of its ropes, each once."""
    of_ropes = [note for rope in assessment.measurement.ropes for note in rope.notes]
    return tuple(
        dict.fromkeys((*assessment.notes, *assessment.measurement.notes, *of_ropes))
    )


def _doubts_of(rope: RopeMeasurement) -> list[Refusal]:
    """Doubts about one rope that are no notes."""
    if rope.tension is None:
        reason = rope.refusal.text if rope.refusal else "it was not measured."
        return [NoteKind.NO_SHARE.refusal(rope=rope.number, reason=reason)]
    if any(rival.probability >= _RIVAL_PROBABILITY for rival in rope.rivals):
        return [NoteKind.RIVAL_NUMBERS.refusal(rope=rope.number)]
    return []


def _find_uncertain(assessment: Assessment) -> NoPlan | None:
    """Find whether the readings are too uncertain to turn by."""
    rule = assessment.rule
    given = [share for share in assessment.shares if share.share is not None]
    off = np.array([abs((s.share or 1.0) - 1.0) for s in given])
    wide = np.array([2.0 * (s.share_uncertainty or 0.0) for s in given])
    upper = upper_of_equal_set(assessment.measurement.covariance, rule)
    if upper > rule.limit:
        reason = (
            f"even a perfectly equal set could read {100 * upper:.0f} % apart, "
            f"over the limit of {limit_text(rule.limit)}"
        )
    elif np.all(off <= wide):
        reason = "no rope is further from an even share than twice its uncertainty"
    else:
        return None
    widest = np.argsort(-wide, kind="stable")[:2]
    return measure_first(assessment, reason, [given[i].number for i in widest])
