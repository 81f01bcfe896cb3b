"""The table of the two checks, as `tests.benchmarks.ear_table fit` prints it."""

from typing import NamedTuple


class Term(NamedTuple):
    """One row: how a statistic beyond its usual range takes from the odds.

    Attributes
    ----------
    statistic : str
        Name in `tension.sound.decision.statistics.Statistics`.
    edge : float
        Where it begins to count. [that of the statistic]
    scale : float
        Positive: above the edge; negative: under it. [that of the statistic]
    weight : float
        ln of odds taken per scale. [1]
    """

    statistic: str
    edge: float
    scale: float
    weight: float


LEAST_PROBABILITY = 0.9
LEAST_ODDS = 0.0
# Set by `python -m tests.benchmarks.ear_table collect --seed 9 --scale 0.6` and `fit`,
# 2026-11-29, on 1930 recordings of the building halves. With each source left out of
# the fit in turn, one rope at a time without its set: real strings given 90 %, 0.13 %
# of these wrong, 6 % right and refused; made ropes given 96 %; no rope given 7 %, a
# quarter of it drawn from the kinds that sound most like a rope.
CONSTANT = 5.26
TERMS: tuple[Term, ...] = (
    Term("evidence", 4.1, -0.841, 1.90),
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
