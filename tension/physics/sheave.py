"""What a sheave does to the tensions of a rope set while the car runs.

A rope that does not slip leaves a fall at the strain it has there. So a fall that pays
rope out keeps its tensions, and the fall that takes rope in is brought towards them: a
turn of a nut spreads along the rope. A rope on a groove of larger radius passes more
rope for the same turn of the sheave. Its side that takes rope in goes slack, the other
tight, and the car that comes back undoes it.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from tension.errors import InvalidValueError
from tension.physics import FloatArray

_PIECES = 100
"""Pieces of one journey where a fall both takes rope in and pays it out."""

_STEPS = 24
"""Parts of a whole travel between which a rope may slip. [1]"""

_MOST_CYCLES = 400  # round trips followed until nothing moves any more

_CLOSE = 1e-7  # part of the slip difference that counts as no move [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class SheaveSystem:
    """Ropes alike of a traction lift, their falls in a line from the car hitch on.

    Every fall of the car side gets as long as the car travels. So the first sheave from
    the car hitch passes one travel, the next two, the drive sheave ``n_falls``; on the
    other side they fall again.
    """

    axial_rigidity: float  # EA of one rope [N]
    # free rope of one fall on each side where the car stands at the start [m]
    car_fall: float
    counterweight_fall: float
    travel: float  # of the car away from there, positive down [m]
    # reciprocal of the spring rate at that hitch; 0 without a spring [m/N]
    car_spring_compliance: float = 0.0
    counterweight_spring_compliance: float = 0.0
    n_falls: int = 1  # on each side: 2 for 2:1 roping

    def __post_init__(self) -> None:
        positive = (self.axial_rigidity, self.car_fall, self.counterweight_fall)
        if min(positive) <= 0.0:
            raise InvalidValueError(
                f"rigidity and both falls must be above 0, got {positive}"
            )
        if not -self.car_fall < self.travel < self.counterweight_fall:
            raise InvalidValueError(
                f"travel must be less than the fall that it takes up: above "
                f"-{self.car_fall} m, the car fall, and under "
                f"{self.counterweight_fall} m, the counterweight fall, "
                f"got {self.travel} m"
            )

    @property
    def compliances(self) -> FloatArray:
        """Stretch of each fall for unit tension at the start [m/N].

        The spring of a hitch with the fall next to it, the car side first; shape
        (2 n_falls,).
        """
        falls = np.repeat([self.car_fall, self.counterweight_fall], self.n_falls)
        found = falls / self.axial_rigidity
        found[0] += self.car_spring_compliance
        found[-1] += self.counterweight_spring_compliance
        return np.asarray(found)

    @property
    def passed(self) -> FloatArray:
        """Rope that passes each sheave on the way out [m].

        From the fall after it to the fall before it; negative the other way; shape
        (2 n_falls - 1,).
        """
        sheaves = np.arange(1, 2 * self.n_falls)
        return np.asarray(self.travel * np.minimum(sheaves, 2 * self.n_falls - sheaves))


def round_trip_matrix(system: SheaveSystem) -> FloatArray:
    """Find what a journey there and back makes of the tensions of a rope.

    On deviations from the mean of each fall, back at the start; shape (n_falls,
    n_falls), rows sum to one. [1]

    Notes
    -----
    With c the compliance of a fall, ``c d(tau)/ds = sum(tau_in - tau)/EA`` over the
    sheaves that pass rope into it, and ``dc/ds`` the rope gained over EA; a fall that
    only pays out keeps its tensions, for its stretch and its compliance fall together.
    Each piece is stepped so that ``sum(c tau)`` stays exactly what it was; between two
    falls that is the closed form, in which their difference shrinks by the ratio of the
    compliance before to that after each leg, whatever the number of pieces. All falls
    end at the same deviation. The wraps on the sheaves, usually under a metre each, are
    left out, and so are slip and the creep of elastic rope on a loaded sheave, both of
    which even out sooner. (Derived; held against rope rolled piece by piece.)
    """
    pieces = 1 if system.n_falls == 1 else _PIECES
    out = system.passed / system.axial_rigidity / pieces
    compliance = system.compliances
    made = np.eye(len(compliance))
    for step in [*[out] * pieces, *[-out] * pieces]:
        flow = np.diag(compliance)
        for sheave, passed in enumerate(step):
            source = sheave + 1 if passed > 0.0 else sheave
            flow[sheave, source] += passed
            flow[sheave + 1, source] -= passed
        compliance = compliance + np.diff(step, prepend=0.0, append=0.0)
        made = flow / compliance[:, None] @ made
    return made


def compliances_at(
    rope_passed: ArrayLike, system: SheaveSystem
) -> tuple[FloatArray, FloatArray]:
    """How soft [m/N] both sides are once so much rope [m] has passed to the car side.

    Stretch of car and counterweight side for unit tension, of ropes over one sheave;
    their sum is the same everywhere.
    """
    passed = np.asarray(rope_passed, dtype=float) / system.axial_rigidity
    car, other = system.compliances
    return car + passed, other - passed


def side_deviations(
    *,
    differences: ArrayLike,
    excess_lengths: ArrayLike,
    rope_passed: ArrayLike,
    system: SheaveSystem,
) -> tuple[FloatArray, FloatArray]:
    """Tell the deviations of both sides from what runs keep and what they change.

    Tension of each rope on the car side and on the counterweight side, less the mean of
    that side, so that each sums to zero [N], shape (n_ropes,).

    Differences, car side less counterweight side [N], which runs and slip change;
    excess lengths, by how much shorter than the mean a rope was set at its nuts [m],
    which they do not; shape (n_ropes,) each. The rope passed is counted from the start
    [m].

    With compliances c and deviations t, ``c_car t_car + c_cwt t_cwt = excess`` and
    ``t_car - t_cwt = difference``.
    """
    car, other = compliances_at(rope_passed, system)
    whole = car + other
    u = np.asarray(differences, dtype=float)
    excess = np.asarray(excess_lengths, dtype=float)
    return (excess + other * u) / whole, (excess - car * u) / whole


def run_to(
    differences: ArrayLike,
    *,
    radius_deviations: ArrayLike,
    start: float,
    end: float,
    system: SheaveSystem,
    slip_difference: float = np.inf,
) -> FloatArray:
    """Run the car from one place of its travel to another.

    Differences [N], car side less counterweight side of each rope, before and after the
    run; radius deviations [1], by how much a rope's groove is wider than the mean of
    the set, over that mean; shape (n_ropes,). Start and end are the rope passed to the
    car side [m]; the car goes down as it grows. A rope slips at the slip difference of
    its two sides [N], infinity for never.

    Raises
    ------
    InvalidValueError
        If a place lies outside the travel, or the slip difference is not above 0.

    Notes
    -----
    With ``g`` the radius deviation, s the rope passed and ``C = c_car + c_cwt``, which
    stays, the side that pays out changes by ``g ds`` over its compliance, and the side
    that takes in is besides brought towards it:

    - down, ``d(c_car u)/ds = -g C/c_cwt``: ``c_car u - g C EA ln(c_cwt)`` stays;
    - up, ``d(c_cwt u)/ds = +g C/c_car`` along the run: ``c_cwt u + g C EA ln(c_car)``
      stays.

    With g = 0 it is the closed form without slip. Slip is met between short parts of
    the run. Wrap and creep under the load of the car are left out, and strain is taken
    as small, as there.
    """
    if min(start, end) < 0.0 or max(start, end) > system.travel:
        raise InvalidValueError(
            f"a run must lie within the travel of {system.travel} m, "
            f"got {start} m to {end} m"
        )
    if not slip_difference > 0.0:
        raise InvalidValueError(
            f"slip difference must be above 0 N, got {slip_difference} N"
        )
    u = np.asarray(differences, dtype=float)
    g = np.asarray(radius_deviations, dtype=float)
    drive = g * sum(compliances_at(0.0, system)) * system.axial_rigidity
    n_steps = 1
    if np.isfinite(slip_difference) and system.travel > 0.0:
        n_steps = max(1, int(np.ceil(_STEPS * abs(end - start) / system.travel)))
    places = np.linspace(start, end, n_steps + 1)
    cars, others = compliances_at(places, system)
    for i in range(n_steps):
        if end >= start:
            fed = drive * np.log(others[i + 1] / others[i])
            u = (cars[i] * u + fed) / cars[i + 1]
        else:
            fed = -drive * np.log(cars[i + 1] / cars[i])
            u = (others[i] * u + fed) / others[i + 1]
        u = np.clip(u, -slip_difference, slip_difference)
    return np.asarray(u, dtype=float)


def settled_ends(
    *,
    radius_deviations: ArrayLike,
    system: SheaveSystem,
    slip_difference: float = np.inf,
) -> tuple[FloatArray, FloatArray]:
    """Compute the differences [N] at both ends after many runs over the whole travel.

    Where the car side is shortest, then at the far end; radius deviations [1] and slip
    difference [N] as in `run_to`, shape (n_ropes,).

    Notes
    -----
    A run down and a run up map u linearly, ``u -> a u + b g`` with a < 1; without slip
    the start of the cycle is ``b g/(1 - a)``. With slip the cycle is run until it
    repeats.
    """
    g = np.asarray(radius_deviations, dtype=float)
    far = system.travel

    def cycle(
        u: FloatArray, of: FloatArray, slip: float
    ) -> tuple[FloatArray, FloatArray]:
        run = partial(run_to, radius_deviations=of, system=system, slip_difference=slip)
        at_far_end = run(u, start=0.0, end=far)
        return run(at_far_end, start=far, end=0.0), at_far_end

    if far <= 0.0:
        return np.zeros_like(g), np.zeros_like(g)
    kept = float(cycle(np.ones(1), np.zeros(1), np.inf)[0][0])
    u = cycle(np.zeros_like(g), g, np.inf)[0] / (1.0 - kept)
    u = np.clip(u, -slip_difference, slip_difference)
    for _ in range(_MOST_CYCLES):
        after = cycle(u, g, slip_difference)[0]
        moved = float(np.abs(after - u).max(initial=0.0))
        u = after
        if moved <= _CLOSE * slip_difference:
            break
    return u, cycle(u, g, slip_difference)[1]
