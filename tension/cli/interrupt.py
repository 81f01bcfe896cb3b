"""Ctrl-C at any moment: one line and exit code 130, also amid an import."""

import signal
import sys
from types import FrameType, TracebackType
from typing import Self

STOPPED = "tension: stopped; nothing was left half written."


class Interruptible:
    """Remembers whether Ctrl-C came; once left, another one changes nothing.

    Attributes
    ----------
    was_interrupted : bool
        Whether it came.
    """

    def __init__(self) -> None:
        self.was_interrupted = False

    def __enter__(self) -> Self:
        """Begin to listen."""
        self._handle(self._interrupt)
        sys.unraisablehook = self._pass_over
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let a program that is leaving leave."""
        self._handle(signal.SIG_IGN)

    def _handle(self, handler: object) -> None:
        """Set the handler, where signals can be had."""
        try:
            signal.signal(signal.SIGINT, handler)  # type: ignore[arg-type]
        except ValueError:  # not in the main thread
            return

    def _interrupt(self, number: int, frame: FrameType | None) -> None:
        """Break off what is being done."""
        del number, frame
        self.was_interrupted = True
        raise KeyboardInterrupt

    def _pass_over(self, unraisable: "sys.UnraisableHookArgs") -> None:
        """Say nothing of Ctrl-C where Python cannot raise it."""
        if not self.was_interrupted:
            sys.__unraisablehook__(unraisable)
