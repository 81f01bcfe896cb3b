"""From the series of records to the pattern that is held against causes."""

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tension.adjustment.running import turns_before
from tension.adjustment.stiffness import find_hitch
from tension.diagnosis.outcome import Condition, Pattern, with_loads
from tension.history import Point, alike
from tension.installation import Buffer, Drive, RopeSet, Side, Span
from tension.measurement.combine import SetMeasurement
from tension.measurement.readings import Method
from tension.measurement.rope_figures import (
    LengthKnowledge,
    axial_rigidity_of,
    find_free_lengths,
)
from tension.measurement.stiffness import HITCHES_OF_SIDE, find_spring_rate
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.physics.sheave import SheaveSystem
from tension.quantity.estimate import Estimate
from tension.workflow.assess import Assessed

MOST_SERIES = 20  # series of a pattern, the newest
_ASSUMED_TRAVEL = 20.0  # where none is recorded; told by a note [m]
_ASSUMED_NEAR_FALL = 4.0  # rope over the car, where none is recorded [m]
# over mean tension: spring rate where no spring is described [1/m], axial rigidity
# where the rope is not [1]
_USUAL_RATE, _USUAL_RIGIDITY = 30.0, 900.0
_USUAL_TENSION = 5000.0  # scale where only shares are known [N]
_SURE = 0.95  # weight of its numbering from which a series counts [1]
_RUN_IN = 1000  # round trips after which a set counts as run in [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """One series of one visit, assessed."""

    assessed: Assessed
    span: Span | None  # where; also that of a series of spring lengths
    point: Point  # what its history keeps
    number: int  # of the visit, from 0
    weeks: float  # since the first visit

    @property
    def named(self) -> dict[str, Any]:
        """Name of the series and day of the visit, as notes tell them."""
        is_told = self.point.day != dt.date.min
        day = self.point.day.isoformat() if is_told else "day not recorded"
        return {"series": self.assessed.series.name, "day": day}

    @property
    def measurement(self) -> SetMeasurement:
        """What was measured."""
        return self.assessed.assessment.measurement

    @property
    def fall(self) -> float | None:
        """Mean free length of the span, if it is known. [m]."""
        if self.span is None:
            return None
        lengths = find_free_lengths(self.assessed.visit.rope_set, self.span).lengths
        return float(np.mean(list(lengths.values()))) if lengths else None

    def estimates(self, numbers: Sequence[int]) -> list[Estimate]:
        """Tensions of ropes that have one, by their numbers."""
        every = {rope.number: rope.tension for rope in self.measurement.ropes}
        return [one for number in numbers if (one := every[number])]


def make_pattern(taken: Sequence[Taken]) -> tuple[Pattern | Refusal, tuple[Note, ...]]:
    """Put series of one life of the ropes, in order of time, together to a pattern."""
    notes: list[Note] = []
    usable = [one for one in taken if _is_usable(one, notes)]
    if count := len(usable[:-MOST_SERIES]):
        kind = NoteKind.OLDEST_SERIES_LEFT_OUT
        notes.append(kind.note(count=count, most=MOST_SERIES))
        usable = usable[count:]
    numbers = _common_ropes(usable, notes)
    if len(numbers) < 2:
        return NoteKind.NO_PATTERN.refusal(), tuple(notes)
    if beyond := _fall_beyond_rope(usable):
        return beyond, tuple(notes)
    tensions, is_absolute = _on_one_scale(usable, numbers, notes)
    system = _system(usable, float(np.mean(tensions)), notes)
    conditions, placed = [], []
    for i, one in enumerate(usable):
        condition = _condition(one, usable, float(tensions[i].mean()), system)
        if condition is None:
            notes.append(NoteKind.PLACE_NOT_KNOWN.note(**one.named))
        else:
            conditions.append(condition)
            placed.append(i)
    if not conditions:
        return NoteKind.NO_PATTERN.refusal(), tuple(notes)
    notes += _notes_on_conditions(usable)
    last = usable[-1].assessed.visit
    covariances, of_lengths = zip(
        *(_spread(usable[i], numbers) for i in placed), strict=True
    )
    read = tensions[placed]
    pattern = Pattern(
        numbers=numbers,
        conditions=with_loads(conditions, read),
        tensions=read,
        covariances=np.array(covariances) * read[:, :, None] * read[:, None, :],
        length_uncertainties=np.array(of_lengths) * read,
        system=system,
        rows=_rows(last.rope_set, numbers),
        has_sheave=last.lift.drive is Drive.TRACTION,
        is_absolute=is_absolute,
    )
    return pattern, tuple(notes)


def _is_usable(one: Taken, notes: list[Note]) -> bool:
    """Whether a series can be part of a pattern; else it is told."""
    measured, kind = one.measurement, None
    if measured.refusal is not None or len(measured.given) < 2:
        kind = NoteKind.SERIES_WITHOUT_PATTERN
    elif measured.hypotheses and measured.hypotheses[0].weight < _SURE:
        kind = NoteKind.SERIES_AMBIGUOUS
    if kind is not None:
        notes.append(kind.note(**one.named))
    return kind is None


