"""Shackle springs: load by length beside load measured, and what contradicts what."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations
from math import hypot, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.fit import Line, fit_line, own_uncertainties
from tension.adjustment.stiffness import (
    Origin,
    find_hitch,
    spring_lengths_of,
    spring_rate_of,
)
from tension.assessment.outcome import Assessment
from tension.installation import Hitch, HitchPlace, RopeSet, Roping
from tension.measurement.readings import Reading, SpringReading
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.physics.springs import margin_to_solid
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import Dimension, Quantity, UnitSystem, show_quantity
from tension.shown import Shown

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

OVERLOAD = 1.25
"""Part of rated load at which the margin to solid is told. [1]"""

FREE_LENGTH_SPREAD = 0.001
"""How much springs of one set differ in free length; the program's own figure. [m]"""

_LEVEL = 0.003
"""Springs whose lengths lie within this look level to the eye. [m]"""

_TOUCHING = 0.0005
"""A spring within this of its solid length is taken to be solid. [m]"""

_TOO_SHORT = 0.001
"""A length so far under the solid one is a wrong reading, or another spring's. [m]"""

_STANDS_OUT = 3.5
"""A spring stands out from so many standard uncertainties off the others. [1]"""

_FEWEST_TO_JUDGE = 3
"""Springs among which the odd one can be told."""

_FEWEST_FOR_LINE = 4
"""Springs from which a line of the set is drawn."""

_WEIGHT_OF_EXPECTED = 2.0
"""How many springs the expected scatter counts for beside those read. [1]"""

_APART = 3.0
"""Standard uncertainties between two figures that are not the same. [1]"""

_PAIR_APART = 4.0
"""Between the two of a set that are farthest apart: many pairs are looked at. [1]"""

_SI = UnitSystem.SI

