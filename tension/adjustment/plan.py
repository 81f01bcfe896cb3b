"""Plan of turns: which nut, which way, how far, in what order, and what to know.

The way there is made of stages with a run of the car after each. Until the car runs, a
turn works by this hitch's spring and this fall alone. Every rope stays loaded.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import zip_longest

import numpy as np

from tension.adjustment import outcome
from tension.adjustment.outcome import (
    MOST_TRIPS,
    NoPlan,
    NoPlanKind,
    NutTurn,
    Plan,
    PlannedStep,
    PlanOutcome,
    Stage,
)
from tension.adjustment.plan_basis import (
    ANSWERABLE,
    IntArray,
    PlanBasis,
    PlanRequest,
    find_basis,
    find_no_plan,
    measure_first,
    shares_of,
)
from tension.adjustment.running import AT_REST, Spreading
from tension.adjustment.search import Choice, choose_steps
from tension.adjustment.stiffness import find_hitch
from tension.assessment.decide import Assessment, Verdict
from tension.installation import Drive, Hitch, Side
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray
from tension.wording import percent_text

MOST_STAGES = 12  # a plan that needs more is made a stage at a time
_BETWEEN_STAGES = 0.03  # spread that may still go when the next stage begins [1]
# a plan that stays short of the limit for thread nobody has told asks first [1]
_LIKELY = 0.5
_SEEN = 0.001  # differences of a bound that are worth a word [1]
# notes of the measurement that a reader of the plan must see again
_TO_TELL = (NoteKind.LENGTH_PATTERN, NoteKind.KINDS_DISAGREE)


def plan_turns(assessment: Assessment, request: PlanRequest) -> PlanOutcome:
    """Plan the turns that make a set equal.

    Or order and direction where turns cannot be told; why no nut is to be turned; or
    what is short.

    Parameters
    ----------
    assessment : Assessment
        The set as measured.
    request : PlanRequest
        Where, how, and what is known of the installation.

    Examples
    --------
    For a set that was measured, with the hitch of a record::

        plan_turns(assessment, PlanRequest(rope_set=visit.rope_set, ...))
    """
    if refused := find_no_plan(assessment, request):
        return refused
    basis = find_basis(assessment, request)
    if isinstance(basis, PlanBasis):
        return _judge(basis, choose_steps(basis))
    if any(reason.code == NoteKind.BEAM.code for reason in basis):
        return NoPlan(kind=NoPlanKind.BEAM, reasons=basis)
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
        return measure_first(basis.assessment, "no-use")
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
        reasons = tuple(note.as_refusal() for note in asked)
        return NoPlan(kind=NoPlanKind.LOOK_FIRST, reasons=reasons)
    notes = (
        *_on_trips(plan),
        *(() if route.is_whole else (NoteKind.FIRST_STAGE_ONLY.note(),)),
        *asked,
        *_on_measurement(basis),
        *_on_reach(plan),
        *(_on_nuts(plan, choice) if route.is_whole else ()),
        *_on_setting(basis, plan),
    )
    return replace(plan, notes=notes)


@dataclass(frozen=True, kw_only=True, slots=True)
class Way:
    """What limits the way from one set of tensions to the next, car not moved."""

    tensions: FloatArray  # before the first nut [N], shape (n_ropes,)
    effects: FloatArray  # as `NutStiffness.effects_now`, shape (n_ropes, n_ropes) [N/m]
    # how much stiffer the ropes may be than thought, relative [1]
    stiffness_margin: float
    # no rope may pass these on the way [N], shape (n_ropes,)
    lowest: FloatArray
    highest: FloatArray

    def room(self, travels: FloatArray) -> FloatArray:
        """Least distance of a rope to its limits [N] after travels [m], (..., n_ropes).

        Of the stiffness that comes nearest; negative if a limit is passed.
        """
        rooms = []
        for factor in (1.0, 1.0 + self.stiffness_margin):
            after = self.tensions + factor * (travels @ self.effects)
            rooms.append(np.minimum(after - self.lowest, self.highest - after))
        return np.asarray(np.minimum(*rooms).min(axis=-1))

    def least_room(self, order: tuple[int, ...], travels: FloatArray) -> float:
        """How near any rope comes to its limits [N] after any nut's travel [m]."""
        return float(self.room(_one_by_one(order, travels)).min(initial=np.inf))


def _one_by_one(order: tuple[int, ...], travels: FloatArray) -> FloatArray:
    """Travels made once each nut of an order is turned, shape (n_nuts, n_ropes)."""
    turned = np.cumsum(np.eye(len(travels))[list(order)], axis=0)
    return np.asarray(turned * travels)


