"""The main job: a record or sound files, each series of it evaluated once, to a result.

Every command takes what it needs of an `EvaluatedVisit`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Self

from tension.adjustment.outcome import Strategy
from tension.adjustment.plan_basis import ANSWERABLE, Looked, PlanRequest
from tension.adjustment.running import Past, state_of
from tension.assessment.decide import Assessment, assess_set
from tension.catalogue.rules import Metric, Rule, changed, find_rule
from tension.files.evidence import FileEvidence, hash_file
from tension.files.visit import Visit
from tension.installation import HitchPlace, Side, Span
from tension.measurement.combine import SetMeasurement
from tension.measurement.readings import Series, SpringReading, side_measured
from tension.measurement.series import doubt_rounds, measure_series
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.notes import Note, NoteKind
from tension.shown import Shown
from tension.sound.hearing import Recording, SetHearing
from tension.workflow import inputs
from tension.workflow.inputs import Given
from tension.workflow.listening import (
    Heard,
    Progress,
    listen_to_series,
    require_bearable,
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
        return changed(chosen, limit=self.limit, metric=self.metric)


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Assessed(Shown):
    """One series of a visit assessed, with all it rests on.

    The result with its shares and notes; what was heard, None without recordings; the
    sound as read; every file used, with size and checksum.
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


@dataclass(frozen=True, kw_only=True, slots=True)
class EvaluatedVisit:
    """A visit of which each series is heard and assessed once, when it is asked for."""

    visit: Visit
    rule: RuleChoice = field(default_factory=RuleChoice)
    progress: Progress | None = None
    # on every width of what is expected before listening [1]
    prior_factor: float = 1.0
    # nobody said how many ropes there are, and the files were counted
    are_ropes_counted: bool = False
    record: tuple[FileEvidence, ...] = ()  # the record file, if there is one
    _heard: dict[str, Heard] = field(default_factory=dict)
    _assessed: dict[str, Assessed] = field(default_factory=dict)

    @classmethod
    def of_record(
        cls,
        path: Path | str | Visit,
        rule: RuleChoice | None = None,
        progress: Progress | None = None,
    ) -> Self:
        """Read a record, or that of a folder; a visit in memory is taken as it is."""
        rule = rule or RuleChoice()
        if isinstance(path, Visit):
            return cls(visit=path, rule=rule, progress=progress)
        from tension.files.record import read_visit

        file = inputs.find_record(Path(path))
        visit, record = read_visit(file), (hash_file(file),)
        return cls(visit=visit, rule=rule, progress=progress, record=record)

    def assess(self, series: Series) -> Assessed:
        """Assess a series, or take it as assessed before."""
        if series.name not in self._assessed:
            self._assessed[series.name] = self._evaluate(series)
        return self._assessed[series.name]

    def _evaluate(self, series: Series) -> Assessed:
        """Hear a series whose span is described, measure and assess it."""
        visit, span = self.visit, span_of(self.visit, series)
        if span and series.name not in self._heard:
            self._heard[series.name] = listen_to_series(
                visit, series, span, self.progress, self.prior_factor
            )
            require_bearable(heard.recordings for heard in self._heard.values())
        heard = self._heard.get(series.name, Heard())
        measurement = measure_series(
            rope_set=visit.rope_set,
            lift=visit.lift,
            series=series,
            readings=visit.readings,
            exclusions=visit.exclusions,
            hearing=heard.hearing,
        )
        left_out = None
        if self.are_ropes_counted:
            measurement = doubt_rounds(measurement)
            names = [recording.name for recording in heard.recordings]
            left_out = inputs.note_on_number_left_out(names)
        measurement = _without_answered_doubts(measurement, _looked_at(visit))
        assessment = assess_set(measurement, self.rule.apply(visit.rule))
        state = state_of(self.past, series, self.request(series), assessment)
        told = {(note.kind, note.places) for note in assessment.notes}
        # what reading the files found, also of ropes that got no number
        every = dict.fromkeys(note for one in heard.recordings for note in one.notes)
        of_files = [note for note in every if (note.kind, note.places) not in told]
        unnamed = inputs.note_on_unnamed_files(visit)
        besides = filter(None, [unnamed, *state.notes, left_out])
        notes = (*assessment.notes, *of_files, *besides)
        return Assessed(
            visit=visit,
            series=series,
            assessment=replace(assessment, notes=notes),
            hearing=heard.hearing,
            recordings=heard.recordings,
            inputs=heard.evidence,
        )

    def each(self, of: type = object) -> list[Assessed]:
        """Assess every series that has readings of a kind."""
        names = {one.series for one in self.visit.readings if isinstance(one, of)}
        return [self.assess(one) for one in self.visit.series if one.name in names]

    def without_springs(self) -> Self:
        """The same heard, and measured by all but the springs."""
        others = (r for r in self.visit.readings if not isinstance(r, SpringReading))
        visit = replace(self.visit, readings=tuple(others))
        return replace(self, visit=visit, _assessed={})

    @property
    def past(self) -> Past:
        """Series and turns, for what they have shown."""
        return Past(
            series=self.visit.series,
            turns=self.visit.turns,
            assess=lambda series: self.assess(series).assessment,
        )

    @property
    def inputs(self) -> tuple[FileEvidence, ...]:
        """The record and every other file used, each once."""
        every = [file for one in self._assessed.values() for file in one.inputs]
        return (*self.record, *dict.fromkeys(every))

    def request(
        self,
        series: Series,
        *,
        hitch: HitchPlace | None = None,
        strategy: Strategy = Strategy.FEWEST_NUTS,
    ) -> PlanRequest:
        """Put together what a plan needs to know of the installation.

        Nothing is learned yet, and nothing said of turns before the series. Without a
        hitch it is the one on the side measured.
        """
        lift, rope_set = self.visit.lift, self.visit.rope_set
        looked, span = _looked_at(self.visit), span_of(self.visit, series)
        side = side_measured(series, span, self.visit.readings) or Side.CAR
        here = HITCHES_OF_SIDE[side]
        near = next((h.at for h in rope_set.hitches if h.at in here), here[0])
        masses = {Side.CAR: lift.car_mass, Side.COUNTERWEIGHT: lift.counterweight_mass}
        return PlanRequest(
            rope_set=rope_set,
            hitch=hitch or near,
            strategy=strategy,
            drive=lift.drive,
            roping=lift.roping,
            hanging_mass=masses[side],
            travel=lift.travel,
            looked=looked,
        )


