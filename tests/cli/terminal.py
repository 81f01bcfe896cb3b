"""A command under a pseudo-terminal: what it shows is read, keys are typed."""

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from select import select
from types import TracebackType
from typing import Self

ROOT = Path(__file__).resolve().parents[2]


class Terminal:
    """``tension WORDS`` at a terminal of 100 columns; results may go to a file."""

    def __init__(
        self,
        words: Sequence[str | Path],
        environment: Mapping[str, str] | None = None,
        out: Path | None = None,
    ) -> None:
        import pty  # not on Windows

        self._own, theirs = pty.openpty()
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
            env={
                **(environment or os.environ),
                "PYTHONPATH": str(ROOT),
                "COLUMNS": "100",
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

    def _more(self, patience: float) -> bool:
        """Read what comes; False at the end or when nothing comes."""
        if not select([self._own], [], [], patience)[0]:
            return False
        try:
            read = os.read(self._own, 65536)
        except OSError:  # the other end is closed
            return False
        self.shown += read.decode("utf-8", "replace")
        return bool(read)

    def press(self, keys: str) -> None:
        """Type."""
        os.write(self._own, keys.encode())

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
