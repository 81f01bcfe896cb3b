"""Which quick tests run which lines, so that a change meets only those.

A test that does not run a line cannot notice a change in it.
"""

import json
import sys
import time
from collections import defaultdict
from collections.abc import Generator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.mutation.changes import ROOMS, Change

if TYPE_CHECKING:
    from coverage import Coverage

NEAREST = 4
"""So many test files are asked before the others."""
QUICK = 0.1
"""A test that takes longer [s] is asked after all that do not."""


class Watcher:
    """Names the running test to the coverage, and takes its computing time [s]."""

    def __init__(self, cover: "Coverage") -> None:
        self.cover = cover
        self.seconds: dict[str, float] = defaultdict(float)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(
        self, item: pytest.Item
    ) -> Generator[None, object, object]:
        """What a test runs, its fixtures with it, and how long."""
        before = time.process_time()
        self.cover.switch_context(item.nodeid)
        ran = yield
        self.seconds[item.nodeid] += time.process_time() - before
        return ran


def watch(root: Path, folders: tuple[str, ...], kept: Path) -> None:
    """Run the quick tests of the folders and keep what they ran and how long."""
    import coverage  # of the extra `dev`: the drawing of changes needs none

    cover = coverage.Coverage(
        data_file=kept / "lines",
        config_file=False,
        include=[f"{root}/tension/{room}/*" for room in ROOMS],
    )
    cover.erase()
    watcher = Watcher(cover)
    cover.start()
    asked = [f"tests/{folder}" for folder in folders]
    code = pytest.main(["-q", "-m", "not slow", *asked], plugins=[watcher])
    cover.stop()
    if code:
        sys.exit(f"the tests do not pass as they are: {code}")
    cover.save()
    (kept / "seconds.json").write_text(json.dumps(watcher.seconds), encoding="utf-8")


@dataclass(frozen=True, kw_only=True, slots=True)
class Batch:
    """Tests asked together: files in their order, each test's rank among all."""

    files: list[str]
    ranks: dict[str, int]


class Executed:
    """What the watched tests ran."""

    def __init__(self, root: Path, kept: Path) -> None:
        import coverage

        self._root = root
        self._data = coverage.CoverageData(str(kept / "lines"))
        self._data.read()
        self.seconds: dict[str, float] = json.loads(
            (kept / "seconds.json").read_text(encoding="utf-8")
        )

    def _running(self, change: Change) -> set[str]:
        """Tests that run the line, or any of its file where it is read once."""
        lines = self._data.contexts_by_lineno(str(self._root / change.path))
        # a statement over several lines may be run by its first line only
        above = max((line for line in lines if line <= change.line), default=0)
        tests = set(filter(None, lines.get(above, ())))
        if change.function and tests:
            return tests
        return {test for tests in lines.values() for test in tests if test}

    def batches(self, change: Change, seconds: float) -> tuple[list[Batch], int]:
        """
        What is asked, the nearest first, and how many tests run the line in all.

        Nearest are the files named like the changed one, then those of its room. What
        a file makes once may hold what only its first test ran, so that its other
        tests are asked too, last.

        Parameters
        ----------
        change :
            What was changed.
        seconds :
            Tests are asked as long as those before took less together. [s]
        """
        running = self._running(change)
        room = f"tests/{change.path.parts[1]}/"
        files = {_file(test) for test in running}
        ranked = sorted(
            files,
            key=lambda file: (
                not file.startswith(f"{room}test_{change.path.stem}"),
                not file.startswith(room),
                file,
            ),
        )
        nearest = set(ranked[:NEAREST])

        def rank(test: str) -> tuple[object, ...]:
            is_slow = self.seconds[test] > QUICK
            last = test not in running
            far = _file(test) not in nearest
            return far or last or is_slow, last, is_slow, ranked.index(_file(test))

        asked: list[str] = []
        spent = 0.0
        tests = (test for test in self.seconds if _file(test) in files)
        for test in sorted(tests, key=lambda t: (rank(t), self.seconds[t])):
            if spent < seconds:
                asked.append(test)
                spent += self.seconds[test]
        near = [test for test in asked if not rank(test)[0]]
        rest = asked[len(near) :]
        return [_batch(tests) for tests in (near, rest) if tests], len(running)


def _file(test: str) -> str:
    return test.partition("::")[0]


def _batch(tests: list[str]) -> Batch:
    return Batch(
        files=list(dict.fromkeys(map(_file, tests))),
        ranks={test: i for i, test in enumerate(tests)},
    )