def assess_record(
    path: Path | str | Visit,
    *,
    series: str | None = None,
    choice: RuleChoice | None = None,
    progress: Progress | None = None,
) -> Assessed:
    """Assess one series of a record.

    Parameters
    ----------
    path : Path or str or Visit
        The record, or the folder that holds it; or a visit in memory, which is then not
        among the inputs.
    series, choice, progress : str, RuleChoice, callable, optional
        Name of the series, the last one if left out; another rule, limit or metric than
        the record's; called with one line for each file read.

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
    seen = EvaluatedVisit.of_record(path, choice, progress)
    assessed = seen.assess(inputs.choose_series(seen.visit, series))
    return replace(assessed, inputs=(*seen.record, *assessed.inputs))


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
    given, choice, progress : Given, RuleChoice, callable, optional
        What is known of the ropes; another rule than the program's own; as of
        `assess_record`.

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
    visit = inputs.visit_from_recordings([Path(p) for p in paths], known)
    return EvaluatedVisit(
        visit=visit,
        rule=choice or RuleChoice(),
        progress=progress,
        are_ropes_counted=not known.order,
    ).assess(visit.series[0])


def span_of(visit: Visit, series: Series) -> Span | None:
    """Find the span of a series, if the record describes it."""
    spans = visit.rope_set.spans
    return next((span for span in spans if span.name == series.span), None)


def _without_answered_doubts(
    measured: SetMeasurement, every: Sequence[Looked]
) -> SetMeasurement:
    """Take out doubts that a person settled by looking, and tell what was seen."""
    settled = ANSWERABLE & {d.code for d in measured.doubts} & {a.code for a in every}
    seen = [looked for looked in every if looked.code in settled]
    told = [NoteKind.LOOKED.note(ropes=one.ropes, words=one.words) for one in seen]
    doubts = tuple(one for one in measured.doubts if one.code not in settled)
    return replace(measured, doubts=doubts, notes=(*measured.notes, *told))


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
