"""Timed wave returns and spring lengths: from what was read to tension at the hitch."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite, log, sqrt

import numpy as np

from tension.installation import Hitch, Uncertainties
from tension.measurement.combine import (
    Array,
    SetEvidence,
    covariance_of_own,
    single_hypothesis,
)
from tension.measurement.readings import Method, ReturnsReading, SpringReading
from tension.measurement.repeats import (
    rope_by_rope,
    settle_readings,
    uncertainty_of_means,
)
from tension.measurement.rope_figures import Site
from tension.measurement.stiffness import find_spring_rate
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import tension_from_returns
from tension.quantity.estimate import Estimate, Sharing, budget
from tension.quantity.units import exceeds

_MOST_BY_REACTION = 0.10
"""Relative uncertainty of a tension by reaction time from which it is refused. [1]"""

_MOST_OF_ONE = 0.20
"""The same for one timing, however often it is repeated. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Timed:
    """One rope timed."""

    number: int
    length: float  # free length [m]
    logarithms: list[float]  # of T/m at the hitch, by each timing that counts
    declared: float  # relative uncertainty of one timing, of the square [1]
    by_bending: float  # what one standard deviation of EI/m does to the first one [1]


def evidence_from_returns(
    readings: Sequence[ReturnsReading], site: Site
) -> SetEvidence:
    """Turn timed wave returns of one series into tension or T/m at the hitch.

    Several of one rope are repeats; ropes on which reaction time hides the tension are
    refused.
    """
    timed, refusals, notes = rope_by_rope(
        readings, lambda number, own: _time_rope(number, own, site)
    )
    nothing = SetEvidence(
        method=Method.RETURNS,
        label="the wave returns",
        refusals=refusals,
        notes=(*site.figures.notes, *notes),
    )
    if not timed:
        return nothing
    timing = uncertainty_of_means(
        [one.logarithms for one in timed], [one.declared for one in timed]
    )
    by_length = 2 * site.lengths.own_uncertainty
    own = tuple(
        budget({"stopwatch": u, "free length": by_length / one.length})
        for u, one in zip(timing, timed, strict=True)
    )
    density = site.density_of_newtons(min(one.length for one in timed))
    level = density or Estimate(value=1.0)
    middle = float(np.median([one.length for one in timed]))
    return replace(
        nothing,
        numbers=tuple(one.number for one in timed),
        hypotheses=single_hypothesis(
            [level.value * np.exp(np.mean(one.logarithms)) for one in timed]
        ),
        covariance=covariance_of_own(own),
        own_sources=own,
        shared_sources=(
            *budget({"bending stiffness": timed[0].by_bending}, Sharing.KIND),
            site.lengths.shared_source(2 / middle),
            *level.sources,
        ),
        is_absolute=density is not None,
    )


def _time_rope(
    number: int, own: Sequence[ReturnsReading], site: Site
) -> tuple[_Timed, Sequence[Note]] | Refusal:
    """What the returns of one rope say, or why they say nothing."""
    stopwatch = site.rope_set.uncertainties.stopwatch
    length = site.lengths.lengths.get(number)
    if length is None:
        return NoteKind.NO_FREE_LENGTH.refusal(rope=number)
    times = [one.value for reading in own for one in reading.elapsed]
    if not times or min(times) <= 0 or any(reading.count < 1 for reading in own):
        return NoteKind.RETURNS_NOT_POSITIVE.refusal(rope=number)
    one = 2 * stopwatch / float(np.mean(times))
    if one > _MOST_OF_ONE or one / sqrt(len(times)) > _MOST_BY_REACTION:
        return NoteKind.TOO_SHORT_FOR_STOPWATCH.refusal(
            rope=number,
            elapsed=f"{float(np.mean(times)):.3g}",
            relative=f"{100 * one:.0f}",
        )
    known = site.figures.rigidity_per_density
    each = [e.value / reading.count for reading in own for e in reading.elapsed]
    speeds, limp, stiff = (
        _squared_speeds(np.array(each), site, length, rigidity)
        for rigidity in (known.likely, *known.ends[:2])
    )
    if not np.isfinite(speeds).all():
        return NoteKind.TOO_SLACK.refusal(rope=number)
    settled = settle_readings(
        number,
        [log(speed) for speed in speeds],
        [2 * stopwatch / time for time in times],
        [name for reading in own for name in reading.names],
    )
    if settled.refusal is not None:
        return settled.refusal
    by_bending = abs(log(limp[0] / stiff[0])) / known.ends[2]
    timed = _Timed(
        number=number,
        length=length,
        logarithms=[log(speeds[i]) for i in settled.used],
        declared=2 * stopwatch / float(np.mean([times[i] for i in settled.used])),
        by_bending=by_bending if isfinite(by_bending) else 0.1,
    )
    return timed, settled.notes


