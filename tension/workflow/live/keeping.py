"""Keeping the record true beside the recording: one thing after the other."""

from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Protocol

from tension.workflow.live.takes import ClosedTake, OpenTake, TakeBook


class Worker(Protocol):
    """Runs one thing after the other beside the recording."""

    def submit(self, act: Callable[..., object], /, *given: object) -> Future[object]:
        """Run something, and tell when it is done."""


@dataclass(kw_only=True, slots=True)
class Keeper:
    """Tells the record of recordings once they are closed.

    Attributes
    ----------
    book : TakeBook
        Tells the record.
    worker : Worker
        Does it beside the recording.
    """

    book: TakeBook
    worker: Worker
    _settled: dict[str, Future[object]] = field(default_factory=dict)
    _others: list[Future[object]] = field(default_factory=list)
    _is_new: bool = False

    def close(self, take: OpenTake) -> None:
        """Close a recording and tell the record of it."""
        take.close()
        self._settled[take.name] = self.worker.submit(self.book.settle, take)
        self._is_new = True

    def leave_out(self, take: OpenTake, onset: float, reason: str) -> None:
        """Let a pluck of a closed recording not count.

        Parameters
        ----------
        take : OpenTake
            The recording.
        onset : float
            Where the pluck began. [s]
        reason : str
            Why not.
        """
        settled = self._settled[take.name]

        def exclude() -> None:
            closed = settled.result()  # done before: one thing after the other
            if isinstance(closed, ClosedTake):
                self.book.exclude(closed, onset, reason)

        self._others.append(self.worker.submit(exclude))
        self._is_new = True

    def look(self) -> None:
        """Raise what went wrong by now."""
        for one in (*self._settled.values(), *self._others):
            if one.done():
                one.result()
        self._others = [one for one in self._others if not one.done()]

    def finish(self) -> bool:
        """Wait until the record knows everything."""
        for one in (*self._settled.values(), *self._others):
            one.result()
        was_new, self._is_new = self._is_new, False
        return was_new
