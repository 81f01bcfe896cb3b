"""Hear the cases beside the three regimes and print how well.

    python -m tests.benchmarks.sound_variants --case lone --draws 100 --seed 0

Cases: midspan (plucked at mid-span through an 80 Hz roll-off), rods (equal sets on rods
of different free length by row), coupled (one hitch plate that gives way), touching
(one rope of the set touches a guard at first), lone (one rope, no set,
no length), lone-length (the same ropes, their free length told), clean
(against the Cramer-Rao bound), bad (recordings that must give no number). Seeds as
sound_sets.py.
"""

import argparse
import datetime as dt
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.scoring import (
    RopeAnswer,
    SetAnswer,
    count,
    gross_errors,
    is_wrong,
    refusals,
    score_lines,
)
from tests.benchmarks.sound_sets import Trial, answer_sets, heard_by_ear, trouble_lines
from tests.synthesis.bad_recordings import make_bad_recordings
from tests.synthesis.recorder import write_wave
from tests.synthesis.records import write_set
from tests.synthesis.sets import HELD_OUT_FIRST
from tests.synthesis.variants import (
    draw_clean_pluck,
    draw_coupled_set,
    draw_lone_rope,
    draw_midspan_set,
    draw_rods_set,
    draw_touching_set,
)

if TYPE_CHECKING:
    from tension.sound.hearing import RopeHearing

Rows = list[tuple[str, str]]
LONE_GROSS = 0.03  # off in frequency, as listening tables of single ropes count


def hear_file(path: Path, length: float | None) -> "RopeHearing":
    """Hear one file of one rope; its length, if given, says nothing of its pitch."""
    from tension.files.sound import read_recording
    from tension.sound.hear import hear_set
    from tension.sound.hearing import HearingPrior, RopeSpan, Take

    take = Take(recording=read_recording(path), ropes=(1,))
    span = RopeSpan(number=1, free_length=length)
    return hear_set([take], [span], HearingPrior()).ropes[0]


def frequency_errors(ropes: Sequence[RopeAnswer]) -> list[float]:
    """Relative errors of the frequencies given. [1]"""
    return [
        rope.frequency / rope.true_frequency - 1.0
        for rope in ropes
        if rope.frequency is not None
    ]


def lone_rows(answers: Sequence[SetAnswer]) -> Rows:
    """Table of single ropes: refused, gross, median of the rest."""
    ropes = [rope for answer in answers for rope in answer.ropes]
    errors = np.abs(frequency_errors(ropes))
    fine = errors[errors <= LONE_GROSS]
    codes = ", ".join(f"{code} {n}" for code, n in refusals(answers))
    return [
        ("refused", str(count(rope.frequency is None for rope in ropes))),
        ("over 3 % off in frequency, of those given", str(count(errors > LONE_GROSS))),
        ("median error of the rest", f"{100 * float(np.median(fine)):.4f} %"),
        ("refused, by code", codes or "none"),
    ]


def midspan_rows(answers: Sequence[SetAnswer]) -> Rows:
    """Wrong mode numbers behind a verdict, and the usual table."""
    behind = [
        any(gross_errors(answer)) and answer.verdict in {"equal", "unequal"}
        for answer in answers
    ]
    row = ("wrong mode number behind equal or unequal", str(count(behind)))
    return [row, *score_lines(answers)]


def rods_rows(answers: Sequence[SetAnswer]) -> Rows:
    """False unequals of equal sets, and the usual table."""
    false = count(is_wrong(answer) for answer in answers)
    return [("unequal said of an equal set", str(false)), *score_lines(answers)]


def touching_rows(seeds: Sequence[int]) -> Rows:
    """What is said of the rope that touches a guard, by the ear alone."""
    refused, right, wrong, noted = 0, 0, 0, 0
    for seed in seeds:
        synthetic, number = draw_touching_set(seed)
        with tempfile.TemporaryDirectory() as folder:
            write_set(synthetic, Path(folder))
            ropes = heard_by_ear(synthetic, Path(folder), Trial())
        rope = ropes[number - 1]
        truth = synthetic.ropes[number - 1].fundamental_frequency
        noted += bool(rope.notes) or rope.refusal is not None
        if rope.refusal is not None:
            refused += 1
        elif abs(rope.fundamental_frequency / truth - 1.0) <= 0.005:
            right += 1
        else:
            wrong += 1
    n = len(seeds)
    return [
        ("touching rope refused", f"{refused} of {n}"),
        ("given as the free rope, within 0.5 % of frequency", f"{right} of {n}"),
        ("given as something else", f"{wrong} of {n}"),
        ("with a note or refusal", f"{noted} of {n}"),
    ]


