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
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING

from tension.errors import FileFormatError, TensionError, lines_of
from tension.fleet import kept
from tension.fleet.spool import FAULT, LiftRow, Spool, row_of, unusable
from tension.fleet.tree import Tree
from tension.fleet.workers import Crew, Workers, is_over_record, lost

if TYPE_CHECKING:  # heavy, and not needed where all is kept
    from tension.workflow.assess import RuleChoice

Numbered = tuple[int, str]
"""A record: its number in the tree and its path from the top."""

_EVERY = 5.0
"""So often progress is told. [s]"""
_DIED = "the worker died over it, perhaps for want of memory"


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """What is the same for every record of a run; passed to every worker."""

    tree: Tree
    choice: "RuleChoice | None" = None  # Another rule or limit than the records'
    cache: kept.RowCache | None = None  # Lines of earlier runs; None to keep nothing
    is_every_byte_read: bool = False  # Also where the marks are as before


def line_of_record(record: str, job: Job) -> LiftRow:
    """Answer one record: from an earlier run if its bytes are the same, else anew.

    The line is "unusable" with every reason if the record cannot be used.
    """
    try:
        with job.tree.at_hand(record) as path:
            return replace(_answer(path, job), record=record)
    except (TensionError, OSError) as error:
        return unusable(record, job.tree.named(record, lines_of(error)))
    except Exception as error:  # noqa: BLE001 - the other records must get their line
        return _fault(record, type(error).__name__)


def untouched(record: str, job: Job) -> LiftRow | None:
    """Find the line of a record that nobody touched since its bytes were last read."""
    folder = job.tree.folder
    if job.cache is None or job.is_every_byte_read or folder is None:
        return None
    path = folder / record
    row = job.cache.find_quick(kept.quick_key_of(path, job.choice), path.parent)
    return None if row is None else replace(row, record=record)


@contextmanager
def assess_fleet(
    job: Job, workers: Workers, progress: Callable[[str], None] | None = None
) -> Iterator[Spool]:
    """Answer every record of a tree; the spool of all lines is gone afterwards.

    A record or folder that cannot be used gets a line that says why; it stops nothing.
    `progress` is called with a line every few seconds.

    Raises
    ------
    FileFormatError
        If the tree holds neither a record nor a recording.
    """
    if job.cache is not None:
        job.cache.require_usable()
    with (
        tempfile.TemporaryDirectory(prefix="tension-fleet-") as folder,
        closing(Spool(Path(folder))) as spool,
    ):
        spool.find(job.tree.places())
        if not spool.count():
            raise FileFormatError(
                f"{job.tree.name}: there is no visit.toml in this folder or below; "
                "name the folder that holds the records"
            )
        _fill(spool, job, workers, progress)
        yield spool


def _fill(
    spool: Spool, job: Job, workers: Workers, progress: Callable[[str], None] | None
) -> None:
    """Bring the line of every record into the spool."""
    n_all, n_unusable = spool.count(), sum(spool.counts().values())
    n_done = n_unusable
    began = told = time.monotonic()
    for number, row in _answers(spool, job, workers):
        spool.add(number, row)
        n_done += 1
        n_unusable += not row.is_usable
        if progress and time.monotonic() - told >= _EVERY:
            told = time.monotonic()
            progress(progress_text(n_done, n_all, n_unusable, told - began))


def progress_text(n_done: int, n_all: int, n_unusable: int, seconds: float) -> str:
    """Tell how far a run is; `seconds` is how long it took so far. [s]."""
    left = seconds * (n_all - n_done) / max(n_done, 1)
    span = f"{left:.0f} s" if left < 120 else f"{left / 60:.0f} min"
    return f"{n_done} of {n_all} records, {n_unusable} not usable, about {span} to go"


def _answer(path: Path, job: Job) -> LiftRow:
    """The line of a record, kept under the bytes it rests on."""
    from tension.files.record import read_visit
    from tension.workflow.assess import assess_record

    if job.cache is None:
        return row_of(assess_record(path, choice=job.choice))
    began = time.time_ns()  # as the marks of files tell it
    visit = read_visit(path)
    marks = kept.marks_of_record(path, visit)
    key = kept.key_of(path, visit, job.choice)
    row = job.cache.find(key)
    if row is None:
        row = row_of(assess_record(path, choice=job.choice))
        if kept.key_of(path, read_visit(path), job.choice) != key:
            return row  # changed meanwhile: right or wrong, it is not kept
        job.cache.keep(key, row)
    if job.tree.folder is not None and kept.is_settled(marks, began):
        job.cache.keep_quick(kept.quick_key_of(path, job.choice), key, marks)
    return row


def _answers(spool: Spool, job: Job, workers: Workers) -> Iterator[tuple[int, LiftRow]]:
    """The line of every record; workers are had only where needed."""
    for number, record in spool.unanswered():
        row = untouched(record, job)
        if row is not None:
            yield number, row
    records = spool.unanswered()
    for first in records:  # none where all is kept, more after a worker died
        with workers.opened() as crew:
            suspects = yield from _through(crew, chain([first], records), job)
        for one in suspects:
            with workers.opened(is_one=True) as crew:
                if (yield from _through(crew, iter([one]), job)):
                    yield one[0], _fault(one[1], _DIED)


def _through(
    crew: Crew, records: Iterator[Numbered], job: Job
) -> Generator[tuple[int, LiftRow], None, list[Numbered]]:
    """Give lines as they come; at the end, what was in hand when a worker died."""
    pending: dict[Future[LiftRow], Numbered] = {}
    suspects: list[Numbered] = []
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
            return _fault(record, _DIED)
        raise lost(error) from error


def _fault(record: str, what: str) -> LiftRow:
    """The line of a record over which the program failed."""
    said = (
        f"{record}: the program failed here ({what}), which is a fault of the program; "
        "run 'tension assess' on this record alone and report what it prints"
    )
    return unusable(record, [said], FAULT)
