"""The program under a pseudo-terminal: what it shows is read, keys are typed."""

import os
import re
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from select import select
from types import TracebackType
from typing import Self

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 180.0
"""A hung program is given up after so long; the machine may be busy. [s]"""
_QUIET = 0.15
_COLOUR = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


class Terminal:
    """``tension WORDS`` at a terminal; results may go to a file."""

    def __init__(
        self,
        words: Sequence[str | Path],
        environment: Mapping[str, str] | None = None,
        out: Path | None = None,
        *,
        folder: Path | None = None,
        columns: int = 100,
    ) -> None:
        import pty  # not on Windows
        import termios
        from fcntl import ioctl

        self._own, theirs = pty.openpty()
        ioctl(self._own, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
        self.shown = ""
        self._read_to = 0
        results = (
            os.dup(theirs) if out is None else os.open(out, os.O_CREAT | os.O_WRONLY)
        )
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tension", *map(str, words)],
            stdin=theirs,
            stdout=results,
            stderr=theirs,
            start_new_session=True,
            cwd=folder,
            env={
                **(environment or os.environ),
                "PYTHONPATH": str(ROOT),
                "COLUMNS": str(columns),
                "TERM": "xterm",
            },
        )
        os.close(theirs)
        os.close(results)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()
        os.close(self._own)

    def expect(self, pattern: str, patience: float = 60.0) -> re.Match[str]:
        """Read on until a pattern stands there."""
        end = time.monotonic() + patience
        while True:
            found = re.compile(pattern).search(self.shown, self._read_to)
            if found:
                self._read_to = found.end()
                return found
            more = self._more(max(end - time.monotonic(), 0.0))
            assert more, f"{pattern!r} was not shown:\n{self.shown[-3000:]}"

    def _more(self, patience: float) -> bool | None:
        """Read what comes; False at the end, None when nothing comes."""
        if not select([self._own], [], [], patience)[0]:
            return None
        try:
            read = os.read(self._own, 65536)
        except OSError:  # the other end is closed
            return False
        self.shown += read.decode("utf-8", "replace")
        return bool(read)

    def press(self, keys: str) -> None:
        """Type."""
        os.write(self._own, keys.encode())

    def answer(self, answers: Sequence[str]) -> None:
        """Type the next answer where a question waits; after the last, end the input.

        Raises
        ------
        TimeoutError
            If the program does not end.
        """
        waiting = iter([f"{answer}\n" for answer in answers])
        end = time.monotonic() + PATIENCE
        while (more := self._more(_QUIET)) is not False:
            if time.monotonic() > end:
                raise TimeoutError(self.shown)
            if more is None and self.shown.endswith(": "):
                self.press(next(waiting, "\x04"))
                time.sleep(0.02)

    def end(self, patience: float = 120.0) -> int:
        """Read to the end and give the exit code."""
        end = time.monotonic() + patience
        while self._more(max(end - time.monotonic(), 0.0)):
            pass
        return self.process.wait(timeout=10.0)

    def kill(self) -> None:
        """Kill it, without any warning."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGKILL)
        self.process.wait()


def type_to(
    words: Sequence[str], answers: Sequence[str], folder: Path, columns: int = 80
) -> tuple[int, str]:
    """Run ``tension WORDS`` on a terminal and answer each question.

    Returns
    -------
    tuple of (int, str)
        Exit code, and all that stood on the screen. Where the answers end, so does the
        input.
    """
    with Terminal(words, folder=folder, columns=columns) as terminal:
        terminal.answer(answers)
        code = terminal.end()
    plain = _COLOUR.sub("", terminal.shown)
    return code, plain.replace("\r\n", "\n")
