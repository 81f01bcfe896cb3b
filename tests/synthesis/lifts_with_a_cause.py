"""Lifts whose ropes are unequal for a known cause, stepped and read as people would.

A simulator of its own: unstretched rope on either side of a sheave, springs, grooves
of their own radius, slip where the two tensions of a rope differ too much, car and
counterweight as fixed loads. The sheave is turned in small steps; nothing is taken as
linear. Readings are pitches of ideal strings or side pulls, with errors of reading and
of tape. Imports nothing from `tension`.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GRAVITY = 9.80665


@dataclass
class SteppedLift:
    """Ropes over one sheave, stepped; unstretched lengths are the state."""

    n_ropes: int
    rigidities: Array  # EA of each rope [N]
    springs: tuple[Array, Array]  # compliance of each rope's spring, car, cwt [m/N]
    radii: Array  # radius over nominal, each groove [1]
    falls: tuple[float, float]  # car and counterweight at the top [m]
    travel: float
    loads: tuple[float, float]  # what hangs on either side [N]
    grip: float  # largest ratio of the two tensions of a rope [1]
    step: float = 0.5
    place: float = 0.0
    car: Array = field(init=False)
    other: Array = field(init=False)
    held: list[Array] = field(init=False)

    def __post_init__(self) -> None:
        even = [load / self.n_ropes for load in self.loads]
        self.held = [
            fall / (1.0 + mean / self.rigidities)
            for fall, mean in zip(self.falls, even, strict=True)
        ]
        self.settle()

    def _side(self, which: int) -> Array:
        """Tensions of one side: the rigid hitch takes the place that bears the load."""
        fall = self.falls[which] + (self.place if which == 0 else -self.place)
        held = self.held[which]
        compliance = held / self.rigidities + self.springs[which]
        gap = fall - held
        lift = (self.loads[which] - float((gap / compliance).sum())) / float(
            (1.0 / compliance).sum()
        )
        return (gap + lift) / compliance

    def settle(self) -> None:
        """Find both sides, letting ropes slip until every groove holds."""
        for _ in range(200):
            self.car, self.other = self._side(0), self._side(1)
            # what the loads ask of all ropes alike is the machine's business
            bias = self.car.mean() / self.other.mean()
            least = 0.02 * self.other.mean()  # a slack rope slips at once
            car, other = np.maximum(self.car, least), np.maximum(self.other, least)
            ratio = car / other / bias
            over = np.where(ratio > self.grip, ratio / self.grip - 1.0, 0.0)
            under = np.where(ratio < 1.0 / self.grip, 1.0 / (ratio * self.grip) - 1, 0)
            if max(over.max(), under.max()) < 1e-4:
                return
            soft = 1.0 / sum(
                1.0 / (held / self.rigidities + spring)
                for held, spring in zip(self.held, self.springs, strict=True)
            )
            # what the tighter side has too much, by a part at a time
            slip = 0.6 * (over * other - under * car) * soft
            slip -= slip.mean()
            self.held[0] = self.held[0] + slip
            self.held[1] = self.held[1] - slip

    def run_to(self, place: float) -> None:
        """Turn the sheave in steps until the car stands at a place."""
        n_steps = max(1, round(abs(place - self.place) / self.step))
        for _ in range(n_steps if place != self.place else 0):
            ds = (place - self.place) / n_steps if n_steps else 0.0
            self._turn(ds)
            n_steps -= 1
        self.place = place
        self.settle()

    def _turn(self, ds: float) -> None:
        """Pass rope; a piece keeps the strain of the side that it comes from."""
        rope = abs(ds) * self.radii
        if ds > 0:  # car goes down
            piece = rope / (1.0 + self.other / self.rigidities)
            self.held[1] = self.held[1] - piece
            self.held[0] = self.held[0] + piece
        else:
            piece = rope / (1.0 + self.car / self.rigidities)
            self.held[0] = self.held[0] - piece
            self.held[1] = self.held[1] + piece
        self.place += ds
        self.settle()

    def cycle(self, times: int) -> None:
        """Run over the whole travel and back to the top."""
        for _ in range(times):
            self.run_to(self.travel)
            self.run_to(0.0)

    def turn_nuts(self, travels: Array) -> None:
        """Turn nuts at the car hitch: positive shortens the rope."""
        self.held[0] = self.held[0] - travels / (1.0 + self.car / self.rigidities)
        self.settle()

    def stretch(self, lengths: Array) -> None:
        """Let ropes get longer, where most of them hangs."""
        part = self.held[0] / (self.held[0] + self.held[1])
        self.held[0] = self.held[0] + part * lengths
        self.held[1] = self.held[1] + (1 - part) * lengths
        self.settle()

    def equalise(self, rounds: int = 3, left: Array | None = None) -> None:
        """Adjust at the top until the car side is equal, or has what is left."""
        whole = (self.falls[0] + self.falls[1]) / self.rigidities
        soft = whole + self.springs[0] + self.springs[1]
        wanted = np.zeros(self.n_ropes) if left is None else left
        for _ in range(rounds):
            off = wanted - (self.car - self.car.mean())
            self.turn_nuts(off * soft)
            self.cycle(3)
