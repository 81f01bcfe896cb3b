"""Draw small changes, see which the quick tests notice, and print how many.

``python -m tests.mutation.run --changes 300 --seed 14`` makes each change in the memory
of a process forked for it, so that nothing of the tree is written; the tree must not be
edited meanwhile. Asked are the quick tests that run the changed line, the nearest and
quickest first, until one fails. What no test notices is printed, to be looked at.
"""

import argparse
import importlib
import os
import resource
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from types import CodeType

import pytest

from tests.architecture import numbers
from tests.mutation.changes import Change, drawn, source_with, text_with
from tests.mutation.executed import Batch, Executed, watch

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
    "machine/test_said.py",
)
"""Quick tests that are asked; what the others would notice is not counted.

Those of commands and workflow take as long as all of these and meet the same code by
the commands that `test_said` runs.
"""
PAGE = Batch(
    files=["tests/architecture/test_pages.py"],
    ranks={
        "tests/architecture/test_pages.py::"
        "test_written_pages_are_as_the_program_says[numbers.md]": 0
    },
)
"""The page of numbers, asked last of constants of a module: what it alone notices is
counted for itself."""
WARM = (
    "click",
    "hypothesis.strategies",
    "jinja2",
    "pydantic",
    "scipy.integrate",
    "scipy.linalg",
    "scipy.optimize",
    "scipy.signal",
    "scipy.stats",
)
"""Loaded once, before any process is forked."""
SLACK = 3
"""A change may make its tests so many times as slow before it counts as hanging."""
MEMORY = 4 << 30
"""More memory [byte] is not given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Seen:
    """What the tests said of a change."""

    change: Change
    is_noticed: bool
    by: str
    """The first test that failed; for what survives, how much was asked."""
    seconds: float
    """Computing time. [s]"""


class Changed(SourceFileLoader):
    """Reads one module with the change in it."""

    def __init__(self, change: Change) -> None:
        parts = change.path.with_suffix("").parts
        name = ".".join(parts).removesuffix(".__init__")
        super().__init__(name, str(ROOT / change.path))
        self._source = source_with(ROOT, change)

    def find_spec(self, fullname: str, *_: object) -> ModuleSpec | None:
        """Where the module of this name is read; None where it is another."""
        if fullname != self.name:
            return None
        return spec_from_file_location(fullname, self.path, loader=self)

    def get_code(self, fullname: str) -> CodeType:  # noqa: ARG002
        """The code of the changed source, compiled anew."""
        return compile(self._source, self.path, "exec")


class _Asked:
    """Leaves the asked tests, in their order, and keeps the first that failed."""

    def __init__(self, batch: Batch) -> None:
        self._ranks = batch.ranks
        self.failed = ""

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Leave and order."""
        asked = [item for item in items if item.nodeid in self._ranks]
        items[:] = sorted(asked, key=lambda item: self._ranks[item.nodeid])

    def _note(self, report: pytest.CollectReport | pytest.TestReport) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """A file that cannot be read notices too."""
        self._note(report)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that fails."""
        self._note(report)


def first_failure(batch: Batch) -> str:
    """The first test that fails; empty where all pass."""
    asked = _Asked(batch)
    warm = "ignore::pytest.PytestAssertRewriteWarning"  # hypothesis is loaded already
    words = ["-x", "-q", "--no-header", "--no-summary", "-W", warm, *batch.files]
    code = pytest.main(words, plugins=[asked])
    return asked.failed or (f"exit {code}" if code else "")


def _ask(change: Change, batches: list[Batch], limit: int, said: Path) -> None:
    """In a process of its own: make the change, ask, and write down who noticed."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    signal.alarm(20 * limit)  # for one that waits without computing
    sys.meta_path.insert(0, Changed(change))
    changed, text = ROOT / change.path, text_with(ROOT, change)
    read = numbers.source_of
    numbers.source_of = lambda path: text if path == changed else read(path)
    by = next(filter(None, map(first_failure, batches)), "")
    said.write_text(by, encoding="utf-8")
    os._exit(0)


