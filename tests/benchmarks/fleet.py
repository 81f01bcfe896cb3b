"""What a fleet costs: a lift anew and unchanged, memory, one worker against two.

``python -m tests.benchmarks.fleet [--part same] [--lifts 200] [--heard 8]`` prints
the tables of docs/fleet.md. Processor time is of all processes of a run; on a machine
that others use, wall time and the ratio of two workers to one say less.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

from tension.files.record import read_visit
from tension.files.visit import Visit
from tension.fleet.run import Workers, dask_cluster, keep, local_workers
from tension.fleet.tree import key_of, marks_of, quick_key_of, rests_on
from tension.workflow.assess import RuleChoice
from tests.benchmarks.speed import make_memos
from tests.fleet.making import alone, rows_of, write_fleet

SEED = 1_000_016
ROOT = Path(__file__).resolve().parents[2]
PARTS = ("same", "anew", "unchanged")
CHOICE = RuleChoice()
N_MEMOS = 100

HEARD = """format = 1
[lift]
name = "Granary Wharf, lift {number}"
[visit]
date = 2026-11-20
[set]
ropes = 6
linear_density = "0.575 kg/m"
sockets = "one height"
[[span]]
name = "top"
free_length = "3.40 m"
[[series]]
name = "as found"
span = "top"
"""

PLUCK = """[[reading]]
series = "as found"
kind = "pluck"
rope = {rope}
recording = "memo-{rope}.m4a"
"""


@dataclass(frozen=True, kw_only=True)
class Cost:
    """Of one run."""

    wall: float
    processor: float
    peak: float  # MB, of the largest process


def run_fleet(top: Path, cache: Path | None, *words: str) -> Cost:
    """``tension fleet`` as a process of its own."""
    kept = ["--no-cache"] if cache is None else ["--cache", str(cache)]
    code = (
        "import resource, subprocess, sys\n"
        "done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL,"
        " stderr=subprocess.DEVNULL)\n"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN)\n"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)\n"
        "sys.exit(done.returncode)"
    )
    command = [sys.executable, "-m", "tension", "fleet", str(top), *kept, *words]
    command += ["--first", "0"]
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code, *command],
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        env=os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
    )
    wall = time.perf_counter() - began
    processor, peak = map(float, done.stdout.split())
    return Cost(wall=wall, processor=processor, peak=peak)


def heard_lifts(top: Path, n_lifts: int) -> Path:
    """Lifts of six 15 s memos, each in bytes of its own."""
    top.mkdir()
    memos = make_memos(top)
    for number in range(n_lifts):
        folder = top / f"lift {number}"
        folder.mkdir()
        text = HEARD.format(number=number)
        for rope, memo in enumerate(memos, start=1):
            shutil.copy(memo, folder)
            text += PLUCK.format(rope=rope)
        (folder / "visit.toml").write_text(text, encoding="utf-8")
    for left in top.glob("*.*"):
        left.unlink()
    return top


def copies(source: Path, top: Path, n_lifts: int) -> Path:
    """Many lifts from a few: equal records, each at a place of its own."""
    few = sorted(path.parent for path in source.rglob("visit.toml"))
    for number in range(n_lifts):
        folder = top / f"street {number // 100}" / f"lift {number}"
        shutil.copytree(few[number % len(few)], folder)
    return top


@contextmanager
def cluster(place: Path, n_workers: int) -> Iterator[Workers]:
    """A local cluster of processes."""
    from distributed import LocalCluster

    started = LocalCluster(
        n_workers=n_workers,
        threads_per_worker=1,
        dashboard_address=None,
        local_directory=str(place),
    )
    try:
        yield partial(dask_cluster, started.scheduler_address)
    finally:
        started.close()


def same_numbers(folder: Path, n_lifts: int, n_heard: int) -> list[str]:
    """Every line against single use, byte for byte."""
    top = write_fleet(folder / "same", n_lifts - n_heard, seed=SEED)
    if n_heard:
        shutil.copytree(heard_lifts(folder / "memos", n_heard), top / "heard")
    wanted = {
        path.relative_to(top).as_posix(): json.dumps(alone(path))
        for path in top.rglob("visit.toml")
    }

    def compared(name: str, workers: Workers) -> str:
        found = rows_of(top, workers=workers)
        n_same = sum(
            json.dumps(row | {"record": ""}) == wanted[record]
            for record, row in found.items()
        )
        return (
            f"| lines equal to single use byte for byte, {name} "
            f"| {n_same} of {len(wanted)} | all |"
        )

    rows = [compared("two threads", partial(local_workers, 2, are_threads=True))]
    rows.append(compared("two processes", partial(local_workers, 2)))
    with cluster(folder, 2) as dask:
        rows.append(compared("Dask, two processes", dask))
    shutil.rmtree(top)
    return rows


def anew(folder: Path, n_heard: int) -> list[str]:
    """Lifts of six 15 s memos, on one worker and on two."""
    top = heard_lifts(folder / "anew", n_heard)
    empty = folder / "empty"
    write_fleet(empty, 2, seed=SEED)
    none = [run_fleet(empty, None, "--workers", str(n)) for n in (1, 2)]
    one, two = (run_fleet(top, None, "--workers", str(n)) for n in (1, 2))
    each = (two.processor - none[1].processor) / n_heard
    ratio = (one.wall - none[0].wall) / (two.wall - none[1].wall)
    overhead = (one.processor - none[0].processor) / (two.processor - none[1].processor)
    return [
        f"| a lift anew from six 15 s m4a files, processor time | {each:.2f} s | - |",
        f"| the same on two free cores, half of it | {each / 2:.2f} s | under 1 s |",
        f"| the same, wall time of {n_heard} lifts on two workers | "
        f"{(two.wall - none[1].wall) / n_heard:.2f} s a lift | - |",
        f"| one worker / two workers, wall time | {ratio:.2f} | at least 1.8 |",
        f"| two workers x processor time of one / of two | {2 * overhead:.2f} | - |",
    ]


def keep_all(top: Path, kept: Path) -> None:
    """Keep what a run keeps of records that have rested; equal ones are read once."""
    known = dict[str, tuple[Visit, str]]()
    for record in top.rglob("visit.toml"):
        text = record.read_text(encoding="utf-8")
        if text not in known:
            visit = read_visit(record)
            known[text] = visit, key_of(record, visit, CHOICE)
            keep(kept, known[text][1], alone(record))
        visit, key = known[text]
        marks = marks_of(record.parent, (record.name, *rests_on(visit)))
        keep(kept, quick_key_of(record, CHOICE), {"key": key, "marks": marks})


def unchanged(folder: Path, n_lifts: int) -> list[str]:
    """Lifts that nobody touched: by their marks, and by reading every byte."""
    kept = folder / "kept"
    few = write_fleet(folder / "few", 20, seed=SEED)
    sizes = [max(n_lifts // 10, 20), n_lifts]
    tops = [copies(few, folder / f"many {n}", n) for n in sizes]
    memos = copies(heard_lifts(folder / "anew", 1), folder / "memos", N_MEMOS)
    for top in (few, *tops, memos):
        keep_all(top, kept)
    small, large = (run_fleet(top, kept) for top in tops)
    start = run_fleet(few, kept)
    by_marks = run_fleet(memos, kept)
    read = run_fleet(memos, kept, "--read-all")
    start_reading = run_fleet(few, kept, "--read-all")
    return [
        f"| an unchanged lift of side pulls, {n_lifts} of them, processor time "
        f"| {1e3 * _each(large, start, n_lifts):.2f} ms | - |",
        f"| the same, wall time "
        f"| {1e3 * (large.wall - start.wall) / n_lifts:.2f} ms | under 5 ms |",
        f"| an unchanged lift of six 15 s m4a files, processor time "
        f"| {1e3 * _each(by_marks, start, N_MEMOS):.2f} ms | under 5 ms |",
        f"| the same, every byte read (`--read-all`), processor time "
        f"| {1e3 * _each(read, start_reading, N_MEMOS):.2f} ms | - |",
        f"| peak memory of the largest process, {sizes[0]} and {sizes[1]} lifts "
        f"| {small.peak:.0f} and {large.peak:.0f} MB | flat |",
    ]


def _each(cost: Cost, start: Cost, n_lifts: int) -> float:
    """Processor time of one lift, without starting."""
    return max(cost.processor - start.processor, 0.0) / n_lifts


def main() -> None:
    """Run all and print one table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lifts", type=int, default=200)
    parser.add_argument("--heard", type=int, default=8)
    parser.add_argument("--unchanged", type=int, default=20_000)
    parser.add_argument("--part", choices=PARTS, action="append")
    given = parser.parse_args()
    parts: dict[str, Callable[[Path], list[str]]] = {
        "same": lambda folder: same_numbers(folder, given.lifts, given.heard),
        "anew": lambda folder: anew(folder, given.heard),
        "unchanged": lambda folder: unchanged(folder, given.unchanged),
    }
    for name in given.part or PARTS:
        load = os.getloadavg()[0]
        with tempfile.TemporaryDirectory() as place:
            print("\n".join(parts[name](Path(place))), flush=True)
        print(f"(load of the machine when this part began: {load:.1f})", flush=True)
    print(f"\nMeasured {date.today()}, seed {SEED}, {os.cpu_count()} cores.")


if __name__ == "__main__":
    main()
