"""How often `tension causes` speaks, and how often it is right, on simulated visits.

    python -m tests.benchmarks.causes --visits 300 --seed 1600000 --processes 2

The visits come from a simulator of its own (tests/synthesis/lifts_with_a_cause.py).
Of two causes at once, visits are drawn in which either cause by itself moves some
reading by at least 3 % of the mean. A visit in which a rope reads under 30 % of the
mean is drawn anew: such a rope is looked at, not reckoned with.
"""

import argparse
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date
from itertools import combinations

import numpy as np

from tension.diagnosis.diagnose import diagnose
from tension.diagnosis.outcome import (
    Cause,
    Conclusion,
    Condition,
    Diagnosis,
    Pattern,
    with_loads,
)
from tension.installation import Side
from tension.physics.sheave import SheaveSystem
from tests.synthesis.visits_with_a_cause import CAUSES, ReadVisit, Story, read_visit

PAIRS = tuple(combinations(CAUSES, 2))
SEEN = 0.03
ONE_OF_TWO = 0.9
SLACK = 0.3


@dataclass(frozen=True)
class Answer:
    """What was drawn and what was said."""

    seed: int
    truth: tuple[str, ...]
    conclusion: str
    causes: tuple[str, ...]
    weight: float
    n_series: int
    step: str


def pattern_of(visit: ReadVisit) -> Pattern:
    """What the program would make of the readings of a visit."""
    conditions = [
        Condition(
            name=one.name,
            side=Side(one.side),
            rope_passed=one.place,
            arrived=one.arrived,
            mean_tension=float(one.tensions.mean()),
            load_tension=0.0,
            free_length=one.free_length,
            span=one.span,
            weeks=one.weeks,
            visit=one.visit,
            epoch=one.epoch,
            round_trips=one.trips,
            turned_at=one.turned_at,
            is_by_pitch=one.by_pitch,
            are_lengths_read=one.lengths_read,
        )
        for one in visit.series
    ]
    tensions = np.array([one.tensions for one in visit.series])
    relative = np.array([[one.relative] for one in visit.series])
    of_length = np.array([[one.of_length] for one in visit.series])
    system = SheaveSystem(
        axial_rigidity=visit.rigidity,
        car_fall=visit.falls[0],
        counterweight_fall=visit.falls[1],
        travel=visit.travel,
        car_spring_compliance=visit.springs[0],
        counterweight_spring_compliance=visit.springs[1],
    )
    return Pattern(
        numbers=tuple(range(1, visit.n_ropes + 1)),
        conditions=with_loads(conditions, tensions),
        tensions=tensions,
        covariances=np.eye(visit.n_ropes) * ((relative * tensions) ** 2)[:, None],
        length_uncertainties=of_length * tensions,
        system=system,
        rows=visit.rows,
    )


def causes_of(number: int, *, two: bool) -> tuple[str, ...]:
    """Causes taken in turn, so that each is drawn as often as the others."""
    return PAIRS[number % len(PAIRS)] if two else (CAUSES[number % len(CAUSES)],)


def answer(seed: int, truth: tuple[str, ...]) -> Answer:
    """One visit drawn and diagnosed."""
    found: Diagnosis = diagnose(pattern_of(read_visit(seed, truth)))
    first = found.suspects[0]
    after = found.next_measurement
    return Answer(
        seed=seed,
        truth=truth,
        conclusion=found.conclusion.value,
        causes=tuple(cause.value for cause in first.causes),
        weight=first.weight,
        n_series=len(found.pattern.conditions),
        step=after.step.value if after else "",
    )


def effect(seed: int, cause: str) -> float:
    """By how much one cause alone moves any reading, over the mean."""
    moved = _exact(seed, (cause,))
    still = _exact(seed, ())
    n = min(len(moved), len(still))
    return float(max(np.abs(moved[-i] - still[-i]).max() for i in range(1, n + 1)))


def _exact(seed: int, causes: tuple[str, ...]) -> list[np.ndarray]:
    """Shares of each series without errors of reading."""
    story = Story(seed, causes)
    story.reading = 0.0
    story.noise = _Still()  # type: ignore[assignment]
    return [s.tensions / s.tensions.mean() for s in story.told().series]


class _Still:
    """Errors that are all nought."""

    def normal(self, _mean: float, _size: float, n: int) -> np.ndarray:
        return np.zeros(n)


def one_visit(job: tuple[int, int, bool]) -> Answer:
    """The visit of a number; of two causes the first seed that shows either."""
    first, number, two = job
    truth = causes_of(number, two=two)
    seed = first + number
    for _ in range(40):
        seen = not two or all(effect(seed, cause) >= SEEN for cause in truth)
        if seen and _slackest(read_visit(seed, truth)) >= SLACK:
            break
        seed += 100_000
    return answer(seed, truth)


