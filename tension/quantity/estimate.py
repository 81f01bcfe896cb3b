"""A value with a budget of named sources of uncertainty."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from math import fsum, sqrt


class Sharing(Enum):
    """Which readings one error is common to."""

    OWN = "own"
    KIND = "kind"
    SET = "set"


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """One named source of uncertainty, as a relative standard uncertainty."""

    name: str  # where it comes from, in trade words ("free length", "linear density")
    # relative standard uncertainty of the estimate due to this source [1]
    relative: float
    # whether the error is the rope's own, common to a kind of reading, or the set
    sharing: Sharing = Sharing.OWN


def budget(
    parts: Mapping[str, float], sharing: Sharing = Sharing.OWN
) -> tuple[Source, ...]:
    """Name relative standard uncertainties [1] that are independent of each other."""
    return tuple(
        Source(name=name, relative=float(relative), sharing=sharing)
        for name, relative in parts.items()
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A positive quantity with its budget."""

    value: float  # best estimate, in the SI unit of the quantity
    sources: tuple[Source, ...] = ()  # the budget; independent of each other

    def relative_uncertainty(
        self, sharings: Iterable[Sharing] = tuple(Sharing)
    ) -> float:
        """Combine the sources of the given sharings to a relative uncertainty. [1]."""
        wanted = set(sharings)
        return sqrt(fsum(s.relative**2 for s in self.sources if s.sharing in wanted))

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty from all sources, in the unit of the value."""
        return abs(self.value) * self.relative_uncertainty()