def trade_order(tensions: FloatArray, travels: FloatArray) -> tuple[int, ...]:
    """Order of the trade: the slackest rope first, then the tightest, and so on.

    Tensions before [N]; nuts without travel [m] are left out.
    """
    by_tension = np.argsort(tensions, kind="stable").tolist()
    take_up = [i for i in by_tension if travels[i] > 0.0]
    ease = [i for i in reversed(by_tension) if travels[i] < 0.0]
    pairs = zip_longest(take_up, ease)
    return tuple(i for pair in pairs for i in pair if i is not None)


def find_order(way: Way, travels: FloatArray) -> tuple[int, ...] | None:
    """Find an order of the nuts that keeps every rope within its limits, or None.

    Travel [m] of every nut. The order of the trade is taken if it keeps the limits.
    Else the order that stays furthest from them is found among all: what the ropes
    carry depends only on which nuts have been turned, so the best way to each group of
    nuts is the better of the best ways to the groups one nut smaller.
    """
    usual = trade_order(way.tensions, travels)
    if way.least_room(usual, travels) >= 0.0:
        return usual
    widest = _widest_order(way, travels, usual)
    return widest if way.least_room(widest, travels) >= 0.0 else None


def _widest_order(
    way: Way, travels: FloatArray, places: tuple[int, ...]
) -> tuple[int, ...]:
    """Order whose nearest approach to a limit is furthest, over all groups of nuts."""
    n = len(places)
    turned = (np.arange(1 << n)[:, None] >> np.arange(n)) & 1
    so_far = np.zeros((1 << n, len(travels)))
    so_far[:, list(places)] = turned * travels[list(places)]
    room = way.room(so_far).tolist()
    # of each group of nuts how near the best order comes, and that order
    widest: list[tuple[float, tuple[int, ...]]] = [(np.inf, ())]
    for group in range(1, 1 << n):
        before = [
            (*widest[group & ~(1 << i)], place)
            for i, place in enumerate(places)
            if group >> i & 1
        ]
        width, order, last = max(before, key=lambda one: one[0])
        widest.append((min(width, room[group]), (*order, last)))
    return widest[-1][1]


def split_steps(steps: IntArray, n_stages: int) -> list[IntArray]:
    """Split steps, shape (n_ropes,), into whole steps of stages that sum to them."""
    part = np.arange(n_stages + 1)[:, None] * np.abs(steps) / n_stages
    until = np.sign(steps) * np.ceil(part - 0.5).astype(np.int64)
    until[-1] = steps
    return list(np.diff(until, axis=0))


@dataclass(frozen=True, kw_only=True, slots=True)
class Route:
    """The way to the steps chosen, or as far as it can be told."""

    stages: tuple[Stage, ...] = ()  # none if even the smallest steps pass a limit
    turns: tuple[NutTurn, ...] = ()  # made in all, one per rope in order of number
    # how much more a turn of the last stage shows than in the end, over that end [1]
    left_over: float = 0.0
    is_whole: bool = False  # whether it leads to the end


def find_route(basis: PlanBasis, steps: IntArray) -> Route:
    """Find the fewest stages in which every rope stays loaded and no nut goes too far.

    Steps of each nut in all, shape (n_ropes,). Where no number of stages keeps the
    limits, the largest first stage that does, if any.
    """
    for split, is_whole in _splits(basis, steps):
        parts = [part for part in split if part.any()]
        # a nut that goes further than one stage takes it needs no look at the order
        is_short = all(np.abs(part).max() <= basis.most_steps for part in parts)
        route = _try_stages(basis, parts) if is_short else None
        if route is not None:
            return replace(route, is_whole=is_whole)
    return Route()


def _splits(basis: PlanBasis, steps: IntArray) -> Iterator[tuple[list[IntArray], bool]]:
    """Ways to split the steps, and whether they lead to the end.

    A nut that can go in one stage is opened once. Where no way leads to the end the
    first stages of ever more, and at last one step of the nut that goes furthest.
    """
    size = np.abs(steps)
    small = size <= basis.most_steps
    for n_stages in range(1, MOST_STAGES + 1):
        evenly = split_steps(steps, n_stages)
        for place in (0, -1):
            lumped = [np.where(small, 0, part) for part in evenly]
            lumped[place] = np.where(small, steps, lumped[place])
            yield lumped, True
        yield evenly, True
    for n_stages in range(MOST_STAGES + 1, int(size.max()) + 1):
        yield split_steps(steps, n_stages)[:1], False
    furthest = np.arange(len(steps)) == size.argmax()
    yield [np.where(furthest, np.sign(steps), 0)], False


