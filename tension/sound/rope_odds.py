"""Odds that what rings is one rope and counted right, summed over one table."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from tension.sound.statistics import Statistics


class Term(NamedTuple):
    """One row: how a statistic beyond its usual range takes from the odds."""

    statistic: str  # name in `tension.sound.statistics.Statistics`
    edge: float  # where it begins to count [that of the statistic]
    scale: float  # positive: above the edge; negative: under it [that of the statistic]
    weight: float  # ln of odds taken per scale [1]


LEAST_PROBABILITY = 0.9
LEAST_ODDS = 0.0
# Set by `python -m tests.benchmarks.ear_table collect --seed 9 --scale 0.6` and `fit`,
# 2026-11-29, on 1930 recordings of the building halves. With each source left out of
# the fit in turn, one rope at a time without its set: real strings given 90 %, 0.13 %
# of these wrong, 6 % right and refused; made ropes given 96 %; no rope given 7 %, a
# quarter of it drawn from the kinds that sound most like a rope.
CONSTANT = 5.26
TERMS: tuple[Term, ...] = (
    Term("log_likelihood_ratio", 4.1, -0.841, 1.90),
    Term("margin", 0.279, -0.243, 2.69),
    Term("explained", 0.741, -0.371, 1.65),
    Term("fastest", 0.503, -0.421, 0.71),
    Term("rising", -0.11, -0.63, 1.04),
    Term("rising", 0.325, 0.659, 1.42),
    Term("stretch", -2.64, -5.34, 3.75),
    Term("stretch", -0.338, 1.35, 2.31),
    Term("peak", 0.214, 0.786, 1.78),
    Term("second", 3.11, 0.706, 2.00),
    Term("elsewhere", 0.61, 1.61, 1.90),
    Term("steady", 0.0662, 0.119, 1.22),
)


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
    "log_likelihood_ratio": Reason.FAINT,
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
    """Log-odds of a string."""

    total: float  # constant less what each term takes [1]
    reason: Reason  # what speaks most against it


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
