"""Why ropes are unequal, and how they went over time: records to results."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from tension.assessment.outcome import Assessment
from tension.diagnosis.diagnose import diagnose
from tension.diagnosis.outcome import Diagnosis
from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence
from tension.history.history import make_history
from tension.history.outcome import History, Point, Role
from tension.notes import Note, NoteKind, Refusal
from tension.workflow.assess import Assessed, RuleChoice, assess_visit
from tension.workflow.lift_records import (
    DatedVisit,
    LiftRecords,
    read_lift_records,
    with_evidence,
)
from tension.workflow.listening import Progress
from tension.workflow.pattern import Taken, make_pattern


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
    """The history of a lift, with the files it rests on.

    Attributes
    ----------
    history : History
        Tracks, trends, next check.
    inputs : tuple of FileEvidence
        Every file used.
    """

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
    assessed = [_assess_all(v, chosen.rule, progress) for v in visits]
    taken = _taken(visits, assessed)
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
    return Diagnosed(
        outcome=outcome, notes=tuple(notes), inputs=_inputs(visits, assessed)
    )


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
    assessed = [_assess_all(v, RuleChoice(), progress) for v in visits]
    history = make_history(
        lift=records.lift,
        rule=rule,
        lives=records.lives,
        points=_points(records, visits, assessed),
        notes=records.notes,
    )
    return Remembered(history=history, inputs=_inputs(visits, assessed))


def _assess_all(
    dated: DatedVisit, rule: RuleChoice, progress: Progress | None
) -> tuple[Assessed, ...]:
    """Assess every series of a record that has readings."""
    names = {reading.series for reading in dated.visit.readings}
    return tuple(
        assess_visit(dated.visit, series=series.name, choice=rule, progress=progress)
        for series in dated.visit.series
        if series.name in names
    )


def _epochs(visits: Sequence[DatedVisit]) -> dict[tuple[int, str], int]:
    """Count turns of nuts up to each series of each visit."""
    found: dict[tuple[int, str], int] = {}
    epoch = 0
    for number, dated in enumerate(visits):
        turned = {turn.after for turn in dated.visit.turns}
        for series in dated.visit.series:
            found[number, series.name] = epoch
            if series.name in turned:
                epoch += 1
    return found


def _taken(
    visits: Sequence[DatedVisit], assessed: Sequence[tuple[Assessed, ...]]
) -> list[Taken]:
    """All series in order of time."""
    epochs = _epochs(visits)
    return [
        Taken(
            visit=one.visit,
            series=one.series,
            assessment=one.assessment,
            day=_day_text(dated.day),
            weeks=(dated.day - visits[0].day).days / 7.0,
            number=number,
            epoch=epochs[number, one.series.name],
        )
        for number, (dated, each) in enumerate(zip(visits, assessed, strict=True))
        for one in each
    ]


def _day_text(day: dt.date) -> str:
    """A day in words."""
    return "day not recorded" if day == dt.date.min else day.isoformat()


def _points(
    records: LiftRecords,
    visits: Sequence[DatedVisit],
    assessed: Sequence[tuple[Assessed, ...]],
) -> list[Point]:
    """One point for each series of each visit."""
    epochs = _epochs(visits)
    life_of = {i: life.number for life in records.lives for i in life.visits}
    points = []
    for number, (dated, each) in enumerate(zip(visits, assessed, strict=True)):
        for one in each:
            span = one.assessment.measurement.span or next(
                (s for s in one.visit.rope_set.spans if s.name == one.series.span), None
            )
            if span is None:
                continue
            result: Assessment = one.assessment
            points.append(
                Point(
                    day=dated.day,
                    record=dated.name,
                    series=one.series.name,
                    role=_role(dated, one.series.name, epochs, number),
                    epoch=epochs[number, one.series.name],
                    side=span.side,
                    position=span.position or span.name,
                    load=one.series.load,
                    shares=result.shares,
                    spread=result.spread,
                    verdict=result.verdict,
                    life=life_of[number],
                )
            )
    return points


def _role(
    dated: DatedVisit,
    series: str,
    epochs: dict[tuple[int, str], int],
    number: int,
) -> Role:
    """Tell as found from as left by the turns of the visit."""
    own = [epochs[number, s.name] for s in dated.visit.series]
    if min(own) == max(own):
        turned = {turn.after for turn in dated.visit.turns}
        return Role.FOUND if turned else Role.ONLY
    epoch = epochs[number, series]
    if epoch == min(own):
        return Role.FOUND
    return Role.LEFT if epoch == max(own) else Role.BETWEEN


def _inputs(
    visits: Sequence[DatedVisit], assessed: Sequence[tuple[Assessed, ...]]
) -> tuple[FileEvidence, ...]:
    """Every file used, each once."""
    every = []
    for dated, each in zip(visits, assessed, strict=True):
        every.append(with_evidence(dated))
        folder = Path(dated.name).parent
        every += [
            replace(f, path=(folder / f.path).as_posix())
            for a in each
            for f in a.inputs
        ]
    return tuple(dict.fromkeys(every))
