"""Draw small changes, see which the quick tests notice, and print how many.

``python -m tests.mutation.run --changes 300 --seed 14`` works in copies of the tree.
For each change it runs the quick tests of its room, those first that run the changed
line, and stops at the first that fails; with ``--whole`` then every other quick test
that runs the line. What no test notices is printed, to be looked at.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue

from tests.mutation.changes import Change, drawn, source_with

ROOT = Path(__file__).resolve().parents[2]
WATCHED = (
    "quantity",
    "physics",
    "measurement",
    "assessment",
    "adjustment",
    "condition",
    "catalogue",
    "memory",
    "diagnosis",
    "history",
    "workflow/test_assess.py",
    "workflow/test_numbers.py",
)
"""Quick tests that are asked; what the others would notice is not counted."""
NEAREST = 4
"""So many test files are asked before the others."""
LONGEST = 600.0
"""A run that takes longer [s] hangs, and so is noticed."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Seen:
    """What a copy's tests said of a change."""

    change: Change
    is_noticed: bool
    by: str
    """The first test that failed; for what survives, how much was asked."""


def copy_of_the_tree(place: Path) -> Path:
    """A copy of what the tests need."""
    for name in ("tension", "tests", "docs", "recordings_demo"):
        shutil.copytree(
            ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__")
        )
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, place / name)
    return place


def python_in(
    place: Path, *words: str, longest: float = LONGEST
) -> subprocess.CompletedProcess[str]:
    """Run Python in a copy, for so long at most [s]."""
    return subprocess.run(
        [sys.executable, *words],
        cwd=place,
        env={
            **os.environ,
            "PYTHONPATH": str(place),
            "OPENBLAS_NUM_THREADS": "1",
            "OMP_NUM_THREADS": "1",
        },
        capture_output=True,
        text=True,
        timeout=longest,
        check=False,
    )


class Lines:
    """Which quick test files run which line."""

    def __init__(
        self, lines: dict[str, dict[str, set[str]]], seconds: dict[str, float]
    ) -> None:
        self._lines, self._seconds = lines, seconds

    def files_for(self, change: Change) -> list[str]:
        """Those named like the file first, then those of the room, quick ones first."""
        lines = self._lines.get(change.path.as_posix(), {})
        if change.function:
            # a statement over several lines may be run by its first line only
            above = (n for n in map(int, lines) if n <= change.line)
            files = set(lines.get(str(max(above, default=0)), ()))
        else:  # read once, used anywhere in the file and by what imports it
            files = {file for each in lines.values() for file in each}
        room = f"tests/{change.path.parts[1]}/"
        return sorted(
            files,
            key=lambda file: (
                not file.startswith(f"{room}test_{change.path.stem}"),
                not file.startswith(room),
                self._seconds.get(file, 0.0),
            ),
        )

    def files_of_the_room(self, change: Change) -> list[str]:
        """Every quick test file of the room of a change."""
        room = f"tests/{change.path.parts[1]}/"
        return [file for file in self._seconds if file.startswith(room)]


def lines_of(place: Path, kept: Path) -> Lines:
    """What runs what, watched folder by folder; what is kept already is not again."""
    kept.mkdir(exist_ok=True)
    lines: dict[str, dict[str, set[str]]] = {}
    seconds: dict[str, float] = {}
    for folder in WATCHED:
        out = kept.resolve() / f"{folder.replace('/', '-')}.json"
        if not out.exists():
            words = ("-m", "tests.mutation.executed", f"tests/{folder}", "--out")
            ran = python_in(place, *words, str(out), longest=3600.0)
            if ran.returncode:
                sys.exit(f"{folder}: {ran.stdout[-3000:]}{ran.stderr[-3000:]}")
            print(f"watched {folder}", file=sys.stderr, flush=True)
        told = json.loads(out.read_text(encoding="utf-8"))
        seconds |= told["seconds"]
        for file, by_line in told["lines"].items():
            into = lines.setdefault(file, {})
            for line, files in by_line.items():
                into.setdefault(line, set()).update(files)
    return Lines(lines, seconds)


