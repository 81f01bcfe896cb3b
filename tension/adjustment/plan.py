"""Plan of turns: which nut, which way, how far, in what order."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.doubts import find_no_plan, notes_to_tell
from tension.adjustment.hitch_parts import find_hitch
from tension.adjustment.infeasible import find_shortfalls
from tension.adjustment.order import trade_order
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
    Strategy,
)
from tension.adjustment.plan_basis import PlanBasis, PlanRequest, find_basis
from tension.adjustment.search import StepProblem, find_fewest_nuts, find_steps
from tension.adjustment.stages import find_stages, worst_share_on_the_way
from tension.assessment.metrics import spread_from_tensions
from tension.assessment.outcome import Assessment, Verdict
from tension.installation import Buffer, Drive, Hitch, HitchPlace, Side
from tension.notes import Note, NoteKind, Refusal
from tension.physics.hitch_statics import (
    FamilyMember,
    hitch_rise,
    nut_travels_for_changes,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_NEAR_BEST = 0.005
"""Where the goal is out of reach: fewest nuts this near to the best. [1]"""

_FAMILY = {
    Strategy.KEEP_HEIGHT: FamilyMember.KEEP_HEIGHT,
    Strategy.TAKE_UP_ONLY: FamilyMember.TAKE_UP_ONLY,
    Strategy.EASE_ONLY: FamilyMember.EASE_ONLY,
    Strategy.FEWEST_NUTS: FamilyMember.LEAST_TRAVEL,
}


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
    refused = find_no_plan(assessment)
    if refused is not None:
        return refused
    hitch = find_hitch(request.rope_set, request.hitch)
    if hitch is None:
        missing = NoteKind.HITCH_UNKNOWN.refusal(place=request.hitch.value)
        return _directions(assessment, Hitch(at=request.hitch), (missing,))
    if hitch.buffer is Buffer.BEAM:
        return NoPlan(kind=NoPlanKind.BEAM, reasons=(NoteKind.BEAM.refusal(),))
    basis = find_basis(assessment, request, hitch)
    if isinstance(basis, tuple):
        if any(reason.code == NoteKind.BEAM.code for reason in basis):
            return NoPlan(kind=NoPlanKind.BEAM, reasons=basis)
        return _directions(assessment, hitch, basis)
    steps = _choose_steps(basis)
    return _judge(basis, steps)


def _problem(basis: PlanBasis, tensions: FloatArray, *, limited: bool) -> StepProblem:
    """Put the question that the strategy asks."""
    n = len(tensions)
    far = np.full(n, 10_000, dtype=np.int64)
    lowest = basis.limits.lowest_steps if limited else -far
    highest = basis.limits.highest_steps if limited else far
    strategy = basis.request.strategy
    if strategy is Strategy.TAKE_UP_ONLY:
        lowest = np.zeros(n, dtype=np.int64)
    if strategy is Strategy.EASE_ONLY:
        highest = np.zeros(n, dtype=np.int64)
    return StepProblem(
        tensions=tensions,
        stiffnesses=basis.stiffness.after_running,
        step=basis.step,
        lowest=lowest,
        highest=highest,
        metric=basis.assessment.rule.metric,
        keeps_sum=strategy is Strategy.KEEP_HEIGHT,
    )


def _choose_steps(basis: PlanBasis) -> IntArray:
    """Choose the steps by the strategy; none where nothing is allowed."""
    problem = _problem(basis, basis.aimed, limited=True)
    best = find_steps(problem)
    if best is None:
        return np.zeros(len(basis.tensions), dtype=np.int64)
    if basis.request.strategy is not Strategy.FEWEST_NUTS:
        return best
    simulation = replace(basis.simulation, tensions=basis.aimed)
    rule = basis.assessment.rule

    def upper(steps: IntArray) -> float:
        return simulation.upper_bound(_travels(basis, steps), rule)

    found = find_fewest_nuts(problem, upper, basis.goal)
    if found is None:
        found = find_fewest_nuts(problem, upper, upper(best) + _NEAR_BEST)
    return best if found is None else found


def _judge(basis: PlanBasis, steps: IntArray) -> Plan | InfeasiblePlan:
    """Make a plan of the steps, or tell what is short."""
    rule = basis.assessment.rule
    problem = _problem(basis, basis.aimed, limited=True)
    stages = find_stages(
        tensions=basis.tensions,
        stiffness=basis.stiffness,
        steps=steps,
        step=basis.step,
        limits=basis.limits,
        turn_of=lambda rope, n: _nut_turn(basis, rope, n),
    )
    worst = None
    if stages is None:
        worst = worst_share_on_the_way(
            tensions=basis.tensions,
            stiffness=basis.stiffness,
            steps=steps,
            step=basis.step,
        )
    free = find_steps(_problem(basis, basis.aimed, limited=False))
    shortfalls = find_shortfalls(
        problem=problem,
        steps=steps,
        free_steps=free,
        limits=basis.limits,
        limit=rule.limit,
        worst_share=worst,
    )
    if shortfalls or stages is None:
        return InfeasiblePlan(
            strategy=basis.request.strategy,
            rule=rule,
            shortfalls=shortfalls,
            best_spread=problem.spread_after(steps),
            origins=basis.origins,
        )
    travels = _travels(basis, steps)
    rise = hitch_rise(travels, basis.stiffness.after_running)
    mean = float(basis.tensions.mean())
    plan = Plan(
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
        forecast=basis.simulation.forecast(travels, rule),
        hitch_rise=rise,
        runby_change=rise / basis.request.roping.n_falls,
        origins=basis.origins,
        notes=(),
    )
    return replace(plan, notes=_notes(basis, plan))


def _wanted_turns(basis: PlanBasis) -> tuple[float, ...]:
    """Turns that would make the set equal if a nut could be turned by any amount."""
    travels = nut_travels_for_changes(
        basis.aimed.mean() - basis.aimed,
        basis.stiffness.after_running,
        member=_FAMILY[basis.request.strategy],
    )
    pitch = basis.step * basis.steps_per_turn
    return tuple(float(travel / pitch) for travel in travels)


def _travels(basis: PlanBasis, steps: IntArray) -> FloatArray:
    """Travel of each nut [m]."""
    return np.asarray(steps * basis.step, dtype=np.float64)


def _nut_turn(basis: PlanBasis, place: int, steps: int) -> NutTurn:
    """What steps of one nut are in turns and millimetres."""
    return NutTurn(
        rope=basis.assessment.shares[place].number,
        steps=steps,
        turns=steps / basis.steps_per_turn,
        travel=steps * basis.step,
    )


def _notes(basis: PlanBasis, plan: Plan) -> tuple[Note, ...]:
    """What a reader of the plan must know."""
    notes: list[Note] = list(notes_to_tell(basis.assessment))
    if basis.assessment.verdict is Verdict.CANNOT_TELL:
        again = basis.assessment.measure_again or (1,)
        notes.append(
            NoteKind.MAYBE_EQUAL.note(again="rope " + ", ".join(map(str, again[:3])))
        )
    if basis.assessment.rule.goal is None:
        notes.append(NoteKind.GOAL_BY_PROGRAM.note(goal=f"{100 * plan.goal:.1f} %"))
    if plan.part < 1.0:
        notes.append(NoteKind.FIRST_PART.note(part=100 * plan.part))
    elif plan.forecast.upper > plan.goal:
        notes.append(
            NoteKind.NOT_REACHED.note(
                upper=f"{100 * plan.forecast.upper:.1f} %",
                goal=f"{100 * plan.goal:.1f} %",
            )
        )
    if len(plan.stages) > 1:
        notes.append(NoteKind.STAGED.note(stages=len(plan.stages)))
    notes.extend(basis.limits.notes)
    notes.extend(_side_notes(basis))
    return tuple(notes)


def _side_notes(basis: PlanBasis) -> list[Note]:
    """Which side was measured, and which not."""
    span = basis.assessment.measurement.span
    if span is None or basis.request.drive is not Drive.TRACTION:
        return []
    nuts_on_car_side = basis.hitch.at in {HitchPlace.CAR, HitchPlace.DEAD_END_CAR}
    measured_car = span.side is Side.CAR
    notes = []
    if nuts_on_car_side is not measured_car:
        notes.append(NoteKind.FAR_FROM_NUTS.note(side=span.side.value))
    other = Side.COUNTERWEIGHT if measured_car else Side.CAR
    return [*notes, NoteKind.OTHER_SIDE.note(side=other.value)]


def _directions(
    assessment: Assessment, hitch: Hitch, reasons: tuple[Refusal, ...]
) -> DirectionsOnly:
    """Order and direction alone, by the order of the trade."""
    shares = np.array([s.share for s in assessment.shares], dtype=float)
    wide = np.array([2.0 * (s.share_uncertainty or 0.0) for s in assessment.shares])
    off = shares - shares.mean()
    pull = np.where(np.abs(off) > wide, -off, 0.0)
    order = trade_order(shares, pull)
    rest = [i for i in range(len(shares)) if i not in order]
    rows = tuple(
        RopeDirection(
            rope=assessment.shares[i].number,
            direction=(
                Direction.LEAVE
                if pull[i] == 0.0
                else Direction.TAKE_UP
                if pull[i] > 0.0
                else Direction.EASE
            ),
            share=float(shares[i] / shares.mean()),
        )
        for i in (*order, *rest)
    )
    return DirectionsOnly(hitch=hitch, reasons=reasons, rows=rows, notes=())
