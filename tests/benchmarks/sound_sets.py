"""Hear made rope sets and print how well.

    python -m tests.benchmarks.sound_sets --regime contact --sets 100 --seed 0
    python -m tests.benchmarks.sound_sets --generator stepped --sets 20 --seed 0

The second makes the sets by the other generator, which steps ropes through time and
has a fourth regime, equal sets on rods (needs numba).

Each set is written as WAV files and a record into a temporary folder and given to the
program through its Python interface: ``assess_record`` (the default) or only
``hear_set`` (``--stage hear``). Prints the table as Markdown, with seeds and date.

Seeds below 10000 are for building. Held-out seeds, from 1 000 000, are for final
figures: the program will not list their single sets.
"""

import argparse
import datetime as dt
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.scoring import (
    RopeAnswer,
    SetAnswer,
    gross_errors,
    is_wrong,
    score_lines,
    share_errors,
)
from tests.synthesis.recorder import Coding
from tests.synthesis.records import write_set
from tests.synthesis.regimes import RegimeName
from tests.synthesis.sets import HELD_OUT_FIRST, SynthSet, draw_set

if TYPE_CHECKING:
    from tension.sound.hearing import RopeHearing

Maker = Callable[[int], SynthSet]


@dataclass(frozen=True, kw_only=True)
class Trial:
    """How sets are given to the program.

    Attributes
    ----------
    stage : str
        assess or hear.
    coding : Coding
        File form of the recordings.
    prior_factor : float
        On every width of the prior. [1]
    has_lengths : bool
        Whether the free lengths are told; only for hear.
    """

    stage: str = "assess"
    coding: Coding = Coding.WAV
    prior_factor: float = 1.0
    has_lengths: bool = True


def _sound_seconds(synthetic: SynthSet) -> float:
    return sum(len(r.samples) / r.sampling_rate for r in synthetic.recordings)


def heard_by_ear(
    synthetic: SynthSet, folder: Path, trial: Trial
) -> "tuple[RopeHearing, ...]":
    """Read the files and give them to hear_set, one take per rope."""
    from tension.files.sound import read_recording
    from tension.sound.hear import hear_set
    from tension.sound.hearing import HearingPrior, RopeSpan, Take

    takes = [
        Take(
            recording=read_recording(
                folder / f"rope-{recording.ropes[0]}.{trial.coding}"
            ),
            ropes=recording.ropes,
            plucks_each=recording.plucks_each,
        )
        for recording in synthetic.recordings
    ]
    spans = [
        RopeSpan(
            number=rope.number,
            free_length=rope.free_length if trial.has_lengths else None,
        )
        for rope in synthetic.ropes
    ]
    prior = HearingPrior().widened(trial.prior_factor)
    return hear_set(takes, spans, prior).ropes


def hear(synthetic: SynthSet, folder: Path, trial: Trial) -> SetAnswer:
    """Give the recordings to the ear alone.

    A tension is the true one times the square of heard over true frequency, so that
    the stiffness, which the ear does not judge, cancels.
    """
    write_set(synthetic, folder, coding=trial.coding)
    begin = time.perf_counter()
    ropes = heard_by_ear(synthetic, folder, trial)
    seconds = time.perf_counter() - begin
    scaled = {
        truth.number: truth.hitch_tension
        * (rope.fundamental_frequency / truth.fundamental_frequency) ** 2
        for truth, rope in zip(synthetic.ropes, ropes, strict=True)
        if rope.refusal is None
    }
    mean = float(np.mean(list(scaled.values()))) if scaled else 1.0
    answers = []
    for truth, rope in zip(synthetic.ropes, ropes, strict=True):
        given = truth.number in scaled
        share = scaled[truth.number] / mean if given else None
        answers.append(
            RopeAnswer(
                number=truth.number,
                true_tension=truth.hitch_tension,
                true_frequency=truth.fundamental_frequency,
                share=share,
                share_uncertainty=(
                    2.0 * rope.relative_uncertainty * share if share else None
                ),
                frequency=rope.fundamental_frequency if given else None,
                refused=str(rope.refusal.code) if rope.refusal else None,
            )
        )
    return SetAnswer(
        seed=synthetic.seed,
        ropes=tuple(answers),
        seconds=seconds,
        sound_seconds=_sound_seconds(synthetic),
    )


def assess(synthetic: SynthSet, folder: Path, trial: Trial) -> SetAnswer:
    """Assess the last series of the record, with widths of the prior as tried."""
    from tension.workflow.assess import EvaluatedVisit

    write_set(synthetic, folder, coding=trial.coding)
    begin = time.perf_counter()
    seen = EvaluatedVisit.of_record(folder)
    seen = replace(seen, prior_factor=trial.prior_factor)
    assessed = seen.assess(seen.visit.series[-1])
    seconds = time.perf_counter() - begin
    result = assessed.assessment
    heard = {}
    if assessed.hearing is not None:
        heard = {rope.number: rope for rope in assessed.hearing.ropes}
    answers = []
    for truth, share in zip(synthetic.ropes, result.shares, strict=True):
        rope = heard.get(truth.number)
        refusal = rope.refusal if rope is not None else None
        answers.append(
            RopeAnswer(
                number=truth.number,
                true_tension=truth.hitch_tension,
                true_frequency=truth.fundamental_frequency,
                tension=share.tension,
                tension_uncertainty=share.tension_uncertainty,
                share=share.share,
                share_uncertainty=share.share_uncertainty,
                frequency=(
                    rope.fundamental_frequency
                    if rope is not None and refusal is None
                    else None
                ),
                refused=str(refusal.code) if refusal is not None else None,
            )
        )
    return SetAnswer(
        seed=synthetic.seed,
        ropes=tuple(answers),
        verdict=result.verdict.value,
        lower=result.spread.lower,
        upper=result.spread.upper,
        seconds=seconds,
        sound_seconds=_sound_seconds(synthetic),
    )


