"""All records of one lift and their series in order of time, lives told apart."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tension.assessment.outcome import Assessment
from tension.errors import FileFormatError, TensionError
from tension.files.evidence import FileEvidence, hash_file, natural_key
from tension.files.record import read_visit
from tension.files.verification import day_of
from tension.files.visit import Visit
from tension.history import Life, Role, SetOnADay, find_lives
from tension.installation import Span
from tension.measurement.outcome import SetMeasurement
from tension.measurement.readings import Series
from tension.measurement.rope_figures import find_free_lengths
from tension.notes import Note, NoteKind
from tension.workflow.assess import Assessed, RuleChoice, assess_visit
from tension.workflow.inputs import RECORD_NAME
from tension.workflow.listening import Progress
from tension.workflow.standing import span_of

_NOT_RECORDS = (".seal.toml", ".corrections.toml")
MOST_RECORDS = 500


@dataclass(frozen=True, kw_only=True, slots=True)
class DatedVisit:
    """One record with its day and its file."""

    day: dt.date
    visit: Visit
    evidence: FileEvidence

    @property
    def name(self) -> str:
        """How to call the record in a sentence."""
        return self.evidence.path


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftRecords:
    """Records of one lift in order of time, lives of its ropes, what was left out."""

    lift: str
    visits: tuple[DatedVisit, ...]
    lives: tuple[Life, ...]
    notes: tuple[Note, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """One series of one visit, assessed.

    Attributes
    ----------
    assessed : Assessed
        The series and its result.
    day : date
        Day of the visit; the first there is if not recorded.
    weeks : float
        Since the first visit. [week]
    number : int
        Which visit, from 0.
    epoch : int
        Counts up each time nuts were turned.
    role : Role
        As found or as left.
    """

    assessed: Assessed
    day: dt.date
    weeks: float
    number: int
    epoch: int
    role: Role

    @property
    def visit(self) -> Visit:
        """The record."""
        return self.assessed.visit

    @property
    def series(self) -> Series:
        """Which series."""
        return self.assessed.series

    @property
    def assessment(self) -> Assessment:
        """Its result."""
        return self.assessed.assessment

    @property
    def when(self) -> str:
        """Day of the visit in words."""
        return "day not recorded" if self.day == dt.date.min else self.day.isoformat()

    @property
    def measurement(self) -> SetMeasurement:
        """What was measured."""
        return self.assessment.measurement

    @property
    def span(self) -> Span | None:
        """Where; also that of a series of spring lengths."""
        return span_of(self.visit, self.series)

    @property
    def fall(self) -> float | None:
        """Free length of the span. [m]."""
        if self.span is None:
            return None
        lengths = find_free_lengths(self.visit.rope_set, self.span).lengths
        return float(np.mean(list(lengths.values()))) if lengths else None


def read_lift_records(
    paths: Sequence[Path],
    *,
    lift: str | None = None,
    re_roped: Sequence[dt.date] = (),
    needs_day: bool = True,
) -> LiftRecords:
    """Read every record of one lift.

    Parameters
    ----------
    paths : sequence of Path
        Records, folders that hold one, or folders of such folders.
    lift : str, optional
        Name of the lift, where the records are of several.
    re_roped : sequence of date
        Days of re-roping that no record tells.
    needs_day : bool, optional
        Whether even a record that is the only one must tell a day; others must always.

    Returns
    -------
    LiftRecords
        A record that cannot be used is left out and told; the others stand.

    Raises
    ------
    FileFormatError
        If there is no record that can be used, or they are of several lifts.
    """
    found = [p for path in paths for p in find_records(path)]
    if not found:
        raise FileFormatError(
            f"{paths[0]}: there is no record ({RECORD_NAME}) in it or below it; make "
            f"one with 'tension start'"
        )
    notes: list[Note] = []
    found = list(dict.fromkeys(found))
    needs_day = needs_day or len(found) > 1
    visits = list(_read_all(found, notes, needs_day=needs_day))
    if not visits:
        raise FileFormatError(*(f"{n.text} {n.next_act}" for n in notes))
    chosen, kept = _of_one_lift(visits, lift)
    kept = sorted(kept, key=lambda v: (v.day, natural_key(Path(v.name))))
    return LiftRecords(
        lift=chosen,
        visits=tuple(kept),
        lives=find_lives([_set_of(v) for v in kept], re_roped),
        notes=tuple(notes),
    )


def find_records(path: Path) -> tuple[Path, ...]:
    """Find the records of a folder, or of folders in it, in natural order.

    Raises
    ------
    FileFormatError
        If there is no such path, or far more records than one lift has.
    """
    if not path.exists():
        raise FileFormatError(f"{path}: there is no such file; check the name")
    if not path.is_dir():
        return (path,)
    below = set(path.rglob(RECORD_NAME))
    below |= {
        p
        for p in path.glob("*.toml")
        if not p.name.endswith(_NOT_RECORDS) and p.name != "corrections.toml"
    }
    if len(below) > MOST_RECORDS:
        raise FileFormatError(
            f"{path}: {len(below)} records; at most {MOST_RECORDS} are of one lift: "
            "name the folder of one lift"
        )
    return tuple(sorted(below, key=lambda p: (str(p.parent), natural_key(p))))


def _read_all(
    records: Sequence[Path], notes: list[Note], *, needs_day: bool
) -> Iterator[DatedVisit]:
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
        day = _day_of_visit(visit)
        if day is None and needs_day:
            notes.append(NoteKind.RECORD_WITHOUT_DATE.note(record=name))
            continue
        yield DatedVisit(day=day or dt.date.min, visit=visit, evidence=evidence)


def _day_of_visit(visit: Visit) -> dt.date | None:
    """Tell the day of a visit, else of its first series that tells one."""
    told = [dict(visit.particulars).get("date", ""), *(s.taken for s in visit.series)]
    return next((day for text in told if (day := day_of(text)) is not None), None)


def _of_one_lift(
    visits: Sequence[DatedVisit], wanted: str | None
) -> tuple[str, list[DatedVisit]]:
    """Keep the records of one lift; nameless ones belong to it."""
    names: dict[str, str] = {}
    for one in visits:
        name = one.visit.lift.name
        if name:
            names.setdefault(_key(name), name)
    if wanted is not None:
        kept = [v for v in visits if _key(v.visit.lift.name) == _key(wanted)]
        if not kept:
            told = ", ".join(f'"{n}"' for n in names.values()) or "none has a name"
            raise FileFormatError(
                f'no record is of the lift "{wanted}"; the records are of: {told}'
            )
        return wanted, kept
    if len(names) > 1:
        told = ", ".join(f'"{n}"' for n in names.values())
        raise FileFormatError(
            f"the records are of {len(names)} lifts: {told}; choose one with --lift"
        )
    return next(iter(names.values()), ""), list(visits)


def _key(name: str) -> str:
    """A name such that blanks and case do not matter."""
    return " ".join(name.casefold().split())


def _set_of(dated: DatedVisit) -> SetOnADay:
    """What the record tells of its ropes."""
    ropes = dated.visit.rope_set
    return SetOnADay(
        day=dated.day,
        n_ropes=ropes.n_ropes,
        diameter=None if ropes.diameter is None else ropes.diameter.value,
        construction=ropes.construction,
        installed=dict(dated.visit.particulars).get("rope_installed", ""),
    )


def take_all(
    visits: Sequence[DatedVisit], rule: RuleChoice, progress: Progress | None
) -> list[Taken]:
    """Assess every series that has readings, in order of time."""
    taken = []
    epoch = 0
    for number, dated in enumerate(visits):
        visit = dated.visit
        with_readings = {reading.series for reading in visit.readings}
        turned = {turn.after for turn in visit.turns}
        first = epoch
        last = first + len(turned & {s.name for s in visit.series[:-1]})
        for series in visit.series:
            if series.name in with_readings:
                assessed = assess_visit(
                    visit, series=series.name, choice=rule, progress=progress
                )
                taken.append(
                    Taken(
                        assessed=assessed,
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
