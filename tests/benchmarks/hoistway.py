"""A rope set in its hoistway, with grooves that hold until the car runs.

Truth for the adjustment benchmark: every rope has its own springs and stretch, both
sides of the sheave are kept, rope rolls over in pieces of the travel, and a rope slips
where its groove cannot hold the difference. Imports nothing from the package.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PIECES = 12  # of one journey


@dataclass(kw_only=True)
class Hoistway:
    """Tensions on both sides of a traction sheave, the car at the top landing.

    car_springs, other_springs: compliance of each spring [m/N], 0 without; rigidity: EA
    of each rope [N]; car_fall, other_fall, travel [m]; grip: largest ratio of a rope's
    two tensions, over that of the two means, that its groove holds.
    """

    car: Array
    other: Array
    car_springs: Array
    other_springs: Array
    rigidity: Array
    car_fall: float
    other_fall: float
    travel: float
    grip: float

    def car_compliance(self, passed: float = 0.0) -> Array:
        return np.asarray(self.car_springs + (self.car_fall + passed) / self.rigidity)

    def other_compliance(self, passed: float = 0.0) -> Array:
        return np.asarray(
            self.other_springs + (self.other_fall - passed) / self.rigidity
        )

    @property
    def shares(self) -> Array:
        return np.asarray(self.car / self.car.mean())

    @property
    def spread(self) -> float:
        return float(1.0 - self.car.min() / self.car.max())

    def turn(self, place: int, travel: float) -> None:
        """Turn one nut at the car hitch; only the car side changes."""
        k = 1.0 / self.car_compliance()
        d = np.zeros(len(k))
        d[place] = travel
        self.car = self.car + k * (d - float(k @ d / k.sum()))
        self._slip()

    def run(self, n_round_trips: int) -> None:
        """Run the car to the bottom and back."""
        piece = self.travel / PIECES
        for _ in range(n_round_trips):
            for i in range(PIECES):
                self._roll(piece, i * piece, down=True)
            for i in reversed(range(PIECES)):
                self._roll(piece, i * piece, down=False)
            self._slip()

    def _roll(self, piece: float, passed: float, *, down: bool) -> None:
        """Pass a piece of rope: the side that takes it in goes towards the other."""
        before = self.car_compliance(passed), self.other_compliance(passed)
        after = (
            self.car_compliance(passed + piece),
            self.other_compliance(passed + piece),
        )
        if down:
            gap = (self.car - self.car.mean()) - (self.other - self.other.mean())
            target = self.car.mean() + self.other - self.other.mean()
            self.car = self._loaded(
                target + gap * before[0] / after[0], self.car.mean(), after[0]
            )
        else:
            gap = (self.other - self.other.mean()) - (self.car - self.car.mean())
            target = self.other.mean() + self.car - self.car.mean()
            self.other = self._loaded(
                target + gap * after[1] / before[1], self.other.mean(), before[1]
            )

    @staticmethod
    def _loaded(tensions: Array, mean: float, compliance: Array) -> Array:
        """Let the hitch move until the load is carried again."""
        k = 1.0 / compliance
        missing = mean * len(tensions) - tensions.sum()
        return np.asarray(tensions + k * missing / k.sum())

    def _slip(self) -> None:
        """Let ropes slip whose groove does not hold."""
        usual = self.car.mean() / self.other.mean()
        most = 1.0 + self.grip
        for _ in range(50):
            ratio = self.car / self.other / usual
            over = np.where(ratio > most, self.car - most * usual * self.other, 0.0)
            under = np.where(
                ratio < 1.0 / most, self.other - most * self.car / usual, 0.0
            )
            if max(over.max(), under.max()) < 1.0:
                return
            c, o = self.car_compliance(), self.other_compliance()
            passed = over / (1.0 / c + most * usual / o)
            passed = passed - under / (1.0 / o + most / usual / c)
            self.car = self._loaded(self.car - passed / c, self.car.mean(), c)
            self.other = self._loaded(self.other + passed / o, self.other.mean(), o)


def random_hoistway(rng: np.random.Generator, n_ropes: int, spread: float) -> Hoistway:
    """A set whose lengths differ so that its spread is as given, the car run in."""
    mean = rng.uniform(2500.0, 6000.0)
    tensions = 1.0 + rng.uniform(-1.0, 1.0, n_ropes)
    low, high = tensions.min(), tensions.max()
    ratio = 1.0 - spread
    tensions = ratio + (1.0 - ratio) * (tensions - low) / (high - low)
    tensions = tensions / tensions.mean()
    kind = int(rng.integers(0, 3))
    rate = rng.uniform(50e3, 200e3)
    own = np.exp(0.05 * rng.standard_normal((3, n_ropes)))
    springs = own[0] / rate if kind > 0 else np.zeros(n_ropes)
    far = own[1] / rate if kind > 1 else np.zeros(n_ropes)
    fall = rng.uniform(3.0, 6.0)
    travel = rng.uniform(12.0, 50.0)
    return Hoistway(
        car=mean * tensions,
        other=mean * (rng.uniform(1.1, 1.4) + tensions - 1.0),  # the same newtons off
        car_springs=springs,
        other_springs=far,
        rigidity=rng.uniform(2.5e6, 5.0e6)
        * np.exp(0.02 * rng.standard_normal(n_ropes)),
        car_fall=fall,
        other_fall=travel + rng.uniform(3.0, 6.0),
        travel=travel,
        grip=rng.uniform(0.3, 1.2),
    )
