"""Where every number comes from that a plan rests on."""

from dataclasses import dataclass
from enum import StrEnum

from tension.quantity.units import Dimension


class KnownFrom(StrEnum):
    """How a number came to be known, the surest first."""

    MEASURED = "measured"
    TYPED = "typed"
    LEARNED = "learned"
    TABLE = "table"
    ASSUMED = "assumed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Origin:
    """One number that a result rests on."""

    name: str  # what it is, in trade words
    value: float  # in the SI unit of its dimension
    dimension: Dimension | None  # what it measures; None for a plain number
    known_from: KnownFrom  # how it is known
    source: str  # as typed, or which table, turns or assumption
    relative_uncertainty: float = 0.0  # relative standard uncertainty [1]
