"""A run over a fleet: every record to its line, from an earlier run or anew.

Where the work is done: processes or threads of this machine, or a Dask cluster.
"""

import contextlib
import hashlib
import json
import os
import secrets
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Generator, Iterator
from concurrent import futures
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import dataclass
from itertools import chain, islice
from multiprocessing import get_context, parent_process
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tension.errors import FileFormatError, TensionError, lines_of
from tension.fleet.listing import FAULT, Row, Spool, is_usable, row_of, unusable
from tension.fleet.tree import (
    Tree,
    is_settled,
    key_of,
    marks_of,
    program_digest,
    quick_key_of,
    rests_on,
)

if TYPE_CHECKING:  # heavy, and not needed where all is kept
    from tension.workflow.assess import RuleChoice

Numbered = tuple[int, str]  # a record: its number in the tree, its path from the top

_FORM = "1"
_EVERY = 5.0  # so often progress is told [s]
_DIED = "the worker died over it, perhaps for want of memory"
_AHEAD = 4  # so many records for each worker are handed over at a time [1]
_PATIENCE = 30  # so long a cluster is waited for [s]


def keep(cache: Path, key: str, value: object) -> None:
    """Keep a value of JSON in a file named by its key; safe to delete, and to share.

    It is written beside and then named in one step, so that it is there whole or not at
    all; its first line is the checksum of the rest, so that one spoilt by a power cut
    counts as missing. Equal keys hold equal lines: who comes last does no harm. What
    cannot be kept is computed again another time.
    """
    body = json.dumps(value, allow_nan=False).encode("utf-8")
    check = hashlib.sha256(body).hexdigest().encode()
    with contextlib.suppress(OSError):
        _place_whole(_place(cache, key), check + b"\n" + body)


def find_kept(cache: Path, key: str) -> Any:  # noqa: ANN401 - as JSON has it
    """Find what is kept under a key; None if it is missing or spoilt."""
    try:
        check, _, body = _place(cache, key).read_bytes().partition(b"\n")
    except OSError:
        return None
    is_whole = hashlib.sha256(body).hexdigest().encode() == check
    return json.loads(body) if is_whole else None


def _place(cache: Path, key: str) -> Path:
    """Where the text of a key is."""
    return cache / _FORM / key[:2] / key[2:]


def _place_whole(place: Path, content: bytes) -> None:
    """Write beside, then name: without waiting for the disk, as checksums tell."""
    part = place.with_name(f".{secrets.token_hex(6)}.part")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(content)
        part.replace(place)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _require_usable(cache: Path) -> None:
    """Refuse a folder in which nothing can be kept."""
    try:
        _place_whole(cache / "probe", b"")
        (cache / "probe").unlink(missing_ok=True)
    except OSError as error:
        reason = (error.strerror or "the system refuses").lower()
        raise FileFormatError(
            f"{cache}: nothing can be kept here for the next run ({reason}); name "
            "another folder with --cache, or give --no-cache"
        ) from error


def usual_folder() -> Path:
    """Give the folder that the system has for what can be made again."""
    home = Path(os.path.expanduser("~"))  # noqa: PTH111 - Path.home raises without one
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")
    return base / "tension" / "fleet"


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """What is the same for every record of a run; passed to every worker."""

    tree: Tree
    choice: "RuleChoice | None" = None  # Another rule or limit than the records'
    cache: Path | None = None  # Folder of earlier lines; None to keep nothing
    is_every_byte_read: bool = False  # Also where the marks are as before


def line_of_record(record: str, job: Job) -> Row:
    """Answer one record: from an earlier run if its bytes are the same, else anew.

    The line is "unusable" with every reason if the record cannot be used.
    """
    try:
        with job.tree.at_hand(record) as path:
            return _answer(path, job) | {"record": record}
    except (TensionError, OSError) as error:
        return unusable(record, job.tree.named(record, lines_of(error)))
    except Exception as error:  # noqa: BLE001 - the other records must get their line
        return _fault(record, type(error).__name__)


