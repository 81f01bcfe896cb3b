"""The way there: stages with a run of the car after each, and the order of the nuts.

Until the car runs, a turn works by this hitch's spring and this fall alone. Every rope
stays loaded on the way.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.outcome import NutTurn, PlannedStep, Stage
from tension.adjustment.plan_basis import LARGEST_TRAVEL, Limits
from tension.adjustment.run_in import USUAL_TRIPS, RunIn
from tension.adjustment.state import AT_REST
from tension.adjustment.stiffness import NutStiffness
from tension.installation import HitchPlace
from tension.physics.hitch_statics import tension_changes

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_STAGES = 12
"""A plan that needs more is made a stage at a time."""

_FIRST_OF = (13, 17, 22, 29, 38, 50, 66, 88, 120)
"""Numbers of stages of which the first alone is tried."""

_BETWEEN_STAGES = 0.03
"""Spread that may still go when the next stage begins. [1]"""

_MOST_TRIPS = 2000
"""More round trips than this are not counted."""


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

    def is_kept(self, order: tuple[int, ...], travels: FloatArray) -> bool:
        """Whether every rope stays within its limits after each nut's travel [m]."""
        return self.least_room(order, travels) >= 0.0

    def least_room(self, order: tuple[int, ...], travels: FloatArray) -> float:
        """How near any rope comes to its limits [N] after any nut's travel [m]."""
        so_far = np.zeros((len(order), len(travels)))
        for turned, place in enumerate(order):
            so_far[turned:, place] = travels[place]
        return float(self.room(so_far).min(initial=np.inf))


def trade_order(tensions: FloatArray, travels: FloatArray) -> tuple[int, ...]:
    """Order of the trade: the slackest rope first, then the tightest, and so on.

    Tensions before [N]; nuts without travel [m] are left out.
    """
    by_tension = [int(i) for i in np.argsort(tensions, kind="stable")]
    take_up = [i for i in by_tension if travels[i] > 0.0]
    ease = [i for i in reversed(by_tension) if travels[i] < 0.0]
    order: list[int] = []
    while take_up or ease:
        if take_up:
            order.append(take_up.pop(0))
        if ease:
            order.append(ease.pop(0))
    return tuple(order)


def find_order(way: Way, travels: FloatArray) -> tuple[int, ...] | None:
    """Find an order of the nuts that keeps every rope within its limits, or None.

    Travel [m] of every nut. The order of the trade is taken if it keeps the limits.
    Else the order that stays furthest from them is found among all: what the ropes
    carry depends only on which nuts have been turned, so the best way to each group of
    nuts is the better of the best ways to the groups one nut smaller.
    """
    usual = trade_order(way.tensions, travels)
    if way.is_kept(usual, travels):
        return usual
    best = _widest_order(way, travels, usual)
    return best if way.is_kept(best, travels) else None


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


@dataclass(frozen=True, kw_only=True, slots=True)
class Work:
    """What the nuts of a set do, and what they may not."""

    tensions: FloatArray  # before [N], shape (n_ropes,)
    stiffness: NutStiffness  # before and after running
    run_in: RunIn  # how a turn spreads while the car runs
    hitch: HitchPlace  # where the nuts are turned
    step: float  # travel of the nut in one step [m]
    limits: Limits  # what no rope may pass
    # makes the turn of one nut from its place and steps
    turn_of: Callable[[int, int], NutTurn]


def find_stages(work: Work, steps: IntArray) -> tuple[Stage, ...] | None:
    """Find the fewest stages in which every rope stays loaded and no nut goes too far.

    Steps of each nut in all, shape (n_ropes,); None if no number of stages keeps the
    limits.
    """
    for n_stages in range(1, MOST_STAGES + 1):
        for split in _splits(work, steps, n_stages):
            stages = _try_stages(work, split)
            if stages is not None:
                return stages
    return None


def find_first_stage(work: Work, steps: IntArray) -> tuple[Stage, ...] | None:
    """Find a first stage where the way to the end cannot be told in one plan.

    Steps of each nut in all, shape (n_ropes,); None if even the smallest steps pass a
    limit.
    """
    for n_stages in _FIRST_OF:
        first = split_steps(steps, n_stages)[0]
        if first.any():
            stages = _try_stages(work, [first])
            if stages:
                return stages
    furthest = int(np.argmax(np.abs(steps)))
    one = np.zeros_like(steps)
    one[furthest] = np.sign(steps[furthest])
    return _try_stages(work, [one]) or None


def stiffness_margin(stiffness: NutStiffness) -> float:
    """How much stiffer the ropes may be now: two uncertainties, relative [1]."""
    return float(np.expm1(2.0 * stiffness.now_uncertainty))


