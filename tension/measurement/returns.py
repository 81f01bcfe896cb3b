"""Timed wave returns: from counted round trips to the tension at the hitch."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, sqrt

import numpy as np

from tension.measurement.evidence import Evidence, covariance_of_own, single_hypothesis
from tension.measurement.readings import (
    Method,
    ReturnsReading,
    in_fixed_order,
    names_of,
)
from tension.measurement.repeats import settle_readings, uncertainty_of_means
from tension.measurement.rope_figures import (
    SHORTEST_FOR_NEWTONS,
    TRIANGULAR,
    FreeLengths,
    Site,
)
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import hitch_squared_wave_speed
from tension.physics.taut_rope import EndCondition
from tension.physics.wave_returns import squared_wave_speed_from_returns
from tension.quantity.estimate import Sharing, Source

_MOST_BY_REACTION = 0.10
"""Relative uncertainty of a tension by reaction time from which it is refused. [1]"""

_MOST_OF_ONE = 0.20
"""The same for one timing, however often it is repeated. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Timed:
    """One rope timed: squared wave speeds at the hitch that count [m^2/s^2]."""

    number: int
    speeds: list[float]
    declared: float  # relative uncertainty of one timing, of the square [1]
    note: Note | None


def evidence_from_returns(readings: Sequence[ReturnsReading], site: Site) -> Evidence:
    """Turn timed wave returns of one series into tension or T/m at the hitch.

    Several of one rope are repeats; ropes on which reaction time hides the tension are
    refused.
    """
    refusals: dict[int, Refusal] = {}
    timed: list[_Timed] = []
    for number in sorted({r.rope for r in readings}):
        own = in_fixed_order([r for r in readings if r.rope == number])
        found = _time_one(number, own, site)
        if isinstance(found, Refusal):
            refusals[number] = found
        else:
            timed.append(found)
    notes = [one.note for one in timed if one.note is not None]
    return _evidence(timed, readings, site, refusals, notes)


def _time_one(
    number: int, own: Sequence[ReturnsReading], site: Site
) -> _Timed | Refusal:
    """What the returns of one rope say, or why they say nothing."""
    stopwatch = site.rope_set.uncertainties.stopwatch
    refusal = _refusal(number, own, site.lengths, stopwatch)
    if refusal is not None:
        return refusal
    found = _squared_speeds(own, site, number, site.figures.rigidity_per_density.likely)
    if not all(speed > 0 for speed in found):
        return NoteKind.TOO_SLACK.refusal(rope=number)
    times = [e.value for r in own for e in r.elapsed]
    settled = settle_readings(
        number,
        [log(speed) for speed in found],
        [2 * stopwatch / time for time in times],
        [name for reading in own for name in names_of(reading)],
    )
    if settled.refusal is not None:
        return settled.refusal
    return _Timed(
        number=number,
        speeds=[found[i] for i in settled.used],
        declared=2 * stopwatch / float(np.mean([times[i] for i in settled.used])),
        note=settled.note,
    )


def _refusal(
    number: int,
    readings: Sequence[ReturnsReading],
    lengths: FreeLengths,
    stopwatch: float,
) -> Refusal | None:
    """Why a rope cannot be timed, if so."""
    if number not in lengths.lengths:
        return NoteKind.NO_FREE_LENGTH.refusal(rope=number)
    times = [e.value for r in readings for e in r.elapsed]
    if not times or min(times) <= 0 or any(r.count < 1 for r in readings):
        return NoteKind.RETURNS_NOT_POSITIVE.refusal(rope=number)
    one = 2 * stopwatch / float(np.mean(times))
    if one > _MOST_OF_ONE or one / sqrt(len(times)) > _MOST_BY_REACTION:
        return NoteKind.TOO_SHORT_FOR_STOPWATCH.refusal(
            rope=number,
            elapsed=f"{float(np.mean(times)):.3g}",
            relative=f"{100 * one:.0f}",
        )
    return None


def _squared_speeds(
    readings: Sequence[ReturnsReading], site: Site, number: int, rigidity: float
) -> list[float]:
    """T/m at the hitch by each repeat; nan where no tension explains the time."""
    free_length = site.lengths.lengths[number]
    found = []
    for reading in readings:
        middle = squared_wave_speed_from_returns(
            n_returns=reading.count,
            elapsed=np.array([e.value for e in reading.elapsed]),
            free_length=free_length,
            rigidity_per_density=rigidity,
            ends=EndCondition.from_ends(site.span.ends),
        )
        hitch = hitch_squared_wave_speed(
            squared_wave_speed=np.nan_to_num(middle, nan=0.0),
            distance=free_length / 2,
            hitch_end=site.span.hitch_end,
        )
        found += [float(v) for v in np.where(np.isnan(middle), np.nan, hitch)]
    return found


def _evidence(
    timed: Sequence[_Timed],
    readings: Sequence[ReturnsReading],
    site: Site,
    refusals: dict[int, Refusal],
    notes: Sequence[Note],
) -> Evidence:
    """Means, budget and covariance of the ropes timed."""
    means = [float(np.exp(np.mean(np.log(one.speeds)))) for one in timed]
    timing = uncertainty_of_means(
        [[log(v) for v in one.speeds] for one in timed],
        [one.declared for one in timed],
    )
    used = [site.lengths.lengths[one.number] for one in timed]
    own_length = site.lengths.own_uncertainty
    own = [
        (
            Source(name="stopwatch", relative=float(u)),
            Source(name="free length", relative=2 * own_length / length),
        )
        for u, length in zip(timing, used, strict=True)
    ]
    density = site.figures.linear_density
    is_absolute = (
        density is not None and bool(used) and min(used) >= SHORTEST_FOR_NEWTONS
    )
    scale = density.value if density is not None and is_absolute else 1.0
    of_density = density.sources if density is not None and is_absolute else ()
    return Evidence(
        method=Method.RETURNS,
        label="the wave returns",
        numbers=tuple(one.number for one in timed),
        hypotheses=single_hypothesis(scale * np.array(means)),
        covariance=covariance_of_own(own),
        own_sources=tuple(own),
        shared_sources=(*_shared(timed[0].number, readings, site, used), *of_density)
        if timed
        else (),
        is_absolute=is_absolute,
        refusals=refusals,
        notes=(*site.figures.notes, *notes),
    )


def _shared(
    first: int, readings: Sequence[ReturnsReading], site: Site, used: Sequence[float]
) -> tuple[Source, ...]:
    """Budget common to all timings of the set, its linear density left out."""
    own = in_fixed_order([r for r in readings if r.rope == first])[:1]
    bounds = site.figures.rigidity_per_density
    limp, stiff = (
        _squared_speeds(own, site, first, q)[0] for q in (bounds.lowest, bounds.highest)
    )
    is_known = limp > 0 and stiff > 0
    shared_length = site.lengths.shared_uncertainty
    return (
        Source(
            name="bending stiffness",
            relative=abs(log(limp / stiff)) / TRIANGULAR if is_known else 0.1,
            sharing=Sharing.KIND,
        ),
        Source(
            name="free length of the set",
            relative=2 * shared_length / float(np.median(used)),
            sharing=Sharing.SET,
        ),
    )
