"""Readings as a person took them: one type per kind, and single ones among repeats."""

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from statistics import fmean
from typing import Any, Self

from tension.installation import HitchPlace, Side, Span
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
    """One round over the set: same span, load, people; empty where not recorded."""

    name: str  # in the record, such as "as found"
    span: str  # name of the span
    arrived: str = ""  # direction the car came from, as typed
    taken: str = ""  # when, as typed
    load: str = ""  # in the car, as typed
    people: str = ""  # who stands on the car, as typed
    fall: str = ""  # live or dead, as typed
    neighbours: str = ""  # free or damped while a rope rings, as typed
    # round trips the car ran since the last nut was turned, or since the series before
    # if none was
    round_trips_before: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PluckReading:
    """A recording of one or several plucked ropes."""

    series: str  # name of the series
    recording: str  # path relative to the record
    ropes: tuple[int, ...]  # in the order plucked
    plucks_each: int | None = None  # how many plucks each, if told


@dataclass(frozen=True, kw_only=True, slots=True)
class _ByHand(ABC):
    """What one rope showed, once or several times: each field repeated is a tuple."""

    series: str  # name of the series
    rope: int  # rope number

    @property
    def ropes(self) -> tuple[int, ...]:
        """The rope, as those of a recording."""
        return (self.rope,)

    @property
    def repeated(self) -> tuple[str, ...]:
        """Fields that hold a figure for every repeat."""
        every = (field.name for field in fields(self))
        return tuple(name for name in every if isinstance(getattr(self, name), tuple))

    @property
    @abstractmethod
    def names(self) -> tuple[str, ...]:
        """Every repeat by what was typed."""

    def only(self, order: Sequence[int]) -> Self:
        """Keep some repeats, in an order."""
        kept: dict[str, Any] = {
            name: tuple(getattr(self, name)[i] for i in order) for name in self.repeated
        }
        return replace(self, **kept)

    def in_order(self) -> Self:
        """Put the repeats in an order of their figures, however they were typed."""
        every = zip(*(getattr(self, name) for name in self.repeated), strict=True)
        figures = [[(one.value, one.text) for one in repeat] for repeat in every]
        return self.only(sorted(range(len(figures)), key=lambda i: figures[i]))


@dataclass(frozen=True, kw_only=True, slots=True)
class PullReading(_ByHand):
    """A side pull with a spring scale."""

    forces: tuple[Quantity, ...]  # readings of the scale [N]
    deflections: tuple[Quantity, ...]  # how far the pulled point moved [m]
    hold: Hold  # which was held the same on all ropes
    at: Quantity | None = None  # distance from the lower node; None: mid-span [m]
    scale_zero: Quantity | None = None  # what the scale read without load [N]

    @property
    def repeated(self) -> tuple[str, ...]:
        """Both in pairs, or the one whose repeats meet the mean of the other."""
        if len(self.forces) == len(self.deflections):
            return ("forces", "deflections")
        is_deflection_one = self.hold is Hold.DEFLECTION or len(self.deflections) == 1
        return ("forces",) if is_deflection_one else ("deflections",)

    def _each(self, field: str, less: float = 0.0) -> list[tuple[float, str]]:
        """Figure less another and text of every repeat; several as one have no text."""
        own: tuple[Quantity, ...] = getattr(self, field)
        figures = [one.value - less for one in own]
        if field in self.repeated:
            return [(value, one.text) for value, one in zip(figures, own, strict=True)]
        as_one = (fmean(figures), own[0].text if len(own) == 1 else "")
        return [as_one] * len(getattr(self, self.repeated[0]))

    @property
    def names(self) -> tuple[str, ...]:
        """Such as "pull 147 N at 25 mm"; the mean of several is not named."""
        of = " " if "forces" in self.repeated else " of "
        both = zip(self._each("forces"), self._each("deflections"), strict=True)
        return tuple(
            f"pull{force and of + force}{aside and ' at ' + aside}"
            for (_, force), (_, aside) in both
        )

    @property
    def pairs(self) -> tuple[tuple[float, float], ...]:
        """Force above what the scale reads without load [N], deflection [m]."""
        zero = self.scale_zero.value if self.scale_zero else 0.0
        forces, asides = self._each("forces", zero), self._each("deflections")
        both = zip(forces, asides, strict=True)
        return tuple((force, aside) for (force, _), (aside, _) in both)


