"""The main job: from a record or sound files to a result."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tension.assessment.decide import assess_set
from tension.assessment.outcome import Assessment
from tension.catalogue.rules import Metric, Rule, changed, find_rule
from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence, hash_file
from tension.files.visit import Visit
from tension.measurement.plausibility import doubt_rounds
from tension.measurement.readings import Series
from tension.measurement.series import measure_series
from tension.notes import Note
from tension.shown import Shown
from tension.sound.hearing import SetHearing
from tension.sound.recording import Recording
from tension.workflow.inputs import Given, find_record, visit_from_recordings
from tension.workflow.listening import (
    Progress,
    listen_to_series,
    require_bearable,
)
from tension.workflow.record_files import note_on_unnamed_files
from tension.workflow.standing import (
    span_of,
    with_notes_on_running,
    without_answered_doubts,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleChoice:
    """Another rule of the catalogue, limit [1] or metric than the record's."""

    name: str | None = None
    limit: float | None = None
    metric: Metric | None = None

    def apply(self, rule: Rule) -> Rule:
        """Change a rule as chosen, keeping what it was."""
        chosen = replace(find_rule(self.name), goal=rule.goal) if self.name else rule
        if self.limit is None and self.metric is None:
            return chosen
        return changed(chosen, limit=self.limit, metric=self.metric)


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Assessed(Shown):
    """One series assessed, with all it rests on.

    Attributes
    ----------
    visit : Visit
        The record, or what the command line said in its place.
    series : Series
        The series assessed.
    assessment : Assessment
        Result, shares, notes.
    hearing : SetHearing or None
        What was heard; None without recordings.
    recordings : tuple of Recording
        The sound, as read.
    inputs : tuple of FileEvidence
        Every file used, with size and checksum.
    """

    visit: Visit
    series: Series
    assessment: Assessment
    hearing: SetHearing | None
    recordings: tuple[Recording, ...]
    inputs: tuple[FileEvidence, ...]

    @property
    def notes(self) -> tuple[Note, ...]:
        """Everything a reader must know."""
        return self.assessment.notes

    def summary(self) -> str:
        """Say the series and its result."""
        return f"{self.series.name!r}: {self.assessment.summary()}"

    def to_rows(self) -> list[dict[str, Any]]:
        """Turn it into one row per rope, all SI."""
        return self.assessment.to_rows()


def assess_record(
    path: Path | str,
    *,
    series: str | None = None,
    choice: RuleChoice | None = None,
    progress: Progress | None = None,
    prior_factor: float = 1.0,
) -> Assessed:
    """Assess one series of a record.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.
    series : str, optional
        Name of the series; the last one if left out.
    choice : RuleChoice, optional
        Another rule, limit or metric than the record's.
    progress : callable, optional
        Called with one line for each file read.
    prior_factor : float, optional
        On every width of what is expected before listening, to see how much the
        result rests on it. [1]

    Returns
    -------
    Assessed
        The result and all it rests on.

    Raises
    ------
    FileFormatError
        If the record cannot be used or has no such series.

    Examples
    --------
    >>> found = assess_record("recordings_demo/side-pulls")
    >>> found.assessment.verdict.value
    'unequal'
    """
    from tension.files.record import read_visit

    record = find_record(Path(path))
    visit = read_visit(record)
    assessed = assess_visit(
        visit,
        series=series,
        choice=choice,
        progress=progress,
        prior_factor=prior_factor,
    )
    return replace(assessed, inputs=(hash_file(record), *assessed.inputs))


def assess_recordings(
    paths: Sequence[Path | str],
    *,
    given: Given | None = None,
    choice: RuleChoice | None = None,
    progress: Progress | None = None,
) -> Assessed:
    """Assess sound files without a record.

    Parameters
    ----------
    paths : sequence of Path or str
        One folder of sound files, or the files, one per rope.
    given : Given, optional
        What is known of the ropes.
    choice : RuleChoice, optional
        Another rule, limit or metric than the program's own.
    progress : callable, optional
        Called with one line for each file read.

    Returns
    -------
    Assessed
        The result and all it rests on.

    Raises
    ------
    FileFormatError
        If there is no sound file, or what is given of the ropes does not fit them.

    Examples
    --------
    Each file is one rope, in the order given::

        assess_recordings(["rope-1.m4a", "rope-2.m4a"], Given(diameter=...))
    """
    known = given or Given()
    visit = visit_from_recordings([Path(p) for p in paths], known)
    return assess_visit(
        visit, choice=choice, progress=progress, are_ropes_counted=not known.order
    )


