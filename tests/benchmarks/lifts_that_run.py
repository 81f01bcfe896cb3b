"""Plans carried out on lifts of other mathematics, and records kept in any order.

    python -m tests.benchmarks.lifts_that_run --lifts 1000 --orders 0 --seed 9900000
    python -m tests.benchmarks.lifts_that_run --lifts 0 --orders 2000 --seed 9950000

The truth is `tests.oracles.running_ropes`: finite strain, slip in the grooves, springs
at none, one or both ends, 2 to 12 ropes, 4 to 60 m of travel. The record tells springs
and rope as well as its uncertainties say, the travel in half of the lifts, the thread
left in all.
"""

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.comparison import after_the_past
from tension.adjustment.outcome import NoPlan, Plan, PlanOutcome, Strategy, Turn
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import PlanRequest
from tension.adjustment.running import Past
from tension.assessment.decide import Assessment
from tension.installation import Buffer, HitchPlace, Rope, RopeSet, Span
from tension.measurement.readings import Series
from tension.quantity.units import Dimension, Quantity
from tests.oracles.running_ropes import RunningRopes, hang
from tests.synthesis.measured_sets import assessed, hitch, quantity, rope_set

Array = NDArray[np.float64]

RULE_LIMIT = 0.10
PITCH = 0.002
WORSE = 0.002  # of the settled spread, from steps of a quarter turn
MOST_RUN = 400  # round trips that are carried out in one go


@dataclass(frozen=True, kw_only=True)
class Lift:
    """A lift, what its record tells, and the noise of its readings."""

    truth: RunningRopes
    ropes: RopeSet
    span: Span
    travel: Quantity | None
    noise: float
    n_ends: int
    is_low: bool

    def read(self, rng: np.random.Generator, series: Series) -> Assessment:
        """Measure the car side."""
        t = self.truth.tensions
        seen = t * np.exp(self.noise * rng.standard_normal(len(t)))
        return assessed(seen, relative=self.noise, span=self.span, series=series)

    def request(self) -> PlanRequest:
        """What a plan knows of it."""
        return PlanRequest(
            rope_set=self.ropes, travel=self.travel, strategy=Strategy.FEWEST_NUTS
        )


def draw_lift(seed: int) -> Lift:
    """Draw a lift and a record that tells springs to 5 % and rope to 10 %."""
    rng = np.random.default_rng([seed, 0])
    n = int(rng.integers(2, 13))
    is_low = bool(rng.random() < 0.5)
    travel = float(rng.uniform(4.0, 10.0) if is_low else rng.uniform(12.0, 60.0))
    fall, far_fall = rng.uniform(2.5, 4.5), travel + rng.uniform(2.5, 4.5)
    n_ends = int(rng.integers(0, 3))
    rate, rigidity = float(rng.uniform(60e3, 200e3)), float(rng.uniform(2.5e6, 5e6))
    spread, mean = rng.uniform(0.11, 0.25), rng.uniform(2500.0, 6000.0)
    shape = rng.uniform(-1.0, 1.0, n)
    low = (shape - shape.min()) / np.ptp(shape)
    tensions = 1.0 - spread + spread * low
    each = np.exp(0.05 * np.clip(rng.standard_normal((2, n)), -2.5, 2.5))
    truth = hang(
        tensions=mean * tensions / tensions.mean(),
        other_mean=float(mean * rng.uniform(1.1, 1.4)),
        car_springs=each[0] / rate if n_ends > 0 else np.zeros(n),
        other_springs=each[1] / rate if n_ends > 1 else np.zeros(n),
        rigidity=rigidity * np.exp(0.02 * rng.standard_normal(n)),
        car_fall=float(fall),
        other_fall=float(far_fall),
        travel=travel,
        grip=float(rng.uniform(0.3, 1.2)),
    )
    wrong = np.exp([0.05, 0.10] * np.clip(rng.standard_normal(2), -2.0, 2.0))
    length = Dimension.LENGTH
    left = quantity(0.150, length)
    ropes = rope_set(
        n,
        hitches=tuple(
            hitch(
                place,
                rate=rate * wrong[0] if n_ends > end else None,
                buffer=Buffer.SPRING if n_ends > end else Buffer.NONE,
                free_length=None,
                solid=None,
            )
            for end, place in enumerate((HitchPlace.CAR, HitchPlace.COUNTERWEIGHT))
        ),
        rope_length=float(fall + far_fall),
        axial_rigidity=rigidity * wrong[1],
        ropes=tuple(
            Rope(number=i + 1, take_up_left=left, ease_left=left) for i in range(n)
        ),
    )
    is_told = rng.random() < 0.5
    return Lift(
        truth=truth,
        ropes=ropes,
        span=Span(name="top", free_length=quantity(float(fall), length)),
        travel=quantity(travel, length) if is_told else None,
        noise=float(rng.uniform(0.002, 0.01)),
        n_ends=n_ends,
        is_low=is_low,
    )


@dataclass(kw_only=True)
class Kept:
    """What became of one lift's first plan."""

    n_ropes: int
    is_low: bool
    n_ends: int
    answer: str
    trips: int = 0
    nuts: int = 0
    stages: int = 0
    promised: float = np.nan
    expected: float = np.nan
    reached: float = np.nan
    settled: float = np.nan
    lowest: float = 1.0
    highest: float = 1.0


