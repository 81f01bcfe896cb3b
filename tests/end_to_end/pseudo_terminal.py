"""The program under a pseudo-terminal, typed to as a person types."""

import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Sequence
from fcntl import ioctl
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 180.0
"""A hung program is given up after so long; the machine may be busy. [s]"""
_QUIET = 0.15
_COLOUR = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


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
    process, terminal = pty.fork()
    if process == 0:
        os.chdir(folder)
        environment = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "COLUMNS": str(columns),
            "TERM": "dumb",
        }
        command = [sys.executable, "-m", "tension", *words]
        os.execve(sys.executable, command, environment)  # noqa: S606
    ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    try:
        screen = _converse(terminal, list(answers))
    except TimeoutError:
        os.kill(process, signal.SIGKILL)
        raise
    finally:
        _, status = os.waitpid(process, 0)
        os.close(terminal)
    plain = _COLOUR.sub("", screen.decode("utf-8", "replace"))
    return os.waitstatus_to_exitcode(status), plain.replace("\r\n", "\n")


def _converse(terminal: int, answers: list[str]) -> bytes:
    """Read the screen; type the next answer where a question waits for one."""
    screen = b""
    end = time.monotonic() + PATIENCE
    while True:
        if time.monotonic() > end:
            raise TimeoutError(screen.decode("utf-8", "replace"))
        ready, _, _ = select.select([terminal], [], [], _QUIET)
        if ready:
            try:
                chunk = os.read(terminal, 65536)
            except OSError:  # the program is gone
                return screen
            if not chunk:
                return screen
            screen += chunk
        elif screen.endswith(b": "):
            typed = f"{answers.pop(0)}\n" if answers else "\x04"
            os.write(terminal, typed.encode())
            time.sleep(0.02)
