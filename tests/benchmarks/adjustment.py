"""How many rounds until a set is equal: plan of all nuts against one rope at a time.

Run ``python -m tests.benchmarks.adjustment --sets 500`` for the Markdown table.
"""

import argparse
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.comparison import Comparison, compare_series
from tension.adjustment.outcome import (
    DirectionsOnly,
    InfeasiblePlan,
    NoPlan,
    NoPlanKind,
    Plan,
    Strategy,
    Turn,
)
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import PlanRequest
from tension.adjustment.stiffness import LearnedStiffness
from tension.assessment.decide import Assessment, Verdict
from tension.catalogue.ropes import find_axial_rigidity
from tension.installation import Buffer, Hitch, HitchPlace, RopeSet, Span
from tension.measurement.readings import Series
from tension.quantity.units import Dimension, Quantity
from tests.benchmarks.hoistway import Hoistway, random_hoistway
from tests.synthesis.measured_sets import assessed, hitch, quantity, rope_set

Array = NDArray[np.float64]

READING = 0.01
KNOWN_TO = 0.20
PITCH = 0.002
ROUNDS = 2
TRIPS = 3


@dataclass(kw_only=True)
class Story:
    """What happened to one set."""

    n_ropes: int
    spread: float
    springs: int
    equal_after: list[bool]
    read_equal_after: list[bool]
    rounds: int = 0
    runs: int = 0
    nuts: int = 0
    turns: float = 0.0
    lowest: float = 1.0
    highest: float = 1.0
    infeasible: bool = False
    looked_first: bool = False


@dataclass(frozen=True, kw_only=True)
class Site:
    """One set, what the record tells of it, and the noise of its readings."""

    seed: int
    n_ropes: int
    spread: float
    springs: int
    ropes: RopeSet
    span: Span

    def hoistway(self) -> Hoistway:
        """The set as found, the same every time it is asked for."""
        rng = np.random.default_rng(self.seed)
        return random_hoistway(rng, self.n_ropes, self.spread)


def make_site(seed: int) -> Site:
    """Draw a set and a record that tells its stiffness to 20 %."""
    rng = np.random.default_rng([seed, 1])
    n_ropes = int(rng.integers(3, 13))
    spread = float(rng.uniform(0.03, 0.25))
    truth = random_hoistway(np.random.default_rng(seed), n_ropes, spread)
    near, far = truth.car_springs.any(), truth.other_springs.any()
    wrong = np.exp(KNOWN_TO * np.clip(rng.standard_normal(2), -2.0, 2.0))
    rate = wrong[0] / float(truth.car_springs.mean()) if near else None
    rigidity = float(truth.rigidity.mean()) * wrong[1]
    length = truth.car_fall + truth.other_fall
    told = rope_set(
        n_ropes,
        hitches=(
            _hitch(HitchPlace.CAR, rate if near else None),
            _hitch(HitchPlace.COUNTERWEIGHT, rate if far else None),
        ),
        rope_length=length,
        axial_rigidity=None,
    )
    # a diameter whose table value is the rigidity wanted, and so known to 20 %
    per_square = find_axial_rigidity(diameter=1.0, construction="8x19 FC").value
    told = replace(
        told,
        diameter=quantity((rigidity / per_square) ** 0.5, Dimension.LENGTH),
        construction="8x19 FC",
        uncertainties=replace(told.uncertainties, spring_rate=KNOWN_TO),
    )
    span = Span(
        name="top",
        free_length=quantity(truth.car_fall, Dimension.LENGTH),
        position="top landing",
    )
    return Site(
        seed=seed,
        n_ropes=n_ropes,
        spread=spread,
        springs=int(near) + int(far),
        ropes=told,
        span=span,
    )


def _hitch(place: HitchPlace, rate: float | None) -> Hitch:
    """A hitch of the record with springs of a rate, or none."""
    buffer = Buffer.NONE if rate is None else Buffer.SPRING
    return hitch(place, rate=rate, buffer=buffer, free_length=None, solid=None)


