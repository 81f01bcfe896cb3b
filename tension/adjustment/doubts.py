"""When no nut is turned: a rope in doubt, readings too uncertain, or a set equal."""

import numpy as np

from tension.adjustment.answer_notes import reasons_of_state
from tension.adjustment.outcome import NoPlan, NoPlanKind
from tension.adjustment.plan_basis import PlanRequest
from tension.adjustment.simulation import upper_of_equal_set
from tension.adjustment.state import ANSWERABLE, Looked, SetState
from tension.assessment.outcome import Assessment, Verdict
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.notes import Note, NoteKind, Refusal
from tension.wording import limit_text

LOOK_FIRST_SHARE = 0.60
"""Under this share of an even one a person looks before turning. [1]"""

_RIVAL_PROBABILITY = 0.01
"""A rival numbering at least as probable as this is a doubt. [1]"""

_DOUBTFUL = (
    NoteKind.SWAPPED_ROPES,
    NoteKind.TOUCHING,
    NoteKind.ROPE_CONTRADICTS,
    NoteKind.MASS_RATIO_NAMED,
)
"""Notes that tell of a doubt about a rope or about how partials were counted."""

_TO_TELL = (NoteKind.LENGTH_PATTERN, NoteKind.KINDS_DISAGREE)
"""Notes of the measurement that a reader of the plan must see again."""


def find_no_plan(assessment: Assessment, request: PlanRequest) -> NoPlan | None:
    """Find why no plan may be made: all reasons at once; None if nuts may be turned."""
    measurement = assessment.measurement
    if measurement.refusal is not None:
        return NoPlan(kind=NoPlanKind.NO_RESULT, reasons=(measurement.refusal,))
    unrun = _find_unrun(request.state)
    if unrun is not None:
        return unrun
    open_doubts = (
        doubt
        for doubt in request.doubts
        if not any(each.settles(doubt.code) for each in request.looked)
        or doubt.code not in ANSWERABLE
    )
    doubts = (*open_doubts, *find_doubts(assessment, request.looked))
    if doubts:
        return NoPlan(kind=NoPlanKind.LOOK_FIRST, reasons=doubts)
    if assessment.verdict is Verdict.EQUAL:
        return NoPlan(kind=NoPlanKind.LEAVE_IT, reasons=(NoteKind.LEAVE_IT.refusal(),))
    uncertain = _find_uncertain(assessment)
    if uncertain is not None:
        return NoPlan(kind=NoPlanKind.MEASURE_FIRST, reasons=(uncertain,))
    return None


def _find_unrun(state: SetState) -> NoPlan | None:
    """Whether the set must run, or be measured again, before anything is planned."""
    if state.turned_since:
        ropes = ", ".join(map(str, state.turned_since))
        since = NoteKind.TURNED_SINCE.refusal(ropes=ropes, trips=state.wanted_since)
        kind = NoPlanKind.RUN_FIRST if state.wanted_since else NoPlanKind.MEASURE_FIRST
        if state.is_beyond_people:
            many = NoteKind.MANY_TRIPS.refusal(trips=state.wanted_since)
            return NoPlan(kind=kind, reasons=(since, many))
        return NoPlan(kind=kind, reasons=(since,))
    if state.is_at_rest:
        return None
    return NoPlan(kind=NoPlanKind.RUN_FIRST, reasons=reasons_of_state(state))


def find_doubts(
    assessment: Assessment, looked: tuple[Looked, ...] = ()
) -> tuple[Refusal, ...]:
    """Find every doubt that a rope or the set carries, with what to do about it."""
    found: list[Refusal] = []
    measurement = assessment.measurement
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        found.append(NoteKind.LENGTHS_UNKNOWN.refusal())
    found.extend(note.as_refusal() for note in measurement.doubts)
    for rope in measurement.ropes:
        found.extend(_doubts_of(rope))
    found.extend(
        NoteKind.ROPE_IN_DOUBT.refusal(reason=note.text)
        for note in _all_notes(assessment)
        if _is_doubt(note)
    )
    found.extend(
        NoteKind.FAR_BELOW.refusal(rope=share.number, share=100 * share.share)
        for share in assessment.shares
        if share.share is not None
        and share.share < LOOK_FIRST_SHARE
        and not _is_looked_at(looked, share.number)
    )
    return tuple(found)


def _is_looked_at(looked: tuple[Looked, ...], rope: int) -> bool:
    """Whether a person has looked at a rope that carries little."""
    return any(each.settles(NoteKind.FAR_BELOW.code, rope) for each in looked)


def notes_to_tell(assessment: Assessment) -> tuple[Note, ...]:
    """Find the notes of the measurement that a reader of the plan must see again."""
    return tuple(note for note in _all_notes(assessment) if note.kind in _TO_TELL)


def _all_notes(assessment: Assessment) -> tuple[Note, ...]:
    """Notes of the set and of its ropes, each once."""
    of_ropes = [note for rope in assessment.measurement.ropes for note in rope.notes]
    return tuple(
        dict.fromkeys((*assessment.notes, *assessment.measurement.notes, *of_ropes))
    )


def _is_doubt(note: Note) -> bool:
    """Whether a note tells of a doubt that stops a plan."""
    return note.kind in _DOUBTFUL


def _doubts_of(rope: RopeMeasurement) -> list[Refusal]:
    """Doubts about one rope that are no notes."""
    if rope.tension is None:
        reason = rope.refusal.text if rope.refusal else "it was not measured."
        return [NoteKind.NO_SHARE.refusal(rope=rope.number, reason=reason)]
    if any(rival.probability >= _RIVAL_PROBABILITY for rival in rope.rivals):
        return [NoteKind.RIVAL_NUMBERS.refusal(rope=rope.number)]
    return []


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
            f"over the limit of {limit_text(rule.limit)}",
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
