"""Assess sets of six whose ropes are real strings that others plucked.

    python -m tests.benchmarks.foreign_sets --split building --sets 20 --seed 1

One string, slowed six times, is six ropes of equal length whose shares are known. The
set is written as six WAV files and a record with exact lengths, and assessed through
the front door; each file is heard alone too. All lengths are one, drawn so that the
wave speed is one that ropes have. Slowing takes the stiffness along, which a rope's
pull does not: of a true spread of 20 % and an inharmonicity of 0.001 that is worth 0.4
% of a share at most, less of all else. Takes of another strength differ in pitch; what
is held against the pitches as they were measured stands beside.
"""

import argparse
import sys
import tempfile
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.benchmarks.foreign.chains import Chain
from tests.benchmarks.foreign.sets import ForeignSet, draw_sets
from tests.benchmarks.foreign_answers import require_all_seen
from tests.benchmarks.foreign_strings import add_common_options, describe, print_table
from tests.benchmarks.scoring import (
    SetAnswer,
    count,
    is_wrong,
    median_share_error,
    score_lines,
    within_two_by_thirds,
)
from tests.benchmarks.sound_sets import Trial, assess, trouble_lines
from tests.benchmarks.sound_variants import hear_file
from tests.synthesis.recorder import LowCut
from tests.synthesis.sets import RopeTruth, SynthRecording, SynthSet, log_within

WAVE_SPEED = (60.0, 120.0)
"""Of a rope under a usual load. [m/s]; common practice, no source."""
LINEAR_DENSITY = 0.6
"""Of 13 mm. [kg/m]; common practice, no source."""
DIAMETER = 0.013
MARGIN = 0.015
NOT_KNOWN = "newtons"
"""Beginning of the lines that no slowed string can fill."""


@dataclass(frozen=True, kw_only=True)
class SetHeard:
    """What was said of a set and of its recordings alone.

    Attributes
    ----------
    answer : SetAnswer
        Of the set.
    alone : tuple of bool
        Whether each rope is given when it is heard alone.
    """

    answer: SetAnswer
    alone: tuple[bool, ...]

    @property
    def together(self) -> tuple[bool, ...]:
        """Whether each rope is given in the set."""
        return tuple(rope.share is not None for rope in self.answer.ropes)


def as_ropes(drawn: ForeignSet, seed: int, number: int) -> SynthSet:
    """Six recordings as a set of ropes of one length."""
    rng = np.random.default_rng([seed, number, 6])
    speed = log_within(rng, WAVE_SPEED)
    pitch = float(np.mean([one.truth_hz for one in drawn.recordings]))
    length = round(speed / (2.0 * pitch), 2)
    mean = LINEAR_DENSITY * speed**2
    ropes = tuple(
        RopeTruth(
            number=i + 1,
            free_length=length,
            hitch_tension=float(share) * mean,
            middle_tension=float(share) * mean,
            share=float(share),
            fundamental_frequency=one.truth_hz,
            frequencies=np.array([one.truth_hz]),
            split=0.0,
            weak_level=0.0,
        )
        for i, (share, one) in enumerate(
            zip(drawn.tensions, drawn.recordings, strict=True)
        )
    )
    recordings = tuple(
        SynthRecording(
            samples=one.samples,
            sampling_rate=one.rate,
            ropes=(i + 1,),
            plucks_each=one.n_plucks,
            onsets=one.onsets,
            signal_to_noise=float("nan"),
            hum_level=float("nan"),
            neighbour_level=float("nan"),
            troubles=(),
        )
        for i, one in enumerate(drawn.recordings)
    )
    return SynthSet(
        name="of strings that others plucked",
        seed=number,
        diameter=DIAMETER,
        linear_density=LINEAR_DENSITY,
        flexural_rigidity=float("nan"),
        ropes=ropes,
        recordings=recordings,
        low_cut=LowCut(frequency=0.0, order=0),
    )


def hear_set_and_each(synthetic: SynthSet) -> SetHeard:
    """Assess a set, and hear each of its files alone, as one of no known length."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        answer = assess(synthetic, folder, Trial())
        alone = tuple(
            hear_file(folder / f"rope-{rope.number}.wav", None).refusal is None
            for rope in synthetic.ropes
        )
    return SetHeard(answer=answer, alone=alone)


def hear_all(
    sets: Iterable[ForeignSet], seed: int, *, n_processes: int = 1
) -> list[SetHeard]:
    """Every set heard, in one or more processes."""
    ropes = (as_ropes(drawn, seed, i) for i, drawn in enumerate(sets))
    if n_processes == 1:
        return [hear_set_and_each(one) for one in ropes]
    with ProcessPoolExecutor(n_processes) as pool:
        return list(pool.map(hear_set_and_each, ropes))


def by_pitch(answer: SetAnswer) -> SetAnswer:
    """The same answer, held against the pitches of the takes as measured."""
    return replace(
        answer,
        ropes=tuple(
            replace(rope, true_tension=rope.true_frequency**2) for rope in answer.ropes
        ),
    )


def rows_of(heard: Sequence[SetHeard]) -> list[tuple[str, str]]:
    """The table of one chain: what, and the figure."""
    answers = [one.answer for one in heard]
    measured = [by_pitch(answer) for answer in answers]
    both = [pair for one in heard for pair in zip(one.alone, one.together, strict=True)]
    rows = [line for line in score_lines(answers) if not line[0].startswith(NOT_KNOWN)]
    lost = count(alone and not together for alone, together in both)
    won = count(together and not alone for alone, together in both)
    far = count(is_wrong(answer, margin=MARGIN) for answer in answers)
    rows += [
        ("ropes given alone but lost in the set", str(lost)),
        ("ropes refused alone but given in the set", str(won)),
        ("equal or unequal said wrongly, by over 1.5 points", str(far)),
        (
            "median error of a share, by measured pitch",
            f"{100 * median_share_error(measured):.3f} %",
        ),
    ]
    thirds = zip(
        ("least", "middle", "largest"), within_two_by_thirds(measured), strict=True
    )
    rows += [
        (f"share within 2 u, {name} third of u, by measured pitch", str(held))
        for name, held in thirds
    ]
    return rows


def main() -> None:
    """Print one table, a column per chain."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.foreign_sets")
    add_common_options(parser)
    parser.add_argument("--sets", type=int, default=20)
    names = [chain.value for chain in Chain]
    usual = ["clean", "phone"]
    parser.add_argument("--chains", nargs="+", choices=names, default=usual)
    options = parser.parse_args()
    require_all_seen(options.split, is_listed=options.list)
    print(describe(options.split, options.seed, options.sets))
    columns = []
    for chain in options.chains:
        sets = draw_sets(options.sets, options.seed, options.split, chain)
        heard = hear_all(sets, options.seed, n_processes=options.processes)
        columns.append(rows_of(heard))
        if options.list:
            answers = [one.answer for one in heard]
            print("\n".join(trouble_lines(answers)), file=sys.stderr)
    print_table(
        ("what", *options.chains),
        (
            (row[0][0], *(figure for _, figure in row))
            for row in zip(*columns, strict=True)
        ),
    )


if __name__ == "__main__":
    main()