@dataclass(frozen=True, kw_only=True, slots=True)
class ReturnsReading(_ByHand):
    """Timed wave returns."""

    count: int  # round trips counted [1]
    elapsed: tuple[Quantity, ...]  # time of each repeat [s]

    @property
    def names(self) -> tuple[str, ...]:
        """Such as "10 returns in 6.52 s"."""
        return tuple(f"{self.count} returns in {one.text}" for one in self.elapsed)


@dataclass(frozen=True, kw_only=True, slots=True)
class SpringReading(_ByHand):
    """Working length of a shackle spring."""

    hitch: HitchPlace  # which hitch
    lengths: tuple[Quantity, ...]  # of the spring under load [m]

    @property
    def names(self) -> tuple[str, ...]:
        """Such as "car spring 120 mm"."""
        place = self.hitch.value.replace("-", " ")
        return tuple(f"{place} spring {one.text}" for one in self.lengths)


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

    @property
    def is_whole_rope(self) -> bool:
        """Whether everything of a rope is left out."""
        is_part = self.recording or self.reading or self.pluck is not None
        return self.rope is not None and not is_part


def without_left_out(
    readings: Iterable[Reading], exclusions: Sequence[Exclusion]
) -> Iterator[Reading]:
    """Take out ropes and single readings by hand that are left out; plucks stay."""
    left_out = {
        (e.series, e.rope, e.reading)
        for e in exclusions
        if e.reading or e.is_whole_rope
    }
    for reading in readings:
        if isinstance(reading, PluckReading):
            yield reading
            continue
        own = (reading.series, reading.rope)
        kept = [
            i
            for i, name in enumerate(reading.names)
            if not {(*own, ""), (*own, name)} & left_out
        ]
        if kept:
            yield reading.only(kept)


def names_that_are_none(
    readings: Iterable[Reading], exclusions: Sequence[Exclusion]
) -> Iterator[tuple[int, str]]:
    """Find exclusions of a reading that is not there, and tell which there are."""
    named: dict[tuple[str, int | None], list[str]] = {}
    for reading in readings:
        if not isinstance(reading, PluckReading):
            named.setdefault((reading.series, reading.rope), []).extend(reading.names)
    for i, exclusion in enumerate(exclusions):
        there = named.get((exclusion.series, exclusion.rope), [])
        if not exclusion.reading or exclusion.reading in there:
            continue
        rope = f"rope {exclusion.rope} has no"
        if there:
            listed = ", ".join(f'"{name}"' for name in dict.fromkeys(there))
            yield i, f'{rope} "{exclusion.reading}"; it has {listed}'
        else:
            yield i, f"{rope} reading by hand in that series"


def plucks_left_out(
    readings: Iterable[Reading], exclusions: Sequence[Exclusion]
) -> dict[int, str]:
    """Find ropes of which every recording is left out for them alone, and why.

    Other kinds of reading on such a rope stay.
    """
    reasons = {(e.rope, e.recording): e.reason for e in exclusions if e.pluck is None}
    recordings: dict[int, list[str]] = {}
    for reading in readings:
        if isinstance(reading, PluckReading):
            for rope in reading.ropes:
                recordings.setdefault(rope, []).append(reading.recording)
    return {
        rope: reasons[rope, own[0]]
        for rope, own in recordings.items()
        if all((rope, one) in reasons for one in own)
    }


def side_measured(
    series: Series, span: Span | None, readings: Sequence[Reading]
) -> Side | None:
    """Tell of which side of the sheave a series tells the tensions.

    Of the span, where anything was read on it or springs at a hitch of its side; else
    of the springs. None where nothing tells it.
    """
    own = [reading for reading in readings if reading.series == series.name]
    sides = {r.hitch.side for r in own if isinstance(r, SpringReading)}
    is_on_span = any(not isinstance(reading, SpringReading) for reading in own)
    if span is not None and (is_on_span or not sides or span.side in sides):
        return span.side
    return Side.CAR if Side.CAR in sides else next(iter(sides), None)
