"""Trees of records whose answers are known by assessing each alone."""

import shutil
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np

from tension.fleet.listing import Listing, Order, Row, Spool, row_of
from tension.fleet.run import Job, Workers, assess_fleet, local_workers
from tension.fleet.tree import open_tree
from tension.workflow.assess import RuleChoice, assess_record
from tests.cli.running import DEMO
from tests.synthesis.adjust_records import HEAD, series

TOO_FEW = "[[reading]]\n"
THREADS = partial(local_workers, 2, are_threads=True)


def write_lift(
    folder: Path,
    number: int,
    *,
    seed: int,
    day: str = "2026-11-20",
    name: str | None = None,
) -> Path:
    """A record of side pulls of four to seven ropes; every seed another spread."""
    rng = np.random.default_rng([seed, number])
    n_ropes = int(rng.integers(4, 8))
    spread = rng.uniform(0.0, 0.12)
    tensions = 5000.0 * (1.0 + spread * rng.standard_normal(n_ropes).clip(-2, 2))
    called = f"Lift {number}" if name is None else name
    text = (
        HEAD.replace("{n_ropes}", str(n_ropes))
        .replace("Granary Wharf, goods lift 2", called)
        .replace("date = 2026-11-20", f"date = {day}")
        .replace("rows = [[1, 3], [2, 4]]\n", "")
    )
    folder.mkdir(parents=True, exist_ok=True)
    record = folder / "visit.toml"
    text += series("as found", [float(t) for t in tensions], has_springs=False)
    record.write_text(text, encoding="utf-8")
    return record


def write_fleet(top: Path, n_lifts: int, *, seed: int) -> Path:
    """Lifts in folders of twenty."""
    for number in range(n_lifts):
        write_lift(top / f"street {number // 20}" / f"lift {number}", number, seed=seed)
    return top


def add_sound(top: Path, name: str = "heard") -> Path:
    """The six memos of the demo as one more lift."""
    shutil.copytree(DEMO / "six-memos", top / name)
    return top / name / "visit.toml"


def alone(record: Path, choice: RuleChoice | None = None) -> Row:
    """What single use answers."""
    return row_of(assess_record(record, choice=choice))


def rows_of(
    top: Path | str,
    *,
    workers: Workers | None = None,
    cache: Path | None = None,
    read: Callable[[Spool], object] | None = None,
    is_every_byte_read: bool = False,
    choice: RuleChoice | None = None,
) -> dict[str, Row]:
    """Every line of a run by its record."""
    job = Job(
        tree=open_tree(str(top)),
        choice=choice,
        cache=cache,
        is_every_byte_read=is_every_byte_read,
    )
    with assess_fleet(job, workers or THREADS) as spool:
        if read:
            read(spool)
        return {row["record"]: row for row in every_row(spool)}


def every_row(spool: Spool) -> list[Row]:
    """Lines of all records, older ones too."""
    every = Listing(
        spool=spool,
        order=Order.RECORD,
        day=date(2026, 11, 29),
        top="",
        is_every_record=True,
    )
    return [_undated(row) for row in every.rows()]


def _undated(row: Row) -> Row:
    """A line before it is listed."""
    del row["place"]
    return row | {"days_since": None, "n_records": 1}