def _squared_speeds(times: Array, site: Site, length: float, rigidity: float) -> Array:
    """T/m at the hitch by the time of one return; nan where no tension explains it."""
    middle = tension_from_returns(
        return_time=times,
        free_length=length,
        flexural_rigidity=rigidity,
        ends=site.ends,
    )
    return site.at_hitch(middle, length)


def evidence_from_springs(
    readings: Sequence[SpringReading],
    hitch: Hitch | None,
    uncertainties: Uncertainties,
) -> SetEvidence:
    """Turn working lengths of the springs at one hitch into tensions, in newtons.

    Several readings of one rope are repeats. Springs differ from each other by their
    rates and free lengths, so this tells less than a pluck, whatever the calliper. No
    hitch where the record tells nothing of it.
    """
    loads, refusals, notes = rope_by_rope(
        readings,
        lambda number, repeats: _load(number, repeats, hitch, uncertainties),
    )
    own = tuple(load.sources for _, load in loads)
    place = readings[0].hitch.value.replace("-", " ")
    return SetEvidence(
        method=Method.SPRING,
        label=f"the springs at the {place} [[hitch]]",
        numbers=tuple(number for number, _ in loads),
        hypotheses=single_hypothesis([load.value for _, load in loads]),
        covariance=covariance_of_own(own),
        own_sources=own,
        shared_sources=budget(
            {"spring rate of the set": uncertainties.spring_rate}, Sharing.KIND
        ),
        is_absolute=True,
        refusals=refusals,
        notes=tuple(notes),
    )


def _load(
    number: int,
    repeats: Sequence[SpringReading],
    hitch: Hitch | None,
    uncertainties: Uncertainties,
) -> tuple[tuple[int, Estimate], Sequence[Note]] | Refusal:
    """Load on one spring with its own budget, or why its length tells nothing."""
    rate = find_spring_rate(hitch) if hitch else None
    if hitch is None or rate is None:
        name = hitch.at.value if hitch else "unknown"
        return NoteKind.SPRING_RATE_UNKNOWN.refusal(rope=number, hitch=name)
    free, solid = hitch.spring_free_length, hitch.spring_solid_length
    if free is None:
        return NoteKind.SPRING_FREE_LENGTH.refusal(rope=number)
    pressed = [free.value - one.value for reading in repeats for one in reading.lengths]
    notes: Sequence[Note] = ()
    if min(pressed) > 0:
        settled = settle_readings(
            number,
            [log(one) for one in pressed],
            [uncertainties.spring_length / one for one in pressed],
            [name for reading in repeats for name in reading.names],
        )
        if settled.refusal is not None:
            return settled.refusal
        pressed, notes = [pressed[i] for i in settled.used], settled.notes
    compression = float(np.mean(pressed))
    working = free.value - compression
    if solid is not None and not exceeds(working, solid.value):
        return NoteKind.SPRING_SOLID.refusal(rope=number)
    if not exceeds(free.value, working):
        return NoteKind.SPRING_UNLOADED.refusal(rope=number)
    preload = hitch.spring_preload.value if hitch.spring_preload else 0.0
    load = preload + rate.value * compression
    moving = rate.value * compression / load  # a preload has no length to be misread
    # the free length of this spring is no better known than its working one
    length = moving * uncertainties.spring_length * sqrt(2.0) / compression
    parts = {"spring length": length, "spring rate": moving * uncertainties.spring_rate}
    return (number, Estimate(value=load, sources=budget(parts))), notes
