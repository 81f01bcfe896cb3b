"""Plan of turns: which nut, which way, how far, in what order."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.choose import Choice, choose_steps, problem_of
from tension.adjustment.doubts import find_no_plan
from tension.adjustment.order import Work, find_first_stage, find_stages, trade_order
from tension.adjustment.origins import find_hitch
from tension.adjustment.outcome import (
    Direction,
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    NoPlanKind,
    NutTurn,
    Plan,
    PlanOutcome,
    RopeDirection,
    Shortage,
    Shortfall,
    Stage,
    Strategy,
)
from tension.adjustment.plan_basis import PlanBasis, PlanRequest, find_basis
from tension.adjustment.plan_notes import ask_for_thread, notes_of_plan
from tension.adjustment.search import find_shortfalls
from tension.assessment.metrics import spread_from_tensions
from tension.assessment.outcome import Assessment
from tension.installation import Buffer, Hitch
from tension.notes import NoteKind, Refusal
from tension.physics.hitch_statics import (
    FamilyMember,
    hitch_rise,
    nut_travels_for_changes,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_FAMILY = {
    Strategy.KEEP_HEIGHT: FamilyMember.KEEP_HEIGHT,
    Strategy.TAKE_UP_ONLY: FamilyMember.TAKE_UP_ONLY,
    Strategy.EASE_ONLY: FamilyMember.EASE_ONLY,
    Strategy.FEWEST_NUTS: FamilyMember.LEAST_TRAVEL,
}

_LIKELY = 0.5
"""A plan that stays short of the limit for thread nobody has told asks first. [1]"""

_OF_THREAD = {Shortage.THREAD_TOWARDS_PLATE, Shortage.THREAD_AWAY}


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
    hitch = find_hitch(request.rope_set, request.hitch)
    if hitch is None:
        missing = NoteKind.HITCH_UNKNOWN.refusal(place=request.hitch.value)
        return directions_of(assessment, Hitch(at=request.hitch), (missing,))
    if hitch.buffer is Buffer.BEAM:
        return NoPlan(kind=NoPlanKind.BEAM, reasons=(NoteKind.BEAM.refusal(),))
    basis = find_basis(assessment, request, hitch)
    if isinstance(basis, tuple):
        if any(reason.code == NoteKind.BEAM.code for reason in basis):
            return NoPlan(kind=NoPlanKind.BEAM, reasons=basis)
        return directions_of(assessment, hitch, basis)
    return _judge(basis, choose_steps(basis))


def _judge(basis: PlanBasis, choice: Choice) -> PlanOutcome:
    """Make a plan of the steps, or tell what is short."""
    problem = problem_of(basis)
    free = choice.steps
    is_short = problem.spread_after(free) > basis.assessment.rule.limit
    if is_short or basis.limits.unknown:
        free = choose_steps(basis, is_limited=False).steps
    asked = _threads_to_ask(basis, free)
    shortfalls = find_shortfalls(
        problem=problem,
        steps=choice.steps,
        free_steps=free,
        limits=basis.limits,
        limit=basis.assessment.rule.limit,
    )
    if any(not _can_be_asked(basis, short) for short in shortfalls):
        return InfeasiblePlan(
            strategy=basis.request.strategy,
            rule=basis.assessment.rule,
            shortfalls=shortfalls,
            best_spread=float(problem.spread_after(choice.steps)),
            origins=basis.origins,
        )
    if not choice.steps.any():
        return NoPlan(kind=NoPlanKind.MEASURE_FIRST, reasons=(_no_gain(basis),))
    work = _work(basis)
    stages = find_stages(work, choice.steps)
    is_whole = stages is not None
    if stages is None:
        stages = find_first_stage(work, choice.steps)
    if not stages:
        reason = NoteKind.STEP_TOO_COARSE.refusal(steps=basis.steps_per_turn)
        return directions_of(basis.assessment, basis.hitch, (reason,))
    plan = _plan_of(basis, stages)
    if asked and is_whole and plan.forecast.chance_equal < _LIKELY:
        reasons = tuple(ask_for_thread(turn) for turn in asked)
        return NoPlan(kind=NoPlanKind.LOOK_FIRST, reasons=reasons)
    notes = notes_of_plan(basis, plan, choice, is_whole=is_whole, asked=asked)
    return replace(plan, notes=notes)


def _no_gain(basis: PlanBasis) -> Refusal:
    """No turn would promise more than there is already."""
    again = basis.assessment.measure_again or tuple(
        share.number for share in basis.assessment.shares[:2]
    )
    return NoteKind.MEASURE_FIRST.refusal(
        reason="no turn would lower the bound of the spread by half a point",
        ropes="rope " + ", ".join(map(str, again)),
    )


def _can_be_asked(basis: PlanBasis, short: Shortfall) -> bool:
    """Whether what is short is only thread of which nobody has told."""
    if short.kind not in _OF_THREAD or short.rope is None:
        return False
    return not np.isfinite(short.available) or short.rope - 1 in basis.limits.unknown


def _threads_to_ask(basis: PlanBasis, free: IntArray) -> tuple[NutTurn, ...]:
    """Nuts that want more than is safe without asking for the thread left."""
    limits = basis.limits
    return tuple(
        _nut_turn(basis, place, int(free[place]))
        for place in limits.unknown
        if not limits.lowest_steps[place] <= free[place] <= limits.highest_steps[place]
    )


def _work(basis: PlanBasis) -> Work:
    """What the nuts do and may not do."""
    return Work(
        tensions=basis.tensions,
        stiffness=basis.stiffness,
        run_in=basis.run_in,
        hitch=basis.hitch.at,
        step=basis.step,
        limits=basis.limits,
        turn_of=lambda rope, n: _nut_turn(basis, rope, n),
    )


def _plan_of(basis: PlanBasis, stages: tuple[Stage, ...]) -> Plan:
    """Put a plan together from its stages."""
    rule = basis.assessment.rule
    steps = np.zeros(len(basis.tensions), dtype=np.int64)
    for stage in stages:
        for step in stage.steps:
            steps[basis.place_of(step.turn.rope)] += step.turn.steps
    travels = np.asarray(steps * basis.step, dtype=np.float64)
    rise = hitch_rise(travels, basis.stiffness.after_running)
    mean = float(basis.tensions.mean())
    left = basis.run_in.left_over(basis.hitch.at, stages[-1].round_trips)
    simulation = replace(basis.simulation, left_over=min(abs(left), 1.0))
    return Plan(
        strategy=basis.request.strategy,
        rule=rule,
        goal=basis.goal,
        hitch=basis.hitch,
        drive=basis.request.drive,
        roping=basis.request.roping,
        steps_per_turn=basis.steps_per_turn,
        turns=tuple(_nut_turn(basis, i, int(n)) for i, n in enumerate(steps)),
        wanted_turns=_wanted_turns(basis),
        stages=stages,
        part=basis.part,
        mean_tension=mean,
        shares_before=tuple(float(t / mean) for t in basis.tensions),
        spread_before=float(spread_from_tensions(basis.tensions, rule.metric)),
        forecast=simulation.forecast(travels, rule),
        hitch_rise=rise,
        runby_change=rise / basis.request.roping.n_falls,
        origins=basis.origins,
        notes=(),
    )


def _wanted_turns(basis: PlanBasis) -> tuple[float, ...]:
    """Turns that would make the set equal if a nut could be turned by any amount."""
    travels = nut_travels_for_changes(
        basis.aimed.mean() - basis.aimed,
        basis.stiffness.after_running,
        member=_FAMILY[basis.request.strategy],
    )
    pitch = basis.step * basis.steps_per_turn
    return tuple(float(travel / pitch) for travel in travels)


def _nut_turn(basis: PlanBasis, place: int, steps: int) -> NutTurn:
    """What steps of one nut are in turns and millimetres."""
    return NutTurn(
        rope=basis.assessment.shares[place].number,
        steps=steps,
        turns=steps / basis.steps_per_turn,
        travel=steps * basis.step,
    )


def directions_of(
    assessment: Assessment, hitch: Hitch, reasons: tuple[Refusal, ...]
) -> DirectionsOnly:
    """Tell which nuts go which way, by the order of the trade.

    The slackest rope first; ropes within twice their uncertainty are left.
    """
    shares = np.array([s.share for s in assessment.shares], dtype=float)
    wide = np.array([2.0 * (s.share_uncertainty or 0.0) for s in assessment.shares])
    off = shares - shares.mean()
    pull = np.where(np.abs(off) > wide, -off, 0.0)
    order = trade_order(shares, pull)
    rest = [i for i in range(len(shares)) if i not in order]
    rows = tuple(
        RopeDirection(
            rope=assessment.shares[i].number,
            direction=_way(float(pull[i])),
            share=float(shares[i] / shares.mean()),
        )
        for i in (*order, *rest)
    )
    return DirectionsOnly(hitch=hitch, reasons=reasons, rows=rows, notes=())


def _way(pull: float) -> Direction:
    """Which way a rope wants to go."""
    if pull == 0.0:
        return Direction.LEAVE
    return Direction.TAKE_UP if pull > 0.0 else Direction.EASE
