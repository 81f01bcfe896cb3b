"""The screen of `listen`: large prompts, a meter in one line, keys without Enter."""

import contextlib
import os
import sys
from collections.abc import Sequence
from typing import Any, Self

import click

from tension.assessment.decide import Assessment
from tension.capture.blocks import FAINT, LOUD, Hum, LossKind, MicrophoneCheck
from tension.capture.microphone import Device
from tension.cli.options import Form
from tension.cli.output import large, output_width, printable, wrapped
from tension.cli.result_text import result_text
from tension.cli.screen import screen
from tension.telling.lines import ON_THE_CAR_TOP, told, word, words_of
from tension.wording import say
from tension.workflow.live import events
from tension.workflow.live.events import Act, Event, Reason, Told, What

_ACTS = {
    "u": Act.UNDO,
    "r": Act.REPEAT,
    "s": Act.SKIP,
    "p": Act.PAUSE,
    " ": Act.PAUSE,
    "q": Act.END,
}
_BEEPS = {What.DONE, What.LEFT, What.LEFT_BY_ITSELF}
_BAR = 20  # width of the level on the screen, in characters
_FLOOR = -70.0  # level at which the bar is empty [dB of full scale]


class Screen:
    """Shows a visit by ear on a terminal, or a line for each event where there is none.

    `told` is the last result that was shown as text, so that it is not shown again.
    """

    def __init__(self, keys: "Keys", form: Form) -> None:
        self._keys = keys
        self._form = form
        self._is_terminal = sys.stderr.isatty()
        self._status = ""
        self._asked = ""
        self.told: Assessment | None = None

    @property
    def has_keys(self) -> bool:
        """Whether a person can press keys."""
        return self._keys.can_be_pressed

    def acts(self) -> tuple[Act, ...]:
        """Tell which keys were pressed."""
        pressed = self._keys.pressed().casefold()
        return tuple(_ACTS[key] for key in pressed if key in _ACTS)

    def show(self, event: Event) -> None:
        """Show one event."""
        match event:
            case events.Meter():
                self._meter(event)
            case events.Prompt(rope=rope, is_new=is_new):
                self._asked = event_line(event)
                if is_new and self._is_terminal:
                    self._line(large(f"ROPE {rope}"))
                self._line(self._asked)
            case events.Result():
                self._result(event)
            case Told(what=What.BEGAN):
                for caution in ON_THE_CAR_TOP:
                    self._line(say(caution, self._form.terms))
                keys = "keys" if self.has_keys else "hands-free"
                self._line(f"{event_line(event)} {told(f'listening.{keys}')}")
            case _:
                self._line(say(event_line(event), self._form.terms))
                if isinstance(event, Told) and event.what in _BEEPS:
                    self._beep()

    def _result(self, result: events.Result) -> None:
        """Show the result before ropes are asked for again."""
        if not result.again:
            return
        self._beep()
        self.close()
        if not self._form.json:
            self.told = result.assessed.assessment
            click.echo(result_text(self.told, self._form), nl=False)
        ropes = ", ".join(map(str, result.again))
        self._line(told("listening.again", ropes=ropes))

    def _meter(self, meter: events.Meter) -> None:
        """Draw level and hum over the line before."""
        if not self._is_terminal:
            return
        state = "listening" if meter.is_ringing else self._asked
        line = f"{level_bar(meter.peak)}  {state}  {hum_words(meter.hum)}".rstrip()
        line = line[: output_width() - 1]
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


def event_line(event: Event) -> str:
    """Say in one line what happened or is asked for."""
    words, said = words_of("listening.event"), ""
    match event:
        case Told(what=What.SILENT):
            said = why_silent()
        case Told(what=what, places=places):
            said = words[what.value].format_map(places)
        case events.Lost(seconds=seconds, kind=kind):
            said = lost_line(seconds, kind)
        case events.Answer(rope=rope, is_good=True, fundamental_frequency=frequency):
            said = words["heard"].format(rope=rope, fundamental_frequency=frequency)
        case events.Answer(rope=rope, reason=reason, next_act=act):
            if isinstance(reason, Reason):
                reason = words_of("listening.reason")[reason.value]
            said = words["not-heard"].format(rope=rope, reason=reason, next_act=act)
        case events.Prompt(rope=rope, n_good=n_good, n_wanted=n_wanted):
            said = words["prompt"].format(rope=rope, n=n_good + 1, n_wanted=n_wanted)
    return said.rstrip()


def why_silent() -> str:
    """Say what an input that is exactly zero usually is."""
    how = words_of("listening.zeros")
    return told("listening.zeros", how=how.get(sys.platform, how["linux"]))


def lost_line(seconds: float, kind: LossKind) -> str:
    """Say that input was lost [s]."""
    much = told(f"listening.lost{'' if seconds else '-some'}", seconds=seconds)
    return f"{much}: {word(kind)}"


def level_bar(peak: float) -> str:
    """Draw a level below full scale [dB]."""
    share = min(max((peak - _FLOOR) / -_FLOOR, 0.0), 1.0)
    n = round(_BAR * share)
    shown = "silent" if peak == float("-inf") else f"{peak:.0f} dB"
    loud = " too loud" if peak >= LOUD else ""
    return f"[{'#' * n}{'.' * (_BAR - n)}] {shown}{loud}"


def hum_words(hum: Hum | None) -> str:
    """Say that hum is strong."""
    return told("listening.hum", mains=hum.mains) if hum and hum.is_strong else ""


def devices_text(
    devices: Sequence[Device], chosen: Device, check: MicrophoneCheck | None
) -> str:
    """Write the list and what was seen."""
    return screen(
        "devices",
        devices=devices,
        chosen=chosen,
        check=check,
        loud=LOUD,
        faint=FAINT,
        bar=level_bar,
        hum=hum_words,
        lost=lost_line,
        silent=why_silent,
    )


class Keys:
    """Keys pressed in a terminal; what it was set to comes back at the end."""

    def __init__(self) -> None:
        self.can_be_pressed = bool(sys.stdin and sys.stdin.isatty())
        self._before: list[Any] | None = None

    def __enter__(self) -> Self:
        """Let keys come one by one; Ctrl-C stays what it is."""
        if sys.platform != "win32" and self.can_be_pressed:
            import termios
            import tty

            try:
                self._before = termios.tcgetattr(sys.stdin.fileno())
                tty.setcbreak(sys.stdin.fileno())
            except (OSError, ValueError, termios.error):
                self.can_be_pressed = False
        return self

    def __exit__(self, *error: object) -> None:
        """Give the terminal back as it was."""
        if sys.platform != "win32" and self._before is not None:
            import termios

            with contextlib.suppress(OSError, ValueError, termios.error):
                termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._before)

    def pressed(self) -> str:
        """Give what was pressed since the last time."""
        found = ""
        if sys.platform == "win32":
            import msvcrt

            while self.can_be_pressed and msvcrt.kbhit():
                found += msvcrt.getwch()
            return found
        import select

        try:
            while self.can_be_pressed and select.select([sys.stdin], [], [], 0.0)[0]:
                more = os.read(sys.stdin.fileno(), 64)
                self.can_be_pressed = bool(more)  # else the terminal is gone
                found += more.decode("utf-8", "replace")
        except (OSError, ValueError):
            self.can_be_pressed = False
        return found
