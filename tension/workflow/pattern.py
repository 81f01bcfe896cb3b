"""From the series of records to the pattern that is held against causes."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tension.adjustment.running import turns_before
from tension.adjustment.stiffness import find_hitch, spring_rate_of
from tension.diagnosis import conditions
from tension.diagnosis.conditions import Condition, Pattern
from tension.history import Role, alike
from tension.installation import Buffer, Drive, RopeSet, Side, Span
from tension.measurement.combine import SetMeasurement
from tension.measurement.readings import Method
from tension.measurement.rope_figures import (
    LengthKnowledge,
    axial_rigidity_of,
    find_free_lengths,
)
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.physics.sheave import SheaveSystem
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
    day: dt.date  # the first there is if not recorded
    weeks: float  # since the first visit
    number: int  # of the visit, from 0
    epoch: int  # counts up each time nuts were turned
    role: Role

    @property
    def when(self) -> str:
        """Day of the visit in words."""
        return "day not recorded" if self.day == dt.date.min else self.day.isoformat()

    @property
    def measurement(self) -> SetMeasurement:
        """What was measured."""
        return self.assessed.assessment.measurement

    @property
    def side(self) -> Side:
        """Side whose tensions it tells, at a hitch maybe the one across the span."""
        span = self.measurement.span
        return span.side if span else Side.CAR

    @property
    def fall(self) -> float | None:
        """Mean free length of the span, if it is known. [m]."""
        if self.span is None:
            return None
        lengths = find_free_lengths(self.assessed.visit.rope_set, self.span).lengths
        return float(np.mean(list(lengths.values()))) if lengths else None


def make_pattern(
    taken: Sequence[Taken],
) -> tuple[Pattern | Refusal, tuple[Note, ...]]:
    """Put series of one life of the ropes, in order of time, together to a pattern."""
    notes: list[Note] = []
    usable = [one for one in taken if _is_usable(one, notes)]
    if len(usable) > MOST_SERIES:
        count = len(usable) - MOST_SERIES
        kind = NoteKind.OLDEST_SERIES_LEFT_OUT
        notes.append(kind.note(count=count, most=MOST_SERIES))
        usable = usable[count:]
    numbers = _common_ropes(usable, notes)
    if len(numbers) < 2:
        return NoteKind.NO_PATTERN.refusal(), tuple(notes)
    beyond = _fall_beyond_rope(usable)
    if beyond is not None:
        return beyond, tuple(notes)
    tensions, is_absolute = _on_one_scale(usable, numbers, notes)
    system = _system(usable, float(np.mean(tensions)), notes)
    places = [_place(one, usable, system) for one in usable]
    series = []
    for one, own, place in zip(usable, tensions, places, strict=True):
        if place is None:
            kind = NoteKind.PLACE_NOT_KNOWN
            notes.append(kind.note(series=one.assessed.series.name, day=one.when))
            continue
        condition = _condition(one, usable, place, float(own.mean()), system)
        series.append(_as_read(one, numbers, own, condition))
    if not series:
        return NoteKind.NO_PATTERN.refusal(), tuple(notes)
    notes += _notes_on_conditions(usable)
    last = usable[-1].assessed.visit
    return (
        Pattern(
            numbers=numbers,
            series=conditions.with_loads(series),
            system=system,
            rows=_rows(last.rope_set, numbers),
            has_sheave=last.lift.drive is Drive.TRACTION,
            is_absolute=is_absolute,
        ),
        tuple(notes),
    )


def _is_usable(one: Taken, notes: list[Note]) -> bool:
    """Whether a series can be part of a pattern; else it is told."""
    measured, kind = one.measurement, None
    if measured.refusal is not None or len(measured.given) < 2:
        kind = NoteKind.SERIES_WITHOUT_PATTERN
    elif measured.hypotheses and measured.hypotheses[0].weight < _SURE:
        kind = NoteKind.SERIES_AMBIGUOUS
    if kind is not None:
        notes.append(kind.note(series=one.assessed.series.name, day=one.when))
    return kind is None


def _common_ropes(taken: Sequence[Taken], notes: list[Note]) -> tuple[int, ...]:
    """Ropes that have a number in every series."""
    if not taken:
        return ()
    every = {n for one in taken for n in one.measurement.given}
    common = set.intersection(*(set(one.measurement.given) for one in taken))
    missing = sorted(every - common)
    if missing and len(common) >= 2:
        notes.append(NoteKind.ROPES_NOT_IN_ALL.note(ropes=tuple(missing)))
    return tuple(sorted(common))


def _on_one_scale(
    taken: Sequence[Taken], numbers: Sequence[int], notes: list[Note]
) -> tuple[list[conditions.FloatArray], bool]:
    """Tensions of all series in newtons, or on a scale common to all."""
    raw = []
    for one in taken:
        value = {r.number: r.tension.value for r in one.measurement.ropes if r.tension}
        raw.append(np.array([value[n] for n in numbers]))
    absolute = [one.measurement.is_absolute for one in taken]
    if all(absolute):
        return raw, True
    last, mean = taken[-1].assessed.visit, _USUAL_TENSION
    if last.lift.car_mass is not None:
        weight = last.lift.car_mass.value * STANDARD_GRAVITY
        mean = weight / (last.rope_set.n_ropes * last.lift.roping.n_falls)
    if not any(absolute):
        scale = mean / float(raw[0].mean())
        return [scale * own for own in raw], False
    notes.append(NoteKind.LOADS_NOT_COMPARABLE.note())
    return [mean * own / float(own.mean()) for own in raw], False


def _system(taken: Sequence[Taken], mean: float, notes: list[Note]) -> SheaveSystem:
    """Falls, springs and rigidity by the last record, usual ones where it is silent."""
    last = taken[-1].assessed.visit
    ropes, missing = last.rope_set, []
    found = axial_rigidity_of(ropes)
    if found is None:
        missing.append("ropes")
    springs = {}
    for side in Side:
        compliance = _spring_compliance(ropes, side)
        if compliance is None:
            missing.append(side.value)
            compliance = 1.0 / (_USUAL_RATE * mean)
        springs[side] = compliance
    if missing:
        notes.append(NoteKind.SPRINGS_ASSUMED.note(way="-".join(missing)))
    near, other, travel = _falls(taken, notes)
    return SheaveSystem(
        axial_rigidity=found.value if found else _USUAL_RIGIDITY * mean,
        car_fall=near,
        counterweight_fall=other,
        travel=travel,
        car_spring_compliance=springs[Side.CAR],
        counterweight_spring_compliance=springs[Side.COUNTERWEIGHT],
    )


def _spring_compliance(ropes: RopeSet, side: Side) -> float | None:
    """What the buffer of one side gives; None if it is not described. [m/N]."""
    for place in HITCHES_OF_SIDE[side]:
        hitch = find_hitch(ropes, place)
        if hitch is None:
            continue
        if hitch.buffer is Buffer.NONE:
            return 0.0
        if hitch.buffer is Buffer.SPRING:
            origin = spring_rate_of(hitch, ropes)
            return None if origin is None else 1.0 / origin.value
    return None


def _fall_beyond_rope(taken: Sequence[Taken]) -> Refusal | None:
    """Refuse a fall that leaves nothing of the ropes for the other side."""
    last = taken[-1].assessed.visit
    length, roping = last.rope_set.rope_length, last.lift.roping
    falls = [(one.fall, one) for one in taken if one.fall]
    if length is None or not falls:
        return None
    both = length.value / roping.n_falls
    fall, longest = max(falls, key=lambda pair: pair[0])
    if fall < both:
        return None
    return NoteKind.FALL_BEYOND_ROPE.refusal(
        series=longest.assessed.series.name,
        day=longest.when,
        fall=f"{fall:.2f} m",
        rope=length.text,
        roping=roping.value,
        both=f"{both:.2f} m",
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
    one: Taken,
    taken: Sequence[Taken],
    place: float,
    mean: float,
    system: SheaveSystem,
) -> Condition:
    """The condition of a series."""
    methods = {m for r in one.measurement.ropes for m in r.methods}
    turned_at, turned_side, trips = _since_turning(one, taken, system)
    return Condition(
        name=_name(one),
        side=one.side,
        rope_passed=place,
        arrived=one.assessed.series.arrived or _forced_arrival(place, system.travel),
        mean_tension=mean,
        load_tension=mean,
        free_length=one.fall or float("nan"),
        span=one.assessed.series.span,
        weeks=one.weeks,
        visit=one.number,
        epoch=one.epoch,
        round_trips=trips,
        turned_at=turned_at,
        turned_side=turned_side,
        is_by_pitch=bool(methods & {Method.PLUCK, Method.RETURNS}),
        is_by_span=bool(methods - {Method.SPRING}),
        are_lengths_read=one.measurement.lengths is LengthKnowledge.PER_ROPE,
    )


def _forced_arrival(place: float, travel: float) -> str:
    """At the ends of the travel there is one way to come."""
    if travel <= 0.0:
        return ""
    if place <= 0.01 * travel:
        return "up"
    return "down" if place >= 0.99 * travel else ""


def _name(one: Taken) -> str:
    """What to call a series in a sentence."""
    span, series = one.span, one.assessed.series
    where, side = series.span, ""
    if span is not None:
        where, side = span.position or span.name, one.side.value
    parts = (
        where,
        f"{side} side" if side not in where else "",
        f"arrived {series.arrived}" if series.arrived else "",
        series.load,
    )
    told = ", ".join(part for part in parts if part)
    return f'"{series.name}" ({told}; {one.when})'


def _since_turning(
    one: Taken, taken: Sequence[Taken], system: SheaveSystem
) -> tuple[float | None, Side, int | None]:
    """Where nuts were turned last at this visit, at whose hitch, and trips since."""
    series, turns = one.assessed.visit.series, one.assessed.visit.turns
    past = turns_before(series, turns, until=one.assessed.series.name)
    if not past:
        return None, Side.CAR, None
    names = [each.name for each in series]
    last = max((each.turn.after for each in past), key=names.index)
    final = [each for each in past if each.turn.after == last]
    of_visit = (t for t in taken if t.number == one.number)
    before = next((t for t in of_visit if t.assessed.series.name == last), None)
    place = None if before is None else _place(before, taken, system)
    told = [each.round_trips for each in final if each.round_trips is not None]
    is_run_in = min(told, default=_RUN_IN) >= _RUN_IN
    return place, final[-1].turn.hitch.side, None if is_run_in else min(told)


def _as_read(
    one: Taken,
    numbers: Sequence[int],
    tensions: conditions.FloatArray,
    condition: Condition,
) -> conditions.PatternSeries:
    """A series with its covariance, of the ropes of the pattern alone."""
    given = one.measurement.given
    keep = [given.index(n) for n in numbers]
    own = {r.number: r.tension for r in one.measurement.ropes if r.tension}
    squares = [
        sum(s.relative**2 for s in own[n].sources if s.name == "free length")
        for n in numbers
    ]
    covariance = one.measurement.covariance[np.ix_(keep, keep)]
    # a part cannot be more than the whole
    whole = np.sqrt(np.diag(covariance))
    return conditions.PatternSeries(
        condition=condition,
        tensions=tensions,
        covariance=covariance + 1e-8 * np.eye(len(keep)),
        length_uncertainties=np.minimum(np.sqrt(squares), whole),
    )


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
        kind = NoteKind.ARRIVAL_NOT_RECORDED
        notes.append(kind.note(count=missing, all=len(every)))
    after = {turn.round_trips_after for one in every for turn in one.visit.turns}
    if None in after and {one.series.round_trips_before for one in every} <= {None}:
        notes.append(NoteKind.ROUND_TRIPS_NOT_RECORDED.note())
    roping = every[-1].visit.lift.roping
    if roping.n_falls > 1:
        notes.append(NoteKind.FORMS_OF_ONE_TO_ONE.note(roping=roping.value))
    return notes
