"""Findings on one rope at one place."""

from dataclasses import dataclass
from enum import StrEnum


class Seen(StrEnum):
    """Whether a thing was seen."""

    YES = "yes"
    NO = "no"
    COULD_NOT_SEE = "could-not-see"


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One finding.

    Attributes
    ----------
    rope : int or None
        Rope number; None if of the set.
    kind : str
        What was looked for, such as "rouge".
    at : str
        Place, free text.
    seen : Seen
        Whether it was seen.
    """

    rope: int | None
    kind: str
    at: str
    seen: Seen
