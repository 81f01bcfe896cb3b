"""A value with a budget of named sources of uncertainty."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from math import fsum, hypot, sqrt


class Sharing(Enum):
    """Which readings one error is common to."""

    OWN = "own"
    KIND = "kind"
    SET = "set"


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """One named source of uncertainty, as a relative standard uncertainty.

    Attributes
    ----------
    name : str
        Where it comes from, in trade words ("free length", "linear density").
    relative : float
        Relative standard uncertainty of the estimate due to this source. [1]
    sharing : Sharing
        Whether the error is the rope's own, common to a kind of reading, or the set.
    """

    name: str
    relative: float
    sharing: Sharing = Sharing.OWN


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A positive quantity with its budget.

    Attributes
    ----------
    value : float
        Best estimate, in the SI unit of the quantity.
    sources : tuple of Source
        The budget; sources are independent of each other.
    """

    value: float
    sources: tuple[Source, ...] = ()

    def relative_uncertainty(
        self, sharings: Iterable[Sharing] = tuple(Sharing)
    ) -> float:
        """Combine the sources of the given sharings.

        Parameters
        ----------
        sharings : iterable of Sharing
            Which sources count; all by default.

        Returns
        -------
        float
            Relative standard uncertainty. [1]
        """
        wanted = set(sharings)
        return sqrt(fsum(s.relative**2 for s in self.sources if s.sharing in wanted))

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty from all sources, in the unit of the value."""
        return abs(self.value) * self.relative_uncertainty()

    def scaled(self, factor: float) -> "Estimate":
        """Multiply by an exact number.

        Parameters
        ----------
        factor : float
            The number, above 0. [1]

        Returns
        -------
        Estimate
            The product; relative uncertainties stay.
        """
        return replace(self, value=self.value * factor)

    def power(self, exponent: float) -> "Estimate":
        """Raise to an exact power, to first order.

        Parameters
        ----------
        exponent : float
            The power. [1]

        Returns
        -------
        Estimate
            The power; its relative uncertainties are those of the base times the
            exponent, without their sign (JCGM 100:2008, 5.1.6).

        Examples
        --------
        >>> side = Estimate(value=3.0, sources=(Source(name="tape", relative=0.01),))
        >>> side.power(2).relative_uncertainty()
        0.02
        """
        return Estimate(
            value=self.value**exponent,
            sources=tuple(
                replace(source, relative=abs(exponent) * source.relative)
                for source in self.sources
            ),
        )

    def times_power(self, other: "Estimate", exponent: float = 1.0) -> "Estimate":
        """Multiply by a power of another estimate, to first order.

        A source of one name that a kind or the set shares is one and the same error in
        both: it adds up with its sign, and cancels in a quotient. A source of the
        rope's own is another error in each. For longer formulas use
        `tension.quantity.propagation.propagate`.

        Parameters
        ----------
        other : Estimate
            The other factor.
        exponent : float
            Its power. [1]

        Returns
        -------
        Estimate
            The product.
        """
        mine = combine_sources(self.sources)
        theirs = combine_sources(other.power(exponent).sources)
        sign = 1.0 if exponent >= 0 else -1.0
        merged = {(source.name, source.sharing): source for source in mine}
        for source in theirs:
            key = (source.name, source.sharing)
            before = merged[key].relative if key in merged else 0.0
            if source.sharing is Sharing.OWN:
                relative = hypot(before, source.relative)
            else:
                relative = abs(before + sign * source.relative)
            merged[key] = replace(source, relative=relative)
        return Estimate(
            value=self.value * other.value**exponent, sources=tuple(merged.values())
        )


def combine_sources(sources: Sequence[Source]) -> tuple[Source, ...]:
    """Put independent contributions of one name and sharing together.

    Parameters
    ----------
    sources : sequence of Source
        Contributions, independent of each other.

    Returns
    -------
    tuple of Source
        One of each name and sharing, in the order first met; the root of the sum of
        squares (JCGM 100:2008, 5.1.2).
    """
    merged: dict[tuple[str, Sharing], Source] = {}
    for source in sources:
        key = (source.name, source.sharing)
        before = merged[key].relative if key in merged else 0.0
        merged[key] = replace(source, relative=hypot(before, source.relative))
    return tuple(merged.values())
