"""Hear recordings in which no rope was plucked; every number given is a false one.

    python -m tests.benchmarks.no_rope --split building --draws 20 --seed 1

Drums, bells, voices, blown and bowed tones that others recorded, slowed half of the
time so that their pitch lies where a rope's would; machines and knocks by formula.
"""

import argparse
import sys
from collections.abc import Sequence

from tests.benchmarks.foreign.chains import Chain
from tests.benchmarks.foreign.strangers import draw_strangers
from tests.benchmarks.foreign_answers import (
    PROGRAM,
    StringAnswer,
    answer_all,
    by_program,
    require_all_seen,
)
from tests.benchmarks.foreign_strings import (
    add_common_options,
    codes_of,
    describe,
    grouped,
    print_table,
)
from tests.benchmarks.scoring import count

FIGURES = ("recordings", "a number", "refused, by code")


def figures_of(answers: Sequence[StringAnswer]) -> tuple[str, ...]:
    """The figures of one row, as FIGURES."""
    given = str(count(one.is_given for one in answers))
    return (str(len(answers)), given, codes_of(answers))


def hear_all(options: argparse.Namespace) -> tuple[list[str], list[StringAnswer]]:
    """Kinds and answers."""
    drawn = list(
        draw_strangers(options.draws, options.seed, options.split, options.chain)
    )
    kinds = [kind for kind, _ in drawn]
    answers = answer_all(
        (recording for _, recording in drawn),
        {PROGRAM: by_program},
        n_processes=options.processes,
    )
    return kinds, answers


def main() -> None:
    """Print one table, a row per kind."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.no_rope")
    add_common_options(parser)
    parser.add_argument("--draws", type=int, default=20)
    names = [chain.value for chain in Chain]
    parser.add_argument("--chain", choices=names, default="phone")
    options = parser.parse_args()
    require_all_seen(options.split, is_listed=options.list)
    print(describe(options.split, options.seed, options.draws))
    kinds, answers = hear_all(options)
    rows = {"all": answers, **grouped(answers, kinds)}
    print_table(
        (f"kind, chain {options.chain}", *FIGURES),
        ((kind, *figures_of(group)) for kind, group in rows.items()),
    )
    if options.list:
        told = [
            f"{kind}, {one.source} {one.instrument}: {one.said}"
            for kind, one in zip(kinds, answers, strict=True)
            if one.is_given
        ]
        print("\n".join(told), file=sys.stderr)


if __name__ == "__main__":
    main()