def assess_visit(
    visit: Visit,
    *,
    series: str | None = None,
    choice: RuleChoice | None = None,
    progress: Progress | None = None,
    prior_factor: float = 1.0,
    are_ropes_counted: bool = False,
) -> Assessed:
    """Assess one series of a visit already read.

    Parameters
    ----------
    visit : Visit
        The record in memory.
    series : str, optional
        Name of the series; the last one if left out.
    choice : RuleChoice, optional
        Another rule, limit or metric than the record's.
    progress : callable, optional
        Called with one line for each file read.
    prior_factor : float, optional
        On every width of what is expected before listening, to see how much the
        result rests on it. [1]
    are_ropes_counted : bool, optional
        Whether nobody said how many ropes there are, and the files were counted.

    Returns
    -------
    Assessed
        The result; its inputs do not name the record itself.

    Raises
    ------
    FileFormatError
        If the record has no such series.

    Examples
    --------
    >>> from tension.files.record import read_visit
    >>> visit = read_visit("recordings_demo/side-pulls/visit.toml")
    >>> assess_visit(visit, series="as found").assessment.verdict.value
    'unequal'
    """
    chosen = choose_series(visit, series)
    rule = (choice or RuleChoice()).apply(visit.rule)
    span = span_of(visit, chosen)
    heard = (
        listen_to_series(visit, chosen, span, progress, prior_factor) if span else None
    )
    measurement = measure_series(
        rope_set=visit.rope_set,
        lift=visit.lift,
        series=chosen,
        readings=visit.readings,
        exclusions=visit.exclusions,
        hearing=heard.hearing if heard else None,
    )
    if are_ropes_counted:
        measurement = doubt_rounds(measurement)
    assessment = _with_file_notes(
        assess_set(without_answered_doubts(visit, measurement), rule),
        heard.recordings if heard else (),
        note_on_unnamed_files(visit),
    )
    return Assessed(
        visit=visit,
        series=chosen,
        assessment=with_notes_on_running(visit, chosen, assessment),
        hearing=heard.hearing if heard else None,
        recordings=heard.recordings if heard else (),
        inputs=heard.evidence if heard else (),
    )


def assess_each(
    visit: Visit, progress: Progress | None = None, *, of: type = object
) -> Iterator[Assessed]:
    """Assess every series that has readings of a kind, by the rule of the record.

    Raises
    ------
    FileFormatError
        If their recordings last longer than is heard in a bearable time.
    """
    names = {reading.series for reading in visit.readings if isinstance(reading, of)}
    heard: list[Sequence[Recording]] = []
    for series in visit.series:
        if series.name in names:
            assessed = assess_visit(visit, series=series.name, progress=progress)
            heard.append(assessed.recordings)
            require_bearable(heard)
            yield assessed


def _with_file_notes(
    assessment: Assessment, recordings: Sequence[Recording], unnamed: Note | None
) -> Assessment:
    """Keep what reading the files found, also of ropes that got no number."""
    told = {(note.kind, note.places) for note in assessment.notes}
    added = dict.fromkeys(
        note
        for recording in recordings
        for note in recording.notes
        if (note.kind, note.places) not in told
    )
    of_folder = () if unnamed is None else (unnamed,)
    return replace(assessment, notes=(*assessment.notes, *added, *of_folder))


def choose_series(visit: Visit, name: str | None) -> Series:
    """Choose a series by name, or the last.

    Raises
    ------
    FileFormatError
        If there is none, or none of that name.
    """
    where = visit.path.name if visit.path else "the files given"
    if not visit.series:
        raise FileFormatError(
            f"{where}: there is no [[series]] with readings yet; "
            "add one, or give the sound files themselves"
        )
    if name is None:
        return visit.series[-1]
    for series in visit.series:
        if series.name == name:
            return series
    names = ", ".join(f'"{series.name}"' for series in visit.series)
    raise FileFormatError(f'{where}: there is no series "{name}"; it has {names}')
