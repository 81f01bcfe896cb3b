"""What a record tells of turns, and how far the car has run since each."""

from collections.abc import Sequence
from dataclasses import replace

from tension.adjustment.answer_notes import notes_on_state
from tension.adjustment.looked import ANSWERABLE, Looked
from tension.adjustment.outcome import Strategy
from tension.adjustment.past import Past, state_at
from tension.adjustment.plan_basis import PlanRequest
from tension.adjustment.turns import PastTurn, turns_before
from tension.assessment.outcome import Assessment
from tension.files.visit import Visit
from tension.installation import HitchPlace, Side
from tension.measurement.outcome import SetMeasurement
from tension.measurement.readings import Series
from tension.measurement.stretch import HITCHES_OF_SIDE
from tension.notes import NoteKind


def make_request(
    visit: Visit,
    series: Series,
    *,
    hitch: HitchPlace | None = None,
    strategy: Strategy = Strategy.FEWEST_NUTS,
) -> PlanRequest:
    """Put together what a plan needs to know of the installation.

    Nothing is learned yet, and nothing said of turns before the series.

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
    """
    span = next((s for s in visit.rope_set.spans if s.name == series.span), None)
    side = Side.CAR if span is None else span.side
    is_car = side is Side.CAR
    return PlanRequest(
        rope_set=visit.rope_set,
        hitch=hitch or _nearest_hitch(visit, HITCHES_OF_SIDE[side]),
        strategy=strategy,
        drive=visit.lift.drive,
        roping=visit.lift.roping,
        hanging_mass=visit.lift.car_mass if is_car else visit.lift.counterweight_mass,
        travel=visit.lift.travel,
        looked=_looked_at(visit),
    )


def _nearest_hitch(visit: Visit, here: Sequence[HitchPlace]) -> HitchPlace:
    """One of the record on the side that was measured, if there is one."""
    return next((h.at for h in visit.rope_set.hitches if h.at in here), here[0])


def turns_between(visit: Visit, before: Series, after: Series) -> tuple[PastTurn, ...]:
    """Find the turns made between two series, with what the car has run since each."""
    return turns_before(visit.series, visit.turns, after.name, since=before.name)


def without_answered_doubts(visit: Visit, measured: SetMeasurement) -> SetMeasurement:
    """Take out doubts that a person settled by looking, and tell what was seen."""
    answered = [
        looked
        for looked in _looked_at(visit)
        if looked.code in ANSWERABLE
        and any(looked.settles(doubt.code) for doubt in measured.doubts)
    ]
    codes = {looked.code for looked in answered}
    return replace(
        measured,
        doubts=tuple(doubt for doubt in measured.doubts if doubt.code not in codes),
        notes=(
            *measured.notes,
            *(
                NoteKind.LOOKED.note(ropes=looked.ropes, words=looked.words)
                for looked in answered
            ),
        ),
    )


def with_notes_on_running(
    visit: Visit, series: Series, assessment: Assessment
) -> Assessment:
    """Tell where the car must run before the shares are what they will be."""
    past = Past(
        series=visit.series, turns=visit.turns, assess=lambda _series: assessment
    )
    state = state_at(past, series, make_request(visit, series))
    return replace(assessment, notes=(*assessment.notes, *notes_on_state(state)))


def _looked_at(visit: Visit) -> tuple[Looked, ...]:
    """What a person answered to notes, by the code of the note."""
    codes = {str(kind.number): kind.code for kind in NoteKind}
    return tuple(
        Looked(
            code=codes.get(answer.note, answer.note),
            ropes=answer.ropes,
            words=f"{answer.answer} ({who})" if who else answer.answer,
        )
        for answer in visit.answers
        for who in [", ".join(part for part in (answer.by, answer.date) if part)]
    )