def _answer(path: Path, job: Job) -> Row:
    """The line kept under the bytes that a record rests on, or a new one, to keep.

    With it the marks by which the record is later known to be untouched.
    """
    from tension.files.record import read_visit
    from tension.workflow.assess import assess_record

    if job.cache is None:
        return row_of(assess_record(path, choice=job.choice))
    began = time.time_ns()  # as the marks of files tell it
    visit = read_visit(path)
    marks = marks_of(path.parent, (path.name, *rests_on(visit)))
    key = key_of(path, visit, job.choice)
    row: Row | None = find_kept(job.cache, key)
    if row is None:
        row = row_of(assess_record(path, choice=job.choice))
        if key_of(path, read_visit(path), job.choice) != key:
            return row  # changed meanwhile: right or wrong, it is not kept
        keep(job.cache, key, row)
    if job.tree.folder and is_settled(marks, began):
        keep(job.cache, quick_key_of(path, job.choice), {"key": key, "marks": marks})
    return row


def untouched(record: str, job: Job) -> Row | None:
    """Find the line of a record that nobody touched since its bytes were last read."""
    folder = job.tree.folder
    if job.cache is None or job.is_every_byte_read or folder is None:
        return None
    path = folder / record
    last = find_kept(job.cache, quick_key_of(path, job.choice))
    if last is None or marks_of(path.parent, last["marks"]) != last["marks"]:
        return None
    row = find_kept(job.cache, last["key"])
    return None if row is None else row | {"record": record}


Crew = tuple[futures.Executor, int]
"""Workers at work, and so many records are handed over to them at a time. [1]"""
Workers = Callable[[], AbstractContextManager[Crew]]
"""Has the workers, anew each time; told where the work is done by `partial`."""


@contextmanager
def local_workers(
    n_workers: int | None = None, *, are_threads: bool = False
) -> Iterator[Crew]:
    """Have processes of this machine, one a core if their number is left out.

    Idle ones end with this process, however it ends. Threads need no start-up, but most
    of their work waits for its turn.
    """
    if n_workers is None:
        has_own = hasattr(os, "sched_getaffinity")
        n_workers = len(os.sched_getaffinity(0)) if has_own else os.cpu_count() or 1
    # broken off, nobody wants to hear what Python tidies up afterwards
    os.environ.setdefault("PYTHONWARNINGS", "ignore:resource_tracker:UserWarning")
    with (
        futures.ThreadPoolExecutor(n_workers)
        if are_threads
        else futures.ProcessPoolExecutor(
            n_workers, mp_context=get_context("spawn"), initializer=_begin_worker
        )
    ) as executor:
        yield executor, _AHEAD * n_workers


