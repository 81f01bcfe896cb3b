"""Adjusting a set: plan the turns, hold as found against as left, check the springs."""

from dataclasses import dataclass, field, replace
from pathlib import Path

from tension.adjustment.comparison import Comparison, after_the_past, compare_series
from tension.adjustment.outcome import PlanOutcome, SetState, Strategy
from tension.adjustment.plan import plan_turns
from tension.adjustment.running import turns_before
from tension.adjustment.springs import SpringCheck, check_springs, rated_tension
from tension.adjustment.stiffness import LearnedStiffness
from tension.files.evidence import FileEvidence
from tension.installation import HitchPlace, Side
from tension.measurement.readings import Series, SpringReading
from tension.notes import Refusal
from tension.quantity.units import Quantity
from tension.shown import Shown
from tension.workflow.assess import Assessed, EvaluatedVisit, RuleChoice
from tension.workflow.inputs import choose_series, require
from tension.workflow.listening import Progress


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Planned(Shown):
    """A plan, or why there is none, with the series it was made for and its files."""

    assessed: Assessed
    outcome: PlanOutcome  # by the strategy asked for
    strategies: tuple[tuple[Strategy, PlanOutcome], ...]  # by every strategy
    learned: LearnedStiffness | None  # of earlier turns
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
    """What a person says beside the record; no hitch is the one next to the span."""

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
    path, series, choice : Path or str, str, AdjustmentChoice
        As of `assess_record`, with hitch and strategy.
    progress : callable, optional
        Called with one line for each file read.

    Examples
    --------
    >>> plan_record("recordings_demo/side-pulls").assessed.assessment.verdict.value
    'unequal'
    """
    chosen = choice or AdjustmentChoice()
    seen = EvaluatedVisit.of_record(path, chosen.rule, progress)
    wanted = choose_series(seen.visit, series)
    asked = seen.request(wanted, hitch=chosen.hitch)
    request = after_the_past(seen.past, wanted, asked)
    assessed = seen.assess(wanted)
    plans = {
        strategy: plan_turns(assessed.assessment, replace(request, strategy=strategy))
        for strategy in Strategy
    }
    return Planned(
        assessed=assessed,
        outcome=plans[chosen.strategy],
        strategies=tuple(plans.items()),
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
    path, choice, progress : Path or str, AdjustmentChoice, callable
        As of `plan_record`.
    before, after : str, optional
        Names of the series as found, the first on the same span if left out, and as
        left, the last one if left out.

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
    seen = EvaluatedVisit.of_record(path, chosen.rule, progress)
    every = seen.visit.series
    left = choose_series(seen.visit, after)
    alike = [series for series in every if series.span == left.span]
    require(
        before or len(alike) > 1,
        f'the record has only one series on the span "{left.span}"; two are held '
        "against each other",
    )
    found = choose_series(seen.visit, before) if before else alike[0]
    require(
        every.index(found) < every.index(left),
        f'series "{found.name}" does not come before "{left.name}"; name the one as '
        "found with --before and the one as left with --after",
    )
    return Compared(
        as_found=seen.assess(found),
        as_left=seen.assess(left),
        outcome=compare(seen, found, left, hitch=chosen.hitch),
        inputs=seen.inputs,
    )


def compare(
    seen: EvaluatedVisit, found: Series, left: Series, *, hitch: HitchPlace | None
) -> Comparison | Refusal:
    """Hold a series against a later one, with what turns before both have shown."""
    visit, request = seen.visit, seen.request(found, hitch=hitch)
    return compare_series(
        seen.assess(found).assessment,
        seen.assess(left).assessment,
        turns=turns_before(visit.series, visit.turns, left.name, since=found.name),
        request=after_the_past(seen.past, found, request),
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
    path, series, choice, progress : Path or str, str, AdjustmentChoice, callable
        As of `plan_record`, of the series with the spring lengths.
    rated_load : Quantity, optional
        For the margin at 125 % of it, with the mass on that side by the record. [kg]

    Examples
    --------
    >>> check_springs_of_record("recordings_demo/side-pulls").outcome.code
    'no-spring-lengths'
    """
    chosen = choice or AdjustmentChoice()
    seen = EvaluatedVisit.of_record(path, chosen.rule, progress)
    wanted = choose_series(seen.visit, series)
    return springs_of(seen, wanted, hitch=chosen.hitch, rated_load=rated_load)


def springs_of(
    seen: EvaluatedVisit,
    series: Series,
    *,
    hitch: HitchPlace | None = None,
    rated_load: Quantity | None = None,
) -> SpringsChecked:
    """Hold the springs of a series against what does not rest on them.

    Those of the only hitch of which it holds lengths, else of the one next to the span;
    with the rated load [kg], if it is known.
    """
    visit, lift, others = seen.visit, seen.visit.lift, seen.without_springs()
    assessed = others.assess(series)
    own = [r for r in visit.readings if r.series == series.name]
    read = {r.hitch for r in own if isinstance(r, SpringReading)}
    only = next(iter(read)) if len(read) == 1 else None
    place = seen.request(series, hitch=hitch or only).hitch
    mass, load, rated = lift.car_mass, rated_load, None
    if place.side is Side.COUNTERWEIGHT:
        mass, load = lift.counterweight_mass, None
    if rated_load is not None and mass is not None:
        rated = rated_tension(mass, load, lift.roping, visit.rope_set.n_ropes)
    outcome = check_springs(
        assessed.assessment,
        visit.readings,
        rope_set=visit.rope_set,
        place=place,
        rated=rated,
    )
    return SpringsChecked(assessed=assessed, outcome=outcome, inputs=others.inputs)
