"""Where springs contradict each other, themselves, or what was measured otherwise."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import permutations
from math import hypot, log, pi, sqrt

import numpy as np

from tension.adjustment.origins import Origin
from tension.adjustment.spring_slope import (
    FREE_LENGTH_SPREAD,
    STANDS_OUT,
    MeasuredTension,
    SetSlope,
)
from tension.notes import Note, NoteKind
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import Dimension, UnitSystem, show_quantity

_TOUCHING = 0.0005
"""A spring within this of its solid length is taken to be solid. [m]"""

_TOO_SHORT = 0.001
"""A length so far under the solid one is a wrong reading, or another spring's. [m]"""

_FEWEST_TO_JUDGE = 3
"""Springs among which the odd one can be told."""

_APART = 3.0
"""Standard uncertainties between two figures that are not the same. [1]"""

_PAIR_APART = 4.0
"""Between the two of a set that are farthest apart: many pairs are looked at. [1]"""

_SI = UnitSystem.SI

CONTRADICTIONS = frozenset(
    kind.code
    for kind in (
        NoteKind.SPRING_OUTLIER,
        NoteKind.SPRING_SHORT,
        NoteKind.SPRING_SOLID_NOW,
        NoteKind.SPRING_NOT_PRESSED,
        NoteKind.SPRINGS_ALL_OFF,
        NoteKind.SPRINGS_DISAGREE,
        NoteKind.SPRINGS_REVERSED,
        NoteKind.RATES_DISAGREE,
    )
)
"""Codes of the notes after which the springs are not to be believed as they stand."""


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
class SpringFigures:
    """What is known of the springs of a hitch."""

    rate: Origin | None  # of one spring [N/m]
    # length without load, and with the coils touching [m]
    free: Origin | None
    solid: Origin | None
    preload: float  # load under which a spring begins to give way [N]
    length_width: float  # standard uncertainty of one length [m]
    between: float  # relative, of one rate against the others [1]

    def is_solid(self, length: float) -> bool:
        """Whether the coils touch at a length [m]."""
        return self.solid is not None and length <= self.solid.value + _TOUCHING

    def is_free(self, length: float) -> bool:
        """Whether a spring does not give way at a length [m]."""
        return self.free is not None and length >= self.free.value

    def tells(self, length: float) -> bool:
        """Whether a length [m] shows a load."""
        return not self.is_solid(length) and not self.is_free(length)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Ratio:
    """Load measured otherwise over load by length, of one spring."""

    rope: int
    logarithm: float
    own: float


def outlying_springs(
    springs: tuple[SpringLoad, ...],
    tensions: Mapping[int, MeasuredTension],
    figures: SpringFigures,
    slope: SetSlope | None,
) -> tuple[SpringLoad, ...]:
    """Mark the springs that say something else than the others.

    From three springs of known rate on, those whose load measured otherwise over load
    by length is off the median of the set; and those off the line.
    """
    ratios = _ratios(springs, tensions, figures)
    off = _off_the_median(ratios) if len(ratios) >= _FEWEST_TO_JUDGE else set()
    return tuple(
        replace(
            spring,
            stands_out=spring.rope in off
            or _off_the_line(spring, tensions.get(spring.rope), slope),
        )
        for spring in springs
    )


def _ratios(
    springs: tuple[SpringLoad, ...],
    tensions: Mapping[int, MeasuredTension],
    figures: SpringFigures,
) -> list[_Ratio]:
    """Of the springs that tell a load and were measured otherwise too."""
    if figures.rate is None:
        return []
    found = []
    for spring in springs:
        reading = tensions.get(spring.rope)
        if spring.by_length is None or reading is None:
            continue
        pressed = spring.by_length - figures.preload
        by_way = figures.rate.value * hypot(figures.length_width, FREE_LENGTH_SPREAD)
        own = hypot(
            hypot(by_way, pressed * figures.between) / spring.by_length,
            reading.own / reading.value,
        )
        found.append(
            _Ratio(
                rope=spring.rope,
                logarithm=log(reading.value / spring.by_length),
                own=own,
            )
        )
    return found


def _off_the_median(ratios: list[_Ratio]) -> set[int]:
    """Ropes whose ratio is not that of the set."""
    logs = np.array([one.logarithm for one in ratios])
    own = np.array([one.own for one in ratios])
    # the median of n normal readings has pi/2 times the variance of their mean
    middle = sqrt(pi / 2 * float((own**2).mean()) / len(own))
    off = np.abs(logs - np.median(logs)) > STANDS_OUT * np.hypot(own, middle)
    return {one.rope for one, is_off in zip(ratios, off, strict=True) if is_off}


