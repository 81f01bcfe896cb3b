"""How turns spread while the car runs, and whether a set has come to rest."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from tension.adjustment.outcome import RunState, SetState, Turn
from tension.adjustment.stiffness import (
    Chain,
    KnownFrom,
    Origin,
    Setting,
    find_chains_of_fall,
)
from tension.assessment.decide import Assessment
from tension.installation import Drive, HitchPlace, Side, Span
from tension.measurement.readings import Series
from tension.notes import Refusal
from tension.physics import FloatArray
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.physics.sheave import SheaveSystem, round_trip_matrix
from tension.quantity.estimate import Sharing
from tension.quantity.units import Dimension, Quantity

USUAL_TRIPS = 3  # round trips that people make, and the fewest that a plan asks for
# spread that turns not yet spread may add to a set that counts as run in [1]
AT_REST = 0.01
_LITTLE = 0.05  # what may be left of a turn of which nothing is recorded [1]
_UNCOUNTED = 2000  # more round trips than this are neither followed nor counted
_SPREAD = 1e-3  # a turn of which less is left over has spread [1]
_END = 0.02  # of the rope that either fall keeps at the end of the travel [1]
# fall with the car at the end of its travel, where the travel is not told [m]
_SHORTEST_FALL = 4.0
# compliance taken for a buffer of no known rate, soft, hence slow [m/N]
_SOFT_SPRING = 1.0 / 50e3
# EA taken for a rope of no known diameter, stiff beside its springs, slow [N]
_STIFF_ROPE = 6e6
_LOW_RISE = 12.0  # rope taken where its length is not told, short, hence slow [m]
_TRAVEL_DOUBT = 0.2  # how much shorter the travel may be where it is not told [1]
_MASS_UNCERTAINTY = 0.10  # car weights on plates are often wrong by a tenth [1]
_USUAL_PITCH = 0.002  # travel of a nut in one turn where no thread is told [m]


@dataclass(frozen=True, kw_only=True, slots=True)
class RunIn:
    """What is left over of a turn's first effect after round trips of the car."""

    # in the fall measured, of a turn at the hitch on its side: effect there less what
    # remains in the end, over what remains in the end [1], shape (n_trips + 1,)
    near: FloatArray
    # the same of a turn at the other hitch: -1 while the car stands [1], shape (n_trips
    # + 1,)
    far: FloatArray
    settled: float  # stiffness seen by a nut in the end [N/m]
    is_car_side: bool  # whether the fall measured is on the car side
    travel: Origin | None  # of the car; None where running changes nothing
    # whether springs, rope and rope length are all told, not taken as slow
    is_known: bool

    def left_over(self, hitch: HitchPlace, round_trips: int) -> float:
        """How much more a turn shows now than in the end, over that end [1]."""
        kept = self.near if (hitch.side is Side.CAR) is self.is_car_side else self.far
        if round_trips < len(kept):
            return float(kept[round_trips])
        return 0.0 if abs(kept[-1]) < _SPREAD else float(kept[-1])

    @property
    def spreads(self) -> bool:
        """Whether running the car changes what a turn has done."""
        return self.travel is not None


def find_run_in(setting: Setting, span: Span | None) -> RunIn:
    """Work out how a turn spreads while the car runs, in the fall that is measured.

    Always something: what the record does not tell is taken so that a turn spreads
    slowly.
    """
    span = span or Span(name="")
    chains = find_chains_of_fall(setting, span)
    parts = None if isinstance(chains, Refusal) else chains
    # on a drum or a jack every rope is held by itself
    near = far = np.zeros(1)
    settled, travel = 1.0 / _SOFT_SPRING, None
    if setting.drive is Drive.TRACTION:
        line = _slow_line(setting, span, parts)
        down, up, travel = _journeys(line, setting.travel)
        there = replace(line, travel=down)
        near, far = _left_over(there, replace(line, travel=-up))
        settled = 1.0 / sum(there.compliances)
    if parts is not None:
        settled = parts[1].stiffness
        if travel is not None:  # as thought while the car stands
            near = near * (parts[0].stiffness / settled - 1.0) / near[0]
    if setting.learned is not None:
        settled = setting.learned.set_stiffness
    return RunIn(
        near=near,
        far=far,
        settled=settled,
        is_car_side=span.side is Side.CAR,
        travel=travel,
        is_known=parts is not None,
    )