def read(
    truth: Hoistway, rng: np.random.Generator, site: Site, name: str
) -> Assessment:
    """Measure the car side: 1 % a rope, newtons 5 % off for all alike."""
    noise = np.exp(READING * rng.standard_normal(len(truth.car)))
    return assessed(
        truth.car * noise,
        relative=READING,
        span=site.span,
        series=Series(name=name, span="top", load="empty"),
    )


def plan_and_run(site: Site, strategy: Strategy) -> Story:
    """Plan, turn, run, measure, twice; the second plan learns from the first."""
    truth, rng = site.hoistway(), np.random.default_rng([site.seed, 2])
    story = _story(site)
    learned: LearnedStiffness | None = None
    found = read(truth, rng, site, "0")
    for number in range(1, ROUNDS + 1):
        request = PlanRequest(rope_set=site.ropes, strategy=strategy, learned=learned)
        outcome = plan_turns(found, request)
        if isinstance(outcome, Plan):
            _carry_out(outcome, truth, story)
            left = read(truth, rng, site, str(number))
            compared = compare_series(
                found, left, turns=_written(outcome, found), request=request
            )
            if isinstance(compared, Comparison) and compared.answer.learned is not None:
                learned = compared.answer.learned
            found = left
        else:
            _note_no_plan(outcome, story, number)
            if isinstance(outcome, NoPlan) and outcome.kind is NoPlanKind.MEASURE_FIRST:
                found = read(truth, rng, site, f"{number} again")
        story.equal_after.append(truth.spread <= 0.10)
        story.read_equal_after.append(found.verdict is Verdict.EQUAL)
    return story


def _note_no_plan(
    outcome: DirectionsOnly | NoPlan | InfeasiblePlan, story: Story, number: int
) -> None:
    """Keep why there was no plan."""
    if isinstance(outcome, InfeasiblePlan) and number == 1:
        story.infeasible = True
    if isinstance(outcome, NoPlan) and outcome.kind is NoPlanKind.LOOK_FIRST:
        story.looked_first = True


def _carry_out(plan: Plan, truth: Hoistway, story: Story) -> None:
    """Turn the nuts in order, run after each stage, keep the worst moments."""
    for stage in plan.stages:
        for step in stage.steps:
            truth.turn(step.turn.rope - 1, step.turn.travel)
            _keep_worst(truth, story)
            story.nuts += 1
            story.turns += abs(step.turn.turns)
        truth.run(stage.round_trips)
        story.runs += 1
    story.rounds += 1


def _written(plan: Plan, found: Assessment) -> tuple[Turn, ...]:
    """The turns as a person writes them down."""
    trips = plan.stages[-1].round_trips
    return tuple(
        Turn(
            after=found.measurement.series.name,
            hitch=HitchPlace.CAR,
            rope=turn.rope,
            turns=Quantity(value=turn.turns, dimension=Dimension.TURNS, text=""),
            round_trips_after=trips,
        )
        for turn in plan.turns
        if turn.steps
    )


def one_at_a_time(site: Site) -> Story:
    """The usual way: rope by rope to the mean as it then reads, then run and measure.

    The furthest rope first; each nut is turned in the same steps until its own rope,
    read again with the same noise, is nearest to the mean of the readings.
    """
    truth, rng = site.hoistway(), np.random.default_rng([site.seed, 2])
    story = _story(site)
    per_turn = 4 if site.springs else 8
    found = read(truth, rng, site, "0")
    for number in range(1, ROUNDS + 1):
        if found.verdict is not Verdict.EQUAL:
            shares = np.array([share.share or 1.0 for share in found.shares])
            aim = truth.car.mean()
            for place in np.argsort(-np.abs(shares - 1.0)):
                reading = truth.car[place] * np.exp(READING * rng.standard_normal())
                if abs(reading / aim - 1.0) <= 2.0 * READING:
                    continue
                k = 1.0 / truth.car_compliance()
                own = k[place] * (1.0 - k[place] / k.sum()) * PITCH / per_turn
                steps = round(float((aim - reading) / own))
                if steps == 0:
                    continue
                truth.turn(int(place), steps * PITCH / per_turn)
                _keep_worst(truth, story)
                story.nuts += 1
                story.turns += abs(steps) / per_turn
            truth.run(TRIPS)
            story.runs += 1
            story.rounds += 1
            found = read(truth, rng, site, str(number))
        story.equal_after.append(truth.spread <= 0.10)
        story.read_equal_after.append(found.verdict is Verdict.EQUAL)
    return story


