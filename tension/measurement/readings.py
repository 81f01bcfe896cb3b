"""Readings as a person took them: one type per kind, and single ones among repeats."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

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
    round_trips_before : int or None
        Round trips the car ran since the last nut was turned, or since the series
        before if none was; None if not recorded.
    """

    name: str
    span: str
    arrived: str = ""
    taken: str = ""
    load: str = ""
    people: str = ""
    fall: str = ""
    neighbours: str = ""
    round_trips_before: int | None = None


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
    """A reading that the record leaves out, and why."""

    series: str  # name of the series
    reason: str  # why
    rope: int | None = None  # rope left out; None if not told
    recording: str = ""  # recording left out; empty if not told
    pluck: int | None = None  # pluck of the recording, counted from 1
    # one reading by hand of the rope, as results name it; empty if not told
    reading: str = ""
    by: str = ""  # who decided


ByHand = PullReading | ReturnsReading | SpringReading
Read = TypeVar("Read", PullReading, ReturnsReading, SpringReading)


def names_of(reading: ByHand) -> tuple[str, ...]:
    """Name every repeat of a reading by what was typed.

    Such as "pull 147 N at 25 mm", "10 returns in 6.52 s", "car spring 120 mm".
    """
    if isinstance(reading, ReturnsReading):
        return tuple(f"{reading.count} returns in {e.text}" for e in reading.elapsed)
    if isinstance(reading, SpringReading):
        place = reading.hitch.value.replace("-", " ")
        return tuple(f"{place} spring {q.text}" for q in reading.lengths)
    forces, deflections = reading.forces, reading.deflections
    if len(forces) == len(deflections):
        return tuple(
            f"pull {f.text} at {d.text}"
            for f, d in zip(forces, deflections, strict=True)
        )
    if _are_forces_repeated(reading):
        at = f" at {deflections[0].text}" if len(deflections) == 1 else ""
        return tuple(f"pull {force.text}{at}" for force in forces)
    at = f" of {forces[0].text}" if len(forces) == 1 else ""
    return tuple(f"pull{at} at {one.text}" for one in deflections)


def _are_forces_repeated(reading: PullReading) -> bool:
    """Whether each force is a repeat, or each deflection."""
    return reading.hold is Hold.DEFLECTION or len(reading.deflections) == 1


def in_fixed_order(readings: Sequence[Read]) -> list[Read]:
    """Put readings, and the repeats in each, in an order of their own figures.

    The same whatever the order in which they were typed, so that sums over them are the
    same to the last digit.
    """
    return sorted((_sorted_within(reading) for reading in readings), key=repr)


def _sorted_within(reading: Read) -> Read:
    """The repeats of one reading by their figures."""
    if isinstance(reading, ReturnsReading):
        return replace(reading, elapsed=_by_value(reading.elapsed))
    if isinstance(reading, SpringReading):
        return replace(reading, lengths=_by_value(reading.lengths))
    forces, deflections = reading.forces, reading.deflections
    if len(forces) != len(deflections):
        return replace(
            reading, forces=_by_value(forces), deflections=_by_value(deflections)
        )
    pairs = sorted(zip(forces, deflections, strict=True), key=repr)
    return replace(
        reading,
        forces=tuple(force for force, _ in pairs),
        deflections=tuple(deflection for _, deflection in pairs),
    )


def _by_value(quantities: Sequence[Quantity]) -> tuple[Quantity, ...]:
    """By value, then by text."""
    return tuple(sorted(quantities, key=lambda one: (one.value, one.text)))


def without_left_out(
    readings: Sequence[Reading], exclusions: Sequence[Exclusion]
) -> list[Reading]:
    """Take out single readings that the record leaves out by name; plucks stay."""
    names = {(e.series, e.rope, e.reading) for e in exclusions if e.reading}
    left: list[Reading] = []
    for reading in readings:
        if isinstance(reading, PluckReading):
            left.append(reading)
            continue
        kept = [
            i
            for i, name in enumerate(names_of(reading))
            if (reading.series, reading.rope, name) not in names
        ]
        if kept:
            left.append(_only(reading, kept))
    return left


def _only(reading: ByHand, places: Sequence[int]) -> Reading:
    """Some repeats of a reading."""
    if isinstance(reading, ReturnsReading):
        return replace(reading, elapsed=tuple(reading.elapsed[i] for i in places))
    if isinstance(reading, SpringReading):
        return replace(reading, lengths=tuple(reading.lengths[i] for i in places))
    is_paired = len(reading.forces) == len(reading.deflections)
    if is_paired or _are_forces_repeated(reading):
        reading = replace(reading, forces=tuple(reading.forces[i] for i in places))
        if not is_paired:
            return reading
    return replace(reading, deflections=tuple(reading.deflections[i] for i in places))


def names_that_are_none(
    readings: Sequence[Reading], exclusions: Sequence[Exclusion]
) -> Iterator[tuple[int, str]]:
    """Find exclusions of a reading that is not there."""
    named: dict[tuple[str, int | None], list[str]] = {}
    for reading in readings:
        if not isinstance(reading, PluckReading):
            place = (reading.series, reading.rope)
            named.setdefault(place, []).extend(names_of(reading))
    for i, exclusion in enumerate(exclusions):
        there = named.get((exclusion.series, exclusion.rope), [])
        if exclusion.reading and exclusion.reading not in there:
            yield i, _there(exclusion, there)


def _there(exclusion: Exclusion, names: Sequence[str]) -> str:
    """Which names there are."""
    listed = ", ".join(f'"{name}"' for name in dict.fromkeys(names))
    if not listed:
        return f"rope {exclusion.rope} has no reading by hand in that series"
    return f'rope {exclusion.rope} has no "{exclusion.reading}"; it has {listed}'


def plucks_left_out(
    readings: Sequence[Reading], exclusions: Sequence[Exclusion]
) -> Mapping[int, str]:
    """Find ropes of which every recording is left out for them alone, and why.

    Other kinds of reading on such a rope stay.
    """
    reasons = {
        (e.rope, e.recording): e.reason
        for e in exclusions
        if e.rope is not None and e.recording and e.pluck is None
    }
    named: dict[int, list[str]] = {}
    for reading in readings:
        if isinstance(reading, PluckReading):
            for rope in reading.ropes:
                named.setdefault(rope, []).append(reading.recording)
    return {
        rope: reasons[rope, recordings[0]]
        for rope, recordings in named.items()
        if all((rope, one) in reasons for one in recordings)
    }
