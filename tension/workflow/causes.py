"""Why ropes are unequal, and how they went over time: records to results."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from tension.diagnosis.diagnose import diagnose
from tension.diagnosis.outcome import Diagnosis
from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence
from tension.history import History, Point, make_history
from tension.installation import Span
from tension.notes import Note, NoteKind, Refusal
from tension.workflow.assess import RuleChoice
from tension.workflow.lift_records import (
    DatedVisit,
    Taken,
    read_lift_records,
    take_all,
)
from tension.workflow.listening import Progress
from tension.workflow.pattern import make_pattern


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftChoice:
    """What a person says beside the records.

    Attributes
    ----------
    lift : str or None
        Name of the lift, where the records are of several.
    re_roped : tuple of date
        Days of re-roping that no record tells.
    rule : RuleChoice
        Another rule, limit or metric than that of the last record.
    """

    lift: str | None = None
    re_roped: tuple[dt.date, ...] = ()
    rule: RuleChoice = field(default_factory=RuleChoice)


@dataclass(frozen=True, kw_only=True, slots=True)
class Diagnosed:
    """What the records of a lift suggest, with the files it rests on.

    Attributes
    ----------
    outcome : Diagnosis or Refusal
        What the pattern suggests, or why there is none.
    notes : tuple of Note
        What was left out or assumed.
    inputs : tuple of FileEvidence
        Every file used.
    """

    outcome: Diagnosis | Refusal
    notes: tuple[Note, ...]
    inputs: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Remembered:
    """The history of a lift, with the files it rests on."""

    history: History
    inputs: tuple[FileEvidence, ...]


def diagnose_records(
    paths: Sequence[Path | str],
    *,
    choice: LiftChoice | None = None,
    progress: Progress | None = None,
) -> Diagnosed:
    """Hold all series of one lift against the causes, in the last life of its ropes.

    Parameters
    ----------
    paths : sequence of Path or str
        Records, folders that hold one, or folders of such folders.
    choice : LiftChoice, optional
        Lift and days of re-roping.
    progress : callable, optional
        Called with one line for each file read.

    Returns
    -------
    Diagnosed
        What the pattern suggests.

    Raises
    ------
    FileFormatError
        If no record can be used, or they are of several lifts.

    Examples
    --------
    One series suggests nothing:

    >>> diagnose_records(["recordings_demo/side-pulls"]).outcome.conclusion.value
    'nothing-can-be-concluded'
    """
    chosen = choice or LiftChoice()
    records = read_lift_records(
        [Path(p) for p in paths],
        lift=chosen.lift,
        re_roped=chosen.re_roped,
        needs_day=False,
    )
    life = records.lives[-1]
    visits = [records.visits[i] for i in life.visits]
    notes = list(records.notes)
    if len(visits) < len(records.visits):
        count = len(records.visits) - len(visits)
        notes.append(NoteKind.EARLIER_LIFE.note(count=count))
    taken = take_all(visits, chosen.rule, progress)
    if not taken:
        raise FileFormatError(
            f"{visits[-1].name}: there is no [[series]] with readings yet; add one"
        )
    pattern, told = make_pattern(taken)
    notes += told
    outcome = (
        pattern
        if isinstance(pattern, Refusal)
        else diagnose(pattern, notes=tuple(notes))
    )
    return Diagnosed(outcome=outcome, notes=tuple(notes), inputs=_inputs(visits, taken))


def remember_records(
    paths: Sequence[Path | str],
    *,
    choice: LiftChoice | None = None,
    progress: Progress | None = None,
) -> Remembered:
    """Put all visits to one lift in order of time.

    Parameters
    ----------
    paths : sequence of Path or str
        Records, folders that hold one, or folders of such folders.
    choice : LiftChoice, optional
        Lift, days of re-roping, rule.
    progress : callable, optional
        Called with one line for each file read.

    Returns
    -------
    Remembered
        Tracks by life, side and position.

    Raises
    ------
    FileFormatError
        If no record can be used, or they are of several lifts.

    Examples
    --------
    >>> remembered = remember_records(["recordings_demo/side-pulls"])
    >>> len(remembered.history.lives)
    1
    """
    chosen = choice or LiftChoice()
    records = read_lift_records(
        [Path(p) for p in paths], lift=chosen.lift, re_roped=chosen.re_roped
    )
    # one rule for all visits, or they could not be compared
    rule = chosen.rule.apply(records.visits[-1].visit.rule)
    visits = [replace(v, visit=replace(v.visit, rule=rule)) for v in records.visits]
    taken = take_all(visits, RuleChoice(), progress)
    life_of = {i: life.number for life in records.lives for i in life.visits}
    history = make_history(
        lift=records.lift,
        rule=rule,
        lives=records.lives,
        points=[
            _point(one, span, visits[one.number].name, life_of[one.number])
            for one in taken
            if (span := one.assessment.measurement.span or one.span) is not None
        ],
        notes=records.notes,
    )
    return Remembered(history=history, inputs=_inputs(visits, taken))


def _point(one: Taken, span: Span, record: str, life: int) -> Point:
    """One series on its track."""
    return Point(
        day=one.day,
        record=record,
        series=one.series.name,
        role=one.role,
        epoch=one.epoch,
        side=span.side,
        position=span.position or span.name,
        load=one.series.load,
        shares=one.assessment.shares,
        spread=one.assessment.spread,
        verdict=one.assessment.verdict,
        life=life,
    )


def _inputs(
    visits: Sequence[DatedVisit], taken: Sequence[Taken]
) -> tuple[FileEvidence, ...]:
    """Every file used, each once; a record as it was given."""
    every = []
    for number, dated in enumerate(visits):
        every.append(dated.evidence)
        folder = Path(dated.name).parent
        every += [
            replace(file, path=(folder / file.path).as_posix())
            for one in taken
            if one.number == number
            for file in one.assessed.inputs
        ]
    return tuple(dict.fromkeys(every))
