"""Two sides of a set over one sheave in closed form, and ropes that slip.

A rope that does not slip leaves a side at the strain it has there. So a side that pays
rope out keeps its tensions, and the side that takes rope in is brought towards them.
Imports nothing from the package.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class SheaveSystem:
    """Two sides of a set of ropes over one sheave, all ropes with the same sheave turn.

    Attributes
    ----------
    axial_rigidity : float
        EA of one rope. [N]
    car_fall, counterweight_fall : float
        Free rope on each side where the car stands at the start. [m]
    travel : float
        How much rope passes the sheave from one end of the travel to the other. [m]
    car_spring_compliance, counterweight_spring_compliance : float
        Reciprocal of the spring rate at that hitch; 0 without a spring. [m/N]
    grip : float
        Largest ratio of the two tensions of one rope that the groove holds, over and
        above 1; infinity where the rope never slips. [1]
    """

    axial_rigidity: float
    car_fall: float
    counterweight_fall: float
    travel: float
    car_spring_compliance: float = 0.0
    counterweight_spring_compliance: float = 0.0
    grip: float = np.inf

    @property
    def car_compliance(self) -> float:
        """Stretch of the car side for unit tension at the start [m/N]."""
        return self.car_spring_compliance + self.car_fall / self.axial_rigidity

    @property
    def counterweight_compliance(self) -> float:
        """Stretch of the counterweight side for unit tension at the start [m/N]."""
        return (
            self.counterweight_spring_compliance
            + self.counterweight_fall / self.axial_rigidity
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class SideDeviations:
    """Tension of each rope on either side, less the mean of that side.

    Attributes
    ----------
    car, counterweight : ndarray, shape (n_ropes,)
        Deviations; each sums to zero. [N]
    """

    car: FloatArray
    counterweight: FloatArray


def turn_nuts(
    before: SideDeviations, nut_travels: ArrayLike, system: SheaveSystem
) -> SideDeviations:
    """Turn nuts at the car hitch while the car stands.

    Parameters
    ----------
    before : SideDeviations
        Deviations before.
    nut_travels : array_like, shape (n_ropes,)
        Positive towards the plate. [m]
    system : SheaveSystem
        The two sides.

    Returns
    -------
    SideDeviations
        Only the car side has changed.
    """
    travels = np.asarray(nut_travels, dtype=float)
    changes = (travels - travels.mean()) / system.car_compliance
    return replace(before, car=before.car + changes)


def run_round_trips(
    before: SideDeviations, n_round_trips: int, system: SheaveSystem
) -> SideDeviations:
    """Run the car to the other end of its travel and back.

    Parameters
    ----------
    before : SideDeviations
        Deviations where the car stands at the start.
    n_round_trips : int
        How many times there and back.
    system : SheaveSystem
        The two sides; the car side gets longer on the way out.

    Returns
    -------
    SideDeviations
        Deviations back at the start.

    Notes
    -----
    With c the compliance of the side that takes rope in and s the rope passed,
    ``c d(tau_in)/ds = (tau_out - tau_in)/EA`` and ``dc/ds = 1/EA``; the side that pays
    out keeps its tensions, for its stretch and its compliance fall together. Hence, in
    closed form, ``tau_in - tau_out`` shrinks by the ratio of the compliance before to
    that after each leg. Both sides end at ``d / (c_car + c_counterweight)``: that is
    `k_run`. The wrap on the sheave, usually under a metre, is left out, and so is the
    creep that elastic rope makes on a loaded sheave.
    """
    passed = system.travel / system.axial_rigidity
    c_car, c_counterweight = system.car_compliance, system.counterweight_compliance
    out_ratio = c_car / (c_car + passed)
    back_ratio = (c_counterweight - passed) / c_counterweight
    car, counterweight = before.car, before.counterweight
    for _ in range(n_round_trips):
        car = counterweight + (car - counterweight) * out_ratio
        counterweight = car + (counterweight - car) * back_ratio
    return SideDeviations(car=car, counterweight=counterweight)


def let_ropes_slip(
    before: SideDeviations,
    *,
    car_mean: float,
    counterweight_mean: float,
    system: SheaveSystem,
) -> SideDeviations:
    """Let every rope slip whose two tensions differ by more than its groove holds.

    Parameters
    ----------
    before : SideDeviations
        Deviations where the car stands.
    car_mean, counterweight_mean : float
        Mean tension of each side. [N]
    system : SheaveSystem
        The two sides, with the grip of the grooves.

    Returns
    -------
    SideDeviations
        No rope holds more than the grip; the load of each side is unchanged.

    Notes
    -----
    Slip passes rope from one side to the other: rope i gets ``u_i`` on the car side and
    loses it on the other, so its tensions change by ``-u_i/c_car`` and
    ``+u_i/c_counterweight`` before either side's load is restored. Repeated until no
    rope is over the grip.
    """
    car, counterweight = before.car.copy(), before.counterweight.copy()
    if not np.isfinite(system.grip):
        return SideDeviations(car=car, counterweight=counterweight)
    c_car, c_other = system.car_compliance, system.counterweight_compliance
    most = 1.0 + system.grip
    for _ in range(200):
        tight, slack = car_mean + car, counterweight_mean + counterweight
        over = tight - most * slack
        under = slack - most * tight
        # positive: rope passes to the car side
        passed = np.where(over > 0.0, over / (1.0 / c_car + most / c_other), 0.0)
        passed -= np.where(under > 0.0, under / (1.0 / c_other + most / c_car), 0.0)
        if float(np.abs(passed).max()) * max(1.0 / c_car, 1.0 / c_other) < 1e-6:
            break
        car = car - (passed - passed.mean()) / c_car
        counterweight = counterweight + (passed - passed.mean()) / c_other
    return SideDeviations(car=car, counterweight=counterweight)
