"""Ropes over a drive sheave as unstretched lengths: finite strain, slip, springs.

Other mathematics than the package's: what is stepped is how much unstretched rope each
side holds. A side hangs on springs, its load is given, its height follows; when the
sheave turns, every rope leaves the side that pays out with the strain it has there, and
where a groove cannot hold the two tensions of a rope it slips until it can. Imports
nothing from the package.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PIECES = 4  # of one journey
SLIPS = 30  # at most, after each piece


@dataclass(kw_only=True)
class Side:
    """Rope held [m], springs [m/N], nuts taken up [m], load [N], height [m]."""

    held: Array
    springs: Array
    nuts: Array
    load: float
    height: float = 0.0

    def tensions(self, rigidity: Array) -> Array:
        """Tensions under the load, by the height at which they carry it.

        A rope whose held length u is stretched to ``height + nuts - springs T`` has
        ``T = EA (length - u)/u``; that is linear in the height. A slack rope carries
        nothing, and the others are asked again.
        """
        carries = np.ones(len(self.held), dtype=bool)
        t = np.zeros(len(self.held))
        for _ in range(len(self.held)):
            gives = self.held / rigidity + self.springs
            a, b = (self.nuts - self.held) / gives, 1.0 / gives
            self.height = (self.load - float(a[carries].sum())) / float(
                b[carries].sum()
            )
            t = np.where(carries, a + b * self.height, 0.0)
            if np.all(t >= 0.0):
                return np.asarray(t)
            carries &= t > 0.0
        return np.asarray(np.maximum(t, 0.0))


@dataclass(kw_only=True)
class RunningRopes:
    """A set, the car where it is measured."""

    car: Side
    other: Side
    rigidity: Array
    travel: float
    grip: float  # largest ratio of a rope's tensions over that of the two loads

    @property
    def tensions(self) -> Array:
        """On the car side [N]."""
        return self.car.tensions(self.rigidity)

    @property
    def shares(self) -> Array:
        t = self.tensions
        return np.asarray(t / t.mean())

    @property
    def spread(self) -> float:
        """Below the highest."""
        t = self.tensions
        return float(1.0 - t.min() / t.max())

    def turn(self, place: int, travel: float) -> None:
        """Turn one nut at the car hitch, towards the plate if positive [m]."""
        self.car.nuts[place] += travel
        self._slip()

    def run(self, n_round_trips: int, pieces: int = PIECES) -> None:
        """Run the car to the other end and back."""
        piece = self.travel / pieces
        for _ in range(n_round_trips):
            for way in (piece,) * pieces + (-piece,) * pieces:
                self._roll(way)
                self._slip()

    def settled_spread(self) -> float:
        """Spread after as many round trips as change nothing more."""
        copy = self.copy()
        before = copy.spread
        for _ in range(60):
            copy.run(20, pieces=1)
            if abs(copy.spread - before) < 1e-5:
                break
            before = copy.spread
        return copy.spread

    def copy(self) -> "RunningRopes":
        sides = [
            Side(
                held=s.held.copy(),
                springs=s.springs,
                nuts=s.nuts.copy(),
                load=s.load,
                height=s.height,
            )
            for s in (self.car, self.other)
        ]
        return RunningRopes(
            car=sides[0],
            other=sides[1],
            rigidity=self.rigidity,
            travel=self.travel,
            grip=self.grip,
        )

    def _roll(self, way: float) -> None:
        """Pass rope to the car side, or back: as much stretched rope of every rope."""
        source = self.other if way > 0.0 else self.car
        strain = source.tensions(self.rigidity) / self.rigidity
        passed = way / (1.0 + strain)
        self.car.held = self.car.held + passed
        self.other.held = self.other.held - passed

    def _slip(self) -> None:
        """Let ropes slip whose groove does not hold."""
        usual = self.car.load / self.other.load
        most = 1.0 + self.grip
        for _ in range(SLIPS):
            t, o = self.car.tensions(self.rigidity), self.other.tensions(self.rigidity)
            over = np.maximum(t - most * usual * o, 0.0)
            under = np.maximum(o - most * t / usual, 0.0)
            if max(over.max(), under.max()) < 1.0:
                return
            near = self.car.held / self.rigidity + self.car.springs
            far = self.other.held / self.rigidity + self.other.springs
            # rope to the car side lowers its tension there and raises it beyond
            passed = over / (1.0 / near + most * usual / far)
            passed = passed - under / (1.0 / far + most / usual / near)
            self.car.held = self.car.held + passed
            self.other.held = self.other.held - passed


def hang(
    *,
    tensions: Array,
    other_mean: float,
    car_springs: Array,
    other_springs: Array,
    rigidity: Array,
    car_fall: float,
    other_fall: float,
    travel: float,
    grip: float = np.inf,
) -> RunningRopes:
    """Hang a set that has run in: the same newtons off the mean on both sides."""
    mean = float(tensions.mean())
    others = other_mean + tensions - mean
    sides = []
    for t, springs, fall in (
        (tensions, car_springs, car_fall),
        (others, other_springs, other_fall),
    ):
        # lengths so that every rope carries its tension at one height of the hitch
        gives = 1.0 + t / rigidity
        held = (fall - springs * (t - t.mean())) / gives
        side = Side(
            held=held,
            springs=springs,
            nuts=np.zeros(len(t)),
            load=float(t.sum()),
        )
        side.nuts = held * gives + springs * t - fall
        sides.append(side)
    return RunningRopes(
        car=sides[0],
        other=sides[1],
        rigidity=rigidity,
        travel=travel,
        grip=grip,
    )