def answer_name(outcome: PlanOutcome) -> str:
    """Which answer it is, in a word."""
    if isinstance(outcome, NoPlan):
        return outcome.kind.value
    return {"Plan": "plan", "DirectionsOnly": "directions"}.get(
        type(outcome).__name__, "infeasible"
    )


def carry_out(plan: Plan, truth: RunningRopes, kept: Kept | None = None) -> None:
    """Turn the nuts in order and run after each stage as the plan says."""
    for stage in plan.stages:
        for step in stage.steps:
            truth.turn(step.turn.rope - 1, step.turn.travel)
            if kept is not None:
                shares = truth.shares
                kept.lowest = min(kept.lowest, float(shares.min()))
                kept.highest = max(kept.highest, float(shares.max()))
        truth.run(min(stage.round_trips, MOST_RUN))


def keep_promise(seed: int) -> Kept:
    """Measure, plan, carry out, run as named; hold the truth against the promise."""
    lift, rng = draw_lift(seed), np.random.default_rng([seed, 1])
    series = Series(name="as found", span="top", load="empty")
    outcome = plan_turns(lift.read(rng, series), lift.request())
    kept = Kept(
        n_ropes=lift.ropes.n_ropes,
        is_low=lift.is_low,
        n_ends=lift.n_ends,
        answer=answer_name(outcome),
    )
    if isinstance(outcome, Plan):
        carry_out(outcome, lift.truth, kept)
        kept.trips = outcome.stages[-1].round_trips
        kept.stages, kept.nuts = len(outcome.stages), outcome.n_nuts
        kept.promised = outcome.forecast.upper
        kept.expected = outcome.forecast.spread
        kept.reached = lift.truth.spread
        kept.settled = settled(lift.truth)
    return kept


def settled(truth: RunningRopes) -> float:
    """Spread of a copy that has run until nothing changes."""
    return truth.settled_spread()


@dataclass(kw_only=True)
class Order:
    """A record kept in an order that nobody advised, and the plans it got."""

    answers: Counter[str] = field(default_factory=Counter)
    plans: list[tuple[float, float]] = field(default_factory=list)
    unrun_plans: int = 0


def keep_any_order(seed: int, n_acts: int = 7) -> Order:
    """Turn, run, measure in random order; after each reading a plan is asked for.

    What is written is true. Half of the turns follow the plan last given, half are a
    guess; a run is written with the turn or with the next series, or not at all.
    """
    lift, rng = draw_lift(seed), np.random.default_rng([seed, 2])
    found = Order()
    record = _Record(lift=lift, rng=rng)
    record.measure()
    for _ in range(n_acts):
        act = rng.choice(["turn", "run", "measure"], p=[0.35, 0.3, 0.35])
        if act == "turn":
            record.turn()
        elif act == "run":
            record.run(int(rng.choice([1, 2, 3, 3, 6, 12])))
        else:
            record.measure()
        _ask(record, found)
    return found


def _ask(record: "_Record", found: Order) -> None:
    """Ask for a plan, and try it on a copy of the truth."""
    outcome = record.plan()
    found.answers[answer_name(outcome)] += 1
    if not isinstance(outcome, Plan):
        return
    found.unrun_plans += record.is_unrun
    truth = record.lift.truth.copy()
    before = settled(truth)
    carry_out(outcome, truth)
    found.plans.append((before, settled(truth)))
    record.plan_given = outcome


@dataclass(kw_only=True)
class _Record:
    """A record as it grows, beside the lift it is of."""

    lift: Lift
    rng: np.random.Generator
    series: list[Series] = field(default_factory=list)
    turns: list[Turn] = field(default_factory=list)
    seen: dict[str, Assessment] = field(default_factory=dict)
    plan_given: Plan | None = None
    run_since: int = 0
    is_unrun: bool = False

    def measure(self) -> None:
        """Read the set as it stands."""
        writes = bool(self.rng.random() < 0.7) and bool(self.series)
        told = self.run_since if writes else None
        name = f"series {len(self.series)}"
        series = Series(name=name, span="top", load="empty", round_trips_before=told)
        self.series.append(series)
        self.seen[name] = self.lift.read(self.rng, series)
        self.run_since = 0

    def turn(self) -> None:
        """Turn one nut or the nuts of the plan's first stage."""
        made: list[tuple[int, float]] = []
        if self.plan_given is not None and self.rng.random() < 0.5:
            steps = self.plan_given.stages[0].steps
            made = [(step.turn.rope, step.turn.turns) for step in steps]
            self.plan_given = None
        else:
            rope = int(self.rng.integers(1, self.lift.ropes.n_ropes + 1))
            made = [(rope, float(self.rng.choice([-1.0, -0.5, 0.5, 1.0])))]
        for rope, turns in made:
            self.lift.truth.turn(rope - 1, turns * PITCH)
            told = Quantity(value=turns, dimension=Dimension.TURNS, text=f"{turns:g}")
            self.turns.append(
                Turn(
                    after=self.series[-1].name,
                    hitch=HitchPlace.CAR,
                    rope=rope,
                    turns=told,
                )
            )
        self.is_unrun = True
        self.run_since = 0

    def run(self, trips: int) -> None:
        """Run the car; sometimes it is written beside the turns just made."""
        self.lift.truth.run(trips)
        self.run_since += trips
        self.is_unrun = False
        if self.rng.random() < 0.5:
            now = self.series[-1].name
            self.turns = [
                replace(turn, round_trips_after=(turn.round_trips_after or 0) + trips)
                if turn.after == now
                else turn
                for turn in self.turns
            ]

    def plan(self) -> PlanOutcome:
        """Ask for a plan from the last series."""
        past = Past(
            series=tuple(self.series),
            turns=tuple(self.turns),
            assess=lambda series: self.seen[series.name],
        )
        last = self.series[-1]
        request = after_the_past(past, last, self.lift.request())
        return plan_turns(self.seen[last.name], request)