@contextmanager
def dask_cluster(scheduler: str) -> Iterator[Crew]:
    """Have the workers of a Dask cluster, which shares out, repeats and balances.

    `scheduler` is the address of its scheduler, such as ``tcp://10.0.0.5:8786``.

    Raises
    ------
    TensionError
        If Dask is not installed, nobody answers, or the workers run another program.
    """
    try:
        from distributed import Client
    except ImportError as error:
        raise TensionError(
            "--scheduler needs Dask, which is not installed; "
            "pip install 'tension[fleet]'"
        ) from error
    try:
        client = Client(scheduler, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        raise TensionError(
            f"{scheduler}: no Dask scheduler answers there; start it with "
            "'dask scheduler', or check the address"
        ) from error
    with client:
        n_threads = _threads_of_same_program(client, scheduler)
        yield client.get_executor(pure=False), _AHEAD * n_threads


def _threads_of_same_program(client: Any, scheduler: str) -> int:  # noqa: ANN401
    """Wait for a worker, refuse another program, and count the threads."""
    try:
        client.wait_for_workers(1, timeout=_PATIENCE)
    except TimeoutError as error:
        raise TensionError(
            f"{scheduler}: the cluster has no workers; start some with 'dask worker'"
        ) from error
    try:
        digests = client.run(program_digest)
    except Exception as error:
        raise TensionError(
            f"{scheduler}: a worker cannot run this program ({type(error).__name__}); "
            f"install the same version of tension on every machine"
        ) from error
    others = [name for name, digest in digests.items() if digest != program_digest()]
    if others:
        raise TensionError(
            f"{others[0]}: this worker runs another version of tension, of a package "
            "below it or another kind of machine, so its numbers might differ; install "
            "the same everywhere"
        )
    return sum(client.nthreads().values())


def _begin_worker() -> None:
    """Leave Ctrl-C to the parent, and end when it ends, even if it is killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if parent := parent_process():

        def end_with_parent() -> None:
            parent.join()
            os._exit(1)

        threading.Thread(target=end_with_parent, daemon=True).start()


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
        If the tree holds neither a record nor a recording, or nothing can be kept.
    """
    if job.cache is not None:
        _require_usable(job.cache)
    with (
        tempfile.TemporaryDirectory(prefix="tension-fleet-") as folder,
        closing(Spool(Path(folder))) as spool,
    ):
        n_all = spool.find(job.tree.places())
        if not n_all:
            raise FileFormatError(
                f"{job.tree.name}: there is no visit.toml in this folder or below; "
                "name the folder that holds the records"
            )
        n_unusable = sum(1 for _ in spool.unusable())
        n_done, began = n_unusable, time.monotonic()
        told = began
        for number, row in _answers(spool, job, workers):
            spool.add(number, row)
            n_done += 1
            n_unusable += not is_usable(row)
            if progress and time.monotonic() - told >= _EVERY:
                told = time.monotonic()
                progress(progress_text(n_done, n_all, n_unusable, told - began))
        yield spool


def progress_text(n_done: int, n_all: int, n_unusable: int, seconds: float) -> str:
    """Tell how far a run is; `seconds` is how long it took so far. [s]."""
    left = seconds * (n_all - n_done) / max(n_done, 1)
    span = f"{left:.0f} s" if left < 120 else f"{left / 60:.0f} min"
    return f"{n_done} of {n_all} records, {n_unusable} not usable, about {span} to go"


def _answers(spool: Spool, job: Job, workers: Workers) -> Iterator[tuple[int, Row]]:
    """The line of every record; workers are had only where needed."""
    for number, record in spool.unanswered():
        if (row := untouched(record, job)) is not None:
            yield number, row
    records = spool.unanswered()
    for first in records:  # none where all is kept, more after a worker died
        with workers() as crew:
            suspects = yield from _through(crew, chain([first], records), job)
        for one in suspects:
            with local_workers(1) as crew:
                if (yield from _through(crew, iter([one]), job)):
                    yield one[0], _fault(one[1], _DIED)


def _through(
    crew: Crew, records: Iterator[Numbered], job: Job
) -> Generator[tuple[int, Row], None, list[Numbered]]:
    """Give lines as they come; at the end, what was in hand when a worker died."""
    executor, n_waiting = crew
    pending: dict[futures.Future[Row], Numbered] = {}
    suspects: list[Numbered] = []
    try:
        while True:
            n_more = 0 if suspects else n_waiting - len(pending)
            for one in islice(records, n_more):
                try:
                    pending[executor.submit(line_of_record, one[1], job)] = one
                except futures.BrokenExecutor:
                    suspects.append(one)
            if not pending:
                return suspects
            for done in futures.wait(pending, return_when=futures.FIRST_COMPLETED).done:
                one = pending.pop(done)
                if (row := _result(done, one[1])) is None:
                    suspects.append(one)
                else:
                    yield one[0], row
    except BaseException:
        executor.shutdown(wait=False, cancel_futures=True)
        raise


def _result(done: futures.Future[Row], record: str) -> Row | None:
    """The line that came of a record; None if a worker of this machine died."""
    try:
        return done.result()
    except futures.BrokenExecutor:
        return None
    except (Exception, futures.CancelledError) as error:
        if type(error).__name__ == "KilledWorker":  # by Dask: several died over it
            return _fault(record, _DIED)
        raise TensionError(
            f"the workers were lost ({type(error).__name__}); what is done is kept: "
            "see that they run, and run this again to go on"
        ) from error


def _fault(record: str, what: str) -> Row:
    """The line of a record over which the program failed."""
    said = (
        f"{record}: the program failed here ({what}), which is a fault of the program; "
        "run 'tension assess' on this record alone and report what it prints"
    )
    return unusable(record, [said], FAULT)