STAGES = {"assess": assess, "hear": hear}


def draw_by_steps(name: RegimeName, seed: int, *, rods: bool = False) -> SynthSet:
    """Draw a set of the second generator, whose import takes a while."""
    from tests.synthesis.stepped.stepped_sets import draw_stepped_set

    return draw_stepped_set(name, seed, rods=rods)


GENERATORS: dict[str, dict[str, Maker]] = {
    "elements": {name.value: partial(draw_set, name) for name in RegimeName},
    "stepped": {
        **{name.value: partial(draw_by_steps, name) for name in RegimeName},
        "rods": partial(draw_by_steps, RegimeName.PHONE, rods=True),
    },
}
"""Makers of sets by generator and regime; sound_variants.py has rods of the first."""


def answer_one(seed: int, *, maker: Maker, trial: Trial) -> SetAnswer:
    """Make one set, write it, have it answered."""
    synthetic = maker(seed)
    with tempfile.TemporaryDirectory() as folder:
        return STAGES[trial.stage](synthetic, Path(folder), trial)


def answer_sets(
    maker: Maker, seeds: Sequence[int], trial: Trial, *, n_processes: int = 1
) -> list[SetAnswer]:
    """Answer many sets, in one or more processes."""
    work = partial(answer_one, maker=maker, trial=trial)
    if n_processes == 1:
        return [work(seed) for seed in seeds]
    with ProcessPoolExecutor(n_processes) as pool:
        return list(pool.map(work, seeds, chunksize=2))


def trouble_lines(answers: Sequence[SetAnswer]) -> list[str]:
    """One line per set that went wrong or is not complete; for building only."""
    lines = []
    for answer in answers:
        gross = gross_errors(answer)
        if not (any(gross) or is_wrong(answer) or not answer.is_complete):
            continue
        parts = [f"seed {answer.seed}: spread {100 * answer.true_spread:.1f} %"]
        parts.append(f"{answer.verdict} [{answer.lower}, {answer.upper}]")
        errors = share_errors(answer)
        parts += [
            f"rope {rope.number} GROSS {100 * error:+.1f} % heard {rope.frequency} Hz "
            f"true {rope.true_frequency:.3f} Hz"
            for rope, error, bad in zip(answer.given, errors, gross, strict=True)
            if bad
        ]
        parts += [
            f"rope {rope.number} refused {rope.refused}, true "
            f"{rope.true_frequency:.3f} Hz"
            for rope in answer.ropes
            if rope.share is None
        ]
        lines.append("; ".join(parts))
    return lines


def arguments() -> argparse.ArgumentParser:
    """Options of the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.sound_sets")
    parser.add_argument("--generator", choices=list(GENERATORS), default="elements")
    names = list(GENERATORS["stepped"])
    parser.add_argument("--regime", choices=[*names, "all"], default="all")
    parser.add_argument("--sets", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0, help="the first one")
    parser.add_argument("--stage", choices=list(STAGES), default="assess")
    codings = [coding.value for coding in Coding]
    parser.add_argument("--coding", choices=codings, default="wav")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument(
        "--prior-factor",
        type=float,
        default=1.0,
        help="on every width of the prior; priors.py holds both against each other",
    )
    parser.add_argument("--list", action="store_true", help="single sets, to stderr")
    return parser


def main() -> None:
    """Print one table, a column per regime."""
    options = arguments().parse_args()
    if options.list and options.seed >= HELD_OUT_FIRST:
        sys.exit("held-out sets are not listed one by one")
    makers = GENERATORS[options.generator]
    if options.regime not in {*makers, "all"}:
        sys.exit(f"the generator {options.generator} has no {options.regime}")
    chosen = list(makers) if options.regime == "all" else [options.regime]
    columns = []
    trial = Trial(
        stage=options.stage,
        coding=Coding(options.coding),
        prior_factor=options.prior_factor,
    )
    seeds = range(options.seed, options.seed + options.sets)
    for name in chosen:
        answers = answer_sets(makers[name], seeds, trial, n_processes=options.processes)
        columns.append(score_lines(answers))
        if options.list:
            print("\n".join(trouble_lines(answers)), file=sys.stderr)
    today = dt.datetime.now(tz=dt.UTC).date()
    print(
        f"Seeds {seeds[0]} to {seeds[-1]}, generator {options.generator}, "
        f"stage {options.stage}, {options.coding} files, prior widths times "
        f"{options.prior_factor:g}, {today}.\n"
    )
    print("| what | " + " | ".join(chosen) + " |")
    print("|---" * (len(chosen) + 1) + "|")
    for row in zip(*columns, strict=True):
        print(f"| {row[0][0]} | " + " | ".join(figure for _, figure in row) + " |")


if __name__ == "__main__":
    main()