def promise_rows(kept: list[Kept]) -> list[list[str]]:
    """One row for all lifts with a plan, and by what they are."""
    planned = [k for k in kept if k.answer == "plan"]
    groups = {
        "all": planned,
        "low rise": [k for k in planned if k.is_low],
        "high rise": [k for k in planned if not k.is_low],
        "no springs": [k for k in planned if k.n_ends == 0],
        "springs at one end": [k for k in planned if k.n_ends == 1],
        "springs at both ends": [k for k in planned if k.n_ends == 2],
        "2 to 4 ropes": [k for k in planned if k.n_ropes <= 4],
        "5 to 12 ropes": [k for k in planned if k.n_ropes > 4],
    }
    return [_promise_row(name, group) for name, group in groups.items() if group]


def _promise_row(name: str, group: list[Kept]) -> list[str]:
    """How many were within what was promised."""
    then = np.mean([k.reached <= k.promised for k in group])
    ever = np.mean([k.settled <= k.promised for k in group])
    equal = np.mean([k.settled <= RULE_LIMIT for k in group])
    return [
        name,
        f"{len(group)}",
        f"{100 * then:.1f} %",
        f"{100 * ever:.1f} %",
        f"{100 * float(np.median([k.promised for k in group])):.1f} %",
        f"{100 * float(np.mean([k.expected for k in group])):.1f} %",
        f"{100 * float(np.mean([k.settled for k in group])):.1f} %",
        f"{100 * equal:.1f} %",
        f"{np.median([k.trips for k in group]):.0f}",
        f"{max(k.trips for k in group)}",
        f"{100 * min(k.lowest for k in group):.0f} %",
        f"{100 * max(k.highest for k in group):.0f} %",
    ]


HEADERS = (
    "lifts",
    "plans",
    "within the promise after the trips named",
    "when settled",
    "promised, median",
    "expected, mean",
    "settled, mean",
    "equal when settled",
    "trips, median",
    "most",
    "lowest share on the way",
    "highest",
)


def table(kept: list[Kept], orders: list[Order], seed: int) -> str:
    """What was asked for, in Markdown, with seed and date."""
    day = date.today().isoformat()
    if not kept:
        return f"Seed {seed}, {day}. {order_text(orders)}"
    answers = Counter(k.answer for k in kept)
    told = ", ".join(f"{count} {name}" for name, count in answers.most_common())
    lines = [
        f"{len(kept)} lifts, seed {seed}, {day}: {told}.",
        "",
        "| " + " | ".join(HEADERS) + " |",
        "|" + "---|" * len(HEADERS),
        *("| " + " | ".join(row) + " |" for row in promise_rows(kept)),
    ]
    return "\n".join([*lines, "", order_text(orders)] if orders else lines)


def order_text(orders: list[Order]) -> str:
    """What came of records kept in any order."""
    plans = [plan for order in orders for plan in order.plans]
    worse = [after - before for before, after in plans if after > before + WORSE]
    asked = Counter[str]()
    for order in orders:
        asked.update(order.answers)
    told = ", ".join(f"{count} {name}" for name, count in asked.most_common())
    unrun = sum(order.unrun_plans for order in orders)
    better = np.mean([after < before for before, after in plans]) if plans else np.nan
    worst = f", by {100 * max(worse):.1f} points at most" if worse else ""
    return (
        f"{len(orders)} records kept in any order, asked {sum(asked.values())} times: "
        f"{told}. Plans from a state that had not run: {unrun}. Plans that made the "
        f"settled spread worse by over {100 * WORSE:.1f} points: {len(worse)} of "
        f"{len(plans)}{worst}; better: {100 * better:.1f} %."
    )


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lifts", type=int, default=1000)
    parser.add_argument("--orders", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=9900000)
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    with ProcessPoolExecutor(given.processes) as pool:
        lifts = range(given.seed, given.seed + given.lifts)
        kept = list(pool.map(keep_promise, lifts, chunksize=10))
        records = range(given.seed, given.seed + given.orders)
        orders = list(pool.map(keep_any_order, records, chunksize=10))
    print(table(kept, orders, given.seed))


if __name__ == "__main__":
    main()
