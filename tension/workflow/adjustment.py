"""Adjusting a set: plan the turns, hold as found against as left, check the springs."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from tension.adjustment.comparison import Comparison, compare_series
from tension.adjustment.learned import LearnedStiffness
from tension.adjustment.outcome import PlanOutcome, Strategy
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import PlanRequest
from tension.adjustment.spring_check import LoadedCar, SpringCheck, check_springs
from tension.adjustment.turns import Turn
from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence, hash_file
from tension.files.record import read_visit
from tension.files.visit import Visit
from tension.installation import HitchPlace, Side, Span
from tension.measurement.readings import Series, SpringReading
from tension.notes import Refusal
from tension.quantity.units import Quantity
from tension.workflow.assess import Assessed, RuleChoice, assess_visit, choose_series
from tension.workflow.inputs import find_record
from tension.workflow.listening import Progress, require_bearable

_CAR_SIDE = (HitchPlace.CAR, HitchPlace.DEAD_END_CAR)
_COUNTERWEIGHT_SIDE = (HitchPlace.COUNTERWEIGHT, HitchPlace.DEAD_END_COUNTERWEIGHT)


@dataclass(frozen=True, kw_only=True, slots=True)
class Planned:
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
    inputs : tuple of FileEvidence
        Every file used.
    """

    assessed: Assessed
    outcome: PlanOutcome
    others: tuple[tuple[Strategy, PlanOutcome], ...]
    learned: LearnedStiffness | None
    inputs: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Compared:
    """Two series held against each other, with the files they rest on.

    Attributes
    ----------
    as_found, as_left : Assessed
        The two series.
    outcome : Comparison or Refusal
        The comparison, or why there is none.
    inputs : tuple of FileEvidence
        Every file used.
    """

    as_found: Assessed
    as_left: Assessed
    outcome: Comparison | Refusal
    inputs: tuple[FileEvidence, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class SpringsChecked:
    """A check of the springs, with the files it rests on.

    Attributes
    ----------
    assessed : Assessed
        The series as measured.
    outcome : SpringCheck or Refusal
        The check, or why there is none.
    inputs : tuple of FileEvidence
        Every file used.
    """

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
    strategy: Strategy = Strategy.KEEP_HEIGHT
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
    """
    record = find_record(Path(path))
    planned = plan_visit(
        read_visit(record), series=series, choice=choice, progress=progress
    )
    return replace(planned, inputs=(_evidence(record, path), *planned.inputs))


def plan_visit(
    visit: Visit,
    *,
    series: str | None = None,
    choice: AdjustmentChoice | None = None,
    progress: Progress | None = None,
) -> Planned:
    """Plan the turns for a series of a visit already read.

    Parameters
    ----------
    visit : Visit
        The record in memory.
    series : str, optional
        Name of the series; the last one if left out.
    choice : AdjustmentChoice, optional
        Hitch, strategy and rule.
    progress : callable, optional
        Called with one line for each file read.

    Returns
    -------
    Planned
        The plan, or why there is none; its inputs do not name the record itself.

    Raises
    ------
    FileFormatError
        If the record has no such series.
    """
    chosen = choice or AdjustmentChoice()
    wanted = choose_series(visit, series)
    seen = _Seen(visit=visit, rule=chosen.rule, progress=progress, assessed={})
    request = make_request(visit, wanted, chosen)
    learned = _learn_until(seen, wanted, request)
    request = replace(request, learned=learned)
    assessed = seen.of(wanted)
    others = tuple(
        (
            strategy,
            plan_turns(assessed.assessment, replace(request, strategy=strategy)),
        )
        for strategy in Strategy
        if strategy is not chosen.strategy
    )
    return Planned(
        assessed=assessed,
        outcome=plan_turns(assessed.assessment, request),
        others=others,
        learned=learned,
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
        If the record cannot be used or does not have two such series.
    """
    record = find_record(Path(path))
    compared = compare_visit(
        read_visit(record), before=before, after=after, choice=choice, progress=progress
    )
    return replace(compared, inputs=(_evidence(record, path), *compared.inputs))


def compare_visit(
    visit: Visit,
    *,
    before: str | None = None,
    after: str | None = None,
    choice: AdjustmentChoice | None = None,
    progress: Progress | None = None,
) -> Compared:
    """Hold two series of a visit already read against each other.

    Parameters
    ----------
    visit : Visit
        The record in memory.
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
        The comparison, or why there is none; its inputs do not name the record itself.

    Raises
    ------
    FileFormatError
        If the record does not have two such series, in that order.
    """
    chosen = choice or AdjustmentChoice()
    left = choose_series(visit, after)
    found = choose_series(visit, before) if before else _first_like(visit, left)
    if visit.series.index(found) >= visit.series.index(left):
        raise FileFormatError(
            f'series "{found.name}" does not come before "{left.name}"; name the one '
            "as found with --before and the one as left with --after"
        )
    seen = _Seen(visit=visit, rule=chosen.rule, progress=progress, assessed={})
    request = make_request(visit, found, chosen)
    as_found, as_left = seen.of(found), seen.of(left)
    request = replace(request, learned=_learn_until(seen, found, request))
    outcome = compare_series(
        as_found.assessment,
        as_left.assessment,
        turns=turns_between(visit, found, left),
        request=request,
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
    """
    record = find_record(Path(path))
    visit = read_visit(record)
    chosen = choice or AdjustmentChoice()
    wanted = choose_series(visit, series)
    # what the springs are held against must not rest on the springs
    others = tuple(r for r in visit.readings if not isinstance(r, SpringReading))
    seen = _Seen(
        visit=replace(visit, readings=others),
        rule=chosen.rule,
        progress=progress,
        assessed={},
    )
    assessed = seen.of(wanted)
    request = make_request(visit, wanted, chosen)
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
    return SpringsChecked(
        assessed=assessed,
        outcome=outcome,
        inputs=(_evidence(record, path), *seen.inputs),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Seen:
    """Series assessed once each."""

    visit: Visit
    rule: RuleChoice
    progress: Progress | None
    assessed: dict[str, Assessed]

    def of(self, series: Series) -> Assessed:
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
    def inputs(self) -> tuple[FileEvidence, ...]:
        every = [f for assessed in self.assessed.values() for f in assessed.inputs]
        return tuple(dict.fromkeys(every))


def make_request(visit: Visit, series: Series, choice: AdjustmentChoice) -> PlanRequest:
    """Put together what a plan needs to know of the installation.

    Parameters
    ----------
    visit : Visit
        The record.
    series : Series
        The series measured.
    choice : AdjustmentChoice
        Hitch and strategy.

    Returns
    -------
    PlanRequest
        Nothing learned yet.
    """
    span = next((s for s in visit.rope_set.spans if s.name == series.span), None)
    is_car = span is None or span.side is Side.CAR
    return PlanRequest(
        rope_set=visit.rope_set,
        hitch=choice.hitch or nearest_hitch(visit, span),
        strategy=choice.strategy,
        drive=visit.lift.drive,
        roping=visit.lift.roping,
        hanging_mass=visit.lift.car_mass if is_car else visit.lift.counterweight_mass,
    )


def nearest_hitch(visit: Visit, span: Span | None) -> HitchPlace:
    """Find the hitch next to a span: one of the record on its side, if there is one.

    Parameters
    ----------
    visit : Visit
        The record.
    span : Span or None
        The span measured.

    Returns
    -------
    HitchPlace
        The hitch.
    """
    is_car = span is None or span.side is Side.CAR
    here = _CAR_SIDE if is_car else _COUNTERWEIGHT_SIDE
    return next((h.at for h in visit.rope_set.hitches if h.at in here), here[0])


def turns_between(visit: Visit, before: Series, after: Series) -> tuple[Turn, ...]:
    """Find the turns made between two series.

    Parameters
    ----------
    visit : Visit
        The record.
    before, after : Series
        The two series.

    Returns
    -------
    tuple of Turn
        In order of time.
    """
    names = [series.name for series in visit.series]
    start, end = names.index(before.name), names.index(after.name)
    between = names[start:end]
    return tuple(turn for turn in visit.turns if turn.after in between)


def _first_like(visit: Visit, last: Series) -> Series:
    """Find the first series on the span of the last."""
    alike = [series for series in visit.series if series.span == last.span]
    if len(alike) < 2:
        raise FileFormatError(
            f'the record has only one series on the span "{last.span}"; two are held '
            "against each other"
        )
    return alike[0]


def _learn_until(
    seen: _Seen, until: Series, request: PlanRequest
) -> LearnedStiffness | None:
    """Learn from every pair of series with turns and a run between them."""
    visit, learned = seen.visit, request.learned
    for index, series in enumerate(visit.series):
        earlier = [s for s in visit.series[:index] if s.span == series.span]
        if earlier:
            turns = turns_between(visit, earlier[-1], series)
            if turns and any(turn.round_trips_after for turn in turns):
                outcome = compare_series(
                    seen.of(earlier[-1]).assessment,
                    seen.of(series).assessment,
                    turns=turns,
                    request=replace(request, learned=learned),
                )
                if isinstance(outcome, Comparison) and outcome.learned is not None:
                    learned = outcome.learned
        if series == until:
            break
    return learned


def _evidence(record: Path, path: Path | str) -> FileEvidence:
    """Name the record as it was given."""
    return replace(hash_file(record), path=Path(path).as_posix())


def strategies_of(
    planned: Planned,
) -> Sequence[tuple[Strategy, PlanOutcome]]:
    """Put the plan asked for and the others in the order of the strategies.

    Parameters
    ----------
    planned : Planned
        The plan and the others.

    Returns
    -------
    sequence of (Strategy, PlanOutcome)
        Every strategy once.
    """
    told = dict(planned.others)
    return [(strategy, told.get(strategy, planned.outcome)) for strategy in Strategy]
