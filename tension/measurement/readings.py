"""Readings as a person took them, one type per kind of evidence."""

from dataclasses import dataclass
from enum import StrEnum

from tension.installation import HitchPlace
from tension.quantity.units import Quantity


class Method(StrEnum):
    """Kind of evidence."""

    PLUCK = "pluck"
    PULL = "pull"
    RETURNS = "returns"
    SPRING = "spring"


class Hold(StrEnum):
    """What was held the same on all ropes in a side pull."""

    DEFLECTION = "deflection"
    FORCE = "force"


@dataclass(frozen=True, kw_only=True, slots=True)
class Series:
    """One round over the set: same span, load, people.

    Attributes
    ----------
    name : str
        Name in the record, such as "as found".
    span : str
        Name of the span.
    arrived, taken, load, people, fall, neighbours : str
        The condition, as typed; empty if not recorded.
    round_trips : int or None
        How many the car has run since a nut was turned last; None if not recorded.
    """

    name: str
    span: str
    arrived: str = ""
    taken: str = ""
    load: str = ""
    people: str = ""
    fall: str = ""
    neighbours: str = ""
    round_trips: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PluckReading:
    """A recording of one or several plucked ropes.

    Attributes
    ----------
    series : str
        Name of the series.
    recording : str
        Path relative to the record.
    ropes : tuple of int
        Ropes in the order plucked.
    plucks_each : int or None
        How many plucks each.
    """

    series: str
    recording: str
    ropes: tuple[int, ...]
    plucks_each: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PullReading:
    """A side pull with a spring scale.

    Attributes
    ----------
    series : str
        Name of the series.
    rope : int
        Rope number.
    forces : tuple of Quantity
        Readings of the scale. [N]
    deflections : tuple of Quantity
        Deflections. [m]
    hold : Hold
        Which was held the same on all ropes.
    at : Quantity or None
        Distance of the pull from the lower node; mid-span if None. [m]
    scale_zero : Quantity or None
        What the scale read without load. [N]
    """

    series: str
    rope: int
    forces: tuple[Quantity, ...]
    deflections: tuple[Quantity, ...]
    hold: Hold
    at: Quantity | None = None
    scale_zero: Quantity | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ReturnsReading:
    """Timed wave returns.

    Attributes
    ----------
    series : str
        Name of the series.
    rope : int
        Rope number.
    count : int
        Round trips counted.
    elapsed : tuple of Quantity
        Time of each repeat. [s]
    """

    series: str
    rope: int
    count: int
    elapsed: tuple[Quantity, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class SpringReading:
    """Working length of a shackle spring.

    Attributes
    ----------
    series : str
        Name of the series.
    rope : int
        Rope number.
    hitch : HitchPlace
        Which hitch.
    lengths : tuple of Quantity
        Readings. [m]
    """

    series: str
    rope: int
    hitch: HitchPlace
    lengths: tuple[Quantity, ...]


Reading = PluckReading | PullReading | ReturnsReading | SpringReading


@dataclass(frozen=True, kw_only=True, slots=True)
class Exclusion:
    """A reading that the record leaves out, and why.

    Attributes
    ----------
    series : str
        Name of the series.
    reason : str
        Why.
    rope : int or None
        Rope left out; None if not told.
    recording : str
        Recording left out; empty if not told.
    pluck : int or None
        Pluck of the recording, counted from 1.
    reading : str
        One reading by hand of the rope, as results name it; empty if not told.
    by : str
        Who decided.
    """

    series: str
    reason: str
    rope: int | None = None
    recording: str = ""
    pluck: int | None = None
    reading: str = ""
    by: str = ""
