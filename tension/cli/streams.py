"""Standard streams: nothing hidden reaches a terminal, and a full one is told apart."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Any

from tension.cli.text import printable


class OutputError(OSError):
    """The standard output or error did not take what was written to it."""


class ReaderLeftError(Exception):
    """Whoever read the output left before its end.

    No error of the system: of those the library of options makes a code of its own.
    """


class VisibleStream:
    """A text stream that shows control and direction marks by their escapes.

    Names of files and series may hold what moves the cursor, colours a terminal or
    turns other text round; line ends alone pass.

    Parameters
    ----------
    stream : text stream
        What is written to.
    """

    def __init__(self, stream: IO[str]) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write a text, nothing in it hidden."""
        if not isinstance(text, str):
            raise TypeError("text is wanted")
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


@contextmanager
def _as_output() -> Iterator[None]:
    """Name an error of the output, so that no error of a file is taken for one."""
    try:
        yield
    except BrokenPipeError as error:
        raise ReaderLeftError from error
    except OSError as error:
        raise OutputError(error.errno, error.strerror) from error


@contextmanager
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
    if sys.stdin is None:
        sys.stdin = os.fdopen(os.open(os.devnull, os.O_RDONLY))
    if sys.stdout is None:
        sys.stdout = os.fdopen(os.open(os.devnull, os.O_WRONLY), "w")
    if sys.stderr is None:
        sys.stderr = os.fdopen(os.open(os.devnull, os.O_WRONLY), "w")


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
