"""Where a visit stands by what its record says, and what comes next."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from tension.adjustment.outcome import Direction, NutTurn, Plan
from tension.assessment.decide import Verdict
from tension.files.evidence import has_seal
from tension.files.visit import Visit
from tension.measurement.readings import SpringReading
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import NoteKind
from tension.workflow.inputs import NewSound, find_new_sound, find_record

if TYPE_CHECKING:
    from tension.workflow.adjustment import Planned
    from tension.workflow.assess import Assessed

# round trips before measuring again: enough on ropes of 38 m with springs at both ends,
# the demo lift; `adjust` works out how many this lift needs [1]
USUAL_RUN = 6


class NextKind(StrEnum):
    """What a person would do next: the command, with places for what it needs."""

    START = "start{record}"
    ADD_ROUND = "add round{new_round}{place}"
    ADD_ROPE = "add rope {rope} {file}{place}"
    ADD_LENGTHS = 'add lengths "{lengths} m"{place}'
    ASSESS = "assess{record}"
    ADJUST = "adjust{record}"
    ADD_TURNS = 'add turns "{turns}"{place}'
    ADD_RUN = "add run {trips}{place}"
    ADD_LEFT = "add left{new_round}{place}"
    COMPARE = "compare{record}"
    REPORT = "report{record} -o {report}"
    SEAL = "seal{record}"
    VERIFY = "verify{record}"


@dataclass(frozen=True, kw_only=True, slots=True)
class NextStep:
    """The next act, with the names it needs."""

    kind: NextKind
    ropes: tuple[int, ...] = ()  # concerned, the first first
    sound: NewSound | None = None  # new recordings that are there for it
    turns: tuple[NutTurn, ...] = ()  # of a plan
    n_ropes: int = 0  # of the set
    round_trips: int = USUAL_RUN  # to run


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """Where a visit stands."""

    visit: Visit
    # series in order of time, and the ropes of which each has read the tension
    rounds: Mapping[str, tuple[int, ...]]
    turned: tuple[int, ...]  # ropes whose nuts were turned, at any time
    is_run: bool  # the car ran after the last of the turns
    round_trips: int | None  # so often; None if that is not recorded
    is_left: bool  # a series was read after them
    is_sealed: bool
    sound: tuple[NewSound, ...]  # new recordings, folder by folder

    @property
    def step(self) -> NextStep:
        """What comes next, by what the record says."""
        n_ropes = self.visit.rope_set.n_ropes
        read = list(self.rounds.values())[-1] if self.rounds else ()
        whole = next((s for s in self.sound if len(s.names) >= n_ropes), None)
        if self.is_sealed:
            return NextStep(kind=NextKind.VERIFY)
        if not read:
            return NextStep(kind=NextKind.ADD_ROUND, sound=whole, n_ropes=n_ropes)
        if self.turned and not self.is_left:
            if not self.is_run:
                return NextStep(kind=NextKind.ADD_RUN)
            return NextStep(kind=NextKind.ADD_LEFT, sound=whole)
        missing = tuple(n for n in range(1, n_ropes + 1) if n not in read)
        return self.ask_for(missing) if missing else NextStep(kind=NextKind.ASSESS)

    def ask_for(self, ropes: tuple[int, ...]) -> NextStep:
        """Ask for readings of some ropes, with the first new recordings."""
        first = self.sound[0] if self.sound else None
        return NextStep(kind=NextKind.ADD_ROPE, ropes=ropes, sound=first)


def standing_of(path: Path | str) -> Standing:
    """Tell where the visit of a record stands; nothing is listened to."""
    from tension.files.record import read_visit

    return standing_of_visit(read_visit(find_record(Path(path))))


def standing_of_visit(visit: Visit) -> Standing:
    """Tell where a visit stands."""
    names = [series.name for series in visit.series]
    read: dict[str, set[int]] = {name: set() for name in names}
    for reading in visit.readings:
        if reading.series in read and not isinstance(reading, SpringReading):
            read[reading.series].update(reading.ropes)
    last_turned = max((names.index(turn.after) for turn in visit.turns), default=-1)
    trips = [t.round_trips_after for t in visit.turns if t.after in names[last_turned:]]
    told = [number for number in trips if number is not None]
    is_told = bool(told) and len(told) == len(trips)
    return Standing(
        visit=visit,
        rounds={name: tuple(sorted(ropes)) for name, ropes in read.items()},
        turned=tuple(sorted({turn.rope for turn in visit.turns})),
        is_run=is_told and min(told) > 0,
        round_trips=min(told) if is_told else None,
        is_left=0 <= last_turned < len(names) - 1,
        is_sealed=visit.path is not None and has_seal(visit.path),
        sound=find_new_sound(visit),
    )


def next_after_assessment(assessed: "Assessed") -> NextStep | None:
    """Tell what comes after a result; None where only a person can know."""
    visit, assessment = assessed.visit, assessed.assessment
    if visit.path is None:
        return NextStep(kind=NextKind.START)
    standing = standing_of_visit(visit)
    if standing.step.kind is not NextKind.ASSESS:
        return standing.step
    measured = assessment.measurement
    is_asked = measured.given and measured.lengths is LengthKnowledge.UNKNOWN
    refused = {rope.refusal and rope.refusal.code for rope in measured.ropes}
    if is_asked or refused == {NoteKind.NO_FREE_LENGTH.code}:
        return NextStep(kind=NextKind.ADD_LENGTHS, n_ropes=visit.rope_set.n_ropes)
    if assessment.measure_again and assessment.verdict is not Verdict.UNEQUAL:
        return standing.ask_for(assessment.measure_again)
    usual = {Verdict.UNEQUAL: NextKind.ADJUST, Verdict.EQUAL: NextKind.REPORT}
    kind = NextKind.COMPARE if standing.is_left else usual.get(assessment.verdict)
    return NextStep(kind=kind) if kind else None


def next_after_plan(planned: "Planned") -> NextStep | None:
    """Tell what comes after a plan; None for a series that others followed.

    The turns of the first stage, once they are made; else what comes after the result,
    if that is not a plan. Round trips that nuts turned after the series still want come
    first.
    """
    assessed, outcome = planned.assessed, planned.outcome
    if assessed.series != assessed.visit.series[-1]:
        return None
    step = standing_of_visit(assessed.visit).step
    is_turned = step.kind in {NextKind.ADD_RUN, NextKind.ADD_LEFT}
    if is_turned and planned.state.wanted_since:
        return NextStep(kind=NextKind.ADD_RUN, round_trips=planned.state.wanted_since)
    if isinstance(outcome, Plan) and outcome.stages and not is_turned:
        steps = (step.turn for step in outcome.stages[0].steps)
        made = tuple(turn for turn in steps if turn.direction is not Direction.LEAVE)
        return NextStep(kind=NextKind.ADD_TURNS, turns=made)
    verdict = assessed.assessment.verdict
    if step.kind is NextKind.ASSESS and verdict is Verdict.UNEQUAL:
        return None  # the plan tells what to measure or to look at
    return next_after_assessment(assessed)
