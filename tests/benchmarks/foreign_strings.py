"""Hear real strings that others plucked, slowed to the pitch of a rope.

    python -m tests.benchmarks.foreign_strings --split building --draws 20 --seed 1

Each recording is written as a WAV file and heard as one rope of no known length. A
number is wrong if it is over 4 % of frequency off. The first choice of a refused string
is the likeliest of its counts. What is heard is downloaded once by
`tests.benchmarks.foreign.fetch`. The building half serves for setting; recordings of
the final half are not listed one by one.
"""

import argparse
import datetime as dt
import platform
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import numpy as np

from tension import __version__
from tests.benchmarks.foreign.chains import Chain
from tests.benchmarks.foreign.notes import strings
from tests.benchmarks.foreign.recordings import draw
from tests.benchmarks.foreign.sources import Split
from tests.benchmarks.foreign_answers import (
    PROGRAM,
    StringAnswer,
    answer_all,
    listeners_of,
    require_all_seen,
)
from tests.benchmarks.scoring import count

INSIDE = "inside a ring"
BINS = ((0.02, 0.3), (0.3, 1.0), (1.0, 3.0))
FEWEST = 5
"""Answers that a group needs to stand in a row of its own."""
REST = f"groups of under {FEWEST} recordings"
FIGURES = (
    "recordings",
    "given",
    "wrong, of given",
    "right but refused",
    "median error, cents",
    "refused, by code",
)


def codes_of(answers: Sequence[StringAnswer]) -> str:
    """Codes of refusal and how often, the most frequent first."""
    totals = Counter(one.said.refused for one in answers if one.said.refused)
    return ", ".join(f"{code} {n}" for code, n in totals.most_common()) or "none"


def figures_of(answers: Sequence[StringAnswer]) -> tuple[str, ...]:
    """The figures of one row, as FIGURES."""
    given = [one for one in answers if one.is_given]
    right = [one.cents for one in given if not one.is_wrong]
    return (
        str(len(answers)),
        str(count(one.is_given for one in answers)),
        str(count(one.is_wrong for one in given)),
        str(count(one.is_right_but_refused for one in answers)),
        f"{np.median(right):.2f}" if right else "",
        codes_of(answers),
    )


def quiet_of(answer: StringAnswer) -> str:
    """In words, what stood before the first pluck."""
    if answer.starts_inside:
        return INSIDE
    for low, high in BINS:
        if answer.quiet <= high:
            return f"{low:g} to {high:g} s"
    return f"over {BINS[-1][1]:g} s"


def fixed_quiet_of(answer: StringAnswer) -> str:
    """The quiet that was asked for, in words."""
    return f"{answer.quiet:g} s"


def grouped(
    answers: Sequence[StringAnswer], names: Sequence[str]
) -> dict[str, list[StringAnswer]]:
    """Answers under their names, in the order in which these sort."""
    groups: dict[str, list[StringAnswer]] = {name: [] for name in sorted(set(names))}
    for name, answer in zip(names, answers, strict=True):
        groups[name].append(answer)
    return groups


def without_small(
    groups: dict[str, list[StringAnswer]],
) -> dict[str, list[StringAnswer]]:
    """Throw groups of few answers together, so that no row tells of single ones."""
    kept = {name: group for name, group in groups.items() if len(group) >= FEWEST}
    rest = [one for name, group in groups.items() if name not in kept for one in group]
    return {**kept, REST: rest} if rest else kept


def print_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print one table."""
    print("\n| " + " | ".join(heads) + " |")
    print("|---" * len(heads) + "|")
    for row in rows:
        print("| " + " | ".join(row) + " |")


def print_tables(
    answers: Sequence[StringAnswer], by: str, name_of: Callable[[StringAnswer], str]
) -> None:
    """Print answers by chain and listener, by named quiet, and by origin."""
    chains = list(dict.fromkeys(one.chain for one in answers))
    listeners = list(dict.fromkeys(one.listener for one in answers))
    own = [one for one in answers if one.listener == PROGRAM]
    of_chain = {c: [one for one in answers if one.chain == c] for c in chains}
    print_table(
        ("chain", "heard by", *FIGURES),
        (
            (chain, name, *figures_of([one for one in held if one.listener == name]))
            for chain, held in of_chain.items()
            for name in listeners
        ),
    )
    print_table(
        ("chain", "quiet before the pluck", *FIGURES[:-1]),
        (
            (chain, name, *figures_of(group)[:-1])
            for chain in chains
            for name, group in grouped(
                [one for one in own if one.chain == chain],
                [name_of(one) for one in own if one.chain == chain],
            ).items()
        ),
    )
    groups = grouped(own, [str(getattr(one, by)) for one in own])
    print_table(
        (f"{by}, all chains", *FIGURES),
        ((name, *figures_of(group)) for name, group in without_small(groups).items()),
    )


def trouble_lines(answers: Sequence[StringAnswer]) -> list[str]:
    """One line per recording that is refused or wrong; for building only."""
    return [
        f"{one.chain}, {one.source} {one.instrument}, true "
        f"{one.true_frequency:.3f} Hz, quiet {one.quiet:.2f} s: {one.said}"
        for one in answers
        if one.listener == PROGRAM and (one.is_wrong or not one.is_given)
    ]


def hear_all(options: argparse.Namespace) -> list[StringAnswer]:
    """Answers to every recording asked for, chain by chain."""
    listeners = listeners_of(has_rivals=options.rivals, prototype=options.prototype)
    answers = []
    for chain in options.chains:
        for quiet in options.quiet or [None]:
            recordings = draw(
                options.split, chain, options.draws, options.seed, quiet=quiet
            )
            answers += answer_all(recordings, listeners, n_processes=options.processes)
    return answers


def describe(split: str, seed: int, n_draws: int) -> str:
    """What was drawn, when, and with what."""
    notes = strings(split)
    makers = len({note.maker for note in notes})
    today = dt.datetime.now(tz=dt.UTC).date()
    return (
        f"Split {split} ({len(notes)} notes of {makers} makers), {n_draws} draws of "
        f"seed {seed}, tension {__version__}, Python {platform.python_version()}, "
        f"numpy {np.__version__}, {today}."
    )


def add_common_options(parser: argparse.ArgumentParser) -> None:
    """Options of every benchmark of recordings of others."""
    halves = [split.value for split in Split]
    parser.add_argument("--split", choices=halves, default="building")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--list", action="store_true", help="single ones, to stderr")


def arguments() -> argparse.ArgumentParser:
    """Options of the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.foreign_strings")
    add_common_options(parser)
    parser.add_argument("--draws", type=int, default=20, help="of each chain")
    names = [chain.value for chain in Chain]
    usual = ["clean", "phone", "far"]
    parser.add_argument("--chains", nargs="+", choices=names, default=usual)
    parser.add_argument(
        "--quiet",
        nargs="+",
        type=float,
        help="seconds before the first pluck, in place of drawn habits",
    )
    parser.add_argument("--by", choices=("source", "instrument"), default="source")
    parser.add_argument("--rivals", action="store_true", help="hear with them too")
    parser.add_argument("--prototype", type=Path, help="file with estimate()")
    return parser


def main() -> None:
    """Print three tables."""
    options = arguments().parse_args()
    require_all_seen(options.split, is_listed=options.list)
    print(describe(options.split, options.seed, options.draws))
    answers = hear_all(options)
    print_tables(answers, options.by, fixed_quiet_of if options.quiet else quiet_of)
    if options.list:
        print("\n".join(trouble_lines(answers)), file=sys.stderr)


if __name__ == "__main__":
    main()
