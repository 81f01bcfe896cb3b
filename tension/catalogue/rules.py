"""Rules of equal tension: metric, limit, source, edition, standing."""

from dataclasses import dataclass
from enum import StrEnum

from tension.catalogue.standing import Standing


class Metric(StrEnum):
    """What the percentage is of."""

    BELOW_HIGHEST = "below-highest"
    ABOVE_LOWEST = "above-lowest"
    OFF_MEAN = "off-mean"
    RANGE_OF_MEAN = "range-of-mean"


@dataclass(frozen=True, kw_only=True, slots=True)
class Rule:
    """A rule of equal tension.

    Attributes
    ----------
    name : str
        Key in the catalogue, or what the user calls it.
    metric : Metric
        What the percentage is of.
    limit : float
        Equal at or under it. [1]
    source : str
        Where it is published.
    edition : str
        Edition or year.
    standing : Standing
        How it is known.
    changed_from : float or None
        Limit of the published rule where the user changed it. [1]
    goal : float or None
        What a plan of turns aims at; never decides the verdict. [1]
    """

    name: str
    metric: Metric
    limit: float
    source: str
    edition: str
    standing: Standing
    changed_from: float | None = None
    goal: float | None = None
