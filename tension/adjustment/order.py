"""The way there: stages with a run of the car after each, and the order of the nuts.

Until the car runs, a turn works by this hitch's spring and this fall alone. Every rope
stays loaded on the way.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import zip_longest

import numpy as np

from tension.adjustment.outcome import NutTurn, PlannedStep, Stage
from tension.adjustment.plan_basis import IntArray, PlanBasis
from tension.adjustment.running import AT_REST, Spreading
from tension.physics import FloatArray

MOST_STAGES = 12  # a plan that needs more is made a stage at a time
_BETWEEN_STAGES = 0.03  # spread that may still go when the next stage begins [1]


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

    stages: tuple[Stage, ...]  # none if even the smallest steps pass a limit
    turns: tuple[NutTurn, ...]  # made in all, one per rope in order of number
    # how much more a turn of the last stage shows than in the end, over that end [1]
    left_over: float
    is_whole: bool  # whether it leads to the end


def find_route(basis: PlanBasis, steps: IntArray) -> Route:
    """Find the fewest stages in which every rope stays loaded and no nut goes too far.

    Steps of each nut in all, shape (n_ropes,). Where no number of stages keeps the
    limits, the largest first stage that does, if any.
    """
    for split, is_whole in _splits(basis, steps):
        route = _try_stages(basis, split, is_whole=is_whole)
        if route is not None:
            return route
    return Route(stages=(), turns=(), left_over=0.0, is_whole=False)


def _turn(basis: PlanBasis, place: int, steps: int) -> NutTurn:
    """What steps of one nut are in turns and millimetres."""
    return NutTurn(
        rope=basis.assessment.shares[place].number,
        steps=steps,
        turns=steps / basis.steps_per_turn,
        travel=steps * basis.step,
    )


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


def _try_stages(
    basis: PlanBasis, split: list[IntArray], *, is_whole: bool
) -> Route | None:
    """Order the nuts of each stage; None if one stage cannot be ordered."""
    stages: list[Stage] = []
    rest = basis.tensions  # what the set comes to once it has run
    still = Spreading(run_in=basis.run_in)
    parts, trips = [part for part in split if part.any()], 0
    together = enumerate(np.sum(split, axis=0).tolist())
    in_all = tuple(_turn(basis, place, n) for place, n in together)
    for number, steps in enumerate(parts, start=1):
        if np.abs(steps).max() > basis.most_steps:
            return None
        start, travels = rest + still.to_go(), np.asarray(steps * basis.step)
        order = find_order(_way(basis, start), travels)
        if order is None:
            return None
        so_far = _one_by_one(order, travels)
        now = start + so_far @ basis.stiffness.effects_now
        run = rest + so_far @ basis.stiffness.effects_after_running
        turns = [_turn(basis, place, int(steps[place])) for place in order]
        stage = _stage(turns, now / start.mean(), run / start.mean())
        brought = travels @ basis.stiffness.effects_after_running
        still = replace(still, made=(*still.made, (basis.hitch.at, brought, 0)))
        if basis.run_in.spreads:
            left = 0.5 * AT_REST if number == len(parts) else _BETWEEN_STAGES
            trips = still.trips_until(left * float(rest.mean()))
        stages.append(replace(stage, round_trips=trips))
        rest, still = rest + brought, still.after(trips)
    return Route(
        stages=tuple(stages),
        turns=in_all,
        left_over=basis.run_in.left_over(basis.hitch.at, trips),
        is_whole=is_whole,
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


def _stage(turns: list[NutTurn], now: FloatArray, run: FloatArray) -> Stage:
    """A stage, with shares after each of its nuts, shape (n_nuts, n_ropes)."""
    each = zip(turns, now.tolist(), run.tolist(), strict=True)
    return Stage(
        steps=tuple(
            PlannedStep(turn=turn, shares_now=tuple(a), shares_after_running=tuple(b))
            for turn, a, b in each
        ),
        lowest_share=float(now.min()),
        highest_share=float(now.max()),
    )