def first_failure(place: Path, files: list[str]) -> str:
    """The first test that fails in a copy; empty where all pass or none is asked."""
    if not files:
        return ""
    words = ("-m", "pytest", "-x", "-q", "--no-header", "-m", "not slow", *files)
    try:
        ran = python_in(place, *words)
    except subprocess.TimeoutExpired:
        return "hangs"
    if ran.returncode in (0, 5):
        return ""
    said = [li for li in ran.stdout.splitlines() if li.startswith(("FAILED", "ERROR"))]
    return said[0].split(" - ")[0] if said else f"exit {ran.returncode}"


def seen(
    change: Change, place: Path, lines: Lines, written: int, *, is_whole: bool
) -> Seen:
    """Make a change in a copy, ask the tests, and take it back."""
    path = place / change.path
    before = path.read_text(encoding="utf-8")
    running, room = lines.files_for(change), lines.files_of_the_room(change)
    near = [file for file in running if file in room] or running
    rest = [file for file in room if file not in near]
    try:
        path.write_text(source_with(place, change), encoding="utf-8")
        _make_newer(path, written)
        by = first_failure(place, near[:NEAREST]) or first_failure(
            place, near[NEAREST:] + rest
        )
        if is_whole and not by:
            by = first_failure(place, [file for file in running if file not in near])
    finally:
        path.write_text(before, encoding="utf-8")
        _make_newer(path, written + 1)
    asked = f"{len(near)} files of the room run the line, {len(rest)} more asked"
    return Seen(change=change, is_noticed=bool(by), by=by or asked)


def _make_newer(path: Path, written: int) -> None:
    """A time of its own for every state: compiled files are told apart by it."""
    moment = path.stat().st_mtime + 2 * written
    os.utime(path, (moment, moment))


def main() -> None:
    """Print how many changes were noticed, and every one that was not."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--changes", type=int, default=300)
    parser.add_argument("--first", type=int, default=0, help="leave out those before")
    parser.add_argument("--seed", type=int, default=14)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--lines", type=Path, help="folder that keeps what runs what")
    parser.add_argument(
        "--whole", action="store_true", help="ask every test that runs the line"
    )
    parser.add_argument("--only", nargs="*", help="files whose changes are made")
    given = parser.parse_args()
    changes = drawn(ROOT, given.changes, given.seed)[given.first :]
    if given.only:
        changes = [c for c in changes if c.path.as_posix() in given.only]
    with tempfile.TemporaryDirectory() as made:
        places: Queue[Path] = Queue()
        for i in range(given.workers):
            (Path(made) / str(i)).mkdir()
            places.put(copy_of_the_tree(Path(made) / str(i)))
        lines = lines_of(Path(made) / "0", given.lines or Path(made) / "lines")

        def work(numbered: tuple[int, Change]) -> Seen:
            place = places.get()
            try:
                found = seen(
                    numbered[1],
                    place,
                    lines,
                    2 * numbered[0] + 1,
                    is_whole=given.whole,
                )
            finally:
                places.put(place)
            mark = "noticed " if found.is_noticed else "SURVIVED"
            print(f"{numbered[0]:3d} {mark} {found.change}  ({found.by})", flush=True)
            return found

        with ThreadPoolExecutor(given.workers) as pool:
            every = list(pool.map(work, enumerate(changes)))
    _print_counts(every, given.seed)


def _print_counts(every: list[Seen], seed: int) -> None:
    """The table, by room and by kind."""
    noticed = sum(each.is_noticed for each in every)
    print(f"\nnoticed {noticed} of {len(every)} changes of seed {seed}")
    _print_table("room", [(each.change.path.parts[1], each) for each in every])
    _print_table("kind", [(each.change.kind, each) for each in every])


def _print_table(what: str, named: list[tuple[str, Seen]]) -> None:
    """A row for each name."""
    of = Counter(name for name, _ in named)
    noticed = Counter(name for name, each in named if each.is_noticed)
    print(f"\n| {what} | changes | noticed |\n|---|---|---|")
    for name in sorted(of):
        print(f"| {name} | {of[name]} | {noticed[name]} |")


if __name__ == "__main__":
    main()
