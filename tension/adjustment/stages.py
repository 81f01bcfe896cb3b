"""Stages of a plan: nuts turned one after the other, then a run of the car."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.limits import LARGEST_TRAVEL, Limits
from tension.adjustment.order import Way, find_order, split_steps, trade_order
from tension.adjustment.outcome import NutTurn, PlannedStep, Stage
from tension.adjustment.stiffness import NutStiffness
from tension.physics.hitch_statics import tension_changes

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_STAGES = 12
"""A plan that needs more is none."""


def find_stages(
    *,
    tensions: FloatArray,
    stiffness: NutStiffness,
    steps: IntArray,
    step: float,
    limits: Limits,
    turn_of: Callable[[int, int], NutTurn],
) -> tuple[Stage, ...] | None:
    """Find the fewest stages in which every rope stays loaded and no nut goes too far.

    Parameters
    ----------
    tensions : ndarray, shape (n_ropes,)
        Before. [N]
    stiffness : NutStiffness
        Before and after running.
    steps : ndarray of int, shape (n_ropes,)
        Steps of each nut in all.
    step : float
        Travel of the nut in one step. [m]
    limits : Limits
        What no rope may pass.
    turn_of : callable
        Makes the turn of one nut from its place and steps.

    Returns
    -------
    tuple of Stage or None
        In working order; None if no number of stages keeps the limits.
    """
    for n_stages in range(1, MOST_STAGES + 1):
        stages = _try_stages(
            tensions, stiffness, split_steps(steps, n_stages), step, limits, turn_of
        )
        if stages is not None:
            return stages
    return None


def worst_share_on_the_way(
    *,
    tensions: FloatArray,
    stiffness: NutStiffness,
    steps: IntArray,
    step: float,
) -> float:
    """Tell how little a rope would carry if the nuts were turned in the most stages.

    Parameters
    ----------
    tensions : ndarray, shape (n_ropes,)
        Before. [N]
    stiffness : NutStiffness
        Before and after running.
    steps : ndarray of int, shape (n_ropes,)
        Steps of each nut in all.
    step : float
        Travel of the nut in one step. [m]

    Returns
    -------
    float
        Lowest share, or the mirror image of the highest if that is further off. [1]
    """
    worst, start, mean = 1.0, tensions, float(tensions.mean())
    k_now = stiffness.now * (1.0 + stiffness_margin(stiffness))
    for part in split_steps(steps, MOST_STAGES):
        travels = np.asarray(part * step, dtype=np.float64)
        so_far = np.zeros(len(part))
        for place in trade_order(start, travels):
            so_far[place] = travels[place]
            shares = (start + tension_changes(so_far, k_now)) / mean
            worst = min(worst, float(shares.min()), 2.0 - float(shares.max()))
        start = start + tension_changes(travels, stiffness.after_running)
    return worst


def stiffness_margin(stiffness: NutStiffness) -> float:
    """Tell how much stiffer the ropes may be now than thought.

    Parameters
    ----------
    stiffness : NutStiffness
        With its uncertainty before the car has run.

    Returns
    -------
    float
        Two standard uncertainties of the logarithm, relative. [1]
    """
    return float(np.expm1(2.0 * stiffness.now_uncertainty))


def _try_stages(
    tensions: FloatArray,
    stiffness: NutStiffness,
    split: list[IntArray],
    step: float,
    limits: Limits,
    turn_of: Callable[[int, int], NutTurn],
) -> tuple[Stage, ...] | None:
    """Order the nuts of each stage; None if one stage cannot be ordered."""
    stages = []
    start = tensions
    for steps in split:
        travels = np.asarray(steps * step, dtype=np.float64)
        if np.abs(travels).max(initial=0.0) > LARGEST_TRAVEL * (1.0 + 1e-9):
            return None
        # what the runs before have changed is known no better than the stiffness
        doubt = 2.0 * stiffness.common_uncertainty * np.abs(start - tensions)
        way = Way(
            tensions=start,
            stiffnesses=stiffness.now,
            stiffness_margin=stiffness_margin(stiffness),
            lowest=np.minimum(limits.lowest + doubt, start),
            highest=np.maximum(limits.highest - doubt, start),
        )
        order = find_order(way, travels)
        if order is None:
            return None
        if order:
            stages.append(_stage(start, stiffness, steps, travels, order, turn_of))
        start = start + tension_changes(travels, stiffness.after_running)
    return tuple(stages)


def _stage(
    start: FloatArray,
    stiffness: NutStiffness,
    steps: IntArray,
    travels: FloatArray,
    order: tuple[int, ...],
    turn_of: Callable[[int, int], NutTurn],
) -> Stage:
    """Tell what the set carries after each nut of a stage."""
    so_far = np.zeros(len(steps))
    mean = float(start.mean())
    planned = []
    for place in order:
        so_far[place] = travels[place]
        now = (start + tension_changes(so_far, stiffness.now)) / mean
        run = (start + tension_changes(so_far, stiffness.after_running)) / mean
        planned.append(
            PlannedStep(
                turn=turn_of(place, int(steps[place])),
                shares_now=tuple(float(share) for share in now),
                shares_after_running=tuple(float(share) for share in run),
            )
        )
    every = [share for step in planned for share in step.shares_now]
    return Stage(
        steps=tuple(planned), lowest_share=min(every), highest_share=max(every)
    )
