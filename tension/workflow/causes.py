"""All records of one lift, lives told apart: why ropes are unequal, how they went."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tension.diagnosis.diagnose import diagnose
from tension.diagnosis.outcome import Diagnosis
from tension.errors import FileFormatError, TensionError
from tension.files.evidence import FileEvidence, natural_key
from tension.files.visit import RECORD_NAME
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
from tension.installation import Side
from tension.notes import Note, NoteKind, Refusal
from tension.workflow.assess import EvaluatedVisit, RuleChoice, span_of
from tension.workflow.inputs import require
from tension.workflow.integrity import day_of
from tension.workflow.listening import Progress
from tension.workflow.pattern import Taken, make_pattern

_NOT_RECORDS = (".seal.toml", ".corrections.toml")
MOST_RECORDS = 500  # records of one lift


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
class _DatedVisit(SetOnADay):
    """One record with its day, the first there is if not recorded."""

    seen: EvaluatedVisit

    @property
    def path(self) -> str:
        """How to call the record in a sentence."""
        return self.seen.record[0].path


def diagnose_records(
    paths: Sequence[Path | str],
    *,
    lift: str | None = None,
    re_roped: Sequence[dt.date] = (),
    progress: Progress | None = None,
) -> Diagnosed:
    """Hold all series of one lift against the causes, in the last life of its ropes.

    Parameters
    ----------
    paths : sequence of Path or str
        Records, folders that hold one, or folders of such folders.
    lift, progress : str, callable, optional
        Its name, where the records are of several; called with one line for each file
        read.
    re_roped : sequence of date
        Days of re-roping that no record tells.

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
    read, notes = _read_all(paths, progress, needs_day=False)
    _, every, lives = _of_one_lift(read, lift, re_roped)
    visits = [every[i] for i in lives[-1].visits]
    if count := len(every) - len(visits):
        notes.append(NoteKind.EARLIER_LIFE.note(count=count))
    taken = _take_all(every, lives[-1:])
    last = visits[-1].path
    require(taken, f"{last}: there is no [[series]] with readings yet; add one")
    made, told = make_pattern(taken)
    known = (*notes, *told)
    outcome = made if isinstance(made, Refusal) else diagnose(made, notes=known)
    return Diagnosed(outcome=outcome, notes=known, inputs=_inputs(visits))


def remember_records(
    paths: Sequence[Path | str],
    *,
    lift: str | None = None,
    re_roped: Sequence[dt.date] = (),
    rule: RuleChoice | None = None,
    progress: Progress | None = None,
) -> Remembered:
    """Put all visits to one lift in order of time.

    Parameters
    ----------
    paths, lift, re_roped, progress : sequence, str, sequence of date, callable
        As of `diagnose_records`.
    rule : RuleChoice, optional
        Another rule, limit or metric than the last record's.

    Examples
    --------
    >>> remembered = remember_records(["recordings_demo/side-pulls"])
    >>> len(remembered.history.lives)
    1
    """
    read, notes = _read_all(paths, progress, needs_day=True)
    name, visits, lives = _of_one_lift(read, lift, re_roped, rule)
    taken = _take_all(visits, lives)
    history = make_history(
        lift=name,
        rule=visits[-1].seen.visit.rule,
        lives=lives,
        points=[one.point for one in taken if one.span is not None],
        notes=notes,
    )
    return Remembered(history=history, inputs=_inputs(visits))


def _inputs(visits: Sequence[_DatedVisit]) -> tuple[FileEvidence, ...]:
    """Every file used, each once; a record as it was given."""
    every: dict[FileEvidence, None] = {}
    for dated in visits:
        record, *files = dated.seen.inputs
        folder = Path(record.path).parent
        named = [replace(f, path=(folder / f.path).as_posix()) for f in files]
        every |= dict.fromkeys((record, *named))
    return tuple(every)


def find_records(path: Path) -> tuple[Path, ...]:
    """Find the records of a folder, or of folders in it, in natural order."""
    require(path.exists(), f"{path}: there is no such file; check the name")
    if not path.is_dir():
        return (path,)
    below = set(path.rglob(RECORD_NAME))
    below |= {p for p in path.glob("*.toml") if not f".{p.name}".endswith(_NOT_RECORDS)}
    require(
        len(below) <= MOST_RECORDS,
        f"{path}: {len(below)} records; at most {MOST_RECORDS} are of one lift: name "
        "the folder of one lift",
    )
    return tuple(sorted(below, key=lambda p: (str(p.parent), natural_key(p))))


