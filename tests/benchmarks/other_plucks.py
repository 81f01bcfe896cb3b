"""Recordings of one rope with plucks of another rope in it: told, refused or silent.

    python -m tests.benchmarks.other_plucks --draws 40 --seed 0

Silent is a number without a word of the plucks that are not of this rope; wrong is a
number that is not of the rope plucked most.
"""

import argparse
import datetime as dt
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from tests.benchmarks.sound_variants import hear_file
from tests.synthesis.bad_recordings import RATE
from tests.synthesis.mixed_plucks import PATTERNS, draw_mixed
from tests.synthesis.recorder import write_wave

RIGHT = 0.01
"""Of the fundamental. [1]"""


def outcome(pattern: str, seed: int) -> str:
    """What is made of one recording."""
    drawn = draw_mixed(seed, pattern)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rope.wav"
        write_wave(path, drawn.samples.astype("float32"), RATE)
        heard = hear_file(path, None)
    if heard.refusal is not None:
        return "refused"
    if abs(heard.fundamental_frequency / drawn.fundamentals[0] - 1.0) > RIGHT:
        return "wrong"
    is_told = any(note.code == "other-pluck" for note in heard.notes)
    return "given and told" if is_told else "given, nothing said"


def main() -> None:
    """Print one table, a row per pattern."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.other_plucks")
    parser.add_argument("--draws", type=int, default=40)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    seeds = range(options.seed, options.seed + options.draws)
    columns = ("given and told", "given, nothing said", "refused", "wrong")
    lines = [
        f"Seeds {seeds[0]} to {seeds[-1]}, {dt.date.today()}; A is the rope meant.",
        "",
        f"| plucked | {' | '.join(columns)} |",
        "|---" * (len(columns) + 1) + "|",
    ]
    with ProcessPoolExecutor(options.processes) as pool:
        for pattern in PATTERNS:
            found = Counter(pool.map(partial(outcome, pattern), seeds))
            told = " | ".join(str(found[column]) for column in columns)
            lines.append(f"| {pattern} | {told} |")
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
