"""Side pulls on simulated ropes: does the interval hold the truth, is a verdict wrong.

Run ``python -m tests.benchmarks.side_pulls --sets 300 --seed 9870000``; it prints the
tables of docs/accuracy.md. The forces are worked out by mathematics of its own: sides
as long as they are, a rope that stretches between a spring and a sheave it creeps over,
and bending by the boundary-value problem of a stiff string solved as eight linear
equations. The program is asked for its result as for any record.
"""

import argparse
import platform
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, hypot, log, sqrt

import numpy as np

from tension.assessment.decide import Assessment, Verdict, assess_set
from tension.catalogue import Standing
from tension.catalogue.rules import Metric, Rule
from tension.installation import Buffer, Hitch, HitchPlace, Lift, RopeSet, Span
from tension.measurement.readings import Hold, PullReading, Series
from tension.measurement.series import measure_series
from tension.quantity.units import Dimension, Quantity
from tests.benchmarks.coverage import GRAVITY, KINDS, draw_tensions, true_spread

LIMIT = 0.10
RULE = Rule(
    name="benchmark",
    metric=Metric.BELOW_HIGHEST,
    limit=LIMIT,
    source="this benchmark",
    edition="",
    standing=Standing.USER,
)
BANDS = ((1000.0, 1800.0), (1800.0, 3300.0), (3300.0, 6000.0))
DENSITY = 0.58
DIAMETER = 0.013
AXIAL_RIGIDITY = 4.0e6
"""Of a 13 mm rope, about which each set draws its own, 20 %. [N]"""
FLEXURAL_RIGIDITY = (1.0, 30.0)
"""Wires that slip, to wires that hold; drawn between, by logarithm. [N m2]"""
DOUBT_OF_SCATTER = 0.25
"""How well the scatter of a reading is known: the program takes what is declared of it
as known to a quarter, so each set draws its own, by logarithm. [1]"""


@dataclass(frozen=True, kw_only=True)
class Case:
    """What hangs there, and what the record says of it."""

    name: str
    has_springs: bool
    is_typed: bool
    typed_ratio: float = 1.0


