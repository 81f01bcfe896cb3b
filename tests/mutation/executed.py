"""Which quick test files run which lines, so that a change meets only those.

A test that does not run a line cannot notice a change in it.
"""

import argparse
import json
import sys
import time
from collections import defaultdict
from collections.abc import Generator
from pathlib import Path

import coverage
import pytest

from tests.mutation.changes import ROOMS


class Watcher:
    """Names the running test file to the coverage, and takes its computing time [s]."""

    def __init__(self, cover: coverage.Coverage, root: Path) -> None:
        self.cover, self.root = cover, root
        self.seconds: dict[str, float] = defaultdict(float)

    def _name(self, path: Path) -> str:
        return path.relative_to(self.root).as_posix()

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(
        self, collector: pytest.Collector
    ) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
        """What a test file runs while it is read."""
        if isinstance(collector, pytest.Module):
            self.cover.switch_context(self._name(collector.path))
        return (yield)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(
        self, item: pytest.Item
    ) -> Generator[None, object, object]:
        """What a test runs, its fixtures with it, and how long."""
        name, before = self._name(item.path), time.process_time()
        self.cover.switch_context(name)
        ran = yield
        self.seconds[name] += time.process_time() - before
        return ran


def main() -> None:
    """Run the quick tests of the folders given and write lines to test files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    root = Path.cwd()
    cover = coverage.Coverage(
        data_file=None,
        config_file=False,
        include=[f"{root}/tension/{room}/*" for room in ROOMS],
    )
    watcher = Watcher(cover, root)
    cover.start()
    code = pytest.main(["-q", "-m", "not slow", *given.folders], plugins=[watcher])
    cover.stop()
    if code:
        sys.exit(f"the tests do not pass as they are: {code}")
    told = cover.get_data()
    lines = {
        Path(name).relative_to(root).as_posix(): {
            str(line): sorted(filter(None, files))
            for line, files in told.contexts_by_lineno(name).items()
        }
        for name in told.measured_files()
    }
    given.out.write_text(
        json.dumps({"lines": lines, "seconds": watcher.seconds}), encoding="utf-8"
    )


if __name__ == "__main__":
    main()