def _common_ropes(taken: Sequence[Taken], notes: list[Note]) -> tuple[int, ...]:
    """Ropes that have a number in every series."""
    counts = Counter(number for one in taken for number in one.measurement.given)
    common = tuple(n for n in sorted(counts) if counts[n] == len(taken))
    missing = tuple(n for n in sorted(counts) if counts[n] < len(taken))
    if missing and len(common) >= 2:
        notes.append(NoteKind.ROPES_NOT_IN_ALL.note(ropes=missing))
    return common


def _on_one_scale(
    taken: Sequence[Taken], numbers: Sequence[int], notes: list[Note]
) -> tuple[FloatArray, bool]:
    """Tensions of all series in newtons, or on a scale common to all."""
    raw = np.array([[e.value for e in one.estimates(numbers)] for one in taken])
    absolute = [one.measurement.is_absolute for one in taken]
    if all(absolute):
        return raw, True
    last, mean = taken[-1].assessed.visit, _USUAL_TENSION
    if last.lift.car_mass is not None:
        weight = last.lift.car_mass.value * STANDARD_GRAVITY
        mean = weight / (last.rope_set.n_ropes * last.lift.roping.n_falls)
    if not any(absolute):
        return mean / raw[0].mean() * raw, False
    notes.append(NoteKind.LOADS_NOT_COMPARABLE.note())
    return mean * raw / raw.mean(axis=1, keepdims=True), False


def _system(taken: Sequence[Taken], mean: float, notes: list[Note]) -> SheaveSystem:
    """Falls, springs and rigidity by the last record, usual ones where it is silent."""
    ropes = taken[-1].assessed.visit.rope_set
    rigidity = axial_rigidity_of(ropes)
    springs = {side: _spring_compliance(ropes, side) for side in Side}
    told = [("ropes", rigidity), *springs.items()]
    if missing := [name for name, figure in told if figure is None]:
        notes.append(NoteKind.SPRINGS_ASSUMED.note(way="-".join(missing)))
    usual = 1.0 / (_USUAL_RATE * mean)
    car, other = (usual if found is None else found for found in springs.values())
    near, far, travel = _falls(taken, notes)
    return SheaveSystem(
        axial_rigidity=rigidity.value if rigidity else _USUAL_RIGIDITY * mean,
        car_fall=near,
        counterweight_fall=far,
        travel=travel,
        car_spring_compliance=car,
        counterweight_spring_compliance=other,
    )


def _spring_compliance(ropes: RopeSet, side: Side) -> float | None:
    """What the buffer of one side gives; None if it is not described. [m/N]."""
    for hitch in (find_hitch(ropes, place) for place in HITCHES_OF_SIDE[side]):
        if hitch and hitch.buffer is Buffer.NONE:
            return 0.0
        if hitch and hitch.buffer is Buffer.SPRING:
            rate = find_spring_rate(hitch)
            return None if rate is None else 1.0 / rate.value
    return None


def _fall_beyond_rope(taken: Sequence[Taken]) -> Refusal | None:
    """Refuse a fall that leaves nothing of the ropes for the other side."""
    last = taken[-1].assessed.visit
    length, roping = last.rope_set.rope_length, last.lift.roping
    longest = max(taken, key=lambda one: one.fall or 0.0)
    fall = longest.fall or 0.0
    if length is None or fall < length.value / roping.n_falls:
        return None
    return NoteKind.FALL_BEYOND_ROPE.refusal(
        **longest.named,
        fall=f"{fall:.2f} m",
        rope=length.text,
        roping=roping.value,
        both=f"{length.value / roping.n_falls:.2f} m",
    )


def _falls(taken: Sequence[Taken], notes: list[Note]) -> tuple[float, float, float]:
    """Car fall and counterweight fall with the car at its highest, and the travel."""
    known = {
        side: [t.fall for t in taken if t.fall and t.span and t.span.side is side]
        for side in Side
    }
    near = min(known[Side.CAR], default=_ASSUMED_NEAR_FALL)
    most = max(known[Side.CAR], default=near)
    low = min(known[Side.COUNTERWEIGHT], default=near)
    last = taken[-1].assessed.visit
    if last.rope_set.rope_length is not None:
        whole = last.rope_set.rope_length.value / last.lift.roping.n_falls
    else:
        whole = max(most + low, max(known[Side.COUNTERWEIGHT], default=0.0) + near)
        if whole - near - low < 1.0:
            whole = near + low + _ASSUMED_TRAVEL
            notes.append(NoteKind.TRAVEL_ASSUMED.note(travel=_ASSUMED_TRAVEL))
    low = max(min(low, whole - most), 0.5)
    other = max(whole - near, low)
    return near, other, max(other - low, most - near, 0.0)


