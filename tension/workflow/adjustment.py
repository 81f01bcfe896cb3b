"""Adjusting a set: plan the turns, hold as found against as left, check the springs."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Self

from tension.adjustment.comparison import (
    Comparison,
    Past,
    after_the_past,
    compare_series,
)
from tension.adjustment.outcome import PlanOutcome, Strategy
from tension.adjustment.plan import plan_turns
from tension.adjustment.running import SetState
from tension.adjustment.springs import LoadedCar, SpringCheck, check_springs
from tension.adjustment.stiffness import LearnedStiffness
from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence, hash_file
from tension.files.record import read_visit
from tension.files.visit import Visit
from tension.installation import HitchPlace
from tension.measurement.readings import Series, SpringReading
from tension.notes import Refusal
from tension.quantity.units import Quantity
from tension.shown import Shown
from tension.workflow.assess import Assessed, RuleChoice, assess_visit, choose_series
from tension.workflow.inputs import find_record
from tension.workflow.listening import Progress, require_bearable
from tension.workflow.standing import make_request, turns_between


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Planned(Shown):
    """A plan with the series it was made for.

    Attributes
    ----------
    assessed : Assessed
        The series as measured.
    outcome : Plan or DirectionsOnly or NoPlan or InfeasiblePlan
        What was asked for.
    others : tuple of (Strategy, PlanOutcome)
        The same set by the other strategies.
    learned : LearnedStiffness or None
        What earlier turns in the record have shown.
    state : SetState
        Whether the set had come to rest since its nuts were turned.
    inputs : tuple of FileEvidence
        Every file used.
    """

    assessed: Assessed
    outcome: PlanOutcome
    others: tuple[tuple[Strategy, PlanOutcome], ...]
    learned: LearnedStiffness | None
    state: SetState
    inputs: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Compared(Shown):
    """Two series held against each other, or why not, with the files they rest on."""

    as_found: Assessed
    as_left: Assessed
    outcome: Comparison | Refusal
    inputs: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class SpringsChecked(Shown):
    """A check of the springs, or why there is none, with the files it rests on."""

    assessed: Assessed
    outcome: SpringCheck | Refusal
    inputs: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class AdjustmentChoice:
    """What a person says beside the record.

    Attributes
    ----------
    hitch : HitchPlace or None
        Where the nuts are turned; None for the one next to the span measured.
    strategy : Strategy
        What to aim at besides equal ropes.
    rule : RuleChoice
        Another rule, limit or metric than the record's.
    """

    hitch: HitchPlace | None = None
    strategy: Strategy = Strategy.FEWEST_NUTS
    rule: RuleChoice = field(default_factory=RuleChoice)


def plan_record(
    path: Path | str,
    *,
    series: str | None = None,
    choice: AdjustmentChoice | None = None,
    progress: Progress | None = None,
) -> Planned:
    """Plan the turns for a series of a record.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.
    series : str, optional
        Name of the series; the last one if left out.
    choice : AdjustmentChoice, optional
        Hitch, strategy and rule.
    progress : callable, optional
        Called with one line for each file read.

    Returns
    -------
    Planned
        The plan, or why there is none, and what earlier turns have shown.

    Raises
    ------
    FileFormatError
        If the record cannot be used or has no such series.

    Examples
    --------
    >>> plan_record("recordings_demo/side-pulls").assessed.assessment.verdict.value
    'unequal'
    """
    chosen = choice or AdjustmentChoice()
    seen = _Seen.of_record(path, chosen, progress)
    wanted = choose_series(seen.visit, series)
    request = make_request(
        seen.visit, wanted, hitch=chosen.hitch, strategy=chosen.strategy
    )
    request = after_the_past(seen.past, wanted, request)
    assessed = seen.assess(wanted)
    others = tuple(
        (strategy, plan_turns(assessed.assessment, replace(request, strategy=strategy)))
        for strategy in Strategy
        if strategy is not chosen.strategy
    )
    return Planned(
        assessed=assessed,
        outcome=plan_turns(assessed.assessment, request),
        others=others,
        learned=request.learned,
        state=request.state,
        inputs=seen.inputs,
    )


def compare_record(
    path: Path | str,
    *,
    before: str | None = None,
    after: str | None = None,
    choice: AdjustmentChoice | None = None,
    progress: Progress | None = None,
) -> Compared:
    """Hold two series of a record against each other.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.
    before : str, optional
        Name of the series as found; the first on the same span if left out.
    after : str, optional
        Name of the series as left; the last one if left out.
    choice : AdjustmentChoice, optional
        Hitch and rule.
    progress : callable, optional
        Called with one line for each file read.

    Returns
    -------
    Compared
        The comparison, or why there is none.

    Raises
    ------
    FileFormatError
        If the record cannot be used or does not have two such series, in that order.

    Examples
    --------
    Before and after the nuts were turned::

        compare_record("recordings_demo/before-and-after").outcome.changes
    """
    chosen = choice or AdjustmentChoice()
    seen = _Seen.of_record(path, chosen, progress)
    visit = seen.visit
    left = choose_series(visit, after)
    found = choose_series(visit, before) if before else _first_like(visit, left)
    if visit.series.index(found) >= visit.series.index(left):
        raise FileFormatError(
            f'series "{found.name}" does not come before "{left.name}"; name the one '
            "as found with --before and the one as left with --after"
        )
    request = make_request(visit, found, hitch=chosen.hitch)
    as_found, as_left = seen.assess(found), seen.assess(left)
    outcome = compare_series(
        as_found.assessment,
        as_left.assessment,
        turns=turns_between(visit, found, left),
        request=after_the_past(seen.past, found, request),
    )
    return Compared(
        as_found=as_found, as_left=as_left, outcome=outcome, inputs=seen.inputs
    )


def check_springs_of_record(
    path: Path | str,
    *,
    series: str | None = None,
    choice: AdjustmentChoice | None = None,
    rated_load: Quantity | None = None,
    progress: Progress | None = None,
) -> SpringsChecked:
    """Check the springs of a record.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.
    series : str, optional
        Name of the series with the spring lengths; the last one if left out.
    choice : AdjustmentChoice, optional
        Hitch and rule.
    rated_load : Quantity, optional
        For the margin at 125 % of it, with the car mass of the record. [kg]
    progress : callable, optional
        Called with one line for each file read.

    Returns
    -------
    SpringsChecked
        The check, or why there is none.

    Raises
    ------
    FileFormatError
        If the record cannot be used or has no such series.

    Examples
    --------
    >>> check_springs_of_record("recordings_demo/side-pulls").outcome.code
    'no-spring-lengths'
    """
    chosen = choice or AdjustmentChoice()
    seen = _Seen.of_record(path, chosen, progress)
    visit = seen.visit
    wanted = choose_series(visit, series)
    # what the springs are held against must not rest on the springs
    others = tuple(r for r in visit.readings if not isinstance(r, SpringReading))
    seen = replace(seen, visit=replace(visit, readings=others))
    assessed = seen.assess(wanted)
    request = make_request(visit, wanted, hitch=chosen.hitch)
    loaded = None
    if rated_load is not None and visit.lift.car_mass is not None:
        loaded = LoadedCar(
            car_mass=visit.lift.car_mass,
            rated_load=rated_load,
            roping=visit.lift.roping,
        )
    outcome = check_springs(
        assessed.assessment,
        visit.readings,
        rope_set=visit.rope_set,
        place=request.hitch,
        loaded=loaded,
    )
    return SpringsChecked(assessed=assessed, outcome=outcome, inputs=seen.inputs)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Seen:
    """A record with its series, assessed once each."""

    visit: Visit
    record: FileEvidence
    rule: RuleChoice
    progress: Progress | None
    assessed: dict[str, Assessed] = field(default_factory=dict)

    @classmethod
    def of_record(
        cls, path: Path | str, choice: AdjustmentChoice, progress: Progress | None
    ) -> Self:
        """Read a record; its file keeps the name it was given."""
        record = find_record(Path(path))
        visit = read_visit(record)
        evidence = hash_file(record, Path(path).as_posix())
        return cls(visit=visit, record=evidence, rule=choice.rule, progress=progress)

    def assess(self, series: Series) -> Assessed:
        """Assess a series, or take it as assessed before."""
        if series.name not in self.assessed:
            self.assessed[series.name] = assess_visit(
                self.visit,
                series=series.name,
                choice=self.rule,
                progress=self.progress,
            )
            require_bearable(one.recordings for one in self.assessed.values())
        return self.assessed[series.name]

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
        every = [f for assessed in self.assessed.values() for f in assessed.inputs]
        return (self.record, *dict.fromkeys(every))


def _first_like(visit: Visit, last: Series) -> Series:
    """Find the first series on the span of the last."""
    alike = [series for series in visit.series if series.span == last.span]
    if len(alike) < 2:
        raise FileFormatError(
            f'the record has only one series on the span "{last.span}"; two are held '
            "against each other"
        )
    return alike[0]


def strategies_of(planned: Planned) -> Sequence[tuple[Strategy, PlanOutcome]]:
    """Put the plan asked for and the others in the order of the strategies."""
    told = dict(planned.others)
    return [(strategy, told.get(strategy, planned.outcome)) for strategy in Strategy]
