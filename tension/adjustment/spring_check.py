"""Shackle springs: rate, solid length, margin, load by length beside load measured."""

from dataclasses import dataclass
from math import hypot

import numpy as np

from tension.adjustment.origins import (
    Origin,
    find_free_length,
    find_hitch,
    find_solid_length,
    spring_rate_of,
)
from tension.adjustment.simulation import own_uncertainties
from tension.adjustment.spring_doubts import (
    CONTRADICTIONS,
    SpringFigures,
    SpringLoad,
    notes_on_springs,
    outlying_springs,
)
from tension.adjustment.spring_slope import (
    FREE_LENGTH_SPREAD,
    MeasuredTension,
    SetSlope,
    slope_of_set,
)
from tension.assessment.outcome import Assessment
from tension.installation import Hitch, HitchPlace, RopeSet, Roping
from tension.measurement.readings import Reading, SpringReading
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.physics.springs import margin_to_solid
from tension.quantity.units import Quantity
from tension.shown import Shown

OVERLOAD = 1.25
"""Part of rated load at which the margin to solid is told. [1]"""

_LEVEL = 0.003
"""Springs whose lengths lie within this look level to the eye. [m]"""


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class SpringCheck(Shown):
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
    preload : Quantity or None
        Load under which a spring begins to give way. [N]
    """

    hitch: Hitch
    springs: tuple[SpringLoad, ...]
    rate: Origin | None
    free_length: Origin | None
    solid_length: Origin | None
    slope: SetSlope | None
    rated_tension: float | None
    notes: tuple[Note, ...]
    preload: Quantity | None = None

    @property
    def is_contradicted(self) -> bool:
        """Whether springs contradict each other, themselves or the readings."""
        return any(note.code in CONTRADICTIONS for note in self.notes)

    def summary(self) -> str:
        """Say how many springs, and what contradicts."""
        found = [note.code for note in self.notes if note.code in CONTRADICTIONS]
        told = ", ".join(dict.fromkeys(found)) or "no contradiction"
        return f"{len(self.springs)} springs at the {self.hitch.at.value}: {told}"


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadedCar:
    """What hangs on the ropes, for the margin at 125 % of rated load."""

    car_mass: Quantity  # all that hangs on that side without load [kg]
    rated_load: Quantity  # rated load [kg]
    roping: Roping = Roping.ONE_TO_ONE  # roping ratio


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
    series = assessment.measurement.series.name
    lengths = _lengths(readings, series, place)
    if not lengths:
        return NoteKind.NO_SPRING_LENGTHS.refusal(place=place.value)
    figures = SpringFigures(
        rate=spring_rate_of(hitch, rope_set),
        free=find_free_length(hitch),
        solid=find_solid_length(hitch),
        preload=hitch.spring_preload.value if hitch.spring_preload else 0.0,
        length_width=rope_set.uncertainties.spring_length,
        between=rope_set.uncertainties.spring_rate,
    )
    tensions = _tensions(assessment)
    slope = slope_of_set(lengths, tensions, figures.length_width)
    rated = _rated_tension(loaded, rope_set.n_ropes)
    springs = tuple(
        _spring(
            rope,
            length,
            figures=figures,
            reading=tensions.get(rope),
            margin=_margin(figures, rated, _share(assessment, rope)),
        )
        for rope, length in sorted(lengths.items())
    )
    springs = outlying_springs(springs, tensions, figures, slope)
    return SpringCheck(
        hitch=hitch,
        springs=springs,
        rate=figures.rate,
        free_length=figures.free,
        solid_length=figures.solid,
        slope=slope,
        rated_tension=rated,
        notes=notes_on_springs(springs, tensions, figures, slope),
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
    return {rope: float(np.mean(values)) for rope, values in found.items() if values}


def _tensions(assessment: Assessment) -> dict[int, MeasuredTension]:
    """Newtons of each rope with what it shares with the set and what it does not."""
    measurement = assessment.measurement
    if not measurement.is_absolute or not measurement.given:
        return {}
    wide = own_uncertainties(measurement.covariance)
    return {
        number: MeasuredTension(
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
    return mass * STANDARD_GRAVITY / (n_ropes * loaded.roping.n_falls)


def _margin(figures: SpringFigures, rated: float | None, share: float) -> float | None:
    """Part of the way to solid left at 125 % of rated load, by its share."""
    rate, free, solid = figures.rate, figures.free, figures.solid
    if rate is None or free is None or solid is None or rated is None:
        return None
    if free.value <= solid.value:
        return None
    return margin_to_solid(
        load=max(share * rated - figures.preload, 0.0),
        rate=rate.value,
        free_length=free.value,
        solid=solid.value,
    )


def _spring(
    rope: int,
    length: float,
    *,
    figures: SpringFigures,
    reading: MeasuredTension | None,
    margin: float | None,
) -> SpringLoad:
    """Put one spring together; a length that tells no load gives none."""
    by_length = by_length_width = None
    rate, free = figures.rate, figures.free
    if rate is not None and free is not None and figures.tells(length):
        by_length = figures.preload + rate.value * (free.value - length)
        by_length_width = hypot(
            (by_length - figures.preload) * rate.relative_uncertainty,
            rate.value * hypot(figures.length_width, FREE_LENGTH_SPREAD),
        )
    return SpringLoad(
        rope=rope,
        length=length,
        by_length=by_length,
        by_length_uncertainty=by_length_width,
        by_reading=None if reading is None else reading.value,
        by_reading_uncertainty=None if reading is None else reading.whole,
        margin=margin,
        stands_out=False,
    )


def are_level(check: SpringCheck) -> bool:
    """Tell whether the springs look level to the eye: all lengths within 3 mm."""
    lengths = [spring.length for spring in check.springs]
    return max(lengths) - min(lengths) <= _LEVEL
