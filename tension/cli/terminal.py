"""The terminal: its streams, Ctrl-C at any moment, single keys without Enter."""

import contextlib
import os
import signal
import sys
from collections.abc import Iterator
from types import FrameType
from typing import IO, Any, Self

from tension.cli.output import printable

STOPPED = "stopped; nothing was left half written."


class OutputError(OSError):
    """The standard output or error did not take what was written to it."""


class ReaderLeftError(Exception):
    """Whoever read the output left before its end.

    No error of the system: of those the library of options makes a code of its own.
    """


class VisibleStream:
    """A text stream that shows control and direction marks by their escapes."""

    def __init__(self, stream: IO[str]) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write a text, nothing in it hidden; bytes are a TypeError."""
        shown = "\n".join(
            line if line.isprintable() else printable(line) for line in text.split("\n")
        )
        with _as_output():
            self._stream.write(shown)
        return len(text)

    def flush(self) -> None:
        """Bring what was written to where it goes."""
        with _as_output():
            self._stream.flush()

    def __getattr__(self, name: str) -> Any:
        """Give everything else as the stream has it."""
        return getattr(self._stream, name)


@contextlib.contextmanager
def _as_output() -> Iterator[None]:
    """Name an error of the output, so that no error of a file is taken for one."""
    try:
        yield
    except BrokenPipeError as error:
        raise ReaderLeftError from error
    except OSError as error:
        raise OutputError(error.errno, error.strerror) from error


@contextlib.contextmanager
def visible_streams() -> Iterator[None]:
    """Let nothing hidden through while this holds."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = map(VisibleStream, before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def open_missing_streams() -> None:
    """Stand in for streams that were closed before the program began."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), mode))


def let_stand_ins() -> None:
    """Let a console that lacks a character show a stand-in instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def give_up_output() -> None:
    """Let the streams go nowhere, so that leaving does not try again to write."""
    quiet = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        try:
            os.dup2(quiet, stream.fileno())
        except (OSError, ValueError):
            continue


class Interruptible:
    """Remembers whether Ctrl-C came; once left, another one changes nothing."""

    def __init__(self) -> None:
        self.was_interrupted = False

    def __enter__(self) -> Self:
        """Begin to listen."""
        self._handle(self._interrupt)
        sys.unraisablehook = self._pass_over
        return self

    def __exit__(self, *error: object) -> None:
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


class _Keys:
    """Keys pressed in a terminal; what it was set to comes back at the end."""

    def __init__(self) -> None:
        self.can_be_pressed = bool(sys.stdin and sys.stdin.isatty())

    def __enter__(self) -> Self:
        """Let keys come one by one; Ctrl-C stays what it is."""
        return self

    def __exit__(self, *error: object) -> None:
        """Give the terminal back as it was."""


if sys.platform == "win32":
    import msvcrt

    class Keys(_Keys):
        """Keys pressed in a console."""

        def pressed(self) -> str:
            """Give what was pressed since the last time."""
            found = ""
            while self.can_be_pressed and msvcrt.kbhit():
                found += msvcrt.getwch()
            return found

else:
    import select
    import termios
    import tty

    class Keys(_Keys):
        """Keys pressed in a terminal of Unix."""

        _before: list[Any] | None = None
        _handle = -1

        def __enter__(self) -> Self:
            """Let keys come one by one."""
            if self.can_be_pressed:
                try:
                    self._handle = sys.stdin.fileno()
                    self._before = termios.tcgetattr(self._handle)
                    tty.setcbreak(self._handle)
                except (OSError, ValueError, termios.error):
                    self.can_be_pressed = False
            return self

        def __exit__(self, *error: object) -> None:
            """Give the terminal back."""
            if self._before is not None:
                with contextlib.suppress(OSError, termios.error):
                    termios.tcsetattr(self._handle, termios.TCSADRAIN, self._before)

        def pressed(self) -> str:
            """Give what was pressed since the last time."""
            found = b""
            while self.can_be_pressed and self._is_ready():
                more = os.read(self._handle, 64)
                if not more:  # the terminal is gone
                    self.can_be_pressed = False
                found += more
            return found.decode("utf-8", "replace")

        def _is_ready(self) -> bool:
            """Whether a key waits."""
            try:
                return bool(select.select([self._handle], [], [], 0.0)[0])
            except (OSError, ValueError):
                self.can_be_pressed = False
                return False
