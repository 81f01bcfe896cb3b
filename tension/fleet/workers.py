"""Where the work is done: processes or threads of this machine, or a Dask cluster."""

import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from multiprocessing import get_context, parent_process
from typing import Any, NamedTuple, Protocol

from tension.errors import TensionError
from tension.fleet.kept import program_digest

_AHEAD = 4
"""So many records for each worker are handed over at a time. [1]"""
_PATIENCE = 30
"""So long a cluster is waited for. [s]"""


class WorkersLostError(TensionError):
    """The workers cannot be had, or were lost for good."""


class Crew(NamedTuple):
    """Workers at work."""

    executor: Executor
    n_waiting: int  # [1] records handed over at a time


class Workers(Protocol):
    """Where the work is done."""

    def opened(self, *, is_one: bool = False) -> AbstractContextManager[Crew]:
        """Have the workers, or one alone that may die over a record."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LocalProcesses:
    """Processes of this machine; idle ones end with this process, however it ends."""

    n_workers: int

    @contextmanager
    def opened(self, *, is_one: bool = False) -> Iterator[Crew]:
        """Have the workers, or one alone that may die over a record."""
        n_workers = 1 if is_one else self.n_workers
        with self._executor(n_workers) as executor:
            yield Crew(executor, _AHEAD * n_workers)

    def _executor(self, n_workers: int) -> Executor:
        # broken off, nobody wants to hear what Python tidies up afterwards
        os.environ.setdefault("PYTHONWARNINGS", "ignore:resource_tracker:UserWarning")
        return ProcessPoolExecutor(
            n_workers, mp_context=get_context("spawn"), initializer=_begin_worker
        )


class LocalThreads(LocalProcesses):
    """Threads of this process: no start-up, but most of the work waits for its turn."""

    __slots__ = ()

    def _executor(self, n_workers: int) -> Executor:
        return ThreadPoolExecutor(n_workers)


@dataclass(frozen=True, kw_only=True, slots=True)
class DaskCluster:
    """Workers of a Dask cluster, which shares out, repeats and balances by itself.

    `scheduler` is the address of its scheduler, such as ``tcp://10.0.0.5:8786``.
    """

    scheduler: str

    @contextmanager
    def opened(self, *, is_one: bool = False) -> Iterator[Crew]:
        """Have the workers; the cluster outlives the death of one.

        Raises
        ------
        WorkersLostError
            If Dask is not installed, nobody answers, or the workers run another
            program.
        """
        del is_one
        client = self._client()
        try:
            n_threads = _threads_of_same_program(client, self.scheduler)
            yield Crew(client.get_executor(pure=False), _AHEAD * n_threads)
        finally:
            client.close()

    def _client(self) -> Any:  # noqa: ANN401 - Dask comes without types
        """Connect to the scheduler."""
        try:
            from distributed import Client
        except ImportError as error:
            raise WorkersLostError(
                "--scheduler needs Dask, which is not installed; "
                "pip install 'tension[fleet]'"
            ) from error
        try:
            return Client(self.scheduler, timeout=_PATIENCE, set_as_default=False)
        except (OSError, ValueError) as error:
            raise WorkersLostError(
                f"{self.scheduler}: no Dask scheduler answers there; start it with "
                "'dask scheduler', or check the address"
            ) from error


def n_cores() -> int:
    """Tell how many cores this process may use. [1]."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def is_over_record(error: BaseException) -> bool:
    """Tell whether Dask gave a record up because several workers died over it."""
    return type(error).__name__ == "KilledWorker"


def lost(error: BaseException) -> WorkersLostError:
    """Say that the work cannot go on."""
    return WorkersLostError(
        f"the workers were lost ({type(error).__name__}); what is done is kept: see "
        "that they run, and run this again to go on"
    )


def _threads_of_same_program(client: Any, scheduler: str) -> int:  # noqa: ANN401
    """Wait for a worker, refuse another program, and count the threads."""
    try:
        client.wait_for_workers(1, timeout=_PATIENCE)
    except TimeoutError as error:
        raise WorkersLostError(
            f"{scheduler}: the cluster has no workers; start some with 'dask worker'"
        ) from error
    try:
        digests = client.run(program_digest)
    except Exception as error:
        raise WorkersLostError(
            f"{scheduler}: a worker cannot run this program ({type(error).__name__}); "
            f"install the same version of tension on every machine"
        ) from error
    here = _digest_of_this()
    others = [name for name, digest in digests.items() if digest != here]
    if others:
        raise WorkersLostError(
            f"{others[0]}: this worker runs another version of tension, of a package "
            "below it or another kind of machine, so its numbers might differ; install "
            "the same everywhere"
        )
    return sum(client.nthreads().values())


def _digest_of_this() -> str:
    """The program of this machine, as every worker tells its own."""
    return program_digest()


def _begin_worker() -> None:
    """Leave Ctrl-C to the parent, and end when it ends, even if it is killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: Any) -> None:  # noqa: ANN401 - a class without a public name
    """Wait for the parent to end and end too."""
    parent.join()
    os._exit(1)