def _splits(work: Work, steps: IntArray, n_stages: int) -> Iterator[list[IntArray]]:
    """Ways to split the steps: a nut that can go in one stage is opened once."""
    evenly = split_steps(steps, n_stages)
    if n_stages == 1:
        yield evenly
        return
    most = int(LARGEST_TRAVEL / work.step + 1e-9)
    small = np.abs(steps) <= most
    for place in (0, n_stages - 1):
        lumped = [np.where(small, 0, part) for part in evenly]
        lumped[place] = np.where(small, steps, lumped[place])
        yield lumped
    yield evenly


def _try_stages(work: Work, split: list[IntArray]) -> tuple[Stage, ...] | None:
    """Order the nuts of each stage; None if one stage cannot be ordered."""
    stages: list[Stage] = []
    rest = work.tensions  # what the set comes to once it has run
    still = _Spreading(work=work, turned=[], trips=[])
    for number, steps in enumerate(split):
        travels = np.asarray(steps * work.step, dtype=np.float64)
        if np.abs(travels).max(initial=0.0) > LARGEST_TRAVEL * (1.0 + 1e-9):
            return None
        start = rest + still.to_go(0)
        order = find_order(_way(work, start), travels)
        if order is None:
            return None
        if not order:
            continue
        before, rest = rest, rest + still.brought(travels)
        still = still.with_turns(travels)
        is_last = not any(part.any() for part in split[number + 1 :])
        trips = still.trips_until(0.5 * AT_REST if is_last else _BETWEEN_STAGES)
        still = still.after(trips)
        made = _stage(work, start, before, steps, order)
        stages.append(replace(made, round_trips=trips))
    return tuple(stages)


def _way(work: Work, start: FloatArray) -> Way:
    """The limits from where a stage starts, known no better than the stiffness."""
    stiffness, limits = work.stiffness, work.limits
    doubt = 2.0 * stiffness.common_uncertainty * np.abs(start - work.tensions)
    return Way(
        tensions=start,
        stiffnesses=stiffness.now,
        stiffness_margin=stiffness_margin(stiffness),
        lowest=np.minimum(limits.lowest + doubt, start),
        highest=np.maximum(limits.highest - doubt, start),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Spreading:
    """Turns made so far and the round trips run since each."""

    work: Work
    turned: list[FloatArray]  # what each stage brings in the end [N]
    trips: list[int]

    def with_turns(self, travels: FloatArray) -> "_Spreading":
        """Turn the nuts of one more stage."""
        return _Spreading(
            work=self.work,
            turned=[*self.turned, self.brought(travels)],
            trips=[*self.trips, 0],
        )

    def brought(self, travels: FloatArray) -> FloatArray:
        """What turns bring in the end [N]."""
        return tension_changes(travels, self.work.stiffness.after_running)

    def after(self, more: int) -> "_Spreading":
        """Run the car."""
        return _Spreading(
            work=self.work,
            turned=self.turned,
            trips=[trips + more for trips in self.trips],
        )

    def to_go(self, more: int) -> FloatArray:
        """What the fall measured carries beyond what it comes to [N]."""
        still = np.zeros(len(self.work.tensions))
        for brought, trips in zip(self.turned, self.trips, strict=True):
            left = self.work.run_in.left_over(self.work.hitch, trips + more)
            still = still + left * brought
        return still

    def trips_until(self, spread: float) -> int:
        """Round trips until no more than this has still to go."""
        if not self.work.run_in.spreads:
            return 0
        mean = float(self.work.tensions.mean())
        for trips in range(USUAL_TRIPS, _MOST_TRIPS):
            if float(np.ptp(self.to_go(trips))) <= spread * mean:
                return trips
        return _MOST_TRIPS


def _stage(
    work: Work,
    start: FloatArray,
    rest: FloatArray,
    steps: IntArray,
    order: tuple[int, ...],
) -> Stage:
    """Tell what the set carries after each nut of a stage."""
    travels = np.asarray(steps * work.step, dtype=np.float64)
    so_far = np.zeros(len(steps))
    mean = float(start.mean())
    planned = []
    for place in order:
        so_far[place] = travels[place]
        now = (start + tension_changes(so_far, work.stiffness.now)) / mean
        run = (rest + tension_changes(so_far, work.stiffness.after_running)) / mean
        planned.append(
            PlannedStep(
                turn=work.turn_of(place, int(steps[place])),
                shares_now=tuple(float(share) for share in now),
                shares_after_running=tuple(float(share) for share in run),
            )
        )
    every = [share for step in planned for share in step.shares_now]
    return Stage(
        steps=tuple(planned), lowest_share=min(every), highest_share=max(every)
    )
