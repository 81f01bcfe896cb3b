"""Shackle springs: load by length beside load measured, and what contradicts what."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations
from math import hypot, isnan, pi, sqrt

import numpy as np

from tension.adjustment.fit import BoolArray, Line, fit_line, own_uncertainties
from tension.adjustment.stiffness import (
    Origin,
    find_hitch,
    spring_lengths_of,
    spring_rate_of,
)
from tension.assessment.decide import Assessment
from tension.installation import Hitch, HitchPlace, RopeSet, Roping
from tension.measurement.readings import Reading, SpringReading
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import Dimension, Quantity, show_quantity
from tension.shown import Shown

OVERLOAD = 1.25  # part of rated load at which the margin to solid is told [1]
# how much springs of one set differ in free length; the program's own figure [m]
FREE_LENGTH_SPREAD = 0.001
_LEVEL = 0.003  # springs whose lengths lie within this look level to the eye [m]
_TOUCHING = 0.0005  # a spring within this of its solid length is taken to be solid [m]
# a length so far under the solid one is a wrong reading, or another spring's [m]
_TOO_SHORT = 0.001
# a spring stands out from so many standard uncertainties off the others [1]
_STANDS_OUT = 3.5
_FEWEST_TO_JUDGE = 3  # springs among which the odd one can be told
_FEWEST_FOR_LINE = 4  # springs from which a line of the set is drawn
# how many springs the expected scatter counts for beside those read [1]
_WEIGHT_OF_EXPECTED = 2.0
_APART = 3.0  # standard uncertainties between two figures that are not the same [1]
# between the two of a set that are farthest apart: many pairs are looked at [1]
_PAIR_APART = 4.0
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
    is_free: bool  # whether it does not give way
    is_solid: bool  # whether its coils touch
    stands_out: bool  # whether it says something else than the other springs


@dataclass(frozen=True, kw_only=True, slots=True)
class SetSlope:
    """Line through tension against spring length of the set."""

    rate: float  # slope: what the springs of the set do together [N/m]
    uncertainty: float  # its standard uncertainty [N/m]
    mean_length: float  # length about which the line is drawn [m]
    mean_tension: float  # tension there [N]
    scatter: float  # of one spring length about the line [m]

    def tension_at(self, length: FloatArray) -> FloatArray:
        """Tension of the line [N] at spring lengths [m]."""
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
    def origins(self) -> tuple[Origin, ...]:
        """Rate and lengths, as far as they are known."""
        every = (self.rate, self.free_length, self.solid_length)
        return tuple(origin for origin in every if origin is not None)

    @property
    def is_contradicted(self) -> bool:
        """Whether springs contradict each other, themselves or the readings."""
        return any(note.kind in _CONTRADICTIONS for note in self.notes)

    def summary(self) -> str:
        """Say how many springs, and what contradicts."""
        found = [note.code for note in self.notes if note.kind in _CONTRADICTIONS]
        told = ", ".join(dict.fromkeys(found)) or "no contradiction"
        return f"{len(self.springs)} springs at the {self.hitch.at.value}: {told}"


def rated_tension(
    mass: Quantity, rated_load: Quantity | None, roping: Roping, n_ropes: int
) -> float:
    """Even share [N] of one of so many ropes [1] at 125 % of rated load.

    Of all that hangs on that side without load, and the rated load; none on the side of
    the counterweight, where the same hangs whatever the car carries [kg].
    """
    whole = mass.value + (OVERLOAD * rated_load.value if rated_load else 0.0)
    return whole * STANDARD_GRAVITY / (n_ropes * roping.n_falls)


def are_level(check: SpringCheck) -> bool:
    """Tell whether the springs look level to the eye: all lengths within 3 mm."""
    lengths = [spring.length for spring in check.springs]
    return max(lengths) - min(lengths) <= _LEVEL


def check_springs(
    assessment: Assessment,
    readings: tuple[Reading, ...],
    *,
    rope_set: RopeSet,
    place: HitchPlace,
    rated: float | None = None,
) -> SpringCheck | Refusal:
    """Check the springs of one hitch against the tensions of the same series.

    As measured by sound, side pull or returns; readings of spring lengths in that
    series are used. The tension of one rope at 125 % of rated load [N] tells the
    margin then.
    """
    hitch = find_hitch(rope_set, place)
    if hitch is None:
        return NoteKind.HITCH_UNKNOWN.refusal(place=place.value)
    measurement, lengths = assessment.measurement, dict[int, list[float]]()
    for one in readings:
        if isinstance(one, SpringReading) and one.hitch is place:
            for length in one.lengths if one.series == measurement.series.name else ():
                lengths.setdefault(one.rope, []).append(length.value)
    if not lengths:
        return NoteKind.NO_SPRING_LENGTHS.refusal(place=place.value)
    span, notes = measurement.span, [NoteKind.LEVEL_SPRINGS.note()]
    beside: Assessment | None = assessment
    if span is not None and measurement.given and span.side is not place.side:
        beside = None  # another mass hangs there
        at = place.value.replace("-", " ")
        notes.append(NoteKind.SIDES_NOT_MIXED.note(side=span.side.value, place=at))
    rate, (free, solid) = spring_rate_of(hitch, rope_set), spring_lengths_of(hitch)
    read = _side_by_side(lengths, hitch, rope_set, beside)
    slope = _slope_of_set(read)
    stands_out = _standing_out(read, slope)
    springs = _loads(read, stands_out, rated)
    return SpringCheck(
        hitch=hitch,
        springs=springs,
        rate=rate,
        free_length=free,
        solid_length=solid,
        slope=slope,
        rated_tension=rated,
        notes=(
            *notes,
            *_of_the_set(read, ~stands_out),
            *_rates_apart(read, slope),
            *_wrong_way(read, ~stands_out),
            *(note for spring in springs for note in _of_one(spring, read, slope)),
        ),
        preload=hitch.spring_preload,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Read:
    """The springs as read, in order of rope; nan where nothing is known."""

    rate: float
    rate_width: float  # standard uncertainty, relative
    # length without load, and with the coils touching
    free: float
    solid: float
    preload: float
    length_width: float  # standard uncertainty of one length
    scatter: float  # of one length about that of its load, free lengths being unlike
    ropes: tuple[int, ...]
    length: FloatArray
    is_free: BoolArray  # whether a spring does not give way
    is_solid: BoolArray  # whether its coils touch
    load: FloatArray  # by rate and compression; nan where a length tells none
    load_width: FloatArray  # its standard uncertainty
    share: FloatArray  # as measured otherwise; an even one where nothing was
    reading: FloatArray  # tension as measured otherwise
    # standard uncertainty of the reading against the set, and from all sources
    own: FloatArray
    whole: FloatArray
    # logarithm of reading over load by length, and its own uncertainty
    ratio: FloatArray
    ratio_width: FloatArray


def _side_by_side(
    lengths: dict[int, list[float]],
    hitch: Hitch,
    rope_set: RopeSet,
    assessment: Assessment | None,
) -> _Read:
    """Put lengths, loads and readings, if there are any, side by side."""
    ropes = tuple(sorted(lengths))
    length = np.array([np.mean(lengths[rope]) for rope in ropes])
    share, reading, own, whole = _readings(ropes, assessment)
    known = rope_set.uncertainties
    rate, (free, solid) = spring_rate_of(hitch, rope_set), spring_lengths_of(hitch)
    k, full, least = (np.nan if o is None else o.value for o in (rate, free, solid))
    preload = hitch.spring_preload.value if hitch.spring_preload else 0.0
    scatter = hypot(known.spring_length, FREE_LENGTH_SPREAD)
    is_free, is_solid = length >= full, length <= least + _TOUCHING
    pressed = np.where(is_free | is_solid, np.nan, k * (full - length))
    load = preload + pressed
    of_load = np.hypot(k * scatter, pressed * known.spring_rate) / load
    doubt = rate.relative_uncertainty if rate else np.nan
    return _Read(
        rate=k,
        rate_width=doubt,
        free=full,
        solid=least,
        preload=preload,
        length_width=known.spring_length,
        scatter=scatter,
        ropes=ropes,
        length=length,
        is_free=is_free,
        is_solid=is_solid,
        load=load,
        load_width=np.hypot(pressed * doubt, k * scatter),
        share=share,
        reading=reading,
        own=own,
        whole=whole,
        ratio=np.log(reading / load),
        ratio_width=np.hypot(of_load, own / reading),
    )


def _readings(ropes: tuple[int, ...], assessment: Assessment | None) -> FloatArray:
    """Share, tension [N], its uncertainty against the set and whole, (4, n_ropes)."""
    found = np.full((4, len(ropes)), np.nan)
    found[0] = 1.0
    if assessment is None or not assessment.measurement.given:
        return found
    wide = own_uncertainties(assessment.measurement.covariance)
    own = dict(zip(assessment.measurement.given, wide.tolist(), strict=True))
    for share in assessment.shares:
        if share.number not in ropes:
            continue
        column = found[:, ropes.index(share.number)]
        column[0] = 1.0 if share.share is None else share.share
        if share.tension is not None:
            width = share.tension * own[share.number]
            column[1:] = share.tension, width, share.tension_uncertainty or width
    return found


def _loads(
    read: _Read, stands_out: BoolArray, rated: float | None
) -> tuple[SpringLoad, ...]:
    """Each spring by itself."""
    way = read.free - read.solid if read.free > read.solid else np.nan
    pressed = np.maximum(read.share * (rated or np.nan) - read.preload, 0.0)
    margins = (way - pressed / read.rate) / way
    columns = (read.load, read.load_width, read.reading, read.whole, margins)
    known = [[None if isnan(n) else n for n in column.tolist()] for column in columns]
    return tuple(
        SpringLoad(
            rope=rope,
            length=float(read.length[i]),
            by_length=known[0][i],
            by_length_uncertainty=known[1][i],
            by_reading=known[2][i],
            by_reading_uncertainty=known[3][i],
            margin=known[4][i],
            is_free=bool(read.is_free[i]),
            is_solid=bool(read.is_solid[i]),
            stands_out=bool(stands_out[i]),
        )
        for i, rope in enumerate(read.ropes)
    )


def _slope_of_set(read: _Read) -> SetSlope | None:
    """Lay the line of spring length against tension, one outlier left aside.

    None from too few springs, or where they lie too close together.
    """
    is_read = ~np.isnan(read.reading)
    places = np.flatnonzero(is_read)
    if len(places) < _FEWEST_FOR_LINE:
        return None
    off = [_off_the_others(read, is_read, place) for place in places]
    if max(off) > _STANDS_OUT:
        is_read[places[int(np.argmax(off))]] = False
    found = _line(read, is_read)
    if found is None:
        return None
    line, scatter = found
    softness, doubt = -line.slope, scatter * line.slope_uncertainty
    if doubt > 0.5 * softness:
        return None
    return SetSlope(
        rate=1.0 / softness,
        uncertainty=doubt / softness**2,
        mean_length=line.y,
        mean_tension=line.x,
        scatter=scatter,
    )


def _off_the_others(read: _Read, is_read: BoolArray, place: np.intp) -> float:
    """How far one spring lies off the line of the others, in its uncertainties."""
    others = is_read & (np.arange(len(is_read)) != place)
    found = _line(read, others)
    if found is None:
        return 0.0
    line, scatter = found
    away = read.reading[place] - line.x
    width = hypot(1.0, others.sum() ** -0.5, line.slope_uncertainty * away)
    off = read.length[place] - line.y - line.slope * away
    return float(abs(off) / (scatter * width))


def _line(read: _Read, among: BoolArray) -> tuple[Line, float] | None:
    """Line of length on force, and the scatter of one length about it [m]."""
    # forces are read far better than lengths, so lengths are laid on forces
    line = fit_line(read.reading[among], read.length[among], 1.0)
    if line is None:
        return None
    expected = _WEIGHT_OF_EXPECTED * read.scatter**2
    spare = max(0, int(among.sum()) - 2)
    return line, sqrt((expected + line.left_over) / (_WEIGHT_OF_EXPECTED + spare))


def _standing_out(read: _Read, slope: SetSlope | None) -> BoolArray:
    """Springs off the line of the set, or whose load over reading is not the set's."""
    found = np.zeros(len(read.ropes), dtype=bool)
    told = ~np.isnan(read.ratio)
    if told.sum() >= _FEWEST_TO_JUDGE:
        # the median of n normal readings has pi/2 times the variance of their mean
        middle = sqrt(pi / 2 * float((read.ratio_width[told] ** 2).mean()) / told.sum())
        off = np.abs(read.ratio - np.median(read.ratio[told]))
        found |= off > _STANDS_OUT * np.hypot(read.ratio_width, middle)
    if slope is not None:
        off = np.abs(read.reading - slope.tension_at(read.length))
        found |= off > _STANDS_OUT * np.hypot(read.own, slope.rate * slope.scatter)
    return found