def _story(site: Site) -> Story:
    """An empty story of a site."""
    return Story(
        n_ropes=site.n_ropes,
        spread=site.spread,
        springs=site.springs,
        equal_after=[],
        read_equal_after=[],
    )


def _keep_worst(truth: Hoistway, story: Story) -> None:
    """Keep the lowest and highest share of any moment."""
    story.lowest = min(story.lowest, float(truth.shares.min()))
    story.highest = max(story.highest, float(truth.shares.max()))


def run_benchmark(n_sets: int, seed: int) -> dict[str, list[Story]]:
    """Tell the same sets by each way of working."""
    sites = [make_site(seed + i) for i in range(n_sets)]
    return {
        "plan, keep height": [plan_and_run(s, Strategy.KEEP_HEIGHT) for s in sites],
        "plan, fewest nuts": [plan_and_run(s, Strategy.FEWEST_NUTS) for s in sites],
        "one rope at a time": [one_at_a_time(s) for s in sites],
    }


def summary(stories: list[Story]) -> list[str]:
    """One row of the table."""
    feasible = [s for s in stories if not s.infeasible]
    unequal = [s for s in feasible if s.spread > 0.10]
    one = np.mean([s.equal_after[0] for s in unequal])
    two = np.mean([s.equal_after[1] for s in unequal])
    read_two = np.mean([s.read_equal_after[1] for s in unequal])
    touched = [s for s in unequal if s.rounds]
    return [
        f"{len(unequal)}",
        f"{len(stories) - len(feasible)}",
        f"{100 * one:.1f} %",
        f"{100 * two:.1f} %",
        f"{100 * read_two:.1f} %",
        f"{np.mean([s.rounds for s in touched]):.2f}",
        f"{np.mean([s.runs for s in touched]):.2f}",
        f"{np.mean([s.nuts for s in touched]):.1f}",
        f"{np.mean([s.turns for s in touched]):.1f}",
        f"{100 * min(s.lowest for s in stories):.0f} %",
        f"{100 * max(s.highest for s in stories):.0f} %",
    ]


HEADERS = (
    "way of working",
    "sets over 10 %",
    "no feasible plan",
    "equal after 1 round",
    "after 2",
    "read equal after 2",
    "rounds",
    "runs",
    "nuts",
    "turns",
    "lowest share",
    "highest share",
)


def table(stories: dict[str, list[Story]], seed: int) -> str:
    """The table in Markdown, with seed and date."""
    rows = [[name, *summary(each)] for name, each in stories.items()]
    springs = ("no springs", "springs at one end", "springs at both ends")
    for number, words in enumerate(springs):
        for name in ("plan, keep height", "one rope at a time"):
            part = [s for s in stories[name] if s.springs == number]
            if any(s.spread > 0.10 and not s.infeasible for s in part):
                rows.append([f"{name}; {words}", *summary(part)])
    n_sets = len(next(iter(stories.values())))
    lines = [
        f"{n_sets} simulated sets, seed {seed}, {date.today().isoformat()}.",
        "",
        "| " + " | ".join(HEADERS) + " |",
        "|" + "---|" * len(HEADERS),
        *("| " + " | ".join(row) + " |" for row in rows),
    ]
    return "\n".join(lines)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=500)
    parser.add_argument("--seed", type=int, default=20260401)
    given = parser.parse_args()
    print(table(run_benchmark(given.sets, given.seed), given.seed))


if __name__ == "__main__":
    main()