def _place(one: Taken, taken: Sequence[Taken], system: SheaveSystem) -> float | None:
    """Rope passed to the car side where a series was taken. [m]."""
    if one.span is None:
        return None
    there = alike(one.span.position)
    beside = [
        t.fall
        for t in taken
        if t.fall and t.span and t.span.side is Side.CAR
        if there and alike(t.span.position) == there
    ]
    if one.fall and one.span.side is Side.CAR:
        place = one.fall - system.car_fall
    elif beside:  # the other side measured where the car side was
        place = beside[0] - system.car_fall
    elif one.fall:
        place = system.counterweight_fall - one.fall
    else:
        return None
    return float(np.clip(place, 0.0, system.travel))


def _condition(
    one: Taken, taken: Sequence[Taken], mean: float, system: SheaveSystem
) -> Condition | None:
    """The condition of a series; None where its place is not known."""
    series, place = one.assessed.series, _place(one, taken, system)
    if place is None:
        return None
    where, side = one.point.position, one.point.side
    parts = (
        where,
        f"{side.value} side" if side.value not in where else "",
        f"arrived {series.arrived}" if series.arrived else "",
        series.load,
    )
    told = ", ".join(part for part in parts if part)
    arrived, travel = series.arrived, system.travel
    if not arrived and travel > 0.0:  # at either end there is one way to come
        is_low = place >= 0.99 * travel
        arrived = "up" if place <= 0.01 * travel else "down" if is_low else ""
    methods = {m for r in one.measurement.ropes for m in r.methods}
    return Condition(
        name=f'"{series.name}" ({told}; {one.named["day"]})',
        side=side,
        rope_passed=place,
        arrived=arrived,
        mean_tension=mean,
        load_tension=mean,
        free_length=one.fall or float("nan"),
        span=series.span,
        weeks=one.weeks,
        visit=one.number,
        epoch=one.point.epoch,
        is_by_pitch=bool(methods & {Method.PLUCK, Method.RETURNS}),
        is_by_span=bool(methods - {Method.SPRING}),
        are_lengths_read=one.measurement.lengths is LengthKnowledge.PER_ROPE,
        **_since_turning(one, taken, system),
    )


def _since_turning(
    one: Taken, taken: Sequence[Taken], system: SheaveSystem
) -> dict[str, Any]:
    """Where nuts were turned last at this visit, at whose hitch, and trips since."""
    visit = one.assessed.visit
    past = turns_before(visit.series, visit.turns, until=one.assessed.series.name)
    if not past:
        return {}
    names = [each.name for each in visit.series]
    last = max((each.after for each in past), key=names.index)
    final = [each for each in past if each.after == last]
    of_visit = (t for t in taken if t.number == one.number)
    before = next((t for t in of_visit if t.assessed.series.name == last), None)
    trips = [each.round_trips_after for each in final]
    fewest = min((n for n in trips if n is not None), default=_RUN_IN)
    return {
        "round_trips": None if fewest >= _RUN_IN else fewest,
        "turned_at": None if before is None else _place(before, taken, system),
        "turned_side": final[-1].hitch.side,
    }


def _spread(one: Taken, numbers: Sequence[int]) -> tuple[FloatArray, FloatArray]:
    """Covariance of the logarithms, and the part of each that its length brings [1]."""
    given = one.measurement.given
    keep = [given.index(n) for n in numbers]
    covariance = one.measurement.covariance[np.ix_(keep, keep)]
    squares = [
        sum(s.relative**2 for s in estimate.sources if s.name == "free length")
        for estimate in one.estimates(numbers)
    ]
    # a part cannot be more than the whole
    of_lengths = np.sqrt(np.minimum(squares, np.diag(covariance)))
    return covariance + 1e-8 * np.eye(len(keep)), of_lengths


def _rows(ropes: RopeSet, numbers: Sequence[int]) -> tuple[int, ...]:
    """Row of each rope at the first hitch that tells rows."""
    for hitch in ropes.hitches:
        place = {rope: i for i, row in enumerate(hitch.rows) for rope in row}
        if len(hitch.rows) > 1 and all(n in place for n in numbers):
            return tuple(place[n] for n in numbers)
    return ()


def _notes_on_conditions(taken: Sequence[Taken]) -> list[Note]:
    """What is not recorded and would tell causes apart."""
    notes = []
    every = [one.assessed for one in taken]
    if missing := sum(not one.series.arrived for one in every):
        notes.append(NoteKind.ARRIVAL_NOT_RECORDED.note(count=missing, all=len(every)))
    after = {turn.round_trips_after for one in every for turn in one.visit.turns}
    if None in after and {one.series.round_trips_before for one in every} <= {None}:
        notes.append(NoteKind.ROUND_TRIPS_NOT_RECORDED.note())
    roping = every[-1].visit.lift.roping
    if roping.n_falls > 1:
        notes.append(NoteKind.FORMS_OF_ONE_TO_ONE.note(roping=roping.value))
    return notes
