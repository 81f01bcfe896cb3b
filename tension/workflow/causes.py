"""All records of one lift, lives told apart: why ropes are unequal, how they went."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from tension.diagnosis.diagnose import diagnose
from tension.diagnosis.outcome import Diagnosis
from tension.errors import FileFormatError, TensionError
from tension.files.evidence import FileEvidence, hash_file, natural_key
from tension.files.record import read_visit
from tension.files.verification import day_of
from tension.files.visit import RECORD_NAME, Visit
from tension.history import (
    History,
    Life,
    Point,
    Role,
    SetOnADay,
    alike,
    find_lives,
    make_history,
)
from tension.notes import Note, NoteKind, Refusal
from tension.workflow.assess import RuleChoice, assess_record, span_of
from tension.workflow.inputs import require
from tension.workflow.listening import Progress
from tension.workflow.pattern import Taken, make_pattern

_NOT_RECORDS = (".seal.toml", ".corrections.toml")
MOST_RECORDS = 500  # records of one lift


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftChoice:
    """What a person says beside the records."""

    lift: str | None = None  # its name, where the records are of several
    re_roped: tuple[dt.date, ...] = ()  # days of re-roping that no record tells
    rule: RuleChoice = field(default_factory=RuleChoice)  # other than the last record's


@dataclass(frozen=True, kw_only=True, slots=True)
class Diagnosed:
    """What the pattern of a lift suggests, or why there is none, with its files."""

    outcome: Diagnosis | Refusal
    notes: tuple[Note, ...]  # what was left out or assumed
    inputs: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Remembered:
    """The history of a lift, with the files it rests on."""

    history: History
    inputs: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class _DatedVisit:
    """One record with its day and its file."""

    day: dt.date
    visit: Visit
    evidence: FileEvidence  # its path is how to call the record in a sentence


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
    choice, progress : LiftChoice, callable, optional
        Lift and days of re-roping; called with one line for each file read.

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
    lift = _read_lift(paths, choice or LiftChoice(), needs_day=False)
    visits = [lift.visits[i] for i in lift.lives[-1].visits]
    notes = list(lift.notes)
    if count := len(lift.visits) - len(visits):
        notes.append(NoteKind.EARLIER_LIFE.note(count=count))
    taken = _take_all(visits, progress)
    last = visits[-1].evidence.path
    require(taken, f"{last}: there is no [[series]] with readings yet; add one")
    pattern, told = make_pattern(taken)
    every = (*notes, *told)
    return Diagnosed(
        outcome=pattern
        if isinstance(pattern, Refusal)
        else diagnose(pattern, notes=every),
        notes=every,
        inputs=_inputs(visits, taken),
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
    paths, choice, progress : sequence of Path or str, LiftChoice, callable
        As of `diagnose_records`.

    Examples
    --------
    >>> remembered = remember_records(["recordings_demo/side-pulls"])
    >>> len(remembered.history.lives)
    1
    """
    lift = _read_lift(paths, choice or LiftChoice(), needs_day=True)
    taken = _take_all(lift.visits, progress)
    life_of = {i: life.number for life in lift.lives for i in life.visits}
    history = make_history(
        lift=lift.name,
        rule=lift.visits[-1].visit.rule,
        lives=lift.lives,
        points=[
            Point(
                day=one.day,
                record=lift.visits[one.number].evidence.path,
                series=one.assessed.series.name,
                role=one.role,
                epoch=one.epoch,
                side=one.side,
                position=one.span.position or one.span.name,
                load=one.assessed.series.load,
                shares=one.assessed.assessment.shares,
                spread=one.assessed.assessment.spread,
                verdict=one.assessed.assessment.verdict,
                life=life_of[one.number],
            )
            for one in taken
            if one.span is not None
        ],
        notes=lift.notes,
    )
    return Remembered(history=history, inputs=_inputs(lift.visits, taken))


def _inputs(
    visits: Sequence[_DatedVisit], taken: Sequence[Taken]
) -> tuple[FileEvidence, ...]:
    """Every file used, each once; a record as it was given."""
    every: dict[FileEvidence, None] = {}
    for number, dated in enumerate(visits):
        folder = Path(dated.evidence.path).parent
        named = [
            f for one in taken if one.number == number for f in one.assessed.inputs
        ]
        files = [replace(f, path=(folder / f.path).as_posix()) for f in named]
        every |= dict.fromkeys((dated.evidence, *files))
    return tuple(every)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Lift:
    """Records of one lift in order of time, lives of its ropes, what was left out."""

    name: str
    visits: tuple[_DatedVisit, ...]  # all to be judged by one rule
    lives: tuple[Life, ...]
    notes: tuple[Note, ...]


