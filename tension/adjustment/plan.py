"""Plan of turns: which nut, which way, how far, in what order, and what to know."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from tension.adjustment import outcome
from tension.adjustment.order import Route, find_route, trade_order
from tension.adjustment.outcome import MOST_TRIPS, NoPlan, NoPlanKind, Plan, PlanOutcome
from tension.adjustment.plan_basis import (
    ANSWERABLE,
    PlanBasis,
    PlanRequest,
    find_basis,
    find_no_plan,
)
from tension.adjustment.search import Choice, choose_steps
from tension.adjustment.stiffness import find_hitch
from tension.assessment.decide import Assessment, Verdict
from tension.installation import Drive, Hitch, Side
from tension.notes import Note, NoteKind, Refusal
from tension.physics.hitch_statics import (
    FamilyMember,
    hitch_rise,
    nut_travels_for_changes,
)
from tension.wording import percent_text

_FAMILY = {
    outcome.Strategy.KEEP_HEIGHT: FamilyMember.KEEP_HEIGHT,
    outcome.Strategy.TAKE_UP_ONLY: FamilyMember.TAKE_UP_ONLY,
    outcome.Strategy.EASE_ONLY: FamilyMember.EASE_ONLY,
    outcome.Strategy.FEWEST_NUTS: FamilyMember.LEAST_TRAVEL,
}

# a plan that stays short of the limit for thread nobody has told asks first [1]
_LIKELY = 0.5
_SEEN = 0.001  # differences of a bound that are worth a word [1]
# notes of the measurement that a reader of the plan must see again
_TO_TELL = (NoteKind.LENGTH_PATTERN, NoteKind.KINDS_DISAGREE)


def plan_turns(assessment: Assessment, request: PlanRequest) -> PlanOutcome:
    """Plan the turns that make a set equal.

    Parameters
    ----------
    assessment : Assessment
        The set as measured.
    request : PlanRequest
        Where, how, and what is known of the installation.

    Returns
    -------
    Plan or DirectionsOnly or NoPlan or InfeasiblePlan
        The plan; order and direction where turns cannot be told; why no nut is to be
        turned; or what is short.

    Examples
    --------
    For a set that was measured, with the hitch of a record::

        plan_turns(assessment, PlanRequest(rope_set=visit.rope_set, ...))
    """
    refused = find_no_plan(assessment, request)
    if refused is not None:
        return refused
    basis = find_basis(assessment, request)
    if isinstance(basis, PlanBasis):
        choice = choose_steps(basis)
        return _judge(basis, choice)
    if any(reason.code == NoteKind.BEAM.code for reason in basis):
        return NoPlan.of(NoPlanKind.BEAM, *basis)
    hitch = find_hitch(request.rope_set, request.hitch)
    return _directions(assessment, hitch or Hitch(at=request.hitch), basis)


def _judge(basis: PlanBasis, choice: Choice) -> PlanOutcome:
    """Make a plan of the steps, or tell what is short."""
    if choice.shortfalls:
        return outcome.InfeasiblePlan(
            strategy=basis.request.strategy,
            rule=basis.assessment.rule,
            shortfalls=choice.shortfalls,
            best_spread=choice.spread,
            origins=basis.origins,
        )
    if not choice.steps.any():
        return basis.no_use
    route = find_route(basis, choice.steps)
    if not route.stages:
        coarse = NoteKind.STEP_TOO_COARSE.refusal(steps=basis.steps_per_turn)
        return _directions(basis.assessment, basis.hitch, (coarse,))
    plan = _plan_of(basis, route)
    asked = [
        NoteKind.THREAD_ASKED.note(
            ropes=(rope,),
            rope=rope,
            way="take_up_left" if travel > 0 else "ease_left",
            wanted=f"{abs(1000 * travel):.0f} mm",
        )
        for rope, travel in choice.untold
    ]
    if asked and route.is_whole and plan.forecast.chance_equal < _LIKELY:
        return NoPlan.of(NoPlanKind.LOOK_FIRST, *(note.as_refusal() for note in asked))
    notes = (
        *_on_work(plan),
        *(() if route.is_whole else (NoteKind.FIRST_STAGE_ONLY.note(),)),
        *asked,
        *_on_measurement(basis),
        *_on_reach(plan),
        *(_on_nuts(plan, choice) if route.is_whole else ()),
        *_on_setting(basis, plan),
    )
    return replace(plan, notes=notes)


def _plan_of(basis: PlanBasis, route: Route) -> Plan:
    """Put a plan together from its stages."""
    rule, request, k = basis.assessment.rule, basis.request, basis.stiffness
    travels = np.array([turn.travel for turn in route.turns])
    wanted = nut_travels_for_changes(
        basis.aimed.mean() - basis.aimed,
        k.after_running,
        member=_FAMILY[request.strategy],
    )
    rise = hitch_rise(travels, k.after_running)
    mean = float(basis.tensions.mean())
    simulation = replace(basis.simulation, left_over=min(abs(route.left_over), 1.0))
    return Plan(
        strategy=request.strategy,
        rule=rule,
        goal=basis.goal,
        hitch=basis.hitch,
        drive=request.drive,
        roping=request.roping,
        steps_per_turn=basis.steps_per_turn,
        turns=route.turns,
        wanted_turns=tuple((wanted / (basis.step * basis.steps_per_turn)).tolist()),
        stages=route.stages,
        part=basis.part,
        mean_tension=mean,
        shares_before=tuple((basis.tensions / mean).tolist()),
        spread_before=basis.spread_before,
        forecast=simulation.forecast(travels, rule),
        hitch_rise=rise,
        runby_change=rise / request.roping.n_falls,
        origins=basis.origins,
        notes=(),
    )


def _directions(
    assessment: Assessment, hitch: Hitch, reasons: tuple[Refusal, ...]
) -> outcome.DirectionsOnly:
    """Tell which nuts go which way, by the order of the trade.

    The slackest rope first; ropes within twice their uncertainty are left.
    """
    shares = np.array([s.share for s in assessment.shares], dtype=float)
    known = [share.share_uncertainty for share in assessment.shares]
    off = 1.0 - shares
    pull = np.where(np.abs(off) > 2.0 * np.array(known, dtype=float), off, 0.0)
    order = trade_order(shares, pull)
    rest = [i for i in range(len(shares)) if i not in order]
    rows = tuple(
        outcome.RopeDirection(
            rope=assessment.shares[i].number,
            direction=outcome.Direction.of(pull[i]),
            share=float(shares[i]),
        )
        for i in (*order, *rest)
    )
    return outcome.DirectionsOnly(hitch=hitch, reasons=reasons, rows=rows)


def _on_work(plan: Plan) -> Iterator[Note]:
    """More round trips than people make."""
    most = max(stage.round_trips for stage in plan.stages)
    if most > MOST_TRIPS:
        yield NoteKind.MANY_TRIPS.note(trips=most)


def _on_measurement(basis: PlanBasis) -> Iterator[Note]:
    """What was looked at, what was noted, and whether the set may be equal."""
    assessment = basis.assessment
    for looked in basis.request.looked:
        if looked.code in ANSWERABLE:
            yield NoteKind.LOOKED.note(ropes=looked.ropes, words=looked.words)
    yield from (note for note in basis.told if note.kind in _TO_TELL)
    if assessment.verdict is Verdict.CANNOT_TELL:
        again = assessment.measure_again or (1,)
        yield NoteKind.MAYBE_EQUAL.note(again=tuple(again[:3]))


def _on_reach(plan: Plan) -> Iterator[Note]:
    """Whether the goal is named and reached."""
    goal = percent_text(plan.goal)
    if plan.rule.goal is None:
        yield NoteKind.GOAL_BY_PROGRAM.note(goal=goal)
    if plan.part < 1.0:
        yield NoteKind.FIRST_PART.note(part=100 * plan.part)
    elif plan.forecast.upper > plan.goal:
        upper = percent_text(plan.forecast.upper)
        yield NoteKind.NOT_REACHED.note(upper=upper, goal=goal)


def _on_nuts(plan: Plan, choice: Choice) -> Iterator[Note]:
    """Why so many nuts and no more."""
    upper = percent_text(choice.upper)
    if choice.upper_with_fewer is not None:
        fewer = percent_text(choice.upper_with_fewer)
        yield NoteKind.NUT_WORTH.note(nuts=plan.n_nuts, upper=upper, more=fewer)
    gain = choice.upper - choice.upper_with_all
    if choice.n_with_all > plan.n_nuts and gain > _SEEN:
        less, nuts = percent_text(choice.upper_with_all), choice.n_with_all
        yield NoteKind.MORE_NUTS.note(nuts=nuts, upper=upper, less=less)


def _on_setting(basis: PlanBasis, plan: Plan) -> Iterator[Note]:
    """Stages, limits, and which side was measured."""
    if len(plan.stages) > 1:
        yield NoteKind.STAGED.note(stages=len(plan.stages))
    yield from basis.limits.notes
    if plan.drive is not Drive.TRACTION:
        return
    side = basis.span.side
    if plan.hitch.at.side is not side:
        trips = plan.stages[-1].round_trips
        yield NoteKind.FAR_FROM_NUTS.note(side=side.value, trips=trips)
    other = Side.COUNTERWEIGHT if side is Side.CAR else Side.CAR
    yield NoteKind.OTHER_SIDE.note(side=other.value)