def _slackest(visit: ReadVisit) -> float:
    """Lowest share of any rope in any series."""
    return float(min((s.tensions / s.tensions.mean()).min() for s in visit.series))


def run(first: int, count: int, *, two: bool, processes: int) -> list[Answer]:
    """All visits of one table."""
    jobs = [(first, number, two) for number in range(count)]
    if processes < 2:
        return [one_visit(job) for job in jobs]
    with ProcessPoolExecutor(processes) as pool:
        return list(pool.map(one_visit, jobs, chunksize=4))


def _share(part: int, whole: int) -> str:
    """A fraction with its counts."""
    return f"{100 * part / whole:.1f} % ({part} of {whole})" if whole else "none"


def single_table(answers: Sequence[Answer]) -> str:
    """Of one cause at a time."""
    rows = []
    for name in ("all", *CAUSES):
        own = [a for a in answers if name in ("all", a.truth[0])]
        spoken = [a for a in own if a.conclusion == Conclusion.SUGGESTS]
        right = [a for a in spoken if a.causes == a.truth]
        first = [a for a in own if a.causes == a.truth]
        instead = Counter(a.causes[0] for a in spoken if a.causes != a.truth)
        rows.append(
            [
                name,
                str(len(own)),
                _share(len(spoken), len(own)),
                _share(len(right), len(spoken)),
                _share(len(first), len(own)),
                ", ".join(f"{n} {c}" for n, c in instead.most_common()) or "-",
            ]
        )
    return _table(
        [
            "true cause",
            "visits",
            "it speaks",
            "right, of these",
            "true cause first, of all",
            "said instead",
        ],
        rows,
    )


def pair_table(answers: Sequence[Answer]) -> str:
    """Of two causes at once."""
    one = [
        a
        for a in answers
        if len(a.causes) == 1 and a.weight > ONE_OF_TWO and a.causes != ("unknown",)
    ]
    two = [a for a in answers if a.conclusion == Conclusion.TWO_CAUSES]
    both = [a for a in two if set(a.causes) == set(a.truth)]
    lines = [
        f"- never one cause over {100 * ONE_OF_TWO:.0f} %: "
        f"{_share(len(answers) - len(one), len(answers))}",
        f"- two causes said: {_share(len(two), len(answers))}; of these the two true "
        f"ones first: {_share(len(both), len(two))}",
        "- one said over 90 % where two were at work: "
        + (
            "; ".join(
                f"{n} for {' + '.join(truth)} (said {said[0]})"
                for (truth, said), n in Counter(
                    (a.truth, a.causes) for a in one
                ).most_common()
            )
            or "none"
        ),
    ]
    return "\n".join(lines)


def _table(headers: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Markdown."""
    return "\n".join(
        [
            "| " + " | ".join(headers) + " |",
            "|" + "---|" * len(headers),
            *("| " + " | ".join(row) + " |" for row in rows),
        ]
    )


def single_report(answers: Sequence[Answer], seed: int) -> str:
    """The table of one cause at a time, with seed and date."""
    quiet = Counter(a.conclusion for a in answers if a.conclusion != "suggests")
    return (
        f"{len(answers)} visits with one cause, seeds from {seed}; "
        f"{date.today().isoformat()}. Where it does not speak: "
        + (", ".join(f"{c} {n}" for n, c in quiet.most_common()) or "nowhere")
        + f".\n\n{single_table(answers)}\n"
    )


def pair_report(answers: Sequence[Answer], seed: int) -> str:
    """What is said of two causes at once, with seed and date."""
    strange = sum(a.causes == (Cause.UNKNOWN.value,) for a in answers)
    return (
        f"{len(answers)} visits with two causes at once, seeds from {seed}, either of "
        f"which alone moves some rope by at least {100 * SEEN:.0f} % of the mean; "
        f"{date.today().isoformat()}:\n\n{pair_table(answers)}\n- called a pattern "
        f"that is not known: {strange}"
    )


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--visits", type=int, default=300)
    parser.add_argument("--pairs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--list", action="store_true", help="one line a visit")
    given = parser.parse_args()
    singles = run(given.seed, given.visits, two=False, processes=given.processes)
    print(single_report(singles, given.seed), flush=True)
    first = given.seed + 50_000
    pairs = run(first, given.pairs, two=True, processes=given.processes)
    print(pair_report(pairs, first))
    if given.list and given.seed < 10_000:
        for each in (*singles, *pairs):
            print(each)


if __name__ == "__main__":
    main()
