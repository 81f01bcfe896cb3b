"""Killed at any moment, the next run goes on and gives the same bytes."""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path

import pytest

from tension.fleet.listing import Listing, Order, write_list
from tension.fleet.run import Job, assess_fleet, local_workers
from tension.fleet.tree import open_tree
from tension.wording import Terms
from tension.workflow import assess
from tests.fleet.making import write_fleet
from tests.killing import run_killed

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
SEED = 163
NAMES = ("list.csv", "list.jsonl", "list.html")


def list_fleet(top: Path, out: Path) -> None:
    """A whole run with all that it writes, in this process."""
    job = Job(tree=open_tree(str(top)), cache=out / "kept")
    with assess_fleet(job, partial(local_workers, 1, are_threads=True)) as spool:
        listing = Listing(
            spool=spool,
            order=Order.SPREAD,
            day=date(2026, 11, 29),
            is_every_record=False,
            top="lifts",
            terms=Terms.EUROPE,
        )
        for name in NAMES:
            write_list(listing, out / name, overwrite=True)


def _once(assess_record: Callable[..., object]) -> Callable[..., object]:
    """Assess a record that does not change, or take it as assessed before."""
    known: dict[object, object] = {}

    def assessed(path: object, **more: object) -> object:
        if path not in known:
            known[path] = assess_record(path, **more)
        return known[path]

    return assessed


def written(out: Path) -> dict[str, bytes]:
    return {name: (out / name).read_bytes() for name in NAMES if (out / name).exists()}


def test_killed_at_every_change_it_makes_the_next_run_gives_the_same_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    top = write_fleet(tmp_path / "lifts", 3, seed=SEED)
    # what is kept is killed here, not what is computed: each record is assessed once
    monkeypatch.setattr(assess, "assess_record", _once(assess.assess_record))
    (tmp_path / "whole").mkdir()
    list_fleet(top, tmp_path / "whole")
    wanted = written(tmp_path / "whole")
    assert set(wanted) == set(NAMES)
    at, is_killed = 0, True
    while is_killed:
        at += 1
        out = tmp_path / f"at-{at}"
        out.mkdir()
        is_killed = run_killed(lambda: list_fleet(top, out), out, at)  # noqa: B023
        assert written(out).items() <= wanted.items()  # whole or not there
        list_fleet(top, out)
        assert written(out) == wanted
    assert at > 20


def command(top: Path, out: Path) -> list[str]:
    words = [sys.executable, "-m", "tension", "fleet", str(top), "--workers", "2"]
    words += ["--cache", str(out / "kept"), "--as-of", "2026-11-29", "--overwrite"]
    return words + [word for name in NAMES for word in ("-o", str(out / name))]


def start(top: Path, out: Path) -> subprocess.Popen[bytes]:
    out.mkdir(exist_ok=True)
    with (out / "stdout").open("wb") as printed, (out / "stderr").open("wb") as told:
        return subprocess.Popen(
            command(top, out),
            stdout=printed,
            stderr=told,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            start_new_session=True,
        )


def test_twenty_kills_at_random_moments_change_no_byte(tmp_path: Path) -> None:
    top = write_fleet(tmp_path / "lifts", 40, seed=SEED)
    began = time.monotonic()
    assert start(top, tmp_path / "whole").wait() == 0
    long = time.monotonic() - began
    wanted = written(tmp_path / "whole")
    moments = random.Random(SEED)  # noqa: S311 - moments, not secrets
    n_killed = 0
    for _ in range(20):
        running = start(top, tmp_path / "killed")
        try:
            running.wait(moments.uniform(0.02, 0.5) * long)
        except subprocess.TimeoutExpired:
            running.kill()
            n_killed += 1
            running.wait()
        assert written(tmp_path / "killed").items() <= wanted.items()
    assert n_killed >= 3  # fewer where the first run was slowed down
    assert start(top, tmp_path / "killed").wait() == 0
    assert written(tmp_path / "killed") == wanted
    outs = [tmp_path / name / "stdout" for name in ("killed", "whole")]
    assert outs[0].read_bytes() == outs[1].read_bytes()


def children(pid: int) -> list[int]:
    path = Path(f"/proc/{pid}/task/{pid}/children")
    try:
        return [int(word) for word in path.read_text("ascii").split()]
    except OSError:
        return []


def is_running(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
    except OSError:
        return False
    return state[0] != "Z"


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="needs Linux's /proc")
@pytest.mark.parametrize(("stop", "code"), [(signal.SIGKILL, -9), (signal.SIGINT, 130)])
def test_workers_end_with_a_run_that_is_killed_or_broken_off(
    tmp_path: Path, stop: int, code: int
) -> None:
    top = write_fleet(tmp_path / "lifts", 400, seed=SEED)
    running = start(top, tmp_path / "out")
    end = time.monotonic() + 120
    kept = tmp_path / "out" / "kept" / "1"
    while not (kept.exists() and any(kept.iterdir())) and time.monotonic() < end:
        time.sleep(0.05)
    workers = children(running.pid)
    assert len(workers) >= 2
    os.kill(running.pid, stop)
    assert running.wait(60) == code
    end = time.monotonic() + 60
    while any(map(is_running, workers)) and time.monotonic() < end:
        time.sleep(0.05)
    assert not any(map(is_running, workers))
    assert not written(tmp_path / "out")
    if stop == signal.SIGINT:
        told = (tmp_path / "out" / "stderr").read_text("utf-8")
        *progress, last = told.splitlines()
        assert last == "tension: stopped; nothing was left half written."
        assert all(" of 400 records" in line for line in filter(None, progress))
