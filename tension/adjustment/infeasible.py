"""What is short, by how much, where no plan within the limits makes a set equal."""

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.limits import Limits
from tension.adjustment.outcome import Shortage, Shortfall
from tension.adjustment.search import StepProblem

IntArray = NDArray[np.int64]


def find_shortfalls(
    *,
    problem: StepProblem,
    steps: IntArray,
    free_steps: IntArray | None,
    limits: Limits,
    limit: float,
) -> tuple[Shortfall, ...]:
    """Find what keeps a set from being made equal.

    Parameters
    ----------
    problem : StepProblem
        Tensions to be corrected and the steps allowed.
    steps : ndarray of int, shape (n_ropes,)
        The best steps allowed.
    free_steps : ndarray of int, shape (n_ropes,) or None
        The best steps if thread had no end.
    limits : Limits
        Thread and springs.
    limit : float
        Of the rule. [1]

    Returns
    -------
    tuple of Shortfall
        Empty if the set can be made equal.
    """
    after = problem.tensions_after(steps)
    solid = [
        Shortfall(
            kind=Shortage.SPRING_WAY,
            rope=place + 1,
            needed=float(tension),
            available=limits.solid_load,
        )
        for place, tension in enumerate(after)
        if tension > limits.solid_load
    ]
    if solid:
        return tuple(solid)
    spread = problem.spread_after(steps)
    if spread > limit:
        free = None if free_steps is None else problem.spread_after(free_steps)
        if free is None or free > limit or free_steps is None:
            return (
                Shortfall(
                    kind=Shortage.FINE_STEPS, rope=None, needed=limit, available=spread
                ),
            )
        return _of_thread(problem, free_steps, limits)
    return ()


def _of_thread(
    problem: StepProblem, free_steps: IntArray, limits: Limits
) -> tuple[Shortfall, ...]:
    """Thread that the best steps would need and the rods do not have."""
    found = []
    for place, steps in enumerate(free_steps):
        travel = float(steps * problem.step)
        towards, away = limits.take_up_left[place], limits.ease_left[place]
        if travel > towards:
            found.append((Shortage.THREAD_TOWARDS_PLATE, place, travel, float(towards)))
        if -travel > away:
            found.append((Shortage.THREAD_AWAY, place, -travel, float(away)))
    return tuple(
        Shortfall(kind=kind, rope=place + 1, needed=needed, available=available)
        for kind, place, needed, available in found
    )