def _of_one(spring: SpringLoad, read: _Read, slope: SetSlope | None) -> Iterator[Note]:
    """What one spring says of itself."""
    ropes, load = (spring.rope,), spring.by_length
    at = {"rope": spring.rope, "length": small_length(spring.length)}
    free, solid = small_length(read.free), small_length(read.solid)
    if spring.stands_out:
        # the length alone tells no load where the line of the set made it stand out
        if load is None and slope is not None:
            load = float(slope.tension_at(np.array(spring.length)))
        yield NoteKind.SPRING_OUTLIER.note(
            ropes=ropes,
            rope=spring.rope,
            by_length=force_text(load or 0.0),
            by_reading=force_text(spring.by_reading or 0.0),
        )
    if spring.is_free and read.preload:
        preload, kind = force_text(read.preload), NoteKind.SPRING_AT_PRELOAD
        yield kind.note(ropes=ropes, free=free, preload=preload, **at)
    elif spring.is_free:
        yield NoteKind.SPRING_NOT_PRESSED.note(ropes=ropes, free=free, **at)
    if spring.is_solid:
        is_under = spring.length < read.solid - _TOO_SHORT
        kind = NoteKind.SPRING_SHORT if is_under else NoteKind.SPRING_SOLID_NOW
        yield kind.note(ropes=ropes, solid=solid, **at)
    if spring.margin is not None and spring.margin <= 0.0:
        yield NoteKind.SPRING_NEAR_SOLID.note(ropes=ropes, rope=spring.rope)


