"""What a record tells of turns, and how far the car has run since each."""

from dataclasses import replace

from tension.adjustment.answer_notes import notes_on_state
from tension.adjustment.outcome import Strategy
from tension.adjustment.past import Past, state_at
from tension.adjustment.plan_basis import PlanRequest
from tension.adjustment.state import Looked
from tension.adjustment.turns import PastTurn, turns_before
from tension.assessment.outcome import Assessment
from tension.files.visit import NoteAnswer, Visit
from tension.installation import HitchPlace, Side, Span
from tension.measurement.readings import Series
from tension.notes import NoteKind

_CAR_SIDE = (HitchPlace.CAR, HitchPlace.DEAD_END_CAR)
_COUNTERWEIGHT_SIDE = (HitchPlace.COUNTERWEIGHT, HitchPlace.DEAD_END_COUNTERWEIGHT)


def make_request(
    visit: Visit,
    series: Series,
    *,
    hitch: HitchPlace | None = None,
    strategy: Strategy = Strategy.FEWEST_NUTS,
) -> PlanRequest:
    """Put together what a plan needs to know of the installation.

    Parameters
    ----------
    visit : Visit
        The record.
    series : Series
        The series measured.
    hitch : HitchPlace, optional
        Where the nuts are turned; the one next to the span measured if left out.
    strategy : Strategy, optional
        What to aim at besides equal ropes.

    Returns
    -------
    PlanRequest
        Nothing learned yet, and nothing said of turns before the series.
    """
    span = next((s for s in visit.rope_set.spans if s.name == series.span), None)
    is_car = span is None or span.side is Side.CAR
    return PlanRequest(
        rope_set=visit.rope_set,
        hitch=hitch or nearest_hitch(visit, span),
        strategy=strategy,
        drive=visit.lift.drive,
        roping=visit.lift.roping,
        hanging_mass=visit.lift.car_mass if is_car else visit.lift.counterweight_mass,
        travel=visit.lift.travel,
        looked=tuple(_looked(answer) for answer in visit.answers),
    )


def nearest_hitch(visit: Visit, span: Span | None) -> HitchPlace:
    """Find the hitch next to a span: one of the record on its side, if there is one."""
    is_car = span is None or span.side is Side.CAR
    here = _CAR_SIDE if is_car else _COUNTERWEIGHT_SIDE
    return next((h.at for h in visit.rope_set.hitches if h.at in here), here[0])


def turns_between(visit: Visit, before: Series, after: Series) -> tuple[PastTurn, ...]:
    """Find the turns made between two series.

    Returns
    -------
    tuple of PastTurn
        In order of time, with what the car has run since each.
    """
    return turns_before(visit.series, visit.turns, after.name, since=before.name)


def with_notes_on_running(
    visit: Visit, series: Series, assessment: Assessment
) -> Assessment:
    """Tell with an assessment that the set had not come to rest.

    Returns
    -------
    Assessment
        With notes where the car must run before the shares are what they will be.
    """
    past = Past(
        series=visit.series, turns=visit.turns, assess=lambda _series: assessment
    )
    state = state_at(past, series, make_request(visit, series))
    return replace(assessment, notes=(*assessment.notes, *notes_on_state(state)))


def _looked(answer: NoteAnswer) -> Looked:
    """What a person answered to a note, by the code of the note."""
    named = (kind for kind in NoteKind if answer.note in {str(kind.number), kind.code})
    kind = next(named, None)
    who = ", ".join(part for part in (answer.by, answer.date) if part)
    return Looked(
        code=answer.note if kind is None else kind.code,
        ropes=answer.ropes,
        words=f"{answer.answer} ({who})" if who else answer.answer,
    )