def _read_lift(
    paths: Sequence[Path | str], choice: LiftChoice, *, needs_day: bool
) -> _Lift:
    """Records of one lift that can be used; only a single one may tell no day."""
    found = list(dict.fromkeys(p for path in paths for p in find_records(Path(path))))
    require(
        found,
        f"{paths[0]}: there is no record ({RECORD_NAME}) in it or below it; make one "
        "with 'tension start'",
    )
    notes: list[Note] = []
    read = list(_read_all(found, notes, needs_day=needs_day or len(found) > 1))
    if not read:
        raise FileFormatError(*(f"{n.text} {n.next_act}" for n in notes))
    name, kept = _of_one_lift(read, choice.lift)
    kept.sort(key=lambda v: (v.day, natural_key(Path(v.evidence.path))))
    rule = choice.rule.apply(kept[-1].visit.rule)
    visits = [replace(v, visit=replace(v.visit, rule=rule)) for v in kept]
    sets = [
        SetOnADay(
            day=dated.day,
            ropes=dated.visit.rope_set,
            installed=dict(dated.visit.particulars).get("rope_installed", ""),
        )
        for dated in visits
    ]
    return _Lift(
        name=name,
        visits=tuple(visits),
        lives=find_lives(sets, choice.re_roped),
        notes=tuple(notes),
    )


def find_records(path: Path) -> tuple[Path, ...]:
    """Find the records of a folder, or of folders in it, in natural order."""
    require(path.exists(), f"{path}: there is no such file; check the name")
    if not path.is_dir():
        return (path,)
    below = set(path.rglob(RECORD_NAME))
    below |= {
        p
        for p in path.glob("*.toml")
        if not p.name.endswith(_NOT_RECORDS) and p.name != "corrections.toml"
    }
    require(
        len(below) <= MOST_RECORDS,
        f"{path}: {len(below)} records; at most {MOST_RECORDS} are of one lift: name "
        "the folder of one lift",
    )
    return tuple(sorted(below, key=lambda p: (str(p.parent), natural_key(p))))


def _read_all(
    records: Sequence[Path], notes: list[Note], *, needs_day: bool
) -> Iterator[_DatedVisit]:
    """Read records; what cannot be used becomes a note."""
    for record in records:
        name = record.as_posix()
        try:
            evidence = hash_file(record)
            visit = read_visit(record)
        except (TensionError, OSError) as error:
            if len(records) == 1:
                raise
            reason = str(error).splitlines()[0].rstrip(".")
            notes.append(NoteKind.RECORD_LEFT_OUT.note(record=name, reason=reason))
            continue
        told = [
            dict(visit.particulars).get("date", ""),
            *(series.taken for series in visit.series),
        ]
        days = (day_of(text) for text in told)
        day = next((day for day in days if day is not None), None)
        if day is None and needs_day:
            notes.append(NoteKind.RECORD_WITHOUT_DATE.note(record=name))
            continue
        yield _DatedVisit(day=day or dt.date.min, visit=visit, evidence=evidence)


def _of_one_lift(
    visits: Sequence[_DatedVisit], wanted: str | None
) -> tuple[str, list[_DatedVisit]]:
    """Keep the records of one lift; nameless ones belong to it."""
    names: dict[str, str] = {}
    for one in visits:
        if name := one.visit.lift.name:
            names.setdefault(alike(name), name)
    told = ", ".join(f'"{name}"' for name in names.values())
    if wanted is not None:
        kept = [v for v in visits if alike(v.visit.lift.name) == alike(wanted)]
        require(
            kept,
            f'no record is of the lift "{wanted}"; the records are of: '
            f"{told or 'none has a name'}",
        )
        return wanted, kept
    require(
        len(names) <= 1,
        f"the records are of {len(names)} lifts: {told}; choose one with --lift",
    )
    return next(iter(names.values()), ""), list(visits)


def _take_all(visits: Sequence[_DatedVisit], progress: Progress | None) -> list[Taken]:
    """Assess every series that has readings, in order of time."""
    taken = []
    epoch = 0
    for number, dated in enumerate(visits):
        visit = dated.visit
        with_readings = {reading.series for reading in visit.readings}
        turned = {turn.after for turn in visit.turns}
        first, last = epoch, epoch + len(turned & {s.name for s in visit.series[:-1]})
        for series in visit.series:
            if series.name in with_readings:
                taken.append(
                    Taken(
                        assessed=assess_record(
                            visit, series=series.name, progress=progress
                        ),
                        span=span_of(visit, series),
                        day=dated.day,
                        weeks=(dated.day - visits[0].day).days / 7.0,
                        number=number,
                        epoch=epoch,
                        role=_role(epoch, first, last, is_turned=bool(turned)),
                    )
                )
            epoch += series.name in turned
    return taken


def _role(epoch: int, first: int, last: int, *, is_turned: bool) -> Role:
    """Tell as found from as left by the turns of the visit."""
    if first == last:
        return Role.FOUND if is_turned else Role.ONLY
    if epoch == first:
        return Role.FOUND
    return Role.LEFT if epoch == last else Role.BETWEEN