def _slow_line(
    setting: Setting, span: Span, parts: tuple[Chain, Chain] | None
) -> SheaveSystem:
    """The line from the fall measured on, that being the first, car not moved.

    Springs softer and rope stiffer by their uncertainty: slow, not quick.
    """
    n_falls, learned = setting.roping.n_falls, setting.learned
    if parts is None:
        length = setting.rope_set.rope_length
        rope = (_LOW_RISE if length is None else length.value) / n_falls
        fall = span.free_length.value if span.free_length else _SHORTEST_FALL
        here = far = _SOFT_SPRING
        rigidity = _STIFF_ROPE
    else:
        now, run = parts
        rope, fall, ea = run.rope.value / n_falls, now.rope.value, run.rigidity
        rigidity = ea.value * (1.0 + ea.relative_uncertainty)
        here = _softest(now.springs)
        far = _softest(run.springs[len(now.springs) :])
        if learned is not None and not run.springs:
            # what the rope alone does not give is shared between the two ends
            here = far = max(0.0, 0.5 / learned.set_stiffness - 0.5 / run.stiffness)
    fall = min(max(fall, _END * rope), rope - _END * rope)
    return SheaveSystem(
        travel=0.0,
        car_fall=fall,
        counterweight_fall=rope - fall,
        n_falls=n_falls,
        axial_rigidity=rigidity,
        car_spring_compliance=here,
        counterweight_spring_compliance=far,
    )


def _softest(springs: tuple[Origin, ...]) -> float:
    """Springs softer by their uncertainty; one only assumed, like the other [m/N]."""
    return sum(
        (1.0 + spring.relative_uncertainty * (sqrt(3.0) if is_assumed else 1.0))
        / spring.value
        for spring in springs
        for is_assumed in [spring.known_from is KnownFrom.ASSUMED]
    )


def _journeys(
    line: SheaveSystem, typed: Quantity | None
) -> tuple[float, float, Origin]:
    """How far the fall measured gets longer and shorter, and the travel [m]."""
    fall, other = line.car_fall, line.counterweight_fall
    rope, factor = fall + other, 1.0
    if typed is not None:
        travel = Origin.typed("travel", typed)
        told = min(typed.value, rope - 2.0 * _END * rope)
        shortest = 0.5 * (rope - told)
    else:
        shortest, factor = min(fall, other, _SHORTEST_FALL), 1.0 - _TRAVEL_DOUBT
        told = rope - 2.0 * shortest
        travel = Origin(
            name="travel",
            value=told,
            dimension=Dimension.LENGTH,
            known_from=KnownFrom.ASSUMED,
            source="the rope less a short fall at either end",
            relative_uncertainty=_TRAVEL_DOUBT,
        )
    down = min(max(told + shortest - fall, 0.0), told)
    up = min(max(fall - shortest, 0.0), told)
    return factor * down, factor * up, travel