def _off_the_line(
    spring: SpringLoad, reading: MeasuredTension | None, slope: SetSlope | None
) -> bool:
    """Whether a spring lies off the line of the set."""
    if slope is None or reading is None:
        return False
    off = abs(reading.value - slope.tension_at(spring.length))
    return off > STANDS_OUT * hypot(reading.own, slope.rate * slope.scatter)


def notes_on_springs(
    springs: tuple[SpringLoad, ...],
    tensions: Mapping[int, MeasuredTension],
    figures: SpringFigures,
    slope: SetSlope | None,
) -> tuple[Note, ...]:
    """Say what contradicts what."""
    told = {s.rope: s for s in springs if not s.stands_out}
    ratios = [r for r in _ratios(springs, tensions, figures) if r.rope in told]
    return (
        NoteKind.LEVEL_SPRINGS.note(),
        *_of_the_set(ratios, told, tensions, figures),
        *_rates_apart(figures, slope),
        *_wrong_way(list(told.values()), tensions, figures),
        *(note for s in springs for note in _of_one(s, figures, slope)),
    )


def _of_one(
    spring: SpringLoad, figures: SpringFigures, slope: SetSlope | None
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


def _of_the_set(
    ratios: list[_Ratio],
    springs: Mapping[int, SpringLoad],
    tensions: Mapping[int, MeasuredTension],
    figures: SpringFigures,
) -> Iterator[Note]:
    """Two springs that part the load otherwise; or all of them against the readings."""
    if not ratios or figures.rate is None or figures.free is None:
        return
    low, high = (pick(ratios, key=lambda r: r.logarithm) for pick in (min, max))
    if high.logarithm - low.logarithm > _PAIR_APART * hypot(high.own, low.own):
        by_length = [springs[one.rope].by_length or 0.0 for one in (low, high)]
        yield NoteKind.SPRINGS_DISAGREE.note(
            ropes=(low.rope, high.rope),
            one=low.rope,
            other=high.rope,
            by_length=f"{by_length[0] / by_length[1]:.2f}",
            by_reading=f"{tensions[low.rope].value / tensions[high.rope].value:.2f}",
        )
        return
    mean = float(np.mean([one.logarithm for one in ratios]))
    chance = sqrt(sum(one.own**2 for one in ratios)) / len(ratios)
    shared = np.mean([_shared_of(tensions[one.rope]) for one in ratios])
    pressed = float(
        np.mean([figures.free.value - springs[r.rope].length for r in ratios])
    )
    width = hypot(
        chance,
        float(shared),
        figures.rate.relative_uncertainty,
        figures.length_width / pressed,
    )
    if abs(mean) > _APART * width:
        yield NoteKind.SPRINGS_ALL_OFF.note(
            by_length=force_text(
                float(np.mean([springs[r.rope].by_length or 0.0 for r in ratios])), _SI
            ),
            by_reading=force_text(
                float(np.mean([tensions[r.rope].value for r in ratios])), _SI
            ),
        )


def _shared_of(reading: MeasuredTension) -> float:
    """Relative uncertainty that a reading shares with the set."""
    return sqrt(max(reading.whole**2 - reading.own**2, 0.0)) / reading.value


def _rates_apart(figures: SpringFigures, slope: SetSlope | None) -> Iterator[Note]:
    """The rate of the record against the slope of the set."""
    rate = figures.rate
    if rate is None or slope is None:
        return
    doubt = hypot(slope.uncertainty, rate.value * rate.relative_uncertainty)
    if abs(slope.rate - rate.value) > STANDS_OUT * doubt:
        yield NoteKind.RATES_DISAGREE.note(
            slope=show_quantity(slope.rate, Dimension.STIFFNESS, digits=3),
            rate=show_quantity(rate.value, Dimension.STIFFNESS, digits=3),
        )


def _wrong_way(
    springs: list[SpringLoad],
    tensions: Mapping[int, MeasuredTension],
    figures: SpringFigures,
) -> Iterator[Note]:
    """Springs that are longer where more load was read, the worst pair."""
    expected = sqrt(2.0) * hypot(figures.length_width, FREE_LENGTH_SPREAD)
    worst, pair = 0.0, None
    for one, other in permutations([s for s in springs if s.rope in tensions], 2):
        more, less = tensions[one.rope], tensions[other.rope]
        if more.value - less.value <= _APART * hypot(more.own, less.own):
            continue
        longer = one.length - other.length
        if longer > max(_APART * expected, worst):
            worst, pair = longer, (one, other)
    if pair is not None:
        one, other = pair
        yield NoteKind.SPRINGS_REVERSED.note(
            ropes=(one.rope, other.rope),
            one=one.rope,
            other=other.rope,
            longer=small_length(worst, _SI),
            first=force_text(tensions[one.rope].value, _SI),
            second=force_text(tensions[other.rope].value, _SI),
        )
