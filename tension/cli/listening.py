"""The screen of `listen`: large prompts, a meter in one line, keys without Enter."""

import contextlib
import os
import sys
from enum import Enum
from typing import Any, Self

import click

from tension.assessment.decide import Assessment
from tension.capture import LOUD, Hum
from tension.cli.options import Form
from tension.cli.output import large, output_width, printable, wrapped
from tension.cli.result_text import result_text
from tension.telling.lines import ON_THE_CAR_TOP, told, word, words_of
from tension.wording import say
from tension.workflow.assess import Assessed
from tension.workflow.live.events import Act, Session, What

_BEEPS = {What.DONE, What.LEFT, What.LEFT_BY_ITSELF}
_BAR = 20  # width of the level on the screen, in characters
_FLOOR = -70.0  # level at which the bar is empty [dB of full scale]


class Screen:
    """Shows a visit by ear on a terminal, or a line for each event where there is none.

    `told` is the last result that was shown as text, so that it is not shown again.
    What the terminal was set to comes back at the end.
    """

    def __init__(self, form: Form) -> None:
        self.has_keys = bool(sys.stdin and sys.stdin.isatty())
        self.told: Assessment | None = None
        self._form = form
        self._is_terminal = sys.stderr.isatty()
        self._status = ""
        self._asked = ""
        self._before: list[Any] | None = None

    def __enter__(self) -> Self:
        """Let keys come one by one; Ctrl-C stays what it is."""
        if sys.platform != "win32" and self.has_keys:
            import termios
            import tty

            try:
                self._before = termios.tcgetattr(sys.stdin.fileno())
                tty.setcbreak(sys.stdin.fileno())
            except (OSError, ValueError, termios.error):
                self.has_keys = False
        return self

    def __exit__(self, *error: object) -> None:
        """Give the terminal back as it was."""
        if sys.platform != "win32" and self._before is not None:
            import termios

            with contextlib.suppress(OSError, ValueError, termios.error):
                termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._before)

    def acts(self) -> tuple[Act, ...]:
        """Tell which keys were pressed."""
        pressed = self._pressed().casefold().replace(" ", Act.PAUSE.value)
        return tuple(act for key in pressed for act in Act if act.value == key)

    def _pressed(self) -> str:
        """Give what was pressed since the last time."""
        found = ""
        if sys.platform == "win32":
            import msvcrt

            while self.has_keys and msvcrt.kbhit():
                found += msvcrt.getwch()
            return found
        import select

        try:
            while self.has_keys and select.select([sys.stdin], [], [], 0.0)[0]:
                more = os.read(sys.stdin.fileno(), 64)
                self.has_keys = bool(more)  # else the terminal is gone
                found += more.decode("utf-8", "replace")
        except (OSError, ValueError):
            self.has_keys = False
        return found

    def tell(self, what: What, **places: object) -> None:
        """Tell one line; the cautions before the first."""
        line = event_line(what, **places)
        if what is What.BEGAN:
            for caution in ON_THE_CAR_TOP:
                self._line(say(caution, self._form.terms))
            keys = "keys" if self.has_keys else "hands-free"
            line = f"{line} {told(f'listening.{keys}')}"
        self._line(say(line, self._form.terms))
        if what in _BEEPS:
            self._beep()

    def ask(self, session: Session, *, is_new: bool) -> None:
        """Ask for a pluck, large for another rope."""
        rope, n = session.rope, session.n_done + 1
        self._asked = event_line("prompt", rope=rope, n=n, n_wanted=session.plucks)
        if is_new and self._is_terminal:
            self._line(large(f"ROPE {rope}"))
        self._line(self._asked)

    def result(self, assessed: Assessed, again: tuple[int, ...]) -> None:
        """Show the result before ropes are asked for again."""
        if not again:
            return
        self._beep()
        self.close()
        if not self._form.json:
            self.told = assessed.assessment
            click.echo(result_text(self.told, self._form), nl=False)
        self._line(told("listening.again", ropes=", ".join(map(str, again))))

    def meter(self, peak: float, hum: Hum | None, *, is_ringing: bool) -> None:
        """Draw level [dB] and hum over the line before."""
        if not self._is_terminal:
            return
        state = "listening" if is_ringing else self._asked
        hums = event_line("hum", mains=hum.mains) if hum and hum.is_strong else ""
        line = f"{level_bar(peak)}  {state}  {hums}".rstrip()[: output_width() - 1]
        if line != self._status:
            self._status = line
            _raw(f"\r\x1b[K{line}")

    def _line(self, text: str) -> None:
        """Write a line above the meter."""
        self.close()
        for line in text.split("\n"):
            click.echo(wrapped(printable(line), "", "  "), err=True)

    def _beep(self) -> None:
        """Let the terminal beep."""
        if self._is_terminal:
            _raw("\a")

    def close(self) -> None:
        """Take the meter away and leave the terminal in order."""
        if self._status:
            self._status = ""
            _raw("\r\x1b[K")


def _raw(text: str) -> None:
    """Write what moves the cursor, past what shows such marks by their escapes."""
    stream = sys.__stderr__
    if stream is not None:
        stream.write(text)
        stream.flush()


def event_line(what: str, **places: object) -> str:
    """Say in one line what happened or is asked for, by the name of its words."""
    how = words_of("listening.zeros")
    places["how"] = how.get(sys.platform, how["linux"])
    of = words_of("listening.event")
    name = "lost-some" if places.get("seconds") == 0.0 else what
    told = {k: word(v) if isinstance(v, Enum) else v for k, v in places.items()}
    return of[name].format_map(told).rstrip()


def level_bar(peak: float) -> str:
    """Draw a level below full scale [dB]."""
    n = round(_BAR * min(max((peak - _FLOOR) / -_FLOOR, 0.0), 1.0))
    shown = "silent" if peak == float("-inf") else f"{peak:.0f} dB"
    loud = " too loud" if peak >= LOUD else ""
    return f"[{'#' * n}{'.' * (_BAR - n)}] {shown}{loud}"