_CONTRADICTIONS = {
    NoteKind.SPRING_OUTLIER,
    NoteKind.SPRING_SHORT,
    NoteKind.SPRING_SOLID_NOW,
    NoteKind.SPRING_NOT_PRESSED,
    NoteKind.SPRINGS_ALL_OFF,
    NoteKind.SPRINGS_DISAGREE,
    NoteKind.SPRINGS_REVERSED,
    NoteKind.RATES_DISAGREE,
}
"""Notes after which the springs are not to be believed as they stand."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SpringLoad:
    """One spring."""

    rope: int  # rope number
    length: float  # working length, mean of the readings [m]
    # load by rate and compression; None without a rate or free length, and where the
    # length tells none: not shorter than free, or solid [N]
    by_length: float | None
    by_length_uncertainty: float | None
    # tension as measured otherwise; None without newtons [N]
    by_reading: float | None
    by_reading_uncertainty: float | None
    # of the way left to solid at 125 % of rated load; None where it is not known [1]
    margin: float | None
    stands_out: bool  # whether it says something else than the other springs


@dataclass(frozen=True, kw_only=True, slots=True)
class SetSlope:
    """Line through tension against spring length of the set."""

    rate: float  # slope: what the springs of the set do together [N/m]
    uncertainty: float  # its standard uncertainty [N/m]
    mean_length: float  # length about which the line is drawn [m]
    mean_tension: float  # tension there [N]
    scatter: float  # of one spring length about the line [m]

    def tension_at(self, length: float) -> float:
        """Tension of the line [N] at a spring length [m]."""
        return self.mean_tension - self.rate * (length - self.mean_length)


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class SpringCheck(Shown):
    """Springs of one hitch."""

    hitch: Hitch  # which
    springs: tuple[SpringLoad, ...]  # one per spring read, in order of number
    rate: Origin | None  # of one spring, and where it comes from [N/m]
    # without load, and with the coils touching; and where they come from [m]
    free_length: Origin | None
    solid_length: Origin | None
    # of the set; None without newtons or with lengths too alike
    slope: SetSlope | None
    rated_tension: float | None  # of one rope at 125 % of rated load [N]
    notes: tuple[Note, ...]  # what a reader must know
    # load under which a spring begins to give way [N]
    preload: Quantity | None = None

    @property
    def is_contradicted(self) -> bool:
        """Whether springs contradict each other, themselves or the readings."""
        return any(note.kind in _CONTRADICTIONS for note in self.notes)

    def summary(self) -> str:
        """Say how many springs, and what contradicts."""
        found = [note.code for note in self.notes if note.kind in _CONTRADICTIONS]
        told = ", ".join(dict.fromkeys(found)) or "no contradiction"
        return f"{len(self.springs)} springs at the {self.hitch.at.value}: {told}"


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadedCar:
    """What hangs on the ropes, for the margin at 125 % of rated load."""

    car_mass: Quantity  # all that hangs on that side without load [kg]
    rated_load: Quantity  # rated load [kg]
    roping: Roping = Roping.ONE_TO_ONE  # roping ratio

    def rated_tension(self, n_ropes: int) -> float:
        """Even share [N] of one of so many ropes [1] at 125 % of rated load."""
        mass = self.car_mass.value + OVERLOAD * self.rated_load.value
        return mass * STANDARD_GRAVITY / (n_ropes * self.roping.n_falls)


def check_springs(
    assessment: Assessment,
    readings: tuple[Reading, ...],
    *,
    rope_set: RopeSet,
    place: HitchPlace,
    loaded: LoadedCar | None = None,
) -> SpringCheck | Refusal:
    """Check the springs of one hitch against the tensions of the same series.

    As measured by sound, side pull or returns; readings of spring lengths in that
    series are used. What hangs tells the margin at 125 % of rated load.
    """
    hitch = find_hitch(rope_set, place)
    if hitch is None:
        return NoteKind.HITCH_UNKNOWN.refusal(place=place.value)
    lengths = _lengths(readings, assessment.measurement.series.name, place)
    if not lengths:
        return NoteKind.NO_SPRING_LENGTHS.refusal(place=place.value)
    free, solid = spring_lengths_of(hitch)
    figures = _Figures(
        rate=spring_rate_of(hitch, rope_set),
        free=free,
        solid=solid,
        preload=hitch.spring_preload.value if hitch.spring_preload else 0.0,
        length_width=rope_set.uncertainties.spring_length,
        between=rope_set.uncertainties.spring_rate,
    )
    rated = None if loaded is None else loaded.rated_tension(rope_set.n_ropes)
    read = _read(lengths, figures, assessment)
    slope = _slope_of_set(read, figures)
    stands_out = _off_the_median(read, figures) | _off_the_line(read, slope)
    shares = {s.number: s.share for s in assessment.shares if s.share is not None}
    springs = tuple(
        SpringLoad(
            rope=rope,
            length=float(read.length[i]),
            by_length=_or_none(read.load[i]),
            by_length_uncertainty=_or_none(figures.load_uncertainty(read.load[i])),
            by_reading=_or_none(read.reading[i]),
            by_reading_uncertainty=_or_none(read.whole[i]),
            margin=figures.margin(rated, shares.get(rope, 1.0)),
            stands_out=bool(stands_out[i]),
        )
        for i, rope in enumerate(read.ropes)
    )
    return SpringCheck(
        hitch=hitch,
        springs=springs,
        rate=figures.rate,
        free_length=figures.free,
        solid_length=figures.solid,
        slope=slope,
        rated_tension=rated,
        notes=(
            NoteKind.LEVEL_SPRINGS.note(),
            *_of_the_set(read, figures, ~stands_out),
            *_rates_apart(figures, slope),
            *_wrong_way(read, figures, ~stands_out),
            *(note for spring in springs for note in _of_one(spring, figures, slope)),
        ),
        preload=hitch.spring_preload,
    )


def _lengths(
    readings: tuple[Reading, ...], series: str, place: HitchPlace
) -> dict[int, float]:
    """Mean length of each spring read in a series."""
    found: dict[int, list[float]] = {}
    for reading in readings:
        if not isinstance(reading, SpringReading):
            continue
        if reading.series == series and reading.hitch is place:
            found.setdefault(reading.rope, []).extend(q.value for q in reading.lengths)
    return {rope: float(np.mean(found[rope])) for rope in sorted(found) if found[rope]}


def _or_none(number: float) -> float | None:
    """A number; None where nothing is known."""
    return None if np.isnan(number) else float(number)


def are_level(check: SpringCheck) -> bool:
    """Tell whether the springs look level to the eye: all lengths within 3 mm."""
    lengths = [spring.length for spring in check.springs]
    return max(lengths) - min(lengths) <= _LEVEL


# --- load by length beside load measured ---


@dataclass(frozen=True, kw_only=True, slots=True)
class _Figures:
    """What is known of the springs of a hitch."""

    rate: Origin | None  # of one spring [N/m]
    # length without load, and with the coils touching [m]
    free: Origin | None
    solid: Origin | None
    preload: float  # load under which a spring begins to give way [N]
    length_width: float  # standard uncertainty of one length [m]
    between: float  # relative, of one rate against the others [1]

    @property
    def scatter(self) -> float:
        """Of one length about that of its load, read and by free length [m]."""
        return hypot(self.length_width, FREE_LENGTH_SPREAD)

    def is_solid(self, length: float) -> bool:
        """Whether the coils touch at a length [m]."""
        return self.solid is not None and length <= self.solid.value + _TOUCHING

    def is_free(self, length: float) -> bool:
        """Whether a spring does not give way at a length [m]."""
        return self.free is not None and length >= self.free.value

    def load(self, length: float) -> float:
        """Load by rate and compression; nan where a length [m] tells none."""
        if self.rate is None or self.free is None:
            return np.nan
        if self.is_solid(length) or self.is_free(length):
            return np.nan
        return self.preload + self.rate.value * (self.free.value - length)

    def load_uncertainty(self, load: float) -> float:
        """Standard uncertainty of a load by length, with what all springs share [N]."""
        if self.rate is None:
            return np.nan
        of_rate = (load - self.preload) * self.rate.relative_uncertainty
        return hypot(of_rate, self.rate.value * self.scatter)

    def own_uncertainty(self, load: FloatArray) -> FloatArray:
        """The same of one spring against the others, over the load [1]."""
        rate = np.nan if self.rate is None else self.rate.value
        of_rate = (load - self.preload) * self.between
        return np.asarray(np.hypot(rate * self.scatter, of_rate) / load)

    def margin(self, rated: float | None, share: float) -> float | None:
        """Part of the way to solid left at 125 % of rated load, by the share."""
        rate, free, solid = self.rate, self.free, self.solid
        if rate is None or free is None or solid is None or rated is None:
            return None
        if free.value <= solid.value:
            return None
        return margin_to_solid(
            load=max(share * rated - self.preload, 0.0),
            rate=rate.value,
            free_length=free.value,
            solid=solid.value,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Read:
    """The springs as read, in order of rope; nan where nothing is known."""

    ropes: tuple[int, ...]
    length: FloatArray
    load: FloatArray  # by length
    reading: FloatArray  # tension as measured otherwise
    # standard uncertainty of the reading against the set, and from all sources
    own: FloatArray
    whole: FloatArray

    def ratios(self, figures: _Figures) -> tuple[FloatArray, FloatArray]:
        """Logarithm of reading over load by length, and its own uncertainty."""
        of_load = figures.own_uncertainty(self.load)
        own = np.hypot(of_load, self.own / self.reading)
        return np.log(self.reading / self.load), own


def _read(
    lengths: dict[int, float], figures: _Figures, assessment: Assessment
) -> _Read:
    """Put lengths, loads and readings side by side."""
    measurement = assessment.measurement
    read = np.full((3, len(lengths)), np.nan)
    if measurement.is_absolute and measurement.given:
        given = [(s, s.tension) for s in assessment.shares if s.tension is not None]
        wide = own_uncertainties(measurement.covariance)
        for (share, tension), relative in zip(given, wide, strict=True):
            if share.number in lengths:
                place = list(lengths).index(share.number)
                own = tension * relative
                read[:, place] = tension, own, share.tension_uncertainty or own
    return _Read(
        ropes=tuple(lengths),
        length=np.array(list(lengths.values())),
        load=np.array([figures.load(length) for length in lengths.values()]),
        reading=read[0],
        own=read[1],
        whole=read[2],
    )


def _slope_of_set(read: _Read, figures: _Figures) -> SetSlope | None:
    """Lay the line of spring length against tension, one outlier left aside.

    None from too few springs, or where they lie too close together.
    """
    is_read = ~np.isnan(read.reading)
    force, length = read.reading[is_read], read.length[is_read]
    every = np.arange(len(force))
    if len(every) < _FEWEST_FOR_LINE:
        return None
    off = [_off_the_others(force, length, every != i, figures) for i in every]
    worst = int(np.argmax(off))
    kept = (every != worst) | (off[worst] <= _STANDS_OUT)
    found = _line(force[kept], length[kept], figures)
    if found is None:
        return None
    line, scatter = found
    softness, doubt = -line.slope, scatter * line.slope_uncertainty
    if softness <= 0.0 or doubt > 0.5 * softness:
        return None
    return SetSlope(
        rate=1.0 / softness,
        uncertainty=doubt / softness**2,
        mean_length=line.y,
        mean_tension=line.x,
        scatter=scatter,
    )


def _off_the_others(
    force: FloatArray, length: FloatArray, others: BoolArray, figures: _Figures
) -> float:
    """How far one spring lies off the line of the others, in its uncertainties."""
    found = _line(force[others], length[others], figures)
    if found is None:
        return 0.0
    line, scatter = found
    away = float(force[~others][0]) - line.x
    off = float(length[~others][0]) - line.y - line.slope * away
    width = hypot(1.0, others.sum() ** -0.5, line.slope_uncertainty * away)
    return abs(off) / (scatter * width)


def _line(
    force: FloatArray, length: FloatArray, figures: _Figures
) -> tuple[Line, float] | None:
    """Line of length on force, and the scatter of one length about it [m]."""
    # forces are read far better than lengths, so lengths are laid on forces
    line = fit_line(force, length, 1.0)
    if line is None:
        return None
    expected = _WEIGHT_OF_EXPECTED * figures.scatter**2
    spare = max(0, len(force) - 2)
    return line, sqrt((expected + line.left_over) / (_WEIGHT_OF_EXPECTED + spare))


# --- what contradicts what ---


def _off_the_median(read: _Read, figures: _Figures) -> BoolArray:
    """Springs whose load over reading is not that of the set, from three on."""
    logs, own = read.ratios(figures)
    told = ~np.isnan(logs)
    if told.sum() < _FEWEST_TO_JUDGE:
        return np.zeros(len(logs), dtype=bool)
    # the median of n normal readings has pi/2 times the variance of their mean
    middle = sqrt(pi / 2 * float((own[told] ** 2).mean()) / told.sum())
    off = np.abs(logs - np.median(logs[told]))
    return np.asarray(off > _STANDS_OUT * np.hypot(own, middle))


def _off_the_line(read: _Read, slope: SetSlope | None) -> BoolArray:
    """Springs that lie off the line of the set."""
    if slope is None:
        return np.zeros(len(read.ropes), dtype=bool)
    expected = slope.mean_tension - slope.rate * (read.length - slope.mean_length)
    width = np.hypot(read.own, slope.rate * slope.scatter)
    return np.asarray(np.abs(read.reading - expected) > _STANDS_OUT * width)


def _of_one(
    spring: SpringLoad, figures: _Figures, slope: SetSlope | None
) -> Iterator[Note]:
    """What one spring says of itself."""
    at = {"rope": spring.rope, "length": small_length(spring.length, _SI)}
    ropes = (spring.rope,)
    if spring.stands_out and spring.by_reading is not None:
        line = None if slope is None else slope.tension_at(spring.length)
        by_length = spring.by_length if spring.by_length is not None else line
        yield NoteKind.SPRING_OUTLIER.note(
            ropes=ropes,
            rope=spring.rope,
            by_length=force_text(by_length or 0.0, _SI),
            by_reading=force_text(spring.by_reading, _SI),
        )
    if figures.free is not None and figures.is_free(spring.length):
        free = small_length(figures.free.value, _SI)
        if figures.preload:
            preload = force_text(figures.preload, _SI)
            yield NoteKind.SPRING_AT_PRELOAD.note(
                ropes=ropes, free=free, preload=preload, **at
            )
        else:
            yield NoteKind.SPRING_NOT_PRESSED.note(ropes=ropes, free=free, **at)
    if figures.solid is not None and figures.is_solid(spring.length):
        solid = small_length(figures.solid.value, _SI)
        is_under = spring.length < figures.solid.value - _TOO_SHORT
        kind = NoteKind.SPRING_SHORT if is_under else NoteKind.SPRING_SOLID_NOW
        yield kind.note(ropes=ropes, solid=solid, **at)
    if spring.margin is not None and spring.margin <= 0.0:
        yield NoteKind.SPRING_NEAR_SOLID.note(ropes=ropes, rope=spring.rope)


def _of_the_set(read: _Read, figures: _Figures, told: BoolArray) -> Iterator[Note]:
    """Two springs that part the load otherwise; or all of them against the readings."""
    logs, own = read.ratios(figures)
    among = np.flatnonzero(told & ~np.isnan(logs))
    if not len(among) or figures.rate is None or figures.free is None:
        return
    low, high = among[logs[among].argmin()], among[logs[among].argmax()]
    load, reading = read.load, read.reading
    if logs[high] - logs[low] > _PAIR_APART * hypot(own[high], own[low]):
        yield NoteKind.SPRINGS_DISAGREE.note(
            ropes=(read.ropes[low], read.ropes[high]),
            one=read.ropes[low],
            other=read.ropes[high],
            by_length=f"{load[low] / load[high]:.2f}",
            by_reading=f"{reading[low] / reading[high]:.2f}",
        )
        return
    shared = np.sqrt(np.maximum(read.whole**2 - read.own**2, 0.0)) / reading
    pressed = float((figures.free.value - read.length[among]).mean())
    width = hypot(
        sqrt(float((own[among] ** 2).sum())) / len(among),
        float(shared[among].mean()),
        figures.rate.relative_uncertainty,
        figures.length_width / pressed,
    )
    if abs(float(logs[among].mean())) > _APART * width:
        yield NoteKind.SPRINGS_ALL_OFF.note(
            by_length=force_text(float(load[among].mean()), _SI),
            by_reading=force_text(float(reading[among].mean()), _SI),
        )


def _rates_apart(figures: _Figures, slope: SetSlope | None) -> Iterator[Note]:
    """The rate of the record against the slope of the set."""
    rate = figures.rate
    if rate is None or slope is None:
        return
    doubt = hypot(slope.uncertainty, rate.value * rate.relative_uncertainty)
    if abs(slope.rate - rate.value) > _STANDS_OUT * doubt:
        yield NoteKind.RATES_DISAGREE.note(
            slope=show_quantity(slope.rate, Dimension.STIFFNESS, digits=3),
            rate=show_quantity(rate.value, Dimension.STIFFNESS, digits=3),
        )


def _wrong_way(read: _Read, figures: _Figures, told: BoolArray) -> Iterator[Note]:
    """Springs that are longer where more load was read, the worst pair."""
    load, own = read.reading, read.own
    pairs = [
        (float(read.length[one] - read.length[other]), one, other)
        for one, other in permutations(np.flatnonzero(told & ~np.isnan(load)), 2)
        if load[one] - load[other] > _APART * hypot(own[one], own[other])
    ]
    if not pairs:
        return
    longer, one, other = max(pairs, key=lambda pair: pair[0])
    if longer > _APART * sqrt(2.0) * figures.scatter:
        ropes = (read.ropes[one], read.ropes[other])
        yield NoteKind.SPRINGS_REVERSED.note(
            ropes=ropes,
            one=ropes[0],
            other=ropes[1],
            longer=small_length(longer, _SI),
            first=force_text(float(load[one]), _SI),
            second=force_text(float(load[other]), _SI),
        )
