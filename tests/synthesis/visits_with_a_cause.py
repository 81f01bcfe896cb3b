"""Visits to lifts with a known cause: which series were taken, and what was read.

Which series a visit has is drawn without regard to the cause, except that nuts turned a
short while ago are what makes a set not run in. Imports nothing from `tension`.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tests.synthesis.lifts_with_a_cause import SteppedLift

Array = NDArray[np.float64]

CAUSES = (
    "rope-length",
    "groove-radius",
    "not-run-in",
    "settling",
    "stiffness",
    "mass",
    "bound-spring",
    "stagger",
    "twist",
    "touching",
)


@dataclass
class ReadSeries:
    """One series as read: tensions worked out the simple way, and what was written."""

    name: str
    side: str
    place: float
    arrived: str
    free_length: float
    span: str
    weeks: float
    visit: int
    epoch: int
    trips: int | None
    turned_at: float | None
    by_pitch: bool
    lengths_read: bool
    tensions: Array
    relative: float  # standard uncertainty of a reading of one rope [1]
    of_length: float  # part of it from the tape [1]


@dataclass
class ReadVisit:
    """All series of a lift, with what is known of it."""

    n_ropes: int
    rigidity: float
    springs: tuple[float, float]
    falls: tuple[float, float]
    travel: float
    rows: tuple[int, ...]
    series: list[ReadSeries] = field(default_factory=list)


class Story:
    """One lift, its causes and the visits paid to it."""

    def __init__(self, seed: int, causes: tuple[str, ...]) -> None:
        self.causes = causes
        rng = self.rng = np.random.default_rng([seed, 16])
        self.noise = np.random.default_rng([seed, 17])
        self.n = int(rng.integers(3, 9))
        self.mean = float(rng.uniform(2500, 8000))
        self.rigidity = self.mean * float(rng.uniform(700, 1300))
        rate = self.mean * float(rng.uniform(20, 45))
        both = rng.random() < 0.6
        self.soft = (1.0 / rate, 1.0 / rate if both else 0.0)
        self.travel = float(rng.uniform(12, 45))
        near = rng.uniform(3, 6, 2)
        self.falls = (float(near[0]), float(near[1]) + self.travel)
        self.radius = float(rng.uniform(0.2, 0.33))
        self.grip = float(rng.uniform(1.2, 2.0))
        self.balance = float(rng.uniform(1.1, 1.35))
        self.rows = tuple(i % 2 for i in range(self.n))
        self.one = int(rng.integers(self.n))
        self.wants = {
            name: rng.random() < chance
            for name, chance in {
                "middle up": 0.85,
                "middle down": 0.8,
                "bottom": 0.75,
                "counterweight": 0.6,
                "loaded": 0.7,
                "repeat": 0.65,
                "pull": 0.5,
                "earlier": 0.75,
                "adjusted earlier": 0.5,
            }.items()
        }
        self.is_lean = rng.random() < 0.12
        if self.is_lean:
            for name in self.wants:
                self.wants[name] &= rng.random() < 0.4
        self.added = float(rng.uniform(0.2, 0.5))
        self.apart = float(rng.uniform(4, 25))
        self.reading = float(rng.uniform(0.002, 0.005))
        self.has_lengths = rng.random() < 0.5
        self._draw_causes(rng)

    def _draw_causes(self, rng: np.random.Generator) -> None:
        """Sizes of everything, whether at work or not, so that draws stay the same."""
        n, one = self.n, self.one
        self.left = self._even(rng, 0.006)
        self.length = self._even(rng, float(rng.uniform(0.05, 0.12)), 0.05)
        worn = float(rng.uniform(0.03, 0.12)) * 1e-3 / self.radius
        self.grooves = rng.normal(0.0, worn, n)
        self.faint = rng.normal(0.0, 0.002e-3 / self.radius, n)
        self.fresh = self._even(rng, float(rng.uniform(0.06, 0.15)), 0.06)
        self.life = float(rng.uniform(4, 20))
        lone = np.zeros(n)
        lone[one] = float(rng.uniform(0.08, 0.25))
        several = np.abs(rng.normal(0.0, float(rng.uniform(0.06, 0.15)), n))
        self.settles = lone if rng.random() < 0.6 else several
        self.begun = float(rng.uniform(0.0, 6.0))
        self.spring_factors = 1.0 + np.clip(
            rng.normal(0, rng.uniform(0.12, 0.25), n), -0.6, 0.6
        )
        self.rope_factors = 1.0 + np.clip(rng.normal(0, 0.1, n), -0.3, 0.3)
        heavy = np.zeros(n)
        heavy[one] = float(rng.choice([-1, 1])) * float(rng.uniform(0.05, 0.10))
        self.masses = heavy if rng.random() < 0.5 else rng.normal(0, 0.05, n)
        step = float(rng.uniform(0.08, 0.2))
        rows = (np.array(self.rows) - 0.5) * step
        self.staggers = rows if rng.random() < 0.7 else rng.normal(0, 0.06, n)
        self.twist = float(rng.uniform(0.05, 0.12))
        self.touch = float(rng.uniform(0.06, 0.35))
        self.touched = int(rng.integers(100))

    def _even(self, rng: np.random.Generator, size: float, least: float = 0.0) -> Array:
        """Deviations of one rope each over the mean tension, summing to zero."""
        drawn = rng.normal(0.0, size, self.n)
        drawn -= drawn.mean()
        largest = float(np.abs(drawn).max())
        return drawn * max(1.0, least / max(largest, 1e-9))

    def has(self, cause: str) -> bool:
        """Whether a cause is at work."""
        return cause in self.causes

    def lift(self) -> SteppedLift:
        """The lift as built."""
        n = self.n
        stiff = self.rope_factors if self.has("stiffness") else np.ones(n)
        weak = self.spring_factors if self.has("stiffness") else np.ones(n)
        car = np.full(n, self.soft[0]) * weak
        other = np.full(n, self.soft[1]) * weak
        if self.has("bound-spring"):
            car[self.one] *= 0.1
        radii = 1.0 + self.faint + (self.grooves if self.has("groove-radius") else 0.0)
        return SteppedLift(
            n_ropes=n,
            rigidities=self.rigidity * stiff,
            springs=(car, other),
            radii=radii,
            falls=self.falls,
            travel=self.travel,
            loads=(n * self.mean, n * self.mean * self.balance),
            grip=self.grip,
            step=self.travel / 24,
        )

    def told(self) -> ReadVisit:
        """Pay the visits and write down what was read."""
        self.record = ReadVisit(
            n_ropes=self.n,
            rigidity=self.rigidity,
            springs=self.soft,
            falls=self.falls,
            travel=self.travel,
            rows=self.rows,
        )
        lift = self.lift()
        lift.cycle(4)
        left = self.left + (self.length if self.has("rope-length") else 0.0)
        lift.equalise(left=left * self.mean)
        self.weeks, self.visit, self.epoch = 0.0, 0, 0
        self.trips: int | None = None
        self.turned_at: float | None = None
        self.tapes: dict[tuple[int, str], Array] = {}
        self._wait(lift, self.begun)
        self.weeks = 0.0
        if self.wants["earlier"]:
            self._earlier(lift)
        if self.has("not-run-in"):
            self._turned(lift)
        self._main(lift)
        return self.record

    def _wait(self, lift: SteppedLift, weeks: float) -> None:
        """Let time pass, and ropes that settle settle."""
        start = self.weeks if self.record.series else 0.0
        before = self.begun * bool(self.record.series) + start
        if self.has("settling"):
            part = np.exp(-before / self.life) - np.exp(-(before + weeks) / self.life)
            soft = sum(self.falls) / self.rigidity + sum(self.soft)
            lift.stretch(part * self.settles * self.mean * soft)
        lift.cycle(3)
        self.weeks += weeks

    def _earlier(self, lift: SteppedLift) -> None:
        """A short visit some weeks before."""
        self._read(lift, "top", 0.0, "up")
        if self.wants["middle up"]:
            lift.cycle(1)
            lift.run_to(self.travel)
            lift.run_to(self.travel / 2)
            self._read(lift, "middle", self.travel / 2, "up")
        if self.wants["adjusted earlier"]:
            lift.cycle(1)
            lift.equalise(left=self.left * self.mean)
            self.epoch, self.trips, self.turned_at = 1, None, 0.0
            self._read(lift, "top", 0.0, "up")
        self._wait(lift, self.apart)
        self.visit = 1

    def _turned(self, lift: SteppedLift) -> None:
        """Nuts turned, and read before the car has run enough."""
        lift.cycle(1)
        lift.run_to(0.0)
        self._read(lift, "top", 0.0, "up")
        fall = self.falls[0] / self.rigidity + self.soft[0]
        lift.turn_nuts(self.fresh * self.mean * fall)
        self.epoch += 1
        self.trips, self.turned_at = 0, 0.0
        self._read(lift, "top", 0.0, "up")

    def _main(self, lift: SteppedLift) -> None:
        """The visit at which the cause is looked for."""
        travel = self.travel
        if not self.has("not-run-in"):
            self._move(lift, [0.0])
            self._read(lift, "top", 0.0, "up")
        if self.wants["loaded"]:
            before = lift.loads
            lift.loads = (before[0] * (1.0 + self.added), before[1])
            lift.settle()
            self._read(lift, "top", 0.0, "up")
            lift.loads = before
            lift.settle()
        if self.wants["pull"]:
            self._read(lift, "top", 0.0, "up", by_pitch=False)
        if self.wants["middle down"]:
            self._move(lift, [0.0, travel / 2])
            self._read(lift, "middle", travel / 2, "down")
        if self.wants["bottom"]:
            self._move(lift, [travel])
            self._read(lift, "bottom", travel, "down")
        if self.wants["middle up"] or self.wants["counterweight"]:
            self._move(lift, [travel, travel / 2])
        if self.wants["middle up"]:
            self._read(lift, "middle", travel / 2, "up")
        if self.wants["counterweight"]:
            self._read(lift, "middle", travel / 2, "up", side="counterweight")
        if self.wants["repeat"]:
            self._move(lift, [0.0, travel, 0.0])
            self._read(lift, "top", 0.0, "up")

    def _move(self, lift: SteppedLift, places: list[float]) -> None:
        """Run the car; a rope that is twisted is another afterwards."""
        for place in places:
            lift.run_to(place)
        if self.trips is not None:
            self.trips += 1 if places[0] in (0.0, self.travel) else 0
        if self.has("twist"):
            soft = sum(self.falls) / self.rigidity + sum(self.soft)
            off = np.zeros(self.n)
            off[self.one] = self.rng.normal(0.0, self.twist) * self.mean * soft
            lift.stretch(off)

    def _read(
        self,
        lift: SteppedLift,
        where: str,
        place: float,
        arrived: str,
        *,
        side: str = "car",
        by_pitch: bool = True,
    ) -> None:
        """Read all ropes, and work the tensions out the simple way."""
        is_car = side == "car"
        true = lift.car if is_car else lift.other
        length = self.falls[0] + place if is_car else self.falls[1] - place
        span = f"{where}, {side}"
        own = np.full(self.n, length)
        if self.has("stagger") and is_car:
            own = own + self.staggers
        swings = own.copy()
        if self.has("touching") and span == self._touched_span():
            swings[self.one] *= 1.0 - self.touch
        reads = self.has_lengths and not self.has("stagger")
        tape = 0.004
        key = (self.visit, span)
        if key not in self.tapes:
            self.tapes[key] = self.noise.normal(0.0, tape, self.n)
        taken = own + self.tapes[key] if reads else np.full(self.n, length)
        if not reads and not self.has("stagger"):
            taken = taken + self.tapes[key]  # sockets are at one height to so much
        masses = 1.0 + (self.masses if self.has("mass") else 0.0)
        pulled = 0.012
        if by_pitch:
            pitches = np.sqrt(true / masses) / (2.0 * swings)
            pitches *= np.exp(self.noise.normal(0.0, self.reading, self.n))
            tensions = (2.0 * taken * pitches) ** 2
            of_length = 2.0 * tape / length
            relative = float(np.hypot(2.0 * self.reading, of_length))
        else:
            tensions = true * np.exp(self.noise.normal(0.0, pulled, self.n))
            if self.has("touching") and span == self._touched_span():
                tensions[self.one] /= 1.0 - self.touch
            relative, of_length = pulled, 0.0
        self.record.series.append(
            ReadSeries(
                name=f"{span}, {arrived}, week {self.weeks:.0f}",
                side=side,
                place=place,
                arrived=arrived,
                free_length=length,
                span=span,
                weeks=self.weeks,
                visit=self.visit,
                epoch=self.epoch,
                trips=self.trips,
                turned_at=self.turned_at,
                by_pitch=by_pitch,
                lengths_read=reads,
                tensions=tensions,
                relative=relative,
                of_length=of_length,
            )
        )

    def _touched_span(self) -> str:
        """Where something touches: one of the places that are usually measured."""
        spans = ["top, car", "middle, car", "bottom, car"]
        return spans[self.touched % len(spans)]


def read_visit(seed: int, causes: tuple[str, ...]) -> ReadVisit:
    """One story told: the same seed draws the same lift, whatever its causes."""
    return Story(seed, causes).told()