def _of_the_set(read: _Read, told: BoolArray) -> Iterator[Note]:
    """Two springs that part the load otherwise; or all of them against the readings."""
    among = np.flatnonzero(told & ~np.isnan(read.ratio))
    if not len(among):
        return
    ratio, own = read.ratio[among], read.ratio_width[among]
    load, reading = read.load[among], read.reading[among]
    low, high = ratio.argmin(), ratio.argmax()
    if ratio[high] - ratio[low] > _PAIR_APART * hypot(own[high], own[low]):
        ropes = (read.ropes[among[low]], read.ropes[among[high]])
        yield NoteKind.SPRINGS_DISAGREE.note(
            ropes=ropes,
            one=ropes[0],
            other=ropes[1],
            by_length=f"{load[low] / load[high]:.2f}",
            by_reading=f"{reading[low] / reading[high]:.2f}",
        )
        return
    shared = np.maximum(read.whole[among] ** 2 - read.own[among] ** 2, 0.0) ** 0.5
    width = hypot(
        float((own**2).sum()) ** 0.5 / len(among),
        float((shared / reading).mean()),
        read.rate_width,
        read.length_width / float((read.free - read.length[among]).mean()),
    )
    if abs(float(ratio.mean())) > _APART * width:
        yield NoteKind.SPRINGS_ALL_OFF.note(
            by_length=force_text(float(load.mean())),
            by_reading=force_text(float(reading.mean())),
        )


