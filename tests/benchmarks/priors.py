"""Hear the same sets with every width of the prior as it is and multiplied.

    python -m tests.benchmarks.priors --regime all --sets 40 --seed 0 --prior-factor 2

Both answers come from the same recordings in the same run, so that the change is known
better than the figures. Sampling errors are those of drawing the sets: standard
deviation over sets drawn again with replacement. Seeds as sound_sets.py.
"""

import argparse
import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from tests.benchmarks.scoring import (
    SetAnswer,
    count,
    gross_errors,
    median_share_error,
    within_two_by_thirds,
)
from tests.benchmarks.sound_sets import STAGES, Maker, Trial, answer_sets
from tests.synthesis.regimes import RegimeName
from tests.synthesis.sets import draw_set

Rows = list[tuple[str, ...]]
N_DRAWN_AGAIN = 400
HEADING = ("what", "as it is", "widened", "change")


def given_share(answers: Sequence[SetAnswer]) -> float:
    """Ropes given a number, of all. [1]"""
    return count(r.share is not None for a in answers for r in a.ropes).share


def gross_share(answers: Sequence[SetAnswer]) -> float:
    """Gross errors among the ropes given. [1]"""
    return count(wrong for a in answers for wrong in gross_errors(a)).share


def within_two(answers: Sequence[SetAnswer]) -> float:
    """Shares within two stated standard uncertainties. [1]"""
    thirds = within_two_by_thirds(answers)
    n_trials = sum(third.trials for third in thirds)
    return sum(third.hits for third in thirds) / n_trials if n_trials else np.nan


FIGURES: tuple[tuple[str, Callable[[Sequence[SetAnswer]], float], int], ...] = (
    ("ropes given a number", given_share, 2),
    ("gross errors among those given", gross_share, 2),
    ("median error of a share", median_share_error, 4),
    ("shares within 2 u", within_two, 2),
)


def paired_rows(
    first: Sequence[SetAnswer], second: Sequence[SetAnswer], seed: int = 0
) -> Rows:
    """Each figure of both, and its change, with sampling errors."""
    rng = np.random.default_rng(seed)
    chosen = rng.integers(0, len(first), (N_DRAWN_AGAIN, len(first)))
    rows = []
    for what, figure, digits in FIGURES:
        drawn = np.array(
            [
                (figure([first[k] for k in some]), figure([second[k] for k in some]))
                for some in chosen.tolist()
            ]
        )
        values = (figure(first), figure(second))
        spreads = [*np.nanstd(drawn, axis=0), np.nanstd(drawn[:, 1] - drawn[:, 0])]
        told = [f"{100 * value:.{digits}f}" for value in values]
        told.append(f"{100 * (values[1] - values[0]):+.{digits}f}")
        rows.append(
            (
                what,
                *(
                    f"{value} ± {100 * spread:.{digits}f} %"
                    for value, spread in zip(told, spreads, strict=True)
                ),
            )
        )
    return rows


def compare(
    maker: Maker, seeds: Sequence[int], trial: Trial, *, n_processes: int = 1
) -> Rows:
    """Answer the same draws twice and hold the answers against each other."""
    plain = replace(trial, prior_factor=1.0)
    first = answer_sets(maker, seeds, plain, n_processes=n_processes)
    second = answer_sets(maker, seeds, trial, n_processes=n_processes)
    return paired_rows(first, second)


def print_rows(rows: Rows) -> None:
    """Print one comparison."""
    print("| " + " | ".join(HEADING) + " |")
    print("|---" * len(HEADING) + "|")
    for row in rows:
        print("| " + " | ".join(row) + " |")
    print()


def main() -> None:
    """Print a comparison per regime."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.priors")
    names = [name.value for name in RegimeName]
    parser.add_argument("--regime", choices=[*names, "all"], default="all")
    parser.add_argument("--sets", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0, help="the first one")
    parser.add_argument("--stage", choices=list(STAGES), default="assess")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--prior-factor", type=float, default=2.0)
    options = parser.parse_args()
    chosen = [RegimeName(n) for n in names if options.regime in {n, "all"}]
    seeds = range(options.seed, options.seed + options.sets)
    trial = Trial(stage=options.stage, prior_factor=options.prior_factor)
    today = dt.datetime.now(tz=dt.UTC).date()
    print(
        f"Seeds {seeds[0]} to {seeds[-1]} of each kind of site, stage {options.stage}, "
        f"every width of the prior times {options.prior_factor:g}, {today}.\n"
    )
    for name in chosen:
        print(f"{name.value}\n")
        maker = partial(draw_set, name)
        print_rows(compare(maker, seeds, trial, n_processes=options.processes))


if __name__ == "__main__":
    main()
