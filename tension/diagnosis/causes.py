"""Causes that a pattern may have, and what is expected of each before looking."""

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
    of_singles, of_pairs, of_none, of_unknown : float
        Weight before looking of one cause in all, of two at once in all, of nothing
        and of something else. [1]
    """

    sizes: tuple[float, ...] = (0.03, 0.08, 0.2)
    left_over: float = 0.01
    loose: float = 0.004
    of_singles: float = 0.60
    of_pairs: float = 0.15
    of_none: float = 0.20
    of_unknown: float = 0.05