def _rates_apart(read: _Read, slope: SetSlope | None) -> Iterator[Note]:
    """The rate of the record against the slope of the set."""
    if slope is None:
        return
    doubt = hypot(slope.uncertainty, read.rate * read.rate_width)
    if abs(slope.rate - read.rate) > _STANDS_OUT * doubt:
        yield NoteKind.RATES_DISAGREE.note(
            slope=show_quantity(slope.rate, Dimension.STIFFNESS, digits=3),
            rate=show_quantity(read.rate, Dimension.STIFFNESS, digits=3),
        )


def _wrong_way(read: _Read, told: BoolArray) -> Iterator[Note]:
    """Springs that are longer where more load was read, the worst pair."""
    reading, own = read.reading, read.own
    pairs = [
        (float(read.length[one] - read.length[other]), one, other)
        for one, other in permutations(np.flatnonzero(told), 2)
        if reading[one] - reading[other] > _APART * hypot(own[one], own[other])
    ]
    longer, one, other = max(pairs, key=lambda pair: pair[0], default=(0.0, 0, 0))
    if longer > _APART * sqrt(2.0) * read.scatter:
        ropes = (read.ropes[one], read.ropes[other])
        yield NoteKind.SPRINGS_REVERSED.note(
            ropes=ropes,
            one=ropes[0],
            other=ropes[1],
            longer=small_length(longer),
            first=force_text(float(reading[one])),
            second=force_text(float(reading[other])),
        )
