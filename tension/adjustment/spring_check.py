"""Shackle springs: rate, solid length, margin, load by length beside load measured."""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.hitch_parts import find_hitch, find_solid_length, spring_rate_of
from tension.adjustment.origins import KnownFrom, Origin
from tension.adjustment.simulation import own_uncertainties
from tension.adjustment.text import force_text, small_length
from tension.assessment.outcome import Assessment
from tension.installation import Hitch, HitchPlace, RopeSet, Roping
from tension.measurement.readings import Reading, SpringReading
from tension.notes import Note, NoteKind, Refusal
from tension.physics.springs import (
    margin_to_solid,
    rate_uncertainty_from_two_loads,
    spring_rate_from_two_loads,
)
from tension.quantity.units import Dimension, Quantity, UnitSystem, show_quantity

FloatArray = NDArray[np.float64]

OVERLOAD = 1.25
"""Part of rated load at which the margin to solid is told. [1]"""

_STANDARD_GRAVITY = 9.80665  # [m/s2]

_FREE_LENGTH_SPREAD = 0.001
"""How much springs of one set differ in free length; the program's own figure. [m]"""

_WEIGHT_OF_EXPECTED = 2.0
"""How many springs the expected scatter counts for beside those read. [1]"""

_FEWEST = 4
"""Springs from which a line of the set is drawn."""

_STANDS_OUT = 3.5
"""A spring stands out from so many standard uncertainties off the line. [1]"""

