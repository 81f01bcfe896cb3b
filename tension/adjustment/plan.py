"""Plan of turns: which nut, which way, how far, in what order, and what to know."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tension.adjustment import outcome
from tension.adjustment.fit import upper_of_equal_set
from tension.adjustment.order import find_first_stage, find_stages, trade_order
from tension.adjustment.outcome import NoPlan, NoPlanKind, NutTurn, Plan, PlanOutcome
from tension.adjustment.plan_basis import (
    ANSWERABLE,
    IntArray,
    PlanBasis,
    PlanRequest,
    find_basis,
)
from tension.adjustment.running import MOST_TRIPS, SetState, reasons_of_state
from tension.adjustment.search import Choice, choose_steps, find_shortfalls, problem_of
from tension.adjustment.stiffness import find_hitch, is_car_side
from tension.assessment.metrics import spread_from_tensions
from tension.assessment.outcome import Assessment, Verdict
from tension.installation import Buffer, Drive, Hitch, Side
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.notes import Note, NoteKind, Refusal
from tension.physics.hitch_statics import (
    FamilyMember,
    hitch_rise,
    nut_travels_for_changes,
)
from tension.wording import limit_text, percent_text

_FAMILY = {
    outcome.Strategy.KEEP_HEIGHT: FamilyMember.KEEP_HEIGHT,
    outcome.Strategy.TAKE_UP_ONLY: FamilyMember.TAKE_UP_ONLY,
    outcome.Strategy.EASE_ONLY: FamilyMember.EASE_ONLY,
    outcome.Strategy.FEWEST_NUTS: FamilyMember.LEAST_TRAVEL,
}

# a plan that stays short of the limit for thread nobody has told asks first [1]
_LIKELY = 0.5
_OF_THREAD = {outcome.Shortage.THREAD_TOWARDS_PLATE, outcome.Shortage.THREAD_AWAY}
_SEEN = 0.001  # differences of a bound that are worth a word [1]
# notes of the measurement that a reader of the plan must see again
_TO_TELL = (NoteKind.LENGTH_PATTERN, NoteKind.KINDS_DISAGREE)
# under this share of an even one a person looks before turning [1]
_LOOK_FIRST_SHARE = 0.60
# a rival numbering at least as probable as this is a doubt [1]
_RIVAL_PROBABILITY = 0.01
# notes that tell of a doubt about a rope or about how partials were counted
_DOUBTFUL = (
    NoteKind.SWAPPED_ROPES,
    NoteKind.TOUCHING,
    NoteKind.ROPE_CONTRADICTS,
    NoteKind.MASS_RATIO_NAMED,
)


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
        return _directions(assessment, Hitch(at=request.hitch), (missing,))
    if hitch.buffer is Buffer.BEAM:
        return NoPlan.of(NoPlanKind.BEAM, NoteKind.BEAM.refusal())
    basis = find_basis(assessment, request, hitch)
    if isinstance(basis, PlanBasis):
        return _judge(basis, choose_steps(basis))
    if any(reason.code == NoteKind.BEAM.code for reason in basis):
        return NoPlan.of(NoPlanKind.BEAM, *basis)
    return _directions(assessment, hitch, basis)


def find_no_plan(assessment: Assessment, request: PlanRequest) -> NoPlan | None:
    """Find why no plan may be made: all reasons at once; None if nuts may be turned."""
    refusal = assessment.measurement.refusal
    if refusal is not None:
        return NoPlan.of(NoPlanKind.NO_RESULT, refusal)
    unrun = _find_unrun(request.state)
    if unrun is not None:
        return unrun
    still_open = (
        doubt
        for doubt in request.doubts
        if doubt.code not in ANSWERABLE or not request.has_looked(doubt.code)
    )
    doubts = (*still_open, *_find_doubts(assessment, request))
    if doubts:
        return NoPlan.of(NoPlanKind.LOOK_FIRST, *doubts)
    if assessment.verdict is Verdict.EQUAL:
        return NoPlan.of(NoPlanKind.LEAVE_IT, NoteKind.LEAVE_IT.refusal())
    return _find_uncertain(assessment)


def _measure_first(assessment: Assessment, way: str, **places: str) -> NoPlan:
    """Ask to measure again the ropes the verdict hangs on, or the two known least."""
    given = [share for share in assessment.shares if share.share is not None]
    given.sort(key=lambda share: -(share.share_uncertainty or 0.0))
    again = assessment.measure_again or [share.number for share in given[:2]]
    numbers = ", ".join(map(str, again))
    refusal = NoteKind.MEASURE_FIRST.refusal(way=way, again=numbers, **places)
    return NoPlan.of(NoPlanKind.MEASURE_FIRST, refusal)


def _ropes_text(numbers: Sequence[int]) -> str:
    """Name ropes to be measured again."""
    return "rope " + ", ".join(map(str, numbers))


def _find_unrun(state: SetState) -> NoPlan | None:
    """Whether the set must run, or be measured again, before anything is planned."""
    if not state.turned_since:
        reasons = reasons_of_state(state)
        return NoPlan.of(NoPlanKind.RUN_FIRST, *reasons) if reasons else None
    trips = state.wanted_since
    ropes = ", ".join(map(str, state.turned_since))
    reasons = (NoteKind.TURNED_SINCE.refusal(ropes=ropes, trips=trips),)
    if state.is_beyond_people:
        reasons = (*reasons, NoteKind.MANY_TRIPS.refusal(trips=trips))
    return NoPlan.of(
        NoPlanKind.RUN_FIRST if trips else NoPlanKind.MEASURE_FIRST, *reasons
    )


def _find_doubts(assessment: Assessment, request: PlanRequest) -> list[Refusal]:
    """Find every doubt that a rope or the set carries, with what to do about it."""
    measurement = assessment.measurement
    found: list[Refusal] = []
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        found.append(NoteKind.LENGTHS_UNKNOWN.refusal())
    found.extend(note.as_refusal() for note in measurement.doubts)
    for rope in measurement.ropes:
        found.extend(_doubts_of(rope))
    found.extend(
        NoteKind.ROPE_IN_DOUBT.refusal(reason=note)
        for note in _every_note(assessment)
        if note.kind in _DOUBTFUL
    )
    found.extend(
        NoteKind.FAR_BELOW.refusal(rope=share.number, share=100 * share.share)
        for share in assessment.shares
        if share.share is not None
        and share.share < _LOOK_FIRST_SHARE
        and not request.has_looked(NoteKind.FAR_BELOW.code, share.number)
    )
    return found


def _every_note(assessment: Assessment) -> tuple[Note, ...]:
    """Notes of the set and of its ropes, each once."""
    of_ropes = [note for rope in assessment.measurement.ropes for note in rope.notes]
    return tuple(
        dict.fromkeys((*assessment.notes, *assessment.measurement.notes, *of_ropes))
    )


def _doubts_of(rope: RopeMeasurement) -> list[Refusal]:
    """Doubts about one rope that are no notes."""
    if rope.tension is None:
        why = {"reason": rope.refusal} if rope.refusal else {"way": "not-measured"}
        return [NoteKind.NO_SHARE.refusal(rope=rope.number, **why)]
    if any(rival.probability >= _RIVAL_PROBABILITY for rival in rope.rivals):
        return [NoteKind.RIVAL_NUMBERS.refusal(rope=rope.number)]
    return []


def _find_uncertain(assessment: Assessment) -> NoPlan | None:
    """Find whether the readings are too uncertain to turn by."""
    rule = assessment.rule
    given = [share for share in assessment.shares if share.share is not None]
    off = np.array([abs((s.share or 1.0) - 1.0) for s in given])
    wide = np.array([2.0 * (s.share_uncertainty or 0.0) for s in given])
    upper = upper_of_equal_set(assessment.measurement.covariance, rule)
    if upper > rule.limit:
        limit, least = limit_text(rule.limit), f"{100 * upper:.0f}"
        return _measure_first(assessment, "even-set", upper=least, limit=limit)
    if np.all(off <= wide):
        return _measure_first(assessment, "near-even")
    return None


def _judge(basis: PlanBasis, choice: Choice) -> PlanOutcome:
    """Make a plan of the steps, or tell what is short."""
    assessment, problem = basis.assessment, problem_of(basis)
    limit, spread = assessment.rule.limit, float(problem.spread_after(choice.steps))
    free = choice.steps
    if spread > limit or basis.limits.unknown:
        free = choose_steps(basis, is_limited=False).steps
    short = find_shortfalls(problem, choice.steps, free, basis.limits, limit)
    if not all(_can_be_asked(basis, each) for each in short):
        return outcome.InfeasiblePlan(
            strategy=basis.request.strategy,
            rule=assessment.rule,
            shortfalls=short,
            best_spread=spread,
            origins=basis.origins,
        )
    if not choice.steps.any():
        return _measure_first(assessment, "no-use")
    stages = find_stages(basis, choice.steps)
    is_whole = stages is not None
    stages = stages or find_first_stage(basis, choice.steps)
    if not stages:
        coarse = NoteKind.STEP_TOO_COARSE.refusal(steps=basis.steps_per_turn)
        return _directions(assessment, basis.hitch, (coarse,))
    plan, asked = _plan_of(basis, stages), _threads_to_ask(basis, free)
    if asked and is_whole and plan.forecast.chance_equal < _LIKELY:
        return NoPlan.of(NoPlanKind.LOOK_FIRST, *map(_ask_for_thread, asked))
    notes = (
        *_on_work(basis, plan, choice if is_whole else None, asked),
        *_on_setting(basis, plan),
    )
    return replace(plan, notes=notes)


def _can_be_asked(basis: PlanBasis, short: outcome.Shortfall) -> bool:
    """Whether what is short is only thread of which nobody has told."""
    if short.kind not in _OF_THREAD or short.rope is None:
        return False
    return not np.isfinite(short.available) or short.rope - 1 in basis.limits.unknown


def _threads_to_ask(basis: PlanBasis, free: IntArray) -> list[NutTurn]:
    """Nuts that want more than is safe without asking for the thread left."""
    low, high = basis.limits.lowest_steps, basis.limits.highest_steps
    return [
        basis.turn(place, int(free[place]))
        for place in basis.limits.unknown
        if not low[place] <= free[place] <= high[place]
    ]


def _ask_for_thread(turn: NutTurn) -> Refusal:
    """Ask for the thread left at a rod whose nut wants to go far."""
    return NoteKind.THREAD_ASKED.refusal(
        rope=turn.rope,
        way="take_up_left" if turn.travel > 0 else "ease_left",
        wanted=f"{abs(1000 * turn.travel):.0f} mm",
    )


def _plan_of(basis: PlanBasis, stages: tuple[outcome.Stage, ...]) -> Plan:
    """Put a plan together from its stages."""
    rule, request, k = basis.assessment.rule, basis.request, basis.stiffness
    in_all = dict.fromkeys((share.number for share in basis.assessment.shares), 0)
    for turn in (step.turn for stage in stages for step in stage.steps):
        in_all[turn.rope] += turn.steps
    turns = tuple(basis.turn(place, n) for place, n in enumerate(in_all.values()))
    travels = np.array([turn.travel for turn in turns])
    wanted = nut_travels_for_changes(
        basis.aimed.mean() - basis.aimed,
        k.after_running,
        member=_FAMILY[request.strategy],
    )
    rise = hitch_rise(travels, k.after_running)
    mean = float(basis.tensions.mean())
    left = basis.run_in.left_over(basis.hitch.at, stages[-1].round_trips)
    simulation = replace(basis.simulation, left_over=min(abs(left), 1.0))
    return Plan(
        strategy=request.strategy,
        rule=rule,
        goal=basis.goal,
        hitch=basis.hitch,
        drive=request.drive,
        roping=request.roping,
        steps_per_turn=basis.steps_per_turn,
        turns=turns,
        wanted_turns=tuple((wanted / (basis.step * basis.steps_per_turn)).tolist()),
        stages=stages,
        part=basis.part,
        mean_tension=mean,
        shares_before=tuple((basis.tensions / mean).tolist()),
        spread_before=float(spread_from_tensions(basis.tensions, rule.metric)),
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
    wide = np.array([2.0 * (s.share_uncertainty or 0.0) for s in assessment.shares])
    off = shares - shares.mean()
    pull = np.where(np.abs(off) > wide, -off, 0.0)
    order = trade_order(shares, pull)
    rest = [i for i in range(len(shares)) if i not in order]
    rows = tuple(
        outcome.RopeDirection(
            rope=assessment.shares[i].number,
            direction=outcome.Direction.of(pull[i]),
            share=float(shares[i] / shares.mean()),
        )
        for i in (*order, *rest)
    )
    return outcome.DirectionsOnly(hitch=hitch, reasons=reasons, rows=rows)


def _on_work(
    basis: PlanBasis, plan: Plan, choice: Choice | None, asked: list[NutTurn]
) -> list[Note]:
    """How the work is gone about; `choice` if the stages lead all the way."""
    assessment = basis.assessment
    notes: list[Note] = []
    most = max(stage.round_trips for stage in plan.stages)
    if most > MOST_TRIPS:
        notes.append(NoteKind.MANY_TRIPS.note(trips=most))
    if choice is None:
        notes.append(NoteKind.FIRST_STAGE_ONLY.note())
    notes.extend(_ask_for_thread(turn).as_note(turn.rope) for turn in asked)
    notes.extend(
        NoteKind.LOOKED.note(ropes=looked.ropes, words=looked.words)
        for looked in basis.request.looked
        if looked.code in ANSWERABLE
    )
    notes.extend(note for note in _every_note(assessment) if note.kind in _TO_TELL)
    if assessment.verdict is Verdict.CANNOT_TELL:
        again = assessment.measure_again or (1,)
        notes.append(NoteKind.MAYBE_EQUAL.note(again=_ropes_text(again[:3])))
    notes.extend(_on_reach(plan))
    notes.extend(_on_nuts(plan, choice) if choice is not None else ())
    return notes


def _on_reach(plan: Plan) -> list[Note]:
    """Whether the goal is named and reached."""
    notes = []
    goal = percent_text(plan.goal)
    if plan.rule.goal is None:
        notes.append(NoteKind.GOAL_BY_PROGRAM.note(goal=goal))
    if plan.part < 1.0:
        notes.append(NoteKind.FIRST_PART.note(part=100 * plan.part))
    elif plan.forecast.upper > plan.goal:
        upper = percent_text(plan.forecast.upper)
        notes.append(NoteKind.NOT_REACHED.note(upper=upper, goal=goal))
    return notes


def _on_nuts(plan: Plan, choice: Choice) -> list[Note]:
    """Why so many nuts and no more."""
    notes = []
    upper = percent_text(choice.upper)
    if choice.upper_with_fewer is not None:
        fewer = percent_text(choice.upper_with_fewer)
        notes.append(NoteKind.NUT_WORTH.note(nuts=plan.n_nuts, upper=upper, more=fewer))
    gain = choice.upper - choice.upper_with_all
    if choice.n_with_all > plan.n_nuts and gain > _SEEN:
        less = percent_text(choice.upper_with_all)
        notes.append(
            NoteKind.MORE_NUTS.note(nuts=choice.n_with_all, upper=upper, less=less)
        )
    return notes


def _on_setting(basis: PlanBasis, plan: Plan) -> list[Note]:
    """Stages, limits, and which side was measured."""
    notes: list[Note] = []
    if len(plan.stages) > 1:
        notes.append(NoteKind.STAGED.note(stages=len(plan.stages)))
    notes.extend(basis.limits.notes)
    span = basis.assessment.measurement.span
    if span is None or plan.drive is not Drive.TRACTION:
        return notes
    is_car = span.side is Side.CAR
    if is_car_side(plan.hitch.at) is not is_car:
        trips = plan.stages[-1].round_trips
        notes.append(NoteKind.FAR_FROM_NUTS.note(side=span.side.value, trips=trips))
    other = Side.COUNTERWEIGHT if is_car else Side.CAR
    return [*notes, NoteKind.OTHER_SIDE.note(side=other.value)]
