"""The screen of `listen`: large prompts, a meter in one line, keys."""

import sys

import click

from tension.assessment.outcome import Assessment
from tension.capture.blocks import Hum
from tension.cli.hearing_text import (
    HANDS_FREE,
    KEYS,
    answer_line,
    hum_words,
    level_bar,
    lost_line,
    prompt_line,
    why_silent,
)
from tension.cli.options import FormOptions
from tension.cli.result_text import result_text
from tension.cli.terminal import Keys
from tension.cli.text import large, output_width, printable, wrapped
from tension.telling.cautions import ON_THE_CAR_TOP
from tension.wording import say
from tension.workflow.live.events import (
    Act,
    Answer,
    Began,
    Event,
    Left,
    Lost,
    Meter,
    Paused,
    Prompt,
    Result,
    RopeDone,
    SilentInput,
    TakenBack,
    TakenUp,
)

_ACTS = {
    "u": Act.UNDO,
    "r": Act.REPEAT,
    "s": Act.SKIP,
    "p": Act.PAUSE,
    " ": Act.PAUSE,
    "q": Act.END,
}


_PAUSED = {
    (True, False): "paused: nothing is recorded; p goes on",
    (False, False): "going on",
    (True, True): "nobody plucked for long: nothing is recorded until there is a sound",
    (False, True): "recording again",
}


class Screen:
    """Shows a visit by ear on a terminal, or a line for each event where there is none.

    Parameters
    ----------
    keys : Keys
        Of the terminal.
    form : FormOptions
        How the result is shown.
    """

    def __init__(self, keys: Keys, form: FormOptions) -> None:
        self._keys = keys
        self._form = form
        self._terms = form.terms
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
        if isinstance(event, Meter):
            self._meter(event.peak, event.hum, is_ringing=event.is_ringing)
        elif isinstance(event, Prompt):
            self._ask(event)
        elif isinstance(event, Result):
            self._result(event)
        elif isinstance(event, Began):
            for caution in ON_THE_CAR_TOP:
                self._line(say(caution, self._terms))
            self._line(self._words(event))
        else:
            self._line(self._words(event))
            if isinstance(event, RopeDone | Left):
                self._beep()

    def _words(self, event: Event) -> str:
        """What is said of an event."""
        if isinstance(event, Answer):
            return say(answer_line(event), self._terms)
        if isinstance(event, Lost):
            return lost_line(event.seconds, event.kind)
        if isinstance(event, SilentInput):
            return why_silent()
        if isinstance(event, Began):
            order = " ".join(map(str, event.order))
            keys = KEYS if self.has_keys else HANDS_FREE
            name, rate = event.device, event.sampling_rate
            return f"Listening to {name}, {rate} Hz. Order: {order}. {keys}"
        if isinstance(event, TakenUp):
            return (
                f"{event.recording} from before the break: rope {event.rope}, "
                f"{event.n_plucks} plucks kept"
            )
        return _short_words(event)

    def _ask(self, prompt: Prompt) -> None:
        """Ask for a pluck, large where it is another rope."""
        self._asked = prompt_line(prompt)
        if prompt.is_new and self._is_terminal:
            self._line(large(f"ROPE {prompt.rope}", output_width()))
        self._line(self._asked)

    def _result(self, result: Result) -> None:
        """Show the result before ropes are asked for again."""
        if not result.again:
            return
        self._beep()
        self._clear()
        if not self._form.json:
            self.told = result.assessed.assessment
            click.echo(result_text(self.told, self._form), nl=False)
        ropes = ", ".join(map(str, result.again))
        self._line(f"again, the most useful first: rope {ropes} (q ends)")

    def _meter(self, peak: float, hum: Hum | None, *, is_ringing: bool) -> None:
        """Draw level and hum over the line before."""
        if not self._is_terminal:
            return
        state = "listening" if is_ringing else self._asked
        line = f"{level_bar(peak)}  {state}  {hum_words(hum)}".rstrip()
        line = line[: output_width() - 1]
        if line != self._status:
            self._status = line
            _raw(f"\r\x1b[K{line}")

    def _line(self, text: str) -> None:
        """Write a line above the meter."""
        self._clear()
        for line in text.split("\n"):
            click.echo(wrapped(printable(line), output_width(), "", "  "), err=True)

    def _clear(self) -> None:
        """Take the meter away."""
        if self._status:
            self._status = ""
            _raw("\r\x1b[K")

    def _beep(self) -> None:
        """Let the terminal beep."""
        if self._is_terminal:
            _raw("\a")

    def close(self) -> None:
        """Leave the terminal in order."""
        self._clear()


def _short_words(event: Event) -> str:
    """What is said of an event of one line."""
    said = ""
    if isinstance(event, RopeDone):
        said = f"rope {event.rope}: done"
    elif isinstance(event, Left):
        why = "too many were not heard well; " if event.by_itself else ""
        said = f"rope {event.rope}: {why}left for now"
    elif isinstance(event, TakenBack) and event.rope is None:
        said = "nothing to take back"
    elif isinstance(event, TakenBack):
        said = f"rope {event.rope}: taken back; the recording keeps it, left out"
    elif isinstance(event, Paused):
        said = _PAUSED[event.is_paused, event.by_itself]
    return said


def _raw(text: str) -> None:
    """Write what moves the cursor, past what shows such marks by their escapes."""
    stream = sys.__stderr__
    if stream is not None:
        stream.write(text)
        stream.flush()
