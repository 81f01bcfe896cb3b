"""Single keys of a terminal, without Enter and without waiting."""

import contextlib
import os
import sys
from types import TracebackType
from typing import Any, Self

if sys.platform == "win32":
    import msvcrt

    class Keys:
        """Keys pressed in a console."""

        def __init__(self) -> None:
            self.can_be_pressed = bool(sys.stdin and sys.stdin.isatty())

        def __enter__(self) -> Self:
            """Begin."""
            return self

        def __exit__(
            self,
            kind: type[BaseException] | None,
            error: BaseException | None,
            trace: TracebackType | None,
        ) -> None:
            """End."""

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

    class Keys:
        """Keys pressed in a terminal; what it was set to comes back at the end."""

        def __init__(self) -> None:
            self.can_be_pressed = bool(sys.stdin and sys.stdin.isatty())
            self._before: list[Any] | None = None
            self._handle = -1

        def __enter__(self) -> Self:
            """Let keys come one by one; Ctrl-C stays what it is."""
            if not self.can_be_pressed:
                return self
            try:
                self._handle = sys.stdin.fileno()
                self._before = termios.tcgetattr(self._handle)
                tty.setcbreak(self._handle)
            except (OSError, ValueError, termios.error):
                self.can_be_pressed = False
            return self

        def __exit__(
            self,
            kind: type[BaseException] | None,
            error: BaseException | None,
            trace: TracebackType | None,
        ) -> None:
            """Give the terminal back as it was."""
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