def clean_rows(seeds: Sequence[int]) -> Rows:
    """Errors of clean plucks against the bound of the partials used."""
    ratios, wrong, heard = [], 0, 0
    errors = []
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            clean = draw_clean_pluck(seed)
            path = Path(folder) / "clean.wav"
            write_wave(path, clean.samples, clean.sampling_rate)
            rope = hear_file(path, clean.free_length)
            if rope.refusal is not None:
                continue
            heard += 1
            error = rope.fundamental_frequency / clean.frequencies[0] - 1.0
            if abs(error) > LONE_GROSS:
                wrong += 1
                continue
            used = np.array(
                [p.mode_number - 1 for p in rope.partials if p.is_used], dtype=np.intp
            )
            used = used[used < len(clean.frequencies)]
            errors.append(error)
            ratios.append(max(1.5 * clean.bound(used), 5e-5))
    size = np.abs(errors)
    allowed = np.array(ratios)
    spread = float(np.sqrt(np.mean(np.square(errors))))
    return [
        ("clean plucks heard", f"{heard} of {len(seeds)}"),
        ("wrong mode number", f"{wrong} of {heard}"),
        ("root mean square error", f"{100 * spread:.5f} %"),
        ("median error", f"{100 * float(np.median(size)):.5f} %"),
        (
            "root mean square of error over what is allowed",
            f"{float(np.sqrt(np.mean((size / allowed) ** 2))):.2f}",
        ),
    ]


def bad_rows(seeds: Sequence[int]) -> Rows:
    """Every kind of bad recording and what was said of it."""
    said: dict[str, list[str]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            for bad in make_bad_recordings(seed):
                path = Path(folder) / "bad.wav"
                write_wave(path, bad.samples, bad.sampling_rate)
                rope = hear_file(path, 3.4)
                code = str(rope.refusal.code) if rope.refusal else "A NUMBER"
                said.setdefault(bad.kind, []).append(code)
    numbers = count(code == "A NUMBER" for codes in said.values() for code in codes)
    rows = [("bad recordings that gave a number", str(numbers))]
    return rows + [(kind, ", ".join(sorted(set(c)))) for kind, c in said.items()]


CASES = (
    "midspan",
    "rods",
    "coupled",
    "touching",
    "lone",
    "lone-length",
    "clean",
    "bad",
)


def rows_of(case: str, seeds: Sequence[int], options: argparse.Namespace) -> Rows:
    """The table of one case."""
    if case == "clean":
        return clean_rows(seeds)
    if case == "bad":
        return bad_rows(seeds)
    if case == "touching":
        return touching_rows(seeds)
    makers = {
        "midspan": (draw_midspan_set, midspan_rows),
        "rods": (draw_rods_set, rods_rows),
        "coupled": (draw_coupled_set, score_lines),
        "lone": (draw_lone_rope, lone_rows),
        "lone-length": (draw_lone_rope, lone_rows),
    }
    maker, table = makers[case]
    answers = answer_sets(
        maker,
        seeds,
        Trial(
            stage="hear" if case.startswith("lone") else options.stage,
            prior_factor=options.prior_factor,
            has_lengths=case != "lone",
        ),
        n_processes=options.processes,
    )
    if options.list:
        print("\n".join(trouble_lines(answers)), file=sys.stderr)
    return list(table(answers))


def main() -> None:
    """Print one table."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.sound_variants")
    parser.add_argument("--case", choices=CASES, required=True)
    parser.add_argument("--draws", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0, help="the first one")
    parser.add_argument("--stage", choices=("assess", "hear"), default="assess")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--prior-factor", type=float, default=1.0)
    parser.add_argument("--list", action="store_true", help="single draws, to stderr")
    options = parser.parse_args()
    if options.list and options.seed >= HELD_OUT_FIRST:
        sys.exit("held-out draws are not listed one by one")
    seeds = range(options.seed, options.seed + options.draws)
    rows = rows_of(options.case, seeds, options)
    today = dt.datetime.now(tz=dt.UTC).date()
    print(f"Case {options.case}, seeds {seeds[0]} to {seeds[-1]}, {today}.\n")
    print("| what | figure |\n|---|---|")
    for what, figure in rows:
        print(f"| {what} | {figure} |")


if __name__ == "__main__":
    main()
