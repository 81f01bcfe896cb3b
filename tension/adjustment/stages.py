"""Stages of a plan: nuts turned one after the other, then a run of the car."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.limits import LARGEST_TRAVEL, Limits
from tension.adjustment.order import Way, find_order, split_steps
from tension.adjustment.outcome import NutTurn, PlannedStep, Stage
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

    Parameters
    ----------
    work : Work
        What the nuts do.
    steps : ndarray of int, shape (n_ropes,)
        Steps of each nut in all.

    Returns
    -------
    tuple of Stage or None
        In working order; None if no number of stages keeps the limits.
    """
    for n_stages in range(1, MOST_STAGES + 1):
        for split in _splits(work, steps, n_stages):
            stages = _try_stages(work, split)
            if stages is not None:
                return stages
    return None


def find_first_stage(work: Work, steps: IntArray) -> tuple[Stage, ...] | None:
    """Find a first stage where the way to the end cannot be told in one plan.

    Parameters
    ----------
    work : Work
        What the nuts do.
    steps : ndarray of int, shape (n_ropes,)
        Steps of each nut in all.

    Returns
    -------
    tuple of Stage or None
        One stage; None if even the smallest steps pass a limit.
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
    """Tell how much stiffer the ropes may be now than thought.

    Returns
    -------
    float
        Two standard uncertainties of the logarithm, relative. [1]
    """
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
