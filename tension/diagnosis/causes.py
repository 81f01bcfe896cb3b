"""Causes that a pattern may have, and what is expected of each before looking."""

import math
from dataclasses import dataclass
from enum import StrEnum


class Cause(StrEnum):
    """One thing that makes ropes of a set unequal, or seem so."""

    LENGTH = "rope-length"
    GROOVE = "groove-radius"
    NOT_RUN_IN = "not-run-in"
    SETTLING = "settling"
    STIFFNESS = "stiffness"
    MASS = "mass"
    BOUND_SPRING = "bound-spring"
    STAGGER = "stagger"
    TWIST = "twist"
    TOUCHING = "touching"
    UNKNOWN = "unknown"


Causes = tuple[Cause, ...]
"""Causes at work together: none, one or two."""

NONE: Causes = ()
"""Nothing beyond what readings and a careful adjustment leave."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Prior:
    """What is expected before looking; standard deviations, chosen and not measured.

    Attributes
    ----------
    sizes : tuple of float
        Sizes of a deviation at its largest, each as likely as the others, over the
        mean tension. [1]
    left_over : float
        What a careful adjustment leaves on each rope, the same at every place until
        nuts are turned again, over the mean tension. [1]
    loose : float
        What no model here tells of one rope in one series, over the mean tension. [1]
    slips : tuple of float
        Difference of the two sides at which ropes slip, over the largest without slip;
        infinity for never. [1]
    slip_leaves : float
        What slip unlike the one assumed moves a deviation, relative. [1]
    settling_weeks : tuple of float
        Time in which what is still to settle falls to 1/e. [week]
    still_to_settle : tuple of float
        Part of it still to come at the first series. [1]
    stiffnesses : tuple of float
        Share of an added load against an even one. [1]
    counterweight_more : float
        How much more hangs on the counterweight side, over the mean tension. [1]
    masses : tuple of float
        Mass of a rope against the set. [1]
    staggers : tuple of float
        A length that was not read. [m]
    touches : tuple of (float, float)
        How much too high a touching rope reads: expected, standard deviation. [1]
    bound : tuple of float
        How far a spring is bound, 1 for wholly: expected, standard deviation. [1]
    of_singles, of_pairs, of_none, of_unknown : float
        Weight before looking of one cause in all, of two at once in all, of nothing
        and of something else. [1]
    """

    sizes: tuple[float, ...] = (0.03, 0.08, 0.2)
    left_over: float = 0.01
    loose: float = 0.004
    slips: tuple[float, ...] = (math.inf, 0.5, 0.15)
    slip_leaves: float = 0.25
    settling_weeks: tuple[float, ...] = (3.0, 10.0, 30.0, 100.0)
    still_to_settle: tuple[float, ...] = (1.0, 0.5)
    stiffnesses: tuple[float, ...] = (0.05, 0.15)
    counterweight_more: float = 0.2
    masses: tuple[float, ...] = (0.03, 0.08)
    staggers: tuple[float, ...] = (0.03, 0.075)
    touches: tuple[tuple[float, float], ...] = ((0.15, 0.10), (0.6, 0.35))
    bound: tuple[float, float] = (0.7, 0.4)
    of_singles: float = 0.60
    of_pairs: float = 0.15
    of_none: float = 0.20
    of_unknown: float = 0.05
