"""What the turns of a record leave a plan to start from: learned, in doubt, at rest."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from tension.adjustment.answer_notes import doubts_of_answer
from tension.adjustment.comparison import Comparison, compare_series
from tension.adjustment.plan_basis import PlanRequest, find_run_in_of, mean_tension
from tension.adjustment.state import SetState, find_state
from tension.adjustment.turns import Turn, turns_before, turns_since
from tension.assessment.outcome import Assessment
from tension.measurement.readings import Series


@dataclass(frozen=True, kw_only=True, slots=True)
class Past:
    """Series and turns of a record."""

    series: tuple[Series, ...]  # in order of time
    turns: tuple[Turn, ...]  # in order of time
    assess: Callable[[Series], Assessment]  # assesses a series

    @property
    def tells_of_running(self) -> bool:
        """Whether the record says anything of turns or of runs."""
        return bool(self.turns) or any(
            each.round_trips_before is not None for each in self.series
        )


def state_at(past: Past, series: Series, request: PlanRequest) -> SetState:
    """Find whether a set had come to rest at a series, and the turns made since."""
    if not past.tells_of_running:
        return SetState()
    assessment = past.assess(series)
    mean = None
    if assessment.measurement.refusal is None and assessment.measurement.given:
        mean = mean_tension(assessment, request)
    names = [each.name for each in past.series]
    until = past.series[: names.index(series.name) + 1]
    return find_state(
        turns_before(past.series, past.turns, series.name),
        turns_since(past.series, past.turns, series.name),
        rope_set=request.rope_set,
        run_in=find_run_in_of(request, assessment),
        mean_tension=None if mean is None else mean.value,
        has_never_run=until[0].round_trips_before == 0
        and not any(each.round_trips_before for each in until),
    )


def after_the_past(past: Past, until: Series, request: PlanRequest) -> PlanRequest:
    """Tell a request what the turns up to a series have shown.

    What was learned, what the last answer leaves in doubt, and whether the set is at
    rest. A series is held against the last before it at which the set was at rest and
    whose answer was understood, so that a reading taken too soon spoils nothing.
    """
    rest: Series | None = None
    for series in past.series:
        if series.span == until.span and past.tells_of_running:
            if rest is not None:
                request = _with_answer(past, rest, series, request)
            if not request.doubts and state_at(past, series, request).is_at_rest:
                rest = series
        if series == until:
            break
    return replace(request, state=state_at(past, until, request))


def _with_answer(
    past: Past, rest: Series, series: Series, request: PlanRequest
) -> PlanRequest:
    """Hold a series against one at rest, if nuts were turned between."""
    turns = turns_before(past.series, past.turns, series.name, since=rest.name)
    if not turns:
        return request
    outcome = compare_series(
        past.assess(rest), past.assess(series), turns=turns, request=request
    )
    if not isinstance(outcome, Comparison):
        return request
    return replace(
        request,
        learned=outcome.learned or request.learned,
        doubts=doubts_of_answer(outcome.answer),
    )
