"""Where a visit stands: what was turned, run and looked at, and what comes next."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from tension.adjustment.comparison import Past, state_at
from tension.adjustment.outcome import Direction, NutTurn, Plan, PlanOutcome, Strategy
from tension.adjustment.plan_basis import ANSWERABLE, Looked, PlanRequest
from tension.adjustment.running import notes_on_state
from tension.adjustment.turns import PastTurn, turns_before
from tension.assessment.outcome import Assessment, Verdict
from tension.files.evidence import has_seal
from tension.files.visit import Visit
from tension.installation import HitchPlace, Side, Span
from tension.measurement.outcome import LengthKnowledge, SetMeasurement
from tension.measurement.readings import PluckReading, Series, SpringReading
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.notes import NoteKind
from tension.workflow.inputs import find_record
from tension.workflow.record_files import NewSound, find_new_sound

USUAL_RUN = 6
"""Round trips before measuring again: enough on ropes of 38 m with springs at both
ends, the demo lift; `adjust` works out how many this lift needs. [1]"""


class NextKind(StrEnum):
    """What a person would do next."""

    START = "start"
    ADD_ROUND = "add-round"
    ADD_ROPE = "add-rope"
    ADD_LENGTHS = "add-lengths"
    ASSESS = "assess"
    ADJUST = "adjust"
    ADD_TURNS = "add-turns"
    ADD_RUN = "add-run"
    ADD_LEFT = "add-left"
    COMPARE = "compare"
    REPORT = "report"
    SEAL = "seal"
    VERIFY = "verify"


@dataclass(frozen=True, kw_only=True, slots=True)
class NextStep:
    """The next act, with the names it needs.

    Attributes
    ----------
    kind : NextKind
        What to do.
    ropes : tuple of int
        Ropes concerned, the first first.
    sound : NewSound or None
        New recordings that are there for it.
    turns : tuple of NutTurn
        Of a plan.
    n_ropes : int
        Ropes of the set. [1]
    round_trips : int
        To run; what a lift usually needs if it was not worked out. [1]
    """

    kind: NextKind
    ropes: tuple[int, ...] = ()
    sound: NewSound | None = None
    turns: tuple[NutTurn, ...] = ()
    n_ropes: int = 0
    round_trips: int = USUAL_RUN


@dataclass(frozen=True, kw_only=True, slots=True)
class RoundRead:
    """A series, its span, and the ropes of which it has a reading."""

    name: str
    span: str
    ropes: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """Where a visit stands.

    Attributes
    ----------
    visit : Visit
        The record.
    rounds : tuple of RoundRead
        Series in order of time.
    turned : tuple of int
        Ropes whose nuts were turned, at any time.
    is_run : bool
        Whether the car ran after the last of the turns.
    round_trips : int or None
        How often; None if that is not recorded.
    is_left : bool
        Whether a series was read after the last turns.
    is_sealed : bool
        Whether the record is sealed.
    sound : tuple of NewSound
        New recordings, folder by folder.
    """

    visit: Visit
    rounds: tuple[RoundRead, ...]
    turned: tuple[int, ...]
    is_run: bool
    round_trips: int | None
    is_left: bool
    is_sealed: bool
    sound: tuple[NewSound, ...]

    @property
    def step(self) -> NextStep:
        """What comes next, by what the record says."""
        n_ropes = self.visit.rope_set.n_ropes
        last = self.rounds[-1] if self.rounds else None
        whole = next((s for s in self.sound if len(s.names) >= n_ropes), None)
        if self.is_sealed:
            return NextStep(kind=NextKind.VERIFY)
        if last is None or not last.ropes:
            return NextStep(kind=NextKind.ADD_ROUND, sound=whole, n_ropes=n_ropes)
        if self.turned and not self.is_left:
            if not self.is_run:
                return NextStep(kind=NextKind.ADD_RUN)
            return NextStep(kind=NextKind.ADD_LEFT, sound=whole)
        missing = tuple(n for n in range(1, n_ropes + 1) if n not in last.ropes)
        return self.ask_for(missing) if missing else NextStep(kind=NextKind.ASSESS)

    def ask_for(self, ropes: tuple[int, ...]) -> NextStep:
        """Ask for readings of some ropes, with the first new recordings."""
        first = self.sound[0] if self.sound else None
        return NextStep(kind=NextKind.ADD_ROPE, ropes=ropes, sound=first)


def standing_of(path: Path | str) -> Standing:
    """Tell where the visit of a record stands; nothing is listened to."""
    from tension.files.record import read_visit

    return _standing_of_visit(read_visit(find_record(Path(path))))


def _standing_of_visit(visit: Visit) -> Standing:
    """Where a visit stands."""
    names = [series.name for series in visit.series]
    last_turned = max((names.index(turn.after) for turn in visit.turns), default=-1)
    trips = [t.round_trips_after for t in visit.turns if t.after in names[last_turned:]]
    told = [number for number in trips if number is not None]
    is_told = bool(told) and len(told) == len(trips)
    return Standing(
        visit=visit,
        rounds=tuple(
            RoundRead(name=s.name, span=s.span, ropes=_ropes_read(visit, s.name))
            for s in visit.series
        ),
        turned=tuple(sorted({turn.rope for turn in visit.turns})),
        is_run=is_told and min(told) > 0,
        round_trips=min(told) if is_told else None,
        is_left=0 <= last_turned < len(names) - 1,
        is_sealed=visit.path is not None and has_seal(visit.path),
        sound=find_new_sound(visit),
    )


def _ropes_read(visit: Visit, series: str) -> tuple[int, ...]:
    """Ropes with a reading of their tension in a series."""
    ropes: set[int] = set()
    for reading in visit.readings:
        if reading.series != series or isinstance(reading, SpringReading):
            continue
        ropes |= (
            set(reading.ropes) if isinstance(reading, PluckReading) else {reading.rope}
        )
    return tuple(sorted(ropes))


def next_of_visit(visit: Visit) -> NextStep:
    """Tell what comes next by what a record says."""
    return _standing_of_visit(visit).step


def next_after_assessment(visit: Visit, assessment: Assessment) -> NextStep | None:
    """Tell what comes after a result; None where only a person can know."""
    if visit.path is None:
        return NextStep(kind=NextKind.START)
    standing = _standing_of_visit(visit)
    if standing.step.kind is not NextKind.ASSESS:
        return standing.step
    measured = assessment.measurement
    is_asked = measured.given and measured.lengths is LengthKnowledge.UNKNOWN
    if is_asked or _lacks_lengths(measured):
        return NextStep(kind=NextKind.ADD_LENGTHS, n_ropes=visit.rope_set.n_ropes)
    if assessment.measure_again and assessment.verdict is not Verdict.UNEQUAL:
        return standing.ask_for(assessment.measure_again)
    kind = NextKind.COMPARE if standing.is_left else _AFTER.get(assessment.verdict)
    return NextStep(kind=kind) if kind else None


def _lacks_lengths(measured: SetMeasurement) -> bool:
    """Whether every rope is refused for want of its free length alone."""
    refusals = [rope.refusal for rope in measured.ropes]
    return bool(refusals) and all(
        refusal is not None and refusal.code == NoteKind.NO_FREE_LENGTH.code
        for refusal in refusals
    )


_AFTER = {Verdict.UNEQUAL: NextKind.ADJUST, Verdict.EQUAL: NextKind.REPORT}


def next_after_plan(
    visit: Visit,
    series: str,
    assessment: Assessment,
    outcome: PlanOutcome,
    still_to_run: int = 0,
) -> NextStep | None:
    """Tell what comes after a plan; None for a series that others followed.

    The turns of the first stage, once they are made; else what comes after the result,
    if that is not a plan. Nuts turned after the series, the round trips that they still
    want come first.
    """
    if series != visit.series[-1].name:
        return None
    step = _standing_of_visit(visit).step
    is_turned = step.kind in {NextKind.ADD_RUN, NextKind.ADD_LEFT}
    if is_turned and still_to_run:
        return NextStep(kind=NextKind.ADD_RUN, round_trips=still_to_run)
    if isinstance(outcome, Plan) and outcome.stages and not is_turned:
        steps = (step.turn for step in outcome.stages[0].steps)
        made = tuple(turn for turn in steps if turn.direction is not Direction.LEAVE)
        return NextStep(kind=NextKind.ADD_TURNS, turns=made)
    if step.kind is NextKind.ASSESS and assessment.verdict is Verdict.UNEQUAL:
        return None  # the plan tells what to measure or to look at
    return next_after_assessment(visit, assessment)


def span_of(visit: Visit, series: Series) -> Span | None:
    """Find the span of a series, if the record describes it."""
    spans = visit.rope_set.spans
    return next((span for span in spans if span.name == series.span), None)


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
    span = span_of(visit, series)
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
