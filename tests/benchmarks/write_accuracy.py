"""Run the benchmarks and put their tables into docs/accuracy.md.

    python -m tests.benchmarks.write_accuracy [--only NAME ...] [--processes 2]

Every table carries its seed and date; the seeds are held out (from 1 000 000), never
looked at while building, and the strings of others are of the final half. What others
recorded is downloaded first, by `python -m tests.benchmarks.foreign.fetch`. All of it
takes about two hours on two cores; --only runs one.
"""

import argparse
import re
import subprocess
import sys
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "docs" / "accuracy.md"

SOUND = "tests.benchmarks.sound_sets"
COVERAGE = "tests.benchmarks.coverage"
SIDE_PULLS = "tests.benchmarks.side_pulls"
VARIANTS = "tests.benchmarks.sound_variants"
PRIORS = "tests.benchmarks.priors"
RIVALS = "tests.benchmarks.rivals"
STRINGS = "tests.benchmarks.foreign_strings"
STRANGERS = "tests.benchmarks.no_rope"
STRING_SETS = "tests.benchmarks.foreign_sets"
REPEATS = "tests.benchmarks.wrong_repeats"
OTHER_PLUCKS = "tests.benchmarks.other_plucks"
CAUSES = "tests.benchmarks.causes"
LIFTS = "tests.benchmarks.lifts_that_run"
IN_PROCESSES = {SOUND, VARIANTS, PRIORS, RIVALS, STRINGS, STRANGERS, STRING_SETS}
IN_PROCESSES |= {REPEATS, OTHER_PLUCKS, CAUSES, LIFTS}

FINAL = ["--split", "final"]

# Each table: the command that prints it, with a first seed of its own.
TABLES: dict[str, list[str]] = {
    "strings": [
        *[STRINGS, *FINAL, "--chains", "clean", "phone", "far"],
        *["--draws", "150", "--seed", "9912000"],
    ],
    "strings-rivals": [
        *[STRINGS, *FINAL, "--chains", "clean", "phone", "far"],
        *["--draws", "30", "--seed", "9915000", "--rivals"],
    ],
    "strings-coded": [
        *[STRINGS, *FINAL, "--chains", "amr", "opus", "gain", "voice"],
        *["--draws", "60", "--seed", "9920000", "--by", "instrument"],
    ],
    "strings-quiet": [
        *[STRINGS, *FINAL, "--chains", "phone", "--quiet", "0.02", "0.3", "1.5"],
        *["--draws", "100", "--seed", "9930000", "--by", "instrument"],
    ],
    "string-sets": [
        *[STRING_SETS, *FINAL, "--chains", "clean", "phone"],
        *["--sets", "40", "--seed", "9940000"],
    ],
    "no-rope": [STRANGERS, *FINAL, "--draws", "300", "--seed", "9952000"],
    "coverage": [COVERAGE, "--sets", "5000", "--seed", "2000001"],
    "side-pulls": [SIDE_PULLS, "--sets", "400", "--seed", "9872000"],
    "contact": [SOUND, "--regime", "contact", "--sets", "24", "--seed", "9604000"],
    "phone": [SOUND, "--regime", "phone", "--sets", "20", "--seed", "9614000"],
    "hard": [SOUND, "--regime", "hard", "--sets", "20", "--seed", "9624000"],
    "stepped": [
        *[SOUND, "--generator", "stepped", "--regime", "all"],
        *["--sets", "5", "--seed", "9961000"],
    ],
    "midspan": [VARIANTS, "--case", "midspan", "--draws", "200", "--seed", "9630000"],
    "rods": [VARIANTS, "--case", "rods", "--draws", "40", "--seed", "9643000"],
    "lone": [VARIANTS, "--case", "lone", "--draws", "150", "--seed", "9654000"],
    "touching": [VARIANTS, "--case", "touching", "--draws", "40", "--seed", "9660000"],
    "clean": [VARIANTS, "--case", "clean", "--draws", "80", "--seed", "9673000"],
    "bad": [VARIANTS, "--case", "bad", "--draws", "5", "--seed", "9684000"],
    "wrong-repeats": [REPEATS, "--sets", "300", "--seed", "9881000"],
    "other-plucks": [OTHER_PLUCKS, "--draws", "40", "--seed", "9886000"],
    "priors": [PRIORS, "--regime", "all", "--sets", "15", "--seed", "9690000"],
    "rivals": [RIVALS, "--draws", "50", "--seed", "9600000"],
    "adjusting": [
        "tests.benchmarks.adjustment",
        "--sets",
        "80",
        "--seed",
        "20260401",
    ],
    "causes": [CAUSES, "--visits", "300", "--pairs", "150", "--seed", "1630000"],
    "lifts": [*[LIFTS, "--lifts", "1000"], *["--orders", "0", "--seed", "9900000"]],
    "orders": [*[LIFTS, "--lifts", "0"], *["--orders", "2000", "--seed", "9960000"]],
    "speed": ["tests.benchmarks.speed"],
}


def fill(page: str, name: str, table: str) -> str:
    """Put a table between its marks."""
    marks = re.compile(
        rf"(<!-- table: {re.escape(name)} -->\n).*?(<!-- end -->)", re.DOTALL
    )
    if not marks.search(page):
        sys.exit(f"docs/accuracy.md has no marks for the table {name!r}")
    return marks.sub(lambda m: f"{m[1]}{table.strip()}\n{m[2]}", page)


def run(name: str, processes: int) -> str:
    """Run one benchmark and give what it prints, with the command above it."""
    words = list(TABLES[name])
    if words[0] in IN_PROCESSES:
        words += ["--processes", str(processes)]
    done = subprocess.run(
        [sys.executable, "-m", *words], capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        sys.exit(f"{name}: {done.stderr.strip().splitlines()[-1:]}")
    # headings of a benchmark stand below the page's own
    printed = re.sub(r"^(#+) ", r"##\1 ", done.stdout, flags=re.MULTILINE)
    return f"`python -m {' '.join(TABLES[name])}`\n\n{printed}"


def main() -> None:
    """Run what is asked for and write the page after each table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="+", choices=TABLES, default=list(TABLES))
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    for name in given.only:
        print(name, flush=True)
        table = run(name, given.processes)
        page = fill(PAGE.read_text(encoding="utf-8"), name, table)
        PAGE.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()
