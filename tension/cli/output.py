"""What goes out: text at any width, documents, exit codes; the streams, and Ctrl-C."""

import contextlib
import os
import shutil
import signal
import sys
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from enum import IntEnum
from pathlib import Path
from types import FrameType
from typing import IO, TYPE_CHECKING, Any

import click

from tension.report.visible import bound, unbound

if TYPE_CHECKING:
    from tension.documents.commands import Document

WIDTH_WITHOUT_TERMINAL = 80  # columns of a pipe or a file
NARROWEST = 30  # columns for which lines are still set
STOPPED = "stopped; nothing was left half written."


class ExitCode(IntEnum):
    """What a script can read from the exit status; 1 is a crash, 2 wrong usage."""

    DONE = 0
    CRASH = 1
    UNUSABLE_INPUT = 3
    UNEQUAL = 10
    CANNOT_TELL = 11
    NO_FEASIBLE_PLAN = 12
    CHANGE_FOUND = 13
    CONTRADICTION = 14
    INTERRUPTED = 130


def echo_document(document: "Document") -> None:
    """Print a document for machines."""
    from tension.documents.commands import to_json

    click.echo(to_json(document), nl=False)


def tell(line: str) -> None:
    """Say one line about the command on stderr."""
    click.echo(f"tension: {printable(line)}", err=True)


def tell_work(line: str) -> None:
    """Say on stderr what is being done."""
    click.echo(printable(line), err=True)


def tell_progress(line: str) -> None:
    """Say what is being read, where somebody sits before a terminal."""
    if sys.stderr.isatty():
        tell_work(line)


def output_width() -> int:
    """Columns of the terminal or of COLUMNS, 80 for a pipe or a file."""
    if os.environ.get("COLUMNS", "").isdigit() or sys.stdout.isatty():
        return max(shutil.get_terminal_size((WIDTH_WITHOUT_TERMINAL, 24)).columns, 20)
    return WIDTH_WITHOUT_TERMINAL


def display_width(text: str) -> int:
    """Columns that a text takes: wide characters two, combining ones none."""
    return sum(
        0
        if unicodedata.combining(character)
        else 1 + (unicodedata.east_asian_width(character) in "WF")
        for character in text
    )


def large(words: str, sign: str = "") -> str:
    """Write words large with a sign, or plainly if they do not fit or nobody looks."""
    if not sys.stdout.isatty():
        return words
    signed = f"{words} {sign}".rstrip()
    for lines in ([signed], signed.split(), [words], words.split()):
        drawn = [row for line in lines for row in (*_drawn(line), "")]
        if max(map(len, drawn)) <= output_width():
            return "\n".join(drawn)
    return words


def _drawn(words: str) -> list[str]:
    """Draw one line of large letters; they are those of the results and of numbers."""
    path = Path(__file__).with_name("letters.txt")
    letters = {
        line[0]: line[2:].replace(".", " ").split("/")
        for line in path.read_text("utf-8").splitlines()
    }
    return [" ".join(letters[one][row] for one in words).rstrip() for row in range(5)]


def wrapped(text: str, first: str = "", other: str = "") -> str:
    """Wrap a sentence to the output; what stands before its first and other lines."""
    filled = textwrap.fill(
        bound(text),
        max(output_width(), NARROWEST),
        initial_indent=first,
        subsequent_indent=other or first,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return unbound(filled)


def printable(text: str) -> str:
    r"""Replace what would move the cursor or break a line, such as in a file name.

    Examples
    --------
    >>> printable("new\nline.m4a")
    'new\\nline.m4a'
    """
    return "".join(
        character
        if character.isprintable()
        else character.encode("unicode_escape").decode("ascii")
        for character in text
    )


def table(
    headers: Sequence[str],
    rows: Sequence[Sequence[str]],
    left: Sequence[int] = (),
    spare: Sequence[int] = (),
) -> str:
    """Align columns; where they do not fit, write one block per row.

    Columns in `left` are set left, the others right; those in `spare` say nothing new
    and go first where it is narrow.
    """
    widths = [
        max(map(display_width, column)) for column in zip(headers, *rows, strict=True)
    ]
    if sum(widths) + 2 * (len(widths) - 1) > output_width():
        if spare:
            kept = [i for i in range(len(headers)) if i not in spare]
            return table(
                [headers[i] for i in kept],
                [[row[i] for i in kept] for row in rows],
                [new for new, old in enumerate(kept) if old in left],
            )
        return "\n".join(_block(headers, row) for row in rows)
    return "\n".join(
        "  ".join(
            cell + space if i in left else space + cell
            for i, cell in enumerate(row)
            for space in [" " * (widths[i] - display_width(cell))]
        ).rstrip()
        for row in (headers, *rows)
    )


def _block(headers: Sequence[str], row: Sequence[str]) -> str:
    """Write one row as heading and lines, for a narrow screen."""
    rest = [
        wrapped(f"{header}: {cell}" if header else cell, "  ", "    ")
        for header, cell in zip(headers[1:], row[1:], strict=True)
        if cell.strip()
    ]
    return "\n".join([f"{headers[0]} {row[0]}".strip(), *rest])


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


def ready_streams() -> None:
    """Stand in for streams closed before the program began, and for characters.

    A console that lacks one shows another instead of failing.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), mode))
        reconfigure = getattr(getattr(sys, name), "reconfigure", None)
        if mode == "w" and reconfigure is not None:
            reconfigure(errors="replace")


def give_up_output() -> None:
    """Let the streams go nowhere, so that leaving does not try again to write."""
    quiet = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        try:
            os.dup2(quiet, stream.fileno())
        except (OSError, ValueError):
            continue


@contextlib.contextmanager
def interruptible() -> Iterator[list[int]]:
    """List the signals of Ctrl-C that came; once left, another one changes nothing."""
    came: list[int] = []

    def interrupt(number: int, _: FrameType | None) -> None:
        came.append(number)
        raise KeyboardInterrupt

    def pass_over(unraisable: "sys.UnraisableHookArgs") -> None:
        if not came:  # else Python could not raise it
            sys.__unraisablehook__(unraisable)

    sys.unraisablehook = pass_over
    with contextlib.suppress(ValueError):  # not in the main thread
        signal.signal(signal.SIGINT, interrupt)
    try:
        yield came
    finally:
        with contextlib.suppress(ValueError):
            signal.signal(signal.SIGINT, signal.SIG_IGN)