def _read_all(
    paths: Sequence[Path | str], progress: Progress | None, *, needs_day: bool
) -> tuple[list[_DatedVisit], list[Note]]:
    """Read records; what cannot be used becomes a note; one alone may tell no day."""
    found = list(dict.fromkeys(p for path in paths for p in find_records(Path(path))))
    require(
        found,
        f"{paths[0]}: there is no record ({RECORD_NAME}) in it or below it; make one "
        "with 'tension start'",
    )
    read: list[_DatedVisit] = []
    notes: list[Note] = []
    for record in found:
        name = record.as_posix()
        try:
            seen = EvaluatedVisit.of_record(record, progress=progress)
        except (TensionError, OSError) as error:
            if len(found) == 1:
                raise
            reason = str(error).splitlines()[0].rstrip(".")
            notes.append(NoteKind.RECORD_LEFT_OUT.note(record=name, reason=reason))
            continue
        told, taken = dict(seen.visit.particulars), [s.taken for s in seen.visit.series]
        days = map(day_of, (told.get("date", ""), *taken))
        day = next(filter(None, days), None)
        if day is None and (needs_day or len(found) > 1):
            notes.append(NoteKind.RECORD_WITHOUT_DATE.note(record=name))
            continue
        one = _DatedVisit(
            day=day or dt.date.min,
            ropes=seen.visit.rope_set,
            installed=told.get("rope_installed", ""),
            seen=seen,
        )
        read.append(one)
    if not read:
        raise FileFormatError(*(f"{n.text} {n.next_act}" for n in notes))
    return read, notes


def _of_one_lift(
    read: Sequence[_DatedVisit],
    wanted: str | None,
    re_roped: Sequence[dt.date],
    rule: RuleChoice | None = None,
) -> tuple[str, list[_DatedVisit], tuple[Life, ...]]:
    """Its name, its records in order of time, to be judged by one rule, and its lives.

    Nameless records belong to it.
    """
    names: dict[str, str] = {}
    for one in read:
        if name := one.seen.visit.lift.name:
            names.setdefault(alike(name), name)
    told = ", ".join(f'"{name}"' for name in names.values())
    require(
        wanted is not None or len(names) <= 1,
        f"the records are of {len(names)} lifts: {told}; choose one with --lift",
    )
    kept = list(read)
    if wanted is not None:
        kept = [v for v in read if alike(v.seen.visit.lift.name) == alike(wanted)]
    require(
        kept,
        f'no record is of the lift "{wanted}"; the records are of: '
        f"{told or 'none has a name'}",
    )
    kept.sort(key=lambda v: (v.day, natural_key(Path(v.path))))
    of_all = (rule or RuleChoice()).apply(kept[-1].seen.visit.rule)
    visits = [
        replace(v, seen=replace(v.seen, visit=replace(v.seen.visit, rule=of_all)))
        for v in kept
    ]
    name = next(iter(names.values()), "") if wanted is None else wanted
    return name, visits, find_lives(visits, re_roped)


def _take_all(every: Sequence[_DatedVisit], lives: Sequence[Life]) -> list[Taken]:
    """Assess every series of some lives that has readings, in order of time."""
    taken = []
    epoch = 0
    visits = [(life.number, every[i]) for life in lives for i in life.visits]
    for number, (life, dated) in enumerate(visits):
        visit = dated.seen.visit
        assessed = {one.series.name: one for one in dated.seen.each()}
        turned = {turn.after for turn in visit.turns}
        last = epoch + len(turned & {s.name for s in visit.series[:-1]})
        roles = {last: Role.LEFT, epoch: Role.FOUND if turned else Role.ONLY}
        for series in visit.series:
            if found := assessed.get(series.name):
                span = span_of(visit, series)
                # at a hitch maybe the one across the span
                read_on = found.assessment.measurement.span
                point = Point(
                    day=dated.day,
                    record=dated.path,
                    series=series.name,
                    role=roles.get(epoch, Role.BETWEEN),
                    epoch=epoch,
                    side=read_on.side if read_on else Side.CAR,
                    position=(span.position or span.name) if span else "",
                    load=series.load,
                    shares=found.assessment.shares,
                    spread=found.assessment.spread,
                    verdict=found.assessment.verdict,
                    life=life,
                )
                weeks = (dated.day - visits[0][1].day).days / 7.0
                one = Taken(
                    assessed=found, span=span, point=point, number=number, weeks=weeks
                )
                taken.append(one)
            epoch += series.name in turned
    return taken