def _try_stages(basis: PlanBasis, parts: list[IntArray]) -> Route | None:
    """Order the nuts of each stage; None if one stage cannot be ordered."""
    stiffness, run_in = basis.stiffness, basis.run_in
    effects = stiffness.effects_after_running
    rest = basis.tensions  # what the set comes to once it has run
    stages: list[Stage] = []
    still, trips = Spreading(run_in=run_in), 0
    for number, steps in enumerate(parts, start=1):
        start, travels = rest + still.to_go(), np.asarray(steps * basis.step)
        order = find_order(_way(basis, start), travels)
        if order is None:
            return None
        so_far = _one_by_one(order, travels)
        now = (start + so_far @ stiffness.effects_now) / start.mean()
        run = (rest + so_far @ effects) / start.mean()
        brought, turns = travels @ effects, _turns(basis, steps)
        still = replace(still, made=(*still.made, (basis.hitch.at, brought, 0)))
        if run_in.spreads:
            left = 0.5 * AT_REST if number == len(parts) else _BETWEEN_STAGES
            trips = still.trips_until(left * float(rest.mean()))
        each = zip(order, now.tolist(), run.tolist(), strict=True)
        made = tuple(
            PlannedStep(
                turn=turns[place], shares_now=tuple(a), shares_after_running=tuple(b)
            )
            for place, a, b in each
        )
        stages.append(
            Stage(
                steps=made,
                lowest_share=float(now.min()),
                highest_share=float(now.max()),
                round_trips=trips,
            )
        )
        rest, still = rest + brought, still.after(trips)
    return Route(
        left_over=run_in.left_over(basis.hitch.at, trips),
        stages=tuple(stages),
        turns=_turns(basis, np.sum(parts, axis=0)),
    )


def _turns(basis: PlanBasis, steps: IntArray) -> tuple[NutTurn, ...]:
    """What steps of every nut, shape (n_ropes,), are in turns and millimetres."""
    return tuple(
        NutTurn(
            rope=share.number,
            steps=n,
            turns=n / basis.steps_per_turn,
            travel=n * basis.step,
        )
        for share, n in zip(basis.assessment.shares, steps.tolist(), strict=True)
    )


def _way(basis: PlanBasis, start: FloatArray) -> Way:
    """The limits from where a stage starts, known no better than the stiffness."""
    stiffness, limits = basis.stiffness, basis.limits
    doubt = 2.0 * stiffness.common_uncertainty * np.abs(start - basis.tensions)
    return Way(
        tensions=start,
        effects=stiffness.effects_now,
        stiffness_margin=float(np.expm1(2.0 * stiffness.now_uncertainty)),
        lowest=np.minimum(limits.lowest + doubt, start),
        highest=np.maximum(limits.highest - doubt, start),
    )


def _plan_of(basis: PlanBasis, route: Route) -> Plan:
    """Put a plan together from its stages."""
    rule, request = basis.assessment.rule, basis.request
    k = basis.stiffness.after_running
    travels = np.array([turn.travel for turn in route.turns])
    rise = float(k @ travels / k.sum())
    mean = float(basis.tensions.mean())
    wanted = _wanted_travels(basis) / (basis.step * basis.steps_per_turn)
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
        wanted_turns=tuple(wanted.tolist()),
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


def _wanted_travels(basis: PlanBasis) -> FloatArray:
    """Travels of the nuts before they are fitted to steps [m], shape (n_ropes,).

    All nuts turned alike move the car, not the shares: the strategy tells which travel
    is taken off every nut. The middle one leaves a nut untouched and turns the least.
    """
    aimed = basis.aimed
    travels = (aimed.mean() - aimed) / basis.stiffness.after_running
    in_order, strategy = np.sort(travels), outcome.Strategy
    alike = {
        strategy.KEEP_HEIGHT: 0.0,
        strategy.TAKE_UP_ONLY: in_order[0],
        strategy.EASE_ONLY: in_order[-1],
        strategy.FEWEST_NUTS: in_order[(len(travels) - 1) // 2],
    }[basis.request.strategy]
    return np.asarray(travels - alike)


def _directions(
    assessment: Assessment, hitch: Hitch, reasons: tuple[Refusal, ...]
) -> outcome.DirectionsOnly:
    """Tell which nuts go which way, by the order of the trade.

    The slackest rope first; ropes within twice their uncertainty are left.
    """
    shares, widths = shares_of(assessment)
    off = 1.0 - shares
    pull = np.where(np.abs(off) > 2.0 * widths, off, 0.0)
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


def _on_trips(plan: Plan) -> Iterator[Note]:
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