CASES = (
    Case(name="springs typed", has_springs=True, is_typed=True),
    Case(
        name="springs typed 30 % too soft",
        has_springs=True,
        is_typed=True,
        typed_ratio=0.7,
    ),
    Case(
        name="springs typed 30 % too stiff",
        has_springs=True,
        is_typed=True,
        typed_ratio=1.3,
    ),
    Case(name="springs there, not told", has_springs=True, is_typed=False),
    Case(name="no springs, told", has_springs=False, is_typed=True),
    Case(name="no springs, not told", has_springs=False, is_typed=False),
)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One set."""

    case: Case
    mean_tension: float
    truth: float
    lower: float | None
    upper: float | None
    verdict: Verdict
    is_asked: bool
    newtons_hold: float

    @property
    def covers(self) -> bool:
        upper = float("inf") if self.upper is None else self.upper
        return (self.lower or 0.0) <= self.truth <= upper

    @property
    def is_wrong(self) -> bool:
        wrong = Verdict.EQUAL if self.truth > LIMIT else Verdict.UNEQUAL
        return self.verdict is wrong

    @property
    def is_far(self) -> bool:
        return abs(self.truth - LIMIT) > 0.05


def bent_compliance(
    horizontal: float, rigidity: float, length: float, near: float
) -> float:
    """Deflection per force of a stiff string clamped at 0, pinned at its length.

    Each side is y = A + B x + C e^(-k x) + D e^(-k (end - x)); two conditions at each
    end, three of continuity and the jump of the shear make eight equations.
    """
    k = sqrt(horizontal / rigidity)
    far = length - near

    def side(x: float, whole: float) -> np.ndarray:
        """Rows y, y', y'', y''' of the four functions."""
        left, right = exp(-k * x), exp(-k * (whole - x))
        return np.array(
            [
                [1.0, x, left, right],
                [0.0, 1.0, -k * left, k * right],
                [0.0, 0.0, k * k * left, k * k * right],
                [0.0, 0.0, -(k**3) * left, k**3 * right],
            ]
        )

    start, left = side(0.0, near), side(near, near)
    right, end = side(0.0, far), side(far, far)
    none = np.zeros(4)
    rows = [
        np.r_[start[0], none],
        np.r_[start[1], none],
        np.r_[none, end[0]],
        np.r_[none, end[2]],
        np.r_[left[0], -right[0]],
        np.r_[left[1], -right[1]],
        np.r_[left[2], -right[2]],
        # force = [H y' - EI y'''] across the point
        np.r_[
            horizontal * left[1] - rigidity * left[3],
            -(horizontal * right[1] - rigidity * right[3]),
        ],
    ]
    found = np.linalg.solve(np.array(rows), np.r_[np.zeros(7), 1.0])
    return float(left[0] @ found[:4])


def pulled_force(
    before: float, deflection: float, length: float, stiffness: float, rigidity: float
) -> float:
    """Force at mid-span: longer sides, raised tension, a corner rounded by bending."""
    half = length / 2
    side = hypot(half, deflection)
    carried = before + stiffness * (2 * side - length)
    chord = carried * half / side
    # bending: the force bends the corner round; what that saves of the stretch is of
    # the second order and left out
    return deflection / bent_compliance(chord, rigidity, length, half)


def draw(case: Case, band: tuple[float, float], rng: np.random.Generator) -> Row:
    """Draw one set, pull its ropes, ask the program."""
    kind = str(rng.choice(KINDS))
    n = int(rng.integers(2, 9))
    mean = exp(rng.uniform(log(band[0]), log(band[1])))
    tensions = draw_tensions(kind, n, rng) / 5000.0 * mean
    length = float(rng.uniform(1.5, 6.0))
    forces, deflection, rate = _read(case, tensions, length, rng)
    found = _ask(case, forces, deflection, rate, length)
    truth = true_spread(tensions, Metric.BELOW_HIGHEST)
    return Row(
        case=case,
        mean_tension=mean,
        truth=truth,
        lower=found.spread.lower,
        upper=found.spread.upper,
        verdict=found.verdict,
        is_asked="springs-question" in {note.code for note in found.notes},
        newtons_hold=_newtons_hold(found, tensions),
    )


def _read(
    case: Case, tensions: np.ndarray, length: float, rng: np.random.Generator
) -> tuple[np.ndarray, float, float]:
    """Forces read at one deflection typed, and the true rate of the springs."""
    n, n_repeats = len(tensions), int(rng.integers(1, 4))
    deflection = round(float(rng.uniform(0.006, 0.010)) * length, 3)
    rate = exp(rng.uniform(log(50e3), log(300e3)))
    rigidity = exp(rng.uniform(log(FLEXURAL_RIGIDITY[0]), log(FLEXURAL_RIGIDITY[1])))
    axial = AXIAL_RIGIDITY * exp(0.2 * rng.standard_normal())
    # the rope creeps over a part of the arc that it lies on
    stretched = length + rng.uniform(0.0, 1.0)
    rates = rate * np.exp(0.05 * rng.standard_normal(n))
    ruler = 0.0005 * rng.standard_normal()
    scale = 0.02 * rng.standard_normal()
    by_force, by_ruler = np.exp(DOUBT_OF_SCATTER * rng.standard_normal(2))
    forces = np.empty((n, n_repeats))
    for i, tension in enumerate(tensions):
        softness = stretched / axial + (1 / rates[i] if case.has_springs else 0.0)
        true_deflection = deflection + ruler + 0.0005 * by_ruler * rng.standard_normal()
        true = pulled_force(
            tension + DENSITY * GRAVITY * length / 2,
            true_deflection,
            length,
            1 / softness,
            rigidity,
        )
        own = 0.01 * rng.standard_normal()
        noise = 0.02 * by_force * rng.standard_normal(n_repeats)
        forces[i] = true * np.exp(scale + own + noise)
    return forces, deflection, rate


def _ask(
    case: Case, forces: np.ndarray, deflection: float, rate: float, length: float
) -> Assessment:
    """Give the readings to the program."""
    typed: tuple[Hitch, ...] = ()
    if case.is_typed and case.has_springs:
        typed = (
            Hitch(
                at=HitchPlace.CAR,
                buffer=Buffer.SPRING,
                spring_rate=_quantity(case.typed_ratio * rate, Dimension.STIFFNESS),
            ),
        )
    elif case.is_typed:
        typed = (Hitch(at=HitchPlace.CAR, buffer=Buffer.NONE),)
    measured = measure_series(
        rope_set=RopeSet(
            n_ropes=len(forces),
            spans=(Span(name="span", free_length=_quantity(length)),),
            hitches=typed,
            diameter=_quantity(DIAMETER),
            construction="8x19 FC",
            linear_density=_quantity(DENSITY, Dimension.LINEAR_DENSITY),
            has_sockets_at_one_height=True,
        ),
        lift=Lift(),
        series=Series(name="round", span="span"),
        readings=tuple(
            PullReading(
                series="round",
                rope=i + 1,
                forces=tuple(_quantity(float(f), Dimension.FORCE) for f in row),
                deflections=(_quantity(deflection),),
                hold=Hold.DEFLECTION,
            )
            for i, row in enumerate(forces)
        ),
    )
    return assess_set(measured, RULE)


def _newtons_hold(found: Assessment, tensions: np.ndarray) -> float:
    """Part of the ropes whose newtons lie within two standard uncertainties."""
    held = [
        abs(share.tension - true) <= 1.96 * share.tension_uncertainty
        for share, true in zip(found.shares, tensions, strict=True)
        if share.tension is not None and share.tension_uncertainty is not None
    ]
    return sum(held) / len(held) if held else 1.0


def _quantity(value: float, dimension: Dimension = Dimension.LENGTH) -> Quantity:
    return Quantity(value=value, dimension=dimension, text=f"{value:.6g}")


def simulate(n_sets: int, seed: int) -> list[Row]:
    """As many sets of each case, a third of them in each band of tension."""
    rng = np.random.default_rng(seed)
    return [
        draw(case, BANDS[i % len(BANDS)], rng) for case in CASES for i in range(n_sets)
    ]


def _percent(values: Sequence[float]) -> str:
    return f"{100 * sum(values) / len(values):.1f}" if values else "-"


def _table(
    groups: Sequence[tuple[str, Callable[[Row], bool]]], rows: list[Row]
) -> None:
    print(
        "| | sets | interval holds the truth % | wrong result % | no result % | "
        "cannot tell % | over 5 points from the limit % | of these springs asked % | "
        "newtons within 2 u % |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    for name, wanted in groups:
        some = [r for r in rows if wanted(r)]
        given = [r for r in some if r.verdict is not Verdict.NO_RESULT]
        open_ = [r for r in given if r.verdict is Verdict.CANNOT_TELL]
        cells = [
            str(len(some)),
            _percent([r.covers for r in given]),
            _percent([r.is_wrong for r in given]),
            _percent([r.verdict is Verdict.NO_RESULT for r in some]),
            _percent([r.verdict is Verdict.CANNOT_TELL for r in given]),
            _percent([r.verdict is Verdict.CANNOT_TELL for r in given if r.is_far]),
            _percent([r.is_asked for r in open_]),
            _percent([r.newtons_hold for r in given]),
        ]
        print(f"| {name} | {' | '.join(cells)} |")


def _of(case: Case, low: float = 0.0, high: float = 1e9) -> Callable[[Row], bool]:
    return lambda row: row.case is case and low <= row.mean_tension < high


def print_tables(rows: list[Row]) -> None:
    """By case, and by tension within each."""
    _table([(case.name, _of(case)) for case in CASES], rows)
    print()
    _table(
        [
            (
                f"{case.name}, {low / 1000:g} to {high / 1000:g} kN",
                _of(case, low, high),
            )
            for case in CASES
            for low, high in BANDS
        ],
        rows,
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    start = time.perf_counter()
    rows = simulate(options.sets, options.seed)
    took = time.perf_counter() - start
    print(
        f"{options.sets} simulated sets a case, seed {options.seed}, Python "
        f"{platform.python_version()}, numpy {np.__version__}, {took:.0f} s. 2 to 8 "
        "ropes, 1 to 6 kN, 1.5 to 6 m, true spread 0 to 22 %, limit 10 % below "
        "highest.\n"
    )
    print_tables(rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
