"""The way there: stages with a run of the car after each, and the order of the nuts.

Until the car runs, a turn works by this hitch's spring and this fall alone. Every rope
stays loaded on the way.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import zip_longest

import numpy as np

from tension.adjustment.outcome import PlannedStep, Stage
from tension.adjustment.plan_basis import LARGEST_TRAVEL, IntArray, PlanBasis
from tension.adjustment.running import AT_REST, Spreading
from tension.physics.domain import FloatArray
from tension.physics.hitch_statics import tension_changes

MOST_STAGES = 12  # a plan that needs more is made a stage at a time
# numbers of stages of which the first alone is tried
_FIRST_OF = (13, 17, 22, 29, 38, 50, 66, 88, 120)
_BETWEEN_STAGES = 0.03  # spread that may still go when the next stage begins [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Way:
    """What limits the way from one set of tensions to the next, car not moved."""

    tensions: FloatArray  # before the first nut [N], shape (n_ropes,)
    stiffnesses: FloatArray  # before the car has run [N/m], shape (n_ropes,)
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
            k = self.stiffnesses * factor
            after = self.tensions + tension_changes(travels, k)
            rooms.append(np.minimum(after - self.lowest, self.highest - after))
        return np.asarray(np.minimum(*rooms).min(axis=-1))

    def least_room(self, order: tuple[int, ...], travels: FloatArray) -> float:
        """How near any rope comes to its limits [N] after any nut's travel [m]."""
        return float(self.room(_one_by_one(order, travels)).min(initial=np.inf))


def _one_by_one(order: tuple[int, ...], travels: FloatArray) -> FloatArray:
    """Travels made once each nut of an order is turned, shape (n_nuts, n_ropes)."""
    so_far = np.zeros((len(order), len(travels)))
    for turned, place in enumerate(order):
        so_far[turned:, place] = travels[place]
    return so_far


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
    groups = np.arange(1 << n)
    turned = (groups[:, None] >> np.arange(n)) & 1
    so_far = np.zeros((len(groups), len(travels)))
    so_far[:, list(places)] = turned * travels[list(places)]
    room = way.room(so_far)
    width = np.full(len(groups), -np.inf)
    last = np.zeros(len(groups), dtype=np.int64)
    width[0] = np.inf
    for group in range(1, len(groups)):
        members = [i for i in range(n) if group >> i & 1]
        before = [width[group & ~(1 << i)] for i in members]
        best = int(np.argmax(before))
        width[group] = min(before[best], room[group])
        last[group] = members[best]
    order: list[int] = []
    group = len(groups) - 1
    while group:
        order.append(places[int(last[group])])
        group &= ~(1 << int(last[group]))
    return tuple(reversed(order))


def split_steps(steps: IntArray, n_stages: int) -> list[IntArray]:
    """Split steps, shape (n_ropes,), into whole steps of stages that sum to them."""
    so_far = np.zeros(len(steps), dtype=np.int64)
    stages = []
    for stage in range(1, n_stages + 1):
        until = np.trunc(steps * stage / n_stages + np.sign(steps) * 0.4999)
        until = until.astype(np.int64) if stage < n_stages else steps
        stages.append(until - so_far)
        so_far = until
    return stages


def find_stages(basis: PlanBasis, steps: IntArray) -> tuple[Stage, ...] | None:
    """Find the fewest stages in which every rope stays loaded and no nut goes too far.

    Steps of each nut in all, shape (n_ropes,); None if no number of stages keeps the
    limits.
    """
    for n_stages in range(1, MOST_STAGES + 1):
        for split in _splits(basis, steps, n_stages):
            stages = _try_stages(basis, split)
            if stages is not None:
                return stages
    return None


def find_first_stage(basis: PlanBasis, steps: IntArray) -> tuple[Stage, ...] | None:
    """Find a first stage where the way to the end cannot be told in one plan.

    Steps of each nut in all, shape (n_ropes,); None if even the smallest steps pass a
    limit.
    """
    firsts = [split_steps(steps, n_stages)[0] for n_stages in _FIRST_OF]
    one = np.zeros_like(steps)
    furthest = int(np.argmax(np.abs(steps)))
    one[furthest] = np.sign(steps[furthest])
    for first in (*firsts, one):
        stages = _try_stages(basis, [first])
        if stages:
            return stages
    return None


def _splits(
    basis: PlanBasis, steps: IntArray, n_stages: int
) -> Iterator[list[IntArray]]:
    """Ways to split the steps: a nut that can go in one stage is opened once."""
    evenly = split_steps(steps, n_stages)
    small = np.abs(steps) <= basis.most_steps
    for place in (0, n_stages - 1) if n_stages > 1 else ():
        lumped = [np.where(small, 0, part) for part in evenly]
        lumped[place] = np.where(small, steps, lumped[place])
        yield lumped
    yield evenly


def _try_stages(basis: PlanBasis, split: list[IntArray]) -> tuple[Stage, ...] | None:
    """Order the nuts of each stage; None if one stage cannot be ordered."""
    stages: list[Stage] = []
    rest = basis.tensions  # what the set comes to once it has run
    still = Spreading(run_in=basis.run_in)
    mean = float(rest.mean())
    last = max((i for i, part in enumerate(split) if part.any()), default=0)
    for number, steps in enumerate(split):
        travels = np.asarray(steps * basis.step, dtype=np.float64)
        if np.abs(travels).max(initial=0.0) > LARGEST_TRAVEL * (1.0 + 1e-9):
            return None
        start = rest + still.to_go()
        order = find_order(_way(basis, start), travels)
        if order is None:
            return None
        if not order:
            continue
        made = _stage(basis, start, rest, steps, order)
        brought = tension_changes(travels, basis.stiffness.after_running)
        rest = rest + brought
        still = replace(still, made=(*still.made, (basis.hitch.at, brought, 0)))
        trips = 0
        if basis.run_in.spreads:
            left = 0.5 * AT_REST if number == last else _BETWEEN_STAGES
            trips = still.trips_until(left * mean)
        still = still.after(trips)
        stages.append(replace(made, round_trips=trips))
    return tuple(stages)


def _way(basis: PlanBasis, start: FloatArray) -> Way:
    """The limits from where a stage starts, known no better than the stiffness."""
    stiffness, limits = basis.stiffness, basis.limits
    doubt = 2.0 * stiffness.common_uncertainty * np.abs(start - basis.tensions)
    return Way(
        tensions=start,
        stiffnesses=stiffness.now,
        stiffness_margin=float(np.expm1(2.0 * stiffness.now_uncertainty)),
        lowest=np.minimum(limits.lowest + doubt, start),
        highest=np.maximum(limits.highest - doubt, start),
    )


def _stage(
    basis: PlanBasis,
    start: FloatArray,
    rest: FloatArray,
    steps: IntArray,
    order: tuple[int, ...],
) -> Stage:
    """Tell what the set carries after each nut of a stage."""
    mean = float(start.mean())
    so_far = _one_by_one(order, np.asarray(steps * basis.step, dtype=np.float64))
    now = (start + tension_changes(so_far, basis.stiffness.now)) / mean
    run = (rest + tension_changes(so_far, basis.stiffness.after_running)) / mean
    return Stage(
        steps=tuple(
            PlannedStep(
                turn=basis.turn(place, int(steps[place])),
                shares_now=tuple(now[turned].tolist()),
                shares_after_running=tuple(run[turned].tolist()),
            )
            for turned, place in enumerate(order)
        ),
        lowest_share=float(now.min()),
        highest_share=float(now.max()),
    )
