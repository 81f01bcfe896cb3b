"""Odds that what rings is one rope and counted right, summed over one table."""

from dataclasses import dataclass
from enum import StrEnum

from tension.sound.decision.odds_table import (
    CONSTANT,
    LEAST_ODDS,
    LEAST_PROBABILITY,
    TERMS,
)
from tension.sound.decision.statistics import Statistics

FURTHEST = 4.0
"""Scales beyond the edge of a term from which it counts no more. [1]"""
SUPPORT = (-1.5, 2.0)
"""What the other ropes of a set may add to the odds, least and most: a rope at a
quarter of its share is a finding and needs its own evidence only. [1]"""
SWELLS = -0.1
"""Fall of the fastest fifth of the partials under which a sound swells. [1/s]"""


class Reason(StrEnum):
    """What speaks against a string."""

    COUNT = "count"
    FAINT = "faint"
    SEVERAL = "several"
    APART = "apart"
    STEADY = "steady"
    EXACT = "exact"


REASONS = {
    "evidence": Reason.FAINT,
    "margin": Reason.COUNT,
    "explained": Reason.SEVERAL,
    "fastest": Reason.FAINT,
    "rising": Reason.STEADY,
    "stretch": Reason.EXACT,
    "peak": Reason.STEADY,
    "second": Reason.SEVERAL,
    "elsewhere": Reason.APART,
    "steady": Reason.STEADY,
}
"""What an unusual statistic tells a person."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Odds:
    """Log-odds of a string.

    Attributes
    ----------
    total : float
        Constant less what each term takes. [1]
    reason : Reason
        What speaks most against it.
    """

    total: float
    reason: Reason


def rope_odds(statistics: Statistics) -> Odds:
    """Find the odds that a string is one rope and counted right.

    Notes
    -----
    Within its usual range a statistic says nothing; beyond the edge of a term it takes
    from the odds in proportion, at most `FURTHEST` scales. A logistic regression with
    terms that can only take: a good sign never makes up for a bad one.
    """
    taken = dict.fromkeys(Reason, 0.0)
    for term in TERMS:
        away = (getattr(statistics, term.statistic) - term.edge) / term.scale
        taken[REASONS[term.statistic]] += term.weight * min(max(away, 0.0), FURTHEST)
    worst = max(taken, key=lambda reason: taken[reason])
    return Odds(total=CONSTANT - sum(taken.values()), reason=worst)


__all__ = [
    "LEAST_ODDS",
    "LEAST_PROBABILITY",
    "REASONS",
    "SUPPORT",
    "SWELLS",
    "Odds",
    "Reason",
    "rope_odds",
]
