"""Timed wave returns: from counted round trips to the tension at the hitch."""

from collections.abc import Sequence
from dataclasses import replace
from math import log, sqrt

import numpy as np

from tension.installation import RopeSet, Span
from tension.measurement.evidence import Evidence, read_only, single_hypothesis
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
    RopeFigures,
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


def evidence_from_returns(
    readings: Sequence[ReturnsReading],
    *,
    rope_set: RopeSet,
    span: Span,
    lengths: FreeLengths,
    figures: RopeFigures,
) -> Evidence:
    """Turn timed wave returns of one series into tension or T/m at the hitch.

    Several of one rope are repeats; ropes on which reaction time hides the tension are
    refused.
    """
    stopwatch = rope_set.uncertainties.stopwatch
    refusals: dict[int, Refusal] = {}
    notes: list[Note] = []
    numbers, speeds, declared = [], [], []
    for number in sorted({r.rope for r in readings}):
        own = in_fixed_order([r for r in readings if r.rope == number])
        refusal = _refusal(number, own, lengths, stopwatch)
        if refusal is not None:
            refusals[number] = refusal
            continue
        found = _squared_speeds(
            own,
            span=span,
            free_length=lengths.lengths[number],
            rigidity=figures.rigidity_per_density.likely,
        )
        if not all(speed > 0 for speed in found):
            refusals[number] = NoteKind.TOO_SLACK.refusal(rope=number)
            continue
        times = [e.value for r in own for e in r.elapsed]
        settled = settle_readings(
            number,
            [log(speed) for speed in found],
            [2 * stopwatch / time for time in times],
            [name for reading in own for name in names_of(reading)],
        )
        if settled.refusal is not None:
            refusals[number] = settled.refusal
            continue
        notes += [settled.note] if settled.note else []
        numbers.append(number)
        speeds.append([found[i] for i in settled.used])
        declared.append(
            2 * stopwatch / float(np.mean([times[i] for i in settled.used]))
        )
    evidence = _evidence(
        numbers,
        speeds,
        declared=declared,
        refusals=refusals,
        span=span,
        lengths=lengths,
        figures=figures,
        readings=readings,
    )
    return replace(evidence, notes=(*evidence.notes, *notes))


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
    readings: Sequence[ReturnsReading],
    *,
    span: Span,
    free_length: float,
    rigidity: float,
) -> list[float]:
    """T/m at the hitch by each repeat; nan where no tension explains the time."""
    found = []
    for reading in readings:
        middle = squared_wave_speed_from_returns(
            n_returns=reading.count,
            elapsed=np.array([e.value for e in reading.elapsed]),
            free_length=free_length,
            rigidity_per_density=rigidity,
            ends=EndCondition.from_ends(span.ends),
        )
        hitch = hitch_squared_wave_speed(
            squared_wave_speed=np.nan_to_num(middle, nan=0.0),
            distance=free_length / 2,
            hitch_end=span.hitch_end,
        )
        found += [float(v) for v in np.where(np.isnan(middle), np.nan, hitch)]
    return found


def _evidence(
    numbers: Sequence[int],
    speeds: Sequence[Sequence[float]],
    *,
    declared: Sequence[float],
    refusals: dict[int, Refusal],
    span: Span,
    lengths: FreeLengths,
    figures: RopeFigures,
    readings: Sequence[ReturnsReading],
) -> Evidence:
    """Means, budget and covariance of the ropes timed."""
    means = [float(np.exp(np.mean(np.log(one)))) for one in speeds]
    timing = uncertainty_of_means([[log(v) for v in one] for one in speeds], declared)
    used = [lengths.lengths[number] for number in numbers]
    own = [
        (
            Source(name="stopwatch", relative=float(u)),
            Source(name="free length", relative=2 * lengths.own_uncertainty / length),
        )
        for u, length in zip(timing, used, strict=True)
    ]
    density = figures.linear_density
    is_absolute = (
        density is not None and bool(used) and min(used) >= SHORTEST_FOR_NEWTONS
    )
    scale = density.value if density is not None and is_absolute else 1.0
    shared: tuple[Source, ...] = ()
    if numbers:
        shared = (
            Source(
                name="bending stiffness",
                relative=_bending_width(numbers, readings, span, lengths, figures),
                sharing=Sharing.KIND,
            ),
            Source(
                name="free length of the set",
                relative=2 * lengths.shared_uncertainty / float(np.median(used)),
                sharing=Sharing.SET,
            ),
            *(density.sources if density is not None and is_absolute else ()),
        )
    variances = [sum(source.relative**2 for source in budget) for budget in own]
    return Evidence(
        method=Method.RETURNS,
        label="the wave returns",
        numbers=tuple(numbers),
        hypotheses=single_hypothesis(scale * np.array(means)),
        covariance=read_only(np.diag(variances)),
        own_sources=tuple(own),
        shared_sources=shared,
        is_absolute=is_absolute,
        refusals=refusals,
        notes=figures.notes,
    )


def _bending_width(
    numbers: Sequence[int],
    readings: Sequence[ReturnsReading],
    span: Span,
    lengths: FreeLengths,
    figures: RopeFigures,
) -> float:
    """Relative uncertainty by what is not known of the bending stiffness."""
    first = in_fixed_order([r for r in readings if r.rope == numbers[0]])[:1]
    bounds = figures.rigidity_per_density
    limp, stiff = (
        _squared_speeds(
            first, span=span, free_length=lengths.lengths[numbers[0]], rigidity=q
        )[0]
        for q in (bounds.lowest, bounds.highest)
    )
    if not (limp > 0 and stiff > 0):
        return 0.1
    return abs(log(limp / stiff)) / TRIANGULAR
