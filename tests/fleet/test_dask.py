"""The same lines from a real Dask cluster of several processes, also if one dies."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from tension.errors import TensionError
from tension.fleet.listing import is_usable
from tension.fleet.run import dask_cluster
from tension.fleet.tree import program_digest
from tests.fleet.making import alone, rows_of, write_fleet

distributed = pytest.importorskip(
    "distributed", reason="a cluster needs Dask: pip install 'tension[fleet]'"
)
ROOT = Path(__file__).resolve().parents[2]
SEED = 162

# Dask closes its sockets a little after its processes end.
pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


class Cluster:
    """A scheduler and workers, each a process of its own started as people do."""

    def __init__(self, place: Path) -> None:
        self._place = place
        self._file = place / "scheduler.json"
        common = ("--scheduler-file", str(self._file), "--no-dashboard")
        self.scheduler = self._start("scheduler", *common, "--port", "0")
        self.workers: list[subprocess.Popen[bytes]] = []

    def _start(self, *words: str) -> subprocess.Popen[bytes]:
        environment = os.environ | {"PYTHONPATH": str(ROOT)}
        with (self._place / f"{words[0]}.log").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", "dask", *words],
                stdout=subprocess.DEVNULL,
                stderr=log,
                env=environment,
            )

    def add_worker(self, *, nanny: str = "--no-nanny") -> None:
        """One more process with one thread."""
        self.workers.append(
            self._start(
                "worker",
                *("--scheduler-file", str(self._file), "--nthreads", "1", nanny),
                *("--no-dashboard", "--local-directory", str(self._place)),
            )
        )

    @property
    def address(self) -> str:
        """Where the scheduler answers."""
        import json

        end = time.monotonic() + 60
        while not self._file.exists() and time.monotonic() < end:
            time.sleep(0.1)
        time.sleep(0.2)
        address: str = json.loads(self._file.read_text("utf-8"))["address"]
        return address

    def stop(self) -> None:
        """End every process that was started."""
        for process in (*self.workers, self.scheduler):
            process.terminate()
        for process in (*self.workers, self.scheduler):
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    folder = tmp_path / "dask"
    folder.mkdir()
    started = Cluster(folder)
    try:
        yield started
    finally:
        started.stop()


def test_lines_are_those_of_single_use_though_a_worker_is_killed(
    cluster: Cluster, tmp_path: Path
) -> None:
    top = write_fleet(tmp_path / "lifts", 60, seed=SEED)
    for _ in range(3):
        cluster.add_worker()
    n_before: list[int] = []

    def kill() -> None:
        while _kept(tmp_path / "kept") <= 5:
            time.sleep(0.02)
        n_before.append(_kept(tmp_path / "kept"))
        cluster.workers[0].send_signal(signal.SIGKILL)

    killer = threading.Thread(target=kill, daemon=True)
    killer.start()
    found = rows_of(
        top, workers=partial(dask_cluster, cluster.address), cache=tmp_path / "kept"
    )
    killer.join(5)
    assert cluster.workers[0].wait(10) == -signal.SIGKILL
    assert n_before[0] < 60  # it died in the middle
    assert len(found) == 60
    for record, row in found.items():
        single = alone(top / record)
        assert row | {"record": ""} == single, record


def test_a_record_over_which_every_worker_dies_is_named_and_the_rest_is_right(
    cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tests.fleet import making
    from tests.fleet.deadly import DeadlyTree

    top = write_fleet(tmp_path / "lifts", 8, seed=SEED)
    cluster.add_worker(nanny="--nanny")
    cluster.add_worker(nanny="--nanny")
    monkeypatch.setattr(making, "open_tree", lambda text: DeadlyTree(name=text))
    found = rows_of(top, workers=partial(dask_cluster, cluster.address))
    row = found["street 0/lift 3/visit.toml"]
    assert row["verdict"] == "fault"
    assert "died" in row["reason"]
    good = list(filter(is_usable, found.values()))
    assert len(good) == 7
    for other in good:
        single = alone(top / other["record"])
        assert other | {"record": ""} == single


def test_a_cluster_without_workers_or_with_another_program_is_refused(
    cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    top = write_fleet(tmp_path / "lifts", 2, seed=SEED)
    monkeypatch.setattr("tension.fleet.run._PATIENCE", 2)
    workers = partial(dask_cluster, cluster.address)
    with pytest.raises(TensionError, match="has no workers"):
        rows_of(top, workers=workers)
    monkeypatch.setattr("tension.fleet.run._PATIENCE", 60)
    cluster.add_worker()
    monkeypatch.setattr("tension.fleet.tree._PACKAGES", ("numpy",))
    program_digest.cache_clear()
    with pytest.raises(TensionError, match="another version"):
        rows_of(top, workers=workers)
    program_digest.cache_clear()


def test_an_address_where_nobody_answers_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    top = write_fleet(tmp_path / "lifts", 1, seed=SEED)
    monkeypatch.setattr("tension.fleet.run._PATIENCE", 1)
    with pytest.raises(TensionError, match="no Dask scheduler answers"):
        rows_of(top, workers=partial(dask_cluster, "tcp://127.0.0.1:9"))
    with pytest.raises(TensionError, match="no Dask scheduler answers"):
        rows_of(top, workers=partial(dask_cluster, "nonsense"))


def _kept(folder: Path) -> int:
    """How many lines are kept."""
    return sum(1 for path in folder.rglob("*") if path.is_file())
