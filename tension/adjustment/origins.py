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
    """One number that a result rests on.

    Attributes
    ----------
    name : str
        What it is, in trade words.
    value : float
        In the SI unit of its dimension.
    dimension : Dimension or None
        What it measures; None for a plain number.
    known_from : KnownFrom
        How it is known.
    source : str
        As typed, or which table, turns or assumption.
    relative_uncertainty : float
        Relative standard uncertainty. [1]
    """

    name: str
    value: float
    dimension: Dimension | None
    known_from: KnownFrom
    source: str
    relative_uncertainty: float = 0.0