_LEVEL = 0.003
"""Springs whose lengths lie within this look level to the eye. [m]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class SpringLoad:
    """One spring.

    Attributes
    ----------
    rope : int
        Rope number.
    length : float
        Working length, mean of the readings. [m]
    by_length, by_length_uncertainty : float or None
        Load by rate and compression; None without a rate or free length. [N]
    by_reading, by_reading_uncertainty : float or None
        Tension as measured otherwise; None without newtons. [N]
    margin : float or None
        Of the way left to solid at 125 % of rated load; None where it is not known. [1]
    stands_out : bool
        Whether it does not lie on the line of the set.
    """

    rope: int
    length: float
    by_length: float | None
    by_length_uncertainty: float | None
    by_reading: float | None
    by_reading_uncertainty: float | None
    margin: float | None
    stands_out: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class SetSlope:
    """Line through tension against spring length of the set.

    Attributes
    ----------
    rate : float
        Slope: what the springs of the set do together. [N/m]
    uncertainty : float
        Its standard uncertainty. [N/m]
    mean_length : float
        Length about which the line is drawn. [m]
    mean_tension : float
        Tension there. [N]
    scatter : float
        Of one spring length about the line. [m]
    """

    rate: float
    uncertainty: float
    mean_length: float
    mean_tension: float
    scatter: float

    def tension_at(self, length: float) -> float:
        """Tension of the line at a spring length.

        Parameters
        ----------
        length : float
            Spring length. [m]

        Returns
        -------
        float
            Tension. [N]
        """
        return self.mean_tension - self.rate * (length - self.mean_length)


@dataclass(frozen=True, kw_only=True, slots=True)
class SpringCheck:
    """Springs of one hitch.

    Attributes
    ----------
    hitch : Hitch
        Which.
    springs : tuple of SpringLoad
        One per spring read, in order of number.
    rate : Origin or None
        Of one spring, and where it comes from.
    free_length, solid_length : Origin or None
        And where they come from.
    slope : SetSlope or None
        Of the set; None without newtons or with lengths too alike.
    rated_tension : float or None
        Of one rope at 125 % of rated load. [N]
    notes : tuple of Note
        What a reader must know.
    """

    hitch: Hitch
    springs: tuple[SpringLoad, ...]
    rate: Origin | None
    free_length: Origin | None
    solid_length: Origin | None
    slope: SetSlope | None
    rated_tension: float | None
    notes: tuple[Note, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadedCar:
    """What hangs on the ropes, for the margin at 125 % of rated load.

    Attributes
    ----------
    car_mass : Quantity
        All that hangs on that side without load. [kg]
    rated_load : Quantity
        Rated load. [kg]
    roping : Roping
        Roping ratio.
    """

    car_mass: Quantity
    rated_load: Quantity
    roping: Roping = Roping.ONE_TO_ONE


def check_springs(
    assessment: Assessment,
    readings: tuple[Reading, ...],
    *,
    rope_set: RopeSet,
    place: HitchPlace,
    loaded: LoadedCar | None = None,
) -> SpringCheck | Refusal:
    """Check the springs of one hitch against the tensions of the same series.

    Parameters
    ----------
    assessment : Assessment
        The set as measured by sound, side pull or returns.
    readings : tuple of Reading
        Readings of the record; those of spring lengths in this series are used.
    rope_set : RopeSet
        Springs and their uncertainties.
    place : HitchPlace
        Which hitch.
    loaded : LoadedCar, optional
        For the margin at 125 % of rated load.

    Returns
    -------
    SpringCheck or Refusal
        The check, or why there is none.
    """
    hitch = find_hitch(rope_set, place)
    if hitch is None:
        return NoteKind.HITCH_UNKNOWN.refusal(place=place.value)
    series = assessment.measurement.series.name
    lengths = _lengths(readings, series, place)
    if not lengths:
        return NoteKind.NO_SPRING_LENGTHS.refusal(place=place.value)
    rate = spring_rate_of(hitch, rope_set)
    free, solid = _free_length(hitch), find_solid_length(hitch)
    tensions = _tensions(assessment)
    length_width = rope_set.uncertainties.spring_length
    slope = _slope(lengths, tensions, length_width)
    rated = _rated_tension(loaded, rope_set.n_ropes)
    springs = tuple(
        _spring(
            rope,
            length,
            rate=rate,
            free=free,
            reading=tensions.get(rope),
            length_width=length_width,
            margin=_margin(rate, free, solid, rated, _share(assessment, rope)),
            slope=slope,
        )
        for rope, length in sorted(lengths.items())
    )
    return SpringCheck(
        hitch=hitch,
        springs=springs,
        rate=rate,
        free_length=free,
        solid_length=solid,
        slope=slope,
        rated_tension=rated,
        notes=_notes(springs, rate, solid, slope),
    )


def rate_from_two_loads(
    *,
    loads: tuple[Quantity, Quantity],
    lengths: tuple[Quantity, Quantity],
    load_uncertainty: float,
    length_uncertainty: float,
) -> Origin:
    """Find the rate of a spring from two loads and the lengths under them.

    Parameters
    ----------
    loads : tuple of Quantity
        Two loads. [N]
    lengths : tuple of Quantity
        Length under each. [m]
    load_uncertainty : float
        Standard uncertainty of one load. [N]
    length_uncertainty : float
        Standard uncertainty of one length. [m]

    Returns
    -------
    Origin
        The rate [N/m] with its uncertainty.

    Raises
    ------
    InvalidValueError
        If the spring would get longer under more load.
    """
    forces = (loads[0].value, loads[1].value)
    ways = (lengths[0].value, lengths[1].value)
    return Origin(
        name="spring rate",
        value=spring_rate_from_two_loads(loads=forces, lengths=ways),
        dimension=Dimension.STIFFNESS,
        known_from=KnownFrom.MEASURED,
        source=f"{loads[0].text} at {lengths[0].text}, {loads[1].text} at "
        f"{lengths[1].text}",
        relative_uncertainty=rate_uncertainty_from_two_loads(
            loads=forces,
            lengths=ways,
            load_uncertainty=load_uncertainty,
            length_uncertainty=length_uncertainty,
        ),
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
    return {rope: float(np.mean(values)) for rope, values in found.items() if values}


def _free_length(hitch: Hitch) -> Origin | None:
    """Free length as typed."""
    if hitch.spring_free_length is None:
        return None
    return Origin(
        name="spring free length",
        value=hitch.spring_free_length.value,
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source=hitch.spring_free_length.text,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Tension:
    """Newtons of one rope, as measured otherwise than by its spring."""

    value: float
    own: float  # standard uncertainty against the set [N]
    whole: float  # standard uncertainty, all sources [N]


def _tensions(assessment: Assessment) -> dict[int, _Tension]:
    """Newtons of each rope with what it shares with the set and what it does not."""
    measurement = assessment.measurement
    if not measurement.is_absolute or not measurement.given:
        return {}
    wide = own_uncertainties(measurement.covariance)
    return {
        number: _Tension(
            value=share.tension,
            own=share.tension * float(own),
            whole=share.tension_uncertainty or share.tension * float(own),
        )
        for number, own, share in zip(
            measurement.given,
            wide,
            (s for s in assessment.shares if s.tension is not None),
            strict=True,
        )
        if share.tension is not None
    }


def _share(assessment: Assessment, rope: int) -> float:
    """Share of a rope; an even one if it was not measured."""
    for share in assessment.shares:
        if share.number == rope and share.share is not None:
            return share.share
    return 1.0


def _rated_tension(loaded: LoadedCar | None, n_ropes: int) -> float | None:
    """Even share of one rope at 125 % of rated load."""
    if loaded is None:
        return None
    mass = loaded.car_mass.value + OVERLOAD * loaded.rated_load.value
    return mass * _STANDARD_GRAVITY / (n_ropes * loaded.roping.n_falls)


def _margin(
    rate: Origin | None,
    free: Origin | None,
    solid: Origin | None,
    rated: float | None,
    share: float,
) -> float | None:
    """Part of the way to solid left at 125 % of rated load, by its share."""
    if rate is None or free is None or solid is None or rated is None:
        return None
    if free.value <= solid.value:
        return None
    return margin_to_solid(
        load=share * rated, rate=rate.value, free_length=free.value, solid=solid.value
    )


def _spring(
    rope: int,
    length: float,
    *,
    rate: Origin | None,
    free: Origin | None,
    reading: _Tension | None,
    length_width: float,
    margin: float | None,
    slope: SetSlope | None,
) -> SpringLoad:
    """Put one spring together."""
    by_length = by_length_width = None
    if rate is not None and free is not None:
        by_length = rate.value * (free.value - length)
        by_length_width = hypot(
            by_length * rate.relative_uncertainty,
            rate.value * hypot(length_width, _FREE_LENGTH_SPREAD),
        )
    return SpringLoad(
        rope=rope,
        length=length,
        by_length=by_length,
        by_length_uncertainty=by_length_width,
        by_reading=None if reading is None else reading.value,
        by_reading_uncertainty=None if reading is None else reading.whole,
        margin=margin,
        stands_out=_stands_out(length, reading, slope),
    )


def _stands_out(
    length: float, reading: _Tension | None, slope: SetSlope | None
) -> bool:
    """Whether a spring lies off the line of the set."""
    if slope is None or reading is None:
        return False
    off = abs(reading.value - slope.tension_at(length))
    return off > _STANDS_OUT * hypot(reading.own, slope.rate * slope.scatter)


def _slope(
    lengths: dict[int, float],
    tensions: dict[int, _Tension],
    length_width: float,
) -> SetSlope | None:
    """Line of spring length against tension, one spring left aside if it stands out."""
    ropes = sorted(set(lengths) & set(tensions))
    if len(ropes) < _FEWEST:
        return None
    force = np.array([tensions[rope].value for rope in ropes])
    length = np.array([lengths[rope] for rope in ropes])
    kept = np.ones(len(ropes), dtype=bool)
    off = [_off_the_others(force, length, i, length_width) for i in range(len(ropes))]
    worst = int(np.argmax(off))
    if off[worst] > _STANDS_OUT:
        kept[worst] = False
    line = _line(force[kept], length[kept], length_width)
    if line is None:
        return None
    softness, middle, doubt, scatter = line
    if softness <= 0.0 or doubt > 0.5 * softness:
        return None
    return SetSlope(
        rate=1.0 / softness,
        uncertainty=doubt / softness**2,
        mean_length=float(middle),
        mean_tension=float(force[kept].mean()),
        scatter=scatter,
    )


def _off_the_others(
    force: FloatArray, length: FloatArray, place: int, length_width: float
) -> float:
    """How far one spring lies off the line of the others, in its uncertainties."""
    others = np.arange(len(force)) != place
    line = _line(force[others], length[others], length_width)
    if line is None:
        return 0.0
    softness, middle, doubt, scatter = line
    away = force[place] - force[others].mean()
    expected = middle - softness * away
    width = sqrt(scatter**2 * (1.0 + 1.0 / others.sum()) + (doubt * away) ** 2)
    return float(abs(length[place] - expected) / width)


def _line(
    force: FloatArray, length: FloatArray, length_width: float
) -> tuple[float, float, float, float] | None:
    """Softness, mean length, uncertainty of softness and scatter, by least squares."""
    # forces are read far better than lengths, so lengths are laid on forces
    away = force - force.mean()
    power = float(away @ away)
    if power <= 0.0:
        return None
    softness = -float(away @ length) / power
    left = length - length.mean() + softness * away
    expected = hypot(length_width, _FREE_LENGTH_SPREAD)
    spare = max(0, len(force) - 2)
    scatter = sqrt(
        (_WEIGHT_OF_EXPECTED * expected**2 + float(left @ left))
        / (_WEIGHT_OF_EXPECTED + spare)
    )
    return softness, float(length.mean()), scatter / sqrt(power), scatter


def _notes(
    springs: tuple[SpringLoad, ...],
    rate: Origin | None,
    solid: Origin | None,
    slope: SetSlope | None,
) -> tuple[Note, ...]:
    """What a reader of the check must know."""
    notes = [NoteKind.LEVEL_SPRINGS.note()]
    for spring in springs:
        if spring.stands_out and spring.by_reading is not None and slope is not None:
            line = slope.tension_at(spring.length)
            notes.append(
                NoteKind.SPRING_OUTLIER.note(
                    ropes=(spring.rope,),
                    rope=spring.rope,
                    by_length=force_text(line, UnitSystem.SI),
                    by_reading=force_text(spring.by_reading, UnitSystem.SI),
                )
            )
        if spring.margin is not None and spring.margin <= 0.0:
            notes.append(
                NoteKind.SPRING_NEAR_SOLID.note(ropes=(spring.rope,), rope=spring.rope)
            )
        if solid is not None and spring.length < solid.value - 0.001:
            notes.append(
                NoteKind.SPRING_SHORT.note(
                    ropes=(spring.rope,),
                    rope=spring.rope,
                    length=small_length(spring.length, UnitSystem.SI),
                    solid=small_length(solid.value, UnitSystem.SI),
                )
            )
    if rate is not None and slope is not None:
        doubt = hypot(slope.uncertainty, rate.value * rate.relative_uncertainty)
        if abs(slope.rate - rate.value) > _STANDS_OUT * doubt:
            notes.append(
                NoteKind.RATES_DISAGREE.note(
                    slope=show_quantity(slope.rate, Dimension.STIFFNESS, digits=3),
                    rate=show_quantity(rate.value, Dimension.STIFFNESS, digits=3),
                )
            )
    return tuple(notes)


def are_level(check: SpringCheck) -> bool:
    """Tell whether the springs look level to the eye.

    Parameters
    ----------
    check : SpringCheck
        The check.

    Returns
    -------
    bool
        Whether all lengths lie within 3 mm.
    """
    lengths = [spring.length for spring in check.springs]
    return max(lengths) - min(lengths) <= _LEVEL