def _left_over(
    there: SheaveSystem, back: SheaveSystem
) -> tuple[FloatArray, FloatArray]:
    """What is left over of a turn at either hitch after each round trip."""
    trip = round_trip_matrix(back) @ round_trip_matrix(there)
    start = np.array(there.compliances)
    found = []
    for place in (0, -1):
        effect = np.zeros(len(start))
        effect[place] = start.sum() / start[place]
        kept = [float(effect[0] - 1.0)]
        while len(kept) <= USUAL_TRIPS or abs(kept[-1]) >= _SPREAD:
            if len(kept) == _UNCOUNTED:
                break
            effect = trip @ effect
            kept.append(float(effect[0] - 1.0))
        found.append(np.array(kept))
    return found[0], found[1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Spreading:
    """Turns made so far and the round trips run since each."""

    run_in: RunIn  # how a turn spreads
    # of each turn, or each stage of turns: at which hitch, what it brings every rope in
    # the end [N], shape (n_ropes,), and the round trips run since
    made: tuple[tuple[HitchPlace, FloatArray, int], ...] = ()

    def to_go(self, more: int = 0) -> FloatArray | float:
        """What the fall measured carries beyond what it comes to [N], (n_ropes,).

        Once the car has run so many round trips more.
        """
        return sum(
            self.run_in.left_over(hitch, trips + more) * brought
            for hitch, brought, trips in self.made
        )

    def spread(self, more: int = 0) -> float:
        """From the rope that still gains most to the one that still loses most [N]."""
        return float(np.ptp(self.to_go(more)))

    def trips_until(self, spread: float, first: int = USUAL_TRIPS) -> int:
        """Round trips until no more than this has still to go [N], `first` at least."""
        counted = range(first, _UNCOUNTED)
        return next((n for n in counted if self.spread(n) <= spread), _UNCOUNTED)

    def after(self, more: int) -> "Spreading":
        """Run the car so many round trips more."""
        run = tuple((hitch, brought, n + more) for hitch, brought, n in self.made)
        return replace(self, made=run)


def turns_before(
    series: tuple[Series, ...], turns: tuple[Turn, ...], until: str, since: str = ""
) -> tuple[Turn, ...]:
    """Find the turns made before a series, each with the round trips run until then.

    All of them, or those after the series `since`. Turns of one gap between two series
    that share a run each carry its round trips, so they are not added up; what was run
    in later gaps comes on top. Where a turn and the series after it tell different
    numbers, the smaller counts. None of them where nothing is recorded.
    """
    names = [each.name for each in series]
    end, start = names.index(until), names.index(since) if since else 0
    found = []
    for turn in turns:
        gap = names.index(turn.after)
        if start <= gap < end:
            every = (
                _run_in_gap(series, turns if g > gap else (turn,), g)
                for g in range(gap, end)
            )
            known = [trips for trips in every if trips is not None]
            run = sum(known) if known else None
            found.append(replace(turn, round_trips_after=run))
    return tuple(found)


def _run_in_gap(
    series: tuple[Series, ...], turns: tuple[Turn, ...], gap: int
) -> int | None:
    """What the car ran between two series: the least of what turns and series tell."""
    made = (turn.round_trips_after for turn in turns if turn.after == series[gap].name)
    most = max((trips for trips in made if trips is not None), default=None)
    told = (most, series[gap + 1].round_trips_before)
    return min((trips for trips in told if trips is not None), default=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Past:
    """Series and turns of a record."""

    series: tuple[Series, ...]  # in order of time
    turns: tuple[Turn, ...]  # in order of time
    assess: Callable[[Series], Assessment]  # assesses a series


def state_of(
    past: Past, series: Series, setting: Setting, assessment: Assessment | None = None
) -> SetState:
    """Find whether a set had come to rest at a series, and the turns made since.

    With what must be told of it. The series is assessed, unless its assessment is
    handed over, only where something was turned or the car had never run.
    """
    names = [each.name for each in past.series]
    here = names.index(series.name)
    before = turns_before(past.series, past.turns, series.name)
    since = tuple(turn for turn in past.turns if names.index(turn.after) >= here)
    runs = [each.round_trips_before for each in past.series[: here + 1]]
    ran = (*runs, *(turn.round_trips_after for turn in before))
    has_never_run = runs[0] == 0 and not any(ran)
    if not (before or since or has_never_run):
        return SetState()
    read = assessment or past.assess(series)
    mean = None
    if read.measurement.refusal is None and read.measurement.given:
        mean = mean_tension_of(setting, read)
    return find_state(
        setting,
        find_run_in(setting, read.measurement.span),
        None if mean is None else mean.value,
        before,
        since,
        has_never_run=has_never_run,
    )


def mean_tension_of(setting: Setting, assessment: Assessment) -> Origin | None:
    """Mean tension of a rope: measured, or from the mass that hangs."""
    measurement, mass = assessment.measurement, setting.hanging_mass
    if measurement.is_absolute:
        given = [rope.tension for rope in measurement.ropes if rope.tension]
        value = float(np.mean([estimate.value for estimate in given]))
        alike = (Sharing.SET, Sharing.KIND)
        doubt = max(estimate.relative_uncertainty(alike) for estimate in given)
        source = f'mean of the series "{measurement.series.name}"'
    elif mass is not None:
        n = setting.rope_set.n_ropes * setting.roping.n_falls
        value, doubt = mass.value * STANDARD_GRAVITY / n, _MASS_UNCERTAINTY
        source = f"from {mass.text} on {n} falls"
    else:
        return None
    return Origin(
        name="mean tension",
        value=value,
        dimension=Dimension.FORCE,
        known_from=KnownFrom.MEASURED if measurement.is_absolute else KnownFrom.TYPED,
        source=source,
        relative_uncertainty=doubt,
    )


def find_state(
    setting: Setting,
    run_in: RunIn,
    mean_tension: float | None,
    before: tuple[Turn, ...],
    since: tuple[Turn, ...] = (),
    *,
    has_never_run: bool = False,
) -> SetState:
    """Find whether a set has come to rest where it was read.

    From the turns before and after it, the mean tension of a rope [N], None where only
    shares are known, and whether the record says that the car had not run when the set
    was first read.
    """
    still, after = (
        _spreading(setting, run_in, mean_tension, turns) for turns in (before, since)
    )
    found = SetState(
        turned=bool(before),
        turned_since=tuple(sorted({turn.rope for turn in since})),
        wanted_since=_wanted(after) if since else 0,
    )
    if not run_in.spreads or not (before or has_never_run):
        return found
    trips = [turn.round_trips_after for turn in before]
    if None in trips:
        state = RunState.NOT_RECORDED
    elif has_never_run or 0 in trips:
        state = RunState.NOT_RUN
    else:
        state = RunState.AT_REST if still.spread() <= AT_REST else RunState.TOO_FEW
    return replace(
        found,
        state=state,
        round_trips=min((n or 0 for n in trips), default=0),
        wanted=0 if state is RunState.AT_REST else _wanted(still),
        still_to_come=still.spread(),
    )


def _spreading(
    setting: Setting, run_in: RunIn, mean_tension: float | None, turns: tuple[Turn, ...]
) -> Spreading:
    """What turns bring over the mean tension; where it is not known, each by itself."""
    # each by itself: over its own end, between two ropes of its own
    brought = np.kron(np.eye(len(turns)), [0.5, -0.5])
    if mean_tension is not None:
        brought = np.zeros((len(turns), setting.rope_set.n_ropes))
        for row, turn in zip(brought, turns, strict=True):
            pitch = setting.pitches.get(turn.hitch, _USUAL_PITCH)
            travel = turn.turns.value * pitch
            row[turn.rope - 1] = travel * run_in.settled / mean_tension
    made = (
        (turn.hitch, row, turn.round_trips_after or 0)
        for turn, row in zip(turns, brought, strict=True)
    )
    return Spreading(run_in=run_in, made=tuple(made))


def _wanted(still: Spreading) -> int:
    """Round trips until hardly anything has still to go; the usual at least."""
    if still.made:
        least = min(trips for _, _, trips in still.made)
        return still.trips_until(0.5 * AT_REST, max(0, USUAL_TRIPS - least))
    # how far it is off is not known: until little of any turn would be left
    beside = HitchPlace.CAR if still.run_in.is_car_side else HitchPlace.COUNTERWEIGHT
    some = replace(still, made=((beside, np.array([0.5, -0.5]), 0),))
    return some.trips_until(_LITTLE)


def travels_shown(
    setting: Setting, run_in: RunIn, turns: tuple[Turn, ...]
) -> FloatArray:
    """Travel of each nut by what it shows so far [m], shape (n_ropes,).

    None of a turn whose thread is not known.
    """
    travels, pitches = np.zeros(setting.rope_set.n_ropes), setting.pitches
    for turn in turns:
        # a turn that has not spread shows more in its own fall than in the end
        shown, trips = 1.0, turn.round_trips_after or 0
        if run_in.is_known or trips == 0:
            shown += run_in.left_over(turn.hitch, trips)
        pitch = pitches.get(turn.hitch, 0.0)
        travels[turn.rope - 1] += turn.turns.value * pitch * shown
    return travels
