"""A run over a fleet: every record to its line, on this machine or on a cluster."""

import tempfile
import time
from collections.abc import Callable, Generator, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Future,
    wait,
)
from contextlib import contextmanager
from itertools import chain, islice
from pathlib import Path

from tension.errors import FileFormatError
from tension.fleet.rows import FAULT, LiftRow, unusable
from tension.fleet.spool import Spool
from tension.fleet.work import Job, fault_text, line_of_record, untouched
from tension.fleet.workers import Crew, Workers, is_over_record, lost

Progress = Callable[[str], None]

_EVERY = 5.0
"""So often progress is told. [s]"""
_DIED = "the worker died over it, perhaps for want of memory"


@contextmanager
def assess_fleet(
    job: Job, workers: Workers, progress: Progress | None = None
) -> Iterator[Spool]:
    """Answer every record of a tree.

    A record or folder that cannot be used gets a line that says why; it stops nothing.

    Parameters
    ----------
    job : Job
        Which tree, which rule, which lines of earlier runs.
    workers : Workers
        Where the work is done.
    progress : callable, optional
        Called with a line every few seconds.

    Yields
    ------
    Spool
        All lines, to be listed in any order; gone afterwards.

    Raises
    ------
    FileFormatError
        If the tree holds neither a record nor a recording.
    """
    if job.cache is not None:
        job.cache.require_usable()
    with tempfile.TemporaryDirectory(prefix="tension-fleet-") as folder:
        spool = Spool(Path(folder))
        try:
            spool.find(job.tree.places())
            if not spool.count():
                raise FileFormatError(
                    f"{job.tree.name}: there is no visit.toml in this folder or below; "
                    "name the folder that holds the records"
                )
            _fill(spool, job, workers, progress)
            yield spool
        finally:
            spool.close()


def _fill(spool: Spool, job: Job, workers: Workers, progress: Progress | None) -> None:
    """Bring the line of every record into the spool; workers only where needed."""
    n_all, n_unusable = spool.count(), sum(spool.counts().values())
    n_done = n_unusable
    began = told = time.monotonic()
    for number, row in chain(
        _untouched(spool.unanswered(), job), _lines(spool.unanswered(), job, workers)
    ):
        spool.add(number, row)
        n_done += 1
        n_unusable += not row.is_usable
        if progress and time.monotonic() - told >= _EVERY:
            told = time.monotonic()
            progress(progress_text(n_done, n_all, n_unusable, told - began))


def _untouched(
    records: Iterator[tuple[int, str]], job: Job
) -> Iterator[tuple[int, LiftRow]]:
    """Lines of an earlier run, of the records that nobody touched since."""
    for number, record in records:
        row = untouched(record, job)
        if row is not None:
            yield number, row


def progress_text(n_done: int, n_all: int, n_unusable: int, seconds: float) -> str:
    """Tell how far a run is.

    Parameters
    ----------
    n_done, n_all, n_unusable : int
        Records done, all records, and records that could not be used. [1]
    seconds : float
        How long it took so far. [s]
    """
    left = seconds * (n_all - n_done) / max(n_done, 1)
    span = f"{left:.0f} s" if left < 120 else f"{left / 60:.0f} min"
    return f"{n_done} of {n_all} records, {n_unusable} not usable, about {span} to go"


def _lines(
    records: Iterator[tuple[int, str]], job: Job, workers: Workers
) -> Iterator[tuple[int, LiftRow]]:
    """The line of every record, in the order in which they are done."""
    first = next(records, None)
    if first is None:
        return
    records = chain([first], records)
    while True:
        with workers.opened() as crew:
            suspects = yield from _through(crew, records, job)
        if not suspects:
            return
        for number, record in suspects:
            with workers.one() as crew:
                left = yield from _through(crew, iter([(number, record)]), job)
            if left:
                yield number, _died_over(record)


def _through(
    crew: Crew, records: Iterator[tuple[int, str]], job: Job
) -> Generator[tuple[int, LiftRow], None, list[tuple[int, str]]]:
    """Give lines as they come; at the end, what was in hand when a worker died."""
    pending: dict[Future[LiftRow], tuple[int, str]] = {}
    suspects: list[tuple[int, str]] = []
    try:
        while True:
            n_more = 0 if suspects else crew.n_waiting - len(pending)
            for one in islice(records, n_more):
                try:
                    pending[crew.executor.submit(line_of_record, one[1], job)] = one
                except BrokenExecutor:
                    suspects.append(one)
            if not pending:
                return suspects
            for done in wait(pending, return_when=FIRST_COMPLETED).done:
                one = pending.pop(done)
                row = _result(done, one[1])
                if row is None:
                    suspects.append(one)
                else:
                    yield one[0], row
    except BaseException:
        crew.executor.shutdown(wait=False, cancel_futures=True)
        raise


def _result(done: Future[LiftRow], record: str) -> LiftRow | None:
    """The line that came of a record; None if a worker of this machine died."""
    try:
        return done.result()
    except BrokenExecutor:
        return None
    except (Exception, CancelledError) as error:
        if is_over_record(error):
            return _died_over(record)
        raise lost(error) from error


def _died_over(record: str) -> LiftRow:
    """The line of a record over which the worker died."""
    return unusable(record, [fault_text(record, _DIED)], FAULT)
