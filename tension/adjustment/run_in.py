"""How far a turn has spread after how many round trips of the car."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.origins import (
    KnownFrom,
    LearnedStiffness,
    Origin,
    find_hitch,
    is_car_side,
)
from tension.adjustment.stiffness import Compliance, Compliances, find_compliances
from tension.installation import (
    Drive,
    Hitch,
    HitchPlace,
    RopeSet,
    Roping,
    Side,
    Span,
)
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.notes import Refusal
from tension.physics.sheave import RopeLine, lift_line, round_trip_matrix
from tension.quantity.units import Dimension, Quantity

FloatArray = NDArray[np.float64]

USUAL_TRIPS = 3
"""Round trips that people make, and the fewest that a plan asks for."""

MOST_TRIPS = 12
"""More round trips than people make in one go."""

_COUNTED = 1500
"""Round trips followed; a set that needs more never comes to rest."""

_SHORTEST_FALL = 4.0
"""Fall with the car at the end of its travel, where the travel is not told. [m]"""

_SOFT_SPRING = 1.0 / 50e3
"""Compliance taken for a buffer of no known rate, soft, hence slow. [m/N]"""

_STIFF_ROPE = 6e6
"""EA taken for a rope of no known diameter, stiff beside its springs, slow. [N]"""

_LOW_RISE = 12.0
"""Rope taken where its length is not told, short, hence slow. [m]"""

_TRAVEL_DOUBT = 0.2
"""How much shorter the travel may be where it is not told. [1]"""


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
        kept = self.near if is_car_side(hitch) is self.is_car_side else self.far
        if round_trips < len(kept):
            return float(kept[round_trips])
        return 0.0 if abs(kept[-1]) < 1e-3 else float(kept[-1])

    @property
    def spreads(self) -> bool:
        """Whether running the car changes what a turn has done."""
        return self.travel is not None


def find_run_in(
    rope_set: RopeSet,
    *,
    span: Span,
    drive: Drive,
    roping: Roping,
    travel: Quantity | None = None,
    learned: LearnedStiffness | None = None,
) -> RunIn:
    """Work out how a turn spreads while the car runs, in the fall that is measured.

    Always something: what the record does not tell is taken so that a turn spreads
    slowly.
    """
    at_car = span.side is Side.CAR
    hitch = _hitch_beside(rope_set, span.side)
    parts = find_compliances(
        rope_set, hitch=hitch, span=span, drive=drive, learned=learned
    )
    found = None if isinstance(parts, Refusal) else parts
    if drive is not Drive.TRACTION:
        settled = 1.0 / _SOFT_SPRING if found is None else found.stiffness_run
        return _at_once(settled, at_car=at_car)
    line = _slow_parts(rope_set, span, found, roping, learned)
    down, up, origin = _journeys(line, travel)
    near, far = _left_over(line, down, up)
    if found is not None and near[0] > 0.0:  # as thought while the car stands
        near = near * (found.stiffness_now / found.stiffness_run - 1.0) / near[0]
    settled = 1.0 / (line.springs + line.n_falls * line.rope / line.rigidity)
    if learned is not None:
        settled = learned.set_stiffness
    elif found is not None:
        settled = found.stiffness_run
    return RunIn(
        near=near,
        far=far,
        settled=settled,
        is_car_side=at_car,
        travel=origin,
        is_known=found is not None,
    )


def _at_once(settled: float, *, at_car: bool) -> RunIn:
    """A drum or a roped jack: every rope is held by itself."""
    nothing = np.zeros(1)
    return RunIn(
        near=nothing,
        far=nothing,
        settled=settled,
        is_car_side=at_car,
        travel=None,
        is_known=True,
    )


def _hitch_beside(rope_set: RopeSet, side: Side) -> Hitch:
    """The hitch on the side of a fall, as told or bare."""
    places = HITCHES_OF_SIDE[side]
    told = (find_hitch(rope_set, place) for place in places)
    return next((hitch for hitch in told if hitch), Hitch(at=places[0]))


@dataclass(frozen=True, kw_only=True, slots=True)
class _Line:
    """One rope as taken for the spreading; the fall measured is the first."""

    here: float  # compliance of the spring at the fall measured [m/N]
    far: float  # of the other
    fall: float  # the fall measured [m]
    rope: float  # both falls of one pair [m]
    rigidity: float  # [N]
    n_falls: int

    @property
    def springs(self) -> float:
        return self.here + self.far


def _slow_parts(
    rope_set: RopeSet,
    span: Span,
    parts: Compliances | None,
    roping: Roping,
    learned: LearnedStiffness | None,
) -> _Line:
    """Springs softer and rope stiffer by their uncertainty: slow, not quick."""
    n_falls = roping.n_falls
    length = rope_set.rope_length
    fall = span.free_length.value if span.free_length else _SHORTEST_FALL
    if parts is None:
        rope = (_LOW_RISE if length is None else length.value) / n_falls
        here = far = _SOFT_SPRING
        rigidity = _STIFF_ROPE
    else:
        rope = parts.whole.origin.value / n_falls
        fall = parts.fall.origin.value
        rigidity = parts.rigidity.value * (1.0 + parts.rigidity.relative_uncertainty)
        here, far = (
            sum(_softest(part) for part in side) for side in (parts.here, parts.far)
        )
        if learned is not None and not (parts.here or parts.far):
            # what the rope alone does not give is shared between the two ends
            extra = 1.0 / learned.set_stiffness - parts.whole.value
            here = far = max(0.0, 0.5 * extra)
    fall = min(max(fall, 0.02 * rope), 0.98 * rope)
    return _Line(
        here=here, far=far, fall=fall, rope=rope, rigidity=rigidity, n_falls=n_falls
    )


def _softest(part: Compliance) -> float:
    """A spring softer by its uncertainty; one only assumed, like the other [m/N]."""
    is_assumed = part.origin.known_from is KnownFrom.ASSUMED
    return part.value * (1.0 + part.uncertainty * (3.0**0.5 if is_assumed else 1.0))


def _journeys(line: _Line, travel: Quantity | None) -> tuple[float, float, Origin]:
    """How far the fall measured gets longer and shorter, and the travel [m]."""
    if travel is not None:
        told = min(travel.value, 0.96 * line.rope)
        shortest, factor = 0.5 * (line.rope - told), 1.0
        origin = Origin.typed("travel", travel)
    else:
        shortest = min(line.fall, line.rope - line.fall, _SHORTEST_FALL)
        told, factor = line.rope - 2.0 * shortest, 1.0 - _TRAVEL_DOUBT
        origin = Origin(
            name="travel",
            value=told,
            dimension=Dimension.LENGTH,
            known_from=KnownFrom.ASSUMED,
            source="the rope less a short fall at either end",
            relative_uncertainty=_TRAVEL_DOUBT,
        )
    down = min(max(told + shortest - line.fall, 0.0), told, 0.99 * line.rope)
    up = min(max(line.fall - shortest, 0.0), told)
    return factor * down, factor * up, origin


def _left_over(line: _Line, down: float, up: float) -> tuple[FloatArray, FloatArray]:
    """What is left over of a turn at either hitch after each round trip."""
    trip = np.eye(2 * line.n_falls)
    for way in (down, -up):
        trip = round_trip_matrix(_line_of(line, way)) @ trip
    start = _line_of(line, down).compliances
    settled = 1.0 / sum(start)
    found = []
    for place in (0, len(start) - 1):
        effect = np.zeros(len(start))
        effect[place] = 1.0 / start[place]
        kept = []
        for _ in range(_COUNTED + 1):
            kept.append(float(effect[0] / settled - 1.0))
            if abs(kept[-1]) < 1e-3 and len(kept) > USUAL_TRIPS:
                break
            effect = trip @ effect
        found.append(np.array(kept))
    return found[0], found[1]


def _line_of(line: _Line, way: float) -> RopeLine:
    """The falls with a journey of the fall measured, longer if positive."""
    return lift_line(
        car_fall=line.fall,
        counterweight_fall=line.rope - line.fall,
        travel=way,
        n_falls=line.n_falls,
        axial_rigidity=line.rigidity,
        spring_compliances=(line.here, line.far),
    )