class Asking:
    """Changes that are made and asked about, some at a time."""

    def __init__(self, executed: Executed, place: Path, seconds: float) -> None:
        self._executed, self._place, self._seconds = executed, place, seconds
        self._running: dict[int, tuple[Change, str]] = {}

    def each(self, changes: list[Change], workers: int) -> Iterator[Seen]:
        """What was seen of every change, in the order of their ends."""
        for change in changes:
            if len(self._running) == workers:
                yield self._first_ended()
            self._begin(change)
        while self._running:
            yield self._first_ended()

    def _begin(self, change: Change) -> None:
        batches, n_running = self._executed.batches(change, self._seconds)
        if change.kind == "constant" and not change.function:
            batches.append(PAGE)
        tests = [test for batch in batches for test in batch.ranks]
        known = sum(self._executed.seconds.get(test, 1.0) for test in tests)
        child = os.fork()
        if not child:
            said = self._place / f"said-{os.getpid()}"
            _ask(change, batches, int(SLACK * known + 60), said)
        asked = f"{len(tests)} tests asked, {n_running} run the line"
        self._running[child] = change, asked

    def _first_ended(self) -> Seen:
        child, status, used = os.wait4(-1, 0)
        change, asked = self._running.pop(child)
        said = self._place / f"said-{child}"
        if os.WIFEXITED(status) and status:
            sys.exit(f"could not ask about {change}")
        by = said.read_text(encoding="utf-8") if said.exists() else "hangs"
        return Seen(
            change=change,
            is_noticed=bool(by),
            by=by or asked,
            seconds=used.ru_utime + used.ru_stime,
        )


def main() -> None:
    """Print how many changes were noticed, and every one that was not."""
    os.environ["TENSION_HEARS_ANEW"] = "1"
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--changes", type=int, default=300)
    parser.add_argument("--first", type=int, default=0, help="leave out those before")
    parser.add_argument("--seed", type=int, default=14)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--lines", type=Path, help="folder that keeps what runs what")
    parser.add_argument("--seconds", type=float, default=40.0, help="tests of a change")
    parser.add_argument("--only", nargs="*", help="files whose changes are made")
    given = parser.parse_args()
    changes = drawn(ROOT, given.changes, given.seed)[given.first :]
    if given.only:
        changes = [c for c in changes if c.path.as_posix() in given.only]
    with tempfile.TemporaryDirectory() as made:
        kept = given.lines or Path(made)
        if not (kept / "seconds.json").exists():
            _watch_apart(kept)
        for name in WARM:
            importlib.import_module(name)
        asking = Asking(Executed(ROOT, kept), Path(made), given.seconds)
        every = []
        for seen in asking.each(changes, given.workers):
            every.append(seen)
            mark = "noticed " if seen.is_noticed else "SURVIVED"
            print(
                f"{seen.seconds:5.1f} s {mark} {seen.change}  ({seen.by})", flush=True
            )
    _print_counts(every, given.seed)


def _watch_apart(kept: Path) -> None:
    """Watch in a process of its own: what it loads must not be there afterwards."""
    kept.mkdir(parents=True, exist_ok=True)
    child = os.fork()
    if not child:
        os.dup2(2, 1)
        watch(ROOT, WATCHED, kept)
        os._exit(0)
    if os.waitpid(child, 0)[1]:
        sys.exit("the tests could not be watched")


def _print_counts(every: list[Seen], seed: int) -> None:
    """The table, by room and by kind."""
    noticed = sum(each.is_noticed for each in every)
    seconds = sum(each.seconds for each in every) / max(len(every), 1)
    by_page = sum(each.by in PAGE.ranks for each in every)
    print(f"\nnoticed {noticed} of {len(every)} changes of seed {seed}")
    print(f"of them {by_page} by nothing but the page of numbers")
    print(f"computing time of a change: {seconds:.1f} s in the mean")
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
