"""Coverage of the interval and rate of wrong results on simulated readings.

Run ``python -m tests.benchmarks.coverage --sets 5000 --seed 1``; it prints the Markdown
tables of docs/accuracy.md. Tensions are drawn, readings are simulated from them by
formulas written out here, and the program is asked for its result.
"""

import argparse
import contextlib
import platform
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.assessment.interval import Interval, SetSimulation
from tension.catalogue.rules import Metric
from tension.installation import (
    Buffer,
    Hitch,
    HitchPlace,
    Lift,
    Rope,
    RopeSet,
    Span,
    Uncertainties,
)
from tension.measurement.combine import SetMeasurement, TensionHypothesis
from tension.measurement.readings import Hold, PullReading, Series
from tension.measurement.series import measure_series
from tension.quantity.units import Dimension
from tension.sound.hearing import Hypothesis, RopeHearing, SetHearing
from tests.measurement.sets import quantity

Array = NDArray[np.float64]

LIMITS = {
    Metric.BELOW_HIGHEST: 0.10,
    Metric.ABOVE_LOWEST: 0.10,
    Metric.OFF_MEAN: 0.05,
    Metric.RANGE_OF_MEAN: 0.10,
}
BINS = ((0.0, 0.03), (0.03, 0.07), (0.07, 0.13), (0.13, 1.0))
KINDS = ("equal", "one off", "two groups", "all different")
UNCERTAINTIES = (0.003, 0.005, 0.01, 0.02, 0.03)
SOURCES = ("known", "plucks", "pulls")
GRAVITY = 9.80665
LENGTH = 3.4
DENSITY = 0.575
WHOLE = "all"


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One simulated set: what is true and what was read of it."""

    kind: str
    source: str
    n_ropes: int
    uncertainty: float
    true_tensions: Array
    true_covariance: Array
    readings: Array
    covariance: Array


@dataclass(frozen=True, kw_only=True)
class Row:
    """One set by one metric."""

    drawn: Drawn
    metric: Metric
    truth: float
    interval: Interval
    width_ratio: float

    @property
    def covers(self) -> bool:
        return self.interval.lower <= self.truth <= self.interval.upper

    @property
    def verdict(self) -> str:
        limit = LIMITS[self.metric]
        if self.interval.lower > limit:
            return "unequal"
        return "equal" if self.interval.upper <= limit else "cannot tell"

    @property
    def is_wrong(self) -> bool:
        is_over = self.truth > LIMITS[self.metric]
        return self.verdict == ("equal" if is_over else "unequal")

    @property
    def practice_is_wrong(self) -> bool:
        limit = LIMITS[self.metric]
        return (self.interval.observed > limit) != (self.truth > limit)

    @property
    def is_far(self) -> bool:
        return abs(self.truth - LIMITS[self.metric]) > 0.03


class ContradictedError(Exception):
    """Repeats of a rope contradict each other: the rope is refused, not measured."""


def true_spread(tensions: Array, metric: Metric) -> float:
    """The metrics once more, written out, so that the program does not judge itself."""
    highest, lowest = float(tensions.max()), float(tensions.min())
    mean = float(tensions.mean())
    return {
        Metric.BELOW_HIGHEST: (highest - lowest) / highest,
        Metric.ABOVE_LOWEST: (highest - lowest) / lowest,
        Metric.OFF_MEAN: max(highest - mean, mean - lowest) / mean,
        Metric.RANGE_OF_MEAN: (highest - lowest) / mean,
    }[metric]


def draw_tensions(kind: str, n_ropes: int, rng: np.random.Generator) -> Array:
    """Draw true tensions: near-equal, one rope off, two groups, or all different."""
    below_highest = rng.uniform(0.0, 0.22)
    log_range = -np.log(1 - below_highest)
    logs = np.zeros(n_ropes)
    if kind == "equal":
        logs = rng.normal(0, 0.002, n_ropes)
    elif kind == "one off":
        logs[rng.integers(n_ropes)] = rng.choice([-1.0, 1.0]) * log_range
    elif kind == "two groups":
        n_high = int(rng.integers(1, n_ropes))
        logs[rng.permutation(n_ropes)[:n_high]] = log_range
    else:
        logs = rng.normal(0, 1, n_ropes)
        logs *= log_range / np.ptp(logs)
    return np.asarray(5000.0 * np.exp(logs - logs.mean()))


def draw_set(rng: np.random.Generator) -> Drawn:
    """Draw one set and read it in one of three ways."""
    kind = str(rng.choice(KINDS))
    source = str(rng.choice(SOURCES))
    n_ropes = int(rng.integers(2, 13))
    uncertainty = float(rng.choice(UNCERTAINTIES))
    tensions = draw_tensions(kind, n_ropes, rng)
    read = {"known": _read_known, "plucks": _read_plucks, "pulls": _read_pulls}[source]
    measured, true_covariance = read(tensions, uncertainty, rng)
    return Drawn(
        kind=kind,
        source=source,
        n_ropes=n_ropes,
        uncertainty=uncertainty,
        true_tensions=tensions,
        true_covariance=true_covariance,
        readings=measured[0],
        covariance=measured[1],
    )


def _read_known(
    tensions: Array, uncertainty: float, rng: np.random.Generator
) -> tuple[tuple[Array, Array], Array]:
    """Readings whose uncertainty is known and differs from rope to rope."""
    own = uncertainty * rng.uniform(0.5, 1.5, len(tensions))
    covariance = np.diag(own**2)
    readings = tensions * np.exp(own * rng.standard_normal(len(tensions)))
    return (readings, covariance), covariance


def _read_plucks(
    tensions: Array, uncertainty: float, rng: np.random.Generator
) -> tuple[tuple[Array, Array], Array]:
    """Frequencies of ideal strings, lengths read per rope, T = m (2 L f)^2 in truth."""
    n = len(tensions)
    by_length = uncertainty / 2
    by_sound = np.sqrt(uncertainty**2 - by_length**2)
    lengths = LENGTH + rng.choice([0.0, 0.15], n)
    middle = tensions + DENSITY * GRAVITY * lengths / 2
    true_lengths = lengths * (1 + by_length / 2 * rng.standard_normal(n))
    frequencies = np.sqrt(middle / DENSITY) / (2 * true_lengths)
    heard = frequencies * (1 + by_sound / 2 * rng.standard_normal(n))
    measured = measure_series(
        rope_set=RopeSet(
            n_ropes=n,
            ropes=tuple(
                _rope(i + 1, float(length)) for i, length in enumerate(lengths)
            ),
            spans=(Span(name="span"),),
            linear_density=quantity(DENSITY, Dimension.LINEAR_DENSITY),
            uncertainties=Uncertainties(free_length=by_length / 2 * LENGTH),
        ),
        lift=Lift(),
        series=Series(name="round", span="span"),
        readings=(),
        hearing=_hearing(heard, by_sound / 2),
    )
    truth = (by_sound**2 + by_length**2) * np.eye(n)
    return _found(measured), truth


def _read_pulls(
    tensions: Array, uncertainty: float, rng: np.random.Generator
) -> tuple[tuple[Array, Array], Array]:
    """Side pulls of flexible ropes on soft springs, F = 4 d T / L, one to five rounds.

    Each reading scatters by what a scale and a rule scatter by, whatever the record
    says; each rope carries one per cent of its own that repeats do not show.
    """
    n = len(tensions)
    n_repeats = int(rng.integers(1, 6))
    deflection = 0.025
    scatter = np.hypot(0.02, 0.0005 / deflection) * rng.uniform(0.6, 1.1)
    own = 0.01 * rng.standard_normal(n)
    middle = tensions + DENSITY * GRAVITY * LENGTH / 2
    forces = (
        4
        * deflection
        * middle[:, None]
        / LENGTH
        * np.exp(own[:, None] + scatter * rng.standard_normal((n, n_repeats)))
    )
    measured = measure_series(
        rope_set=RopeSet(
            n_ropes=n,
            spans=(Span(name="span", free_length=quantity(LENGTH)),),
            hitches=(
                Hitch(
                    at=HitchPlace.CAR,
                    buffer=Buffer.SPRING,
                    spring_rate=quantity(1.0, Dimension.STIFFNESS),
                ),
            ),
            has_sockets_at_one_height=True,
            uncertainties=Uncertainties(free_length=0.0),
        ),
        lift=Lift(),
        series=Series(name="round", span="span"),
        readings=tuple(
            PullReading(
                series="round",
                rope=i + 1,
                forces=tuple(quantity(float(f), Dimension.FORCE) for f in row),
                deflections=(quantity(deflection),),
                hold=Hold.DEFLECTION,
            )
            for i, row in enumerate(forces)
        ),
    )
    del uncertainty  # a pull has its own
    truth = (0.01**2 + scatter**2 / n_repeats) * np.eye(n)
    return _found(measured), truth


def _rope(number: int, length: float) -> Rope:
    return Rope(number=number, free_lengths=(("span", quantity(length)),))


def _hearing(fundamentals: Array, relative: float) -> SetHearing:
    n = len(fundamentals)
    return SetHearing(
        ropes=tuple(
            RopeHearing(
                number=i + 1,
                fundamental_frequency=float(f),
                relative_uncertainty=relative,
                inharmonicity=0.0,
                signal_to_noise=30.0,
            )
            for i, f in enumerate(fundamentals)
        ),
        given=tuple(range(1, n + 1)),
        hypotheses=(Hypothesis(weight=1.0, fundamental_frequencies=fundamentals),),
        covariance=relative**2 * np.eye(n),
        rigidity_per_density=0.0,
        rigidity_per_density_uncertainty=0.0,
    )


def _found(measured: SetMeasurement) -> tuple[Array, Array]:
    if len(measured.given) < len(measured.ropes):
        raise ContradictedError
    return np.array(measured.hypotheses[0].tensions), np.array(measured.covariance)


def judge(drawn: Drawn) -> list[Row]:
    """Ask for the interval by every metric, with the stated and the true covariance."""
    stated = SetSimulation(
        [TensionHypothesis(weight=1.0, tensions=drawn.readings)], drawn.covariance
    )
    ideal = SetSimulation(
        [TensionHypothesis(weight=1.0, tensions=drawn.readings)], drawn.true_covariance
    )
    rows = []
    for metric in Metric:
        found, wanted = stated.interval(metric), ideal.interval(metric)
        width = max(wanted.upper - wanted.lower, 1e-6)
        rows.append(
            Row(
                drawn=drawn,
                metric=metric,
                truth=true_spread(drawn.true_tensions, metric),
                interval=found,
                width_ratio=(found.upper - found.lower) / width,
            )
        )
    return rows


def _percent(part: Iterable[bool]) -> str:
    values = list(part)
    return f"{100 * sum(values) / len(values):.1f}" if values else "-"


def _coverage(rows: Sequence[Row]) -> list[str]:
    cells = []
    for low, high in BINS:
        inside = [r for r in rows if low <= r.truth < high]
        cells.append(f"{_percent(r.covers for r in inside)} ({len(inside)})")
    return cells


def _table(
    title: str, groups: Iterable[tuple[str, Callable[[Row], bool]]], rows: list[Row]
) -> None:
    print(f"\n### {title}\n")
    print(
        "| | 0-3 % | 3-7 % | 7-13 % | over 13 % | wrong % | cannot tell, over 3 points "
        "from the limit % | practice wrong % | width, ratio |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    for name, wanted in groups:
        some = [r for r in rows if wanted(r)]
        if not some:
            continue
        far = [r for r in some if r.is_far]
        cells = [
            *_coverage(some),
            _percent(r.is_wrong for r in some),
            _percent(r.verdict == "cannot tell" for r in far),
            _percent(r.practice_is_wrong for r in some),
            f"{float(np.median([r.width_ratio for r in some])):.2f}",
        ]
        print(f"| {name} | {' | '.join(cells)} |")


def print_tables(rows: list[Row]) -> None:
    """Print coverage, wrong and open results, and the practice beside them."""
    deciding = [r for r in rows if r.metric is Metric.BELOW_HIGHEST]
    _table("By metric", _groups(Metric, lambda r: r.metric), rows)
    below = "(below-highest, 10 %)"
    _table(
        f"By number of ropes {below}",
        _groups(range(2, 13), lambda r: r.drawn.n_ropes, "{} ropes"),
        deciding,
    )
    _table(f"By kind of set {below}", _groups(KINDS, lambda r: r.drawn.kind), deciding)
    _table(
        f"By kind of reading {below}",
        _groups(SOURCES, lambda r: r.drawn.source),
        deciding,
    )
    _table(
        f"By standard uncertainty of one rope, pulls left out {below}",
        _groups(UNCERTAINTIES, lambda r: r.drawn.uncertainty, "{:.1%}"),
        [r for r in deciding if r.drawn.source != "pulls"],
    )


def _groups(
    values: Iterable[object], key: Callable[[Row], object], form: str = "{}"
) -> list[tuple[str, Callable[[Row], bool]]]:
    def is_in(value: object) -> Callable[[Row], bool]:
        return lambda row: key(row) == value

    return [(form.format(value), is_in(value)) for value in values]


def simulate(n_sets: int, seed: int) -> list[Row]:
    """Draw sets and judge them."""
    rng = np.random.default_rng(seed)
    rows: list[Row] = []
    for _ in range(n_sets):
        with contextlib.suppress(ContradictedError):
            rows += judge(draw_set(rng))
    return rows


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    start = time.perf_counter()
    rows = simulate(options.sets, options.seed)
    took = time.perf_counter() - start
    print(
        f"{options.sets} simulated sets, {options.sets - len(rows) // len(Metric)} of "
        "them left out, for repeats of a rope contradict each other and refuse it; "
        f"seed {options.seed}, Python "
        f"{platform.python_version()}, numpy {np.__version__}, {took:.0f} s.\n"
        "In each column of true spread: how often the 95 % interval holds the truth, "
        "in per cent, and of how many sets."
    )
    print_tables(rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
