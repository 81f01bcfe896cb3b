"""The screen of `listen`: large prompts, a meter in one line, keys; words of both."""

import sys
from collections.abc import Sequence

import click

from tension.assessment.outcome import Assessment
from tension.capture.blocks import FAINT, LOUD, Hum, LossKind, MicrophoneCheck
from tension.capture.microphone import Device
from tension.cli.options import Form
from tension.cli.output import large, output_width, printable, table, wrapped
from tension.cli.result_text import result_text
from tension.cli.terminal import Keys
from tension.telling.cautions import ON_THE_CAR_TOP
from tension.wording import say
from tension.workflow.live import events
from tension.workflow.live.events import Act, Event, Reason

KEYS = "Keys: u undo the last pluck, r rope anew, s skip, p pause, q end."
HANDS_FREE = "No keyboard here: it goes on by itself; Ctrl-C stops and keeps all."
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
_LINES: dict[type, str] = {
    events.Began: "Listening to {0.device}, {0.sampling_rate} Hz. Order: {1}.",
    events.TakenUp: "{0.recording} from before the break: rope {0.rope}, {0.n_plucks} "
    "plucks kept",
    events.Prompt: "rope {0.rope}: pluck ({1} of {0.n_wanted})",
    events.Answer: "rope {0.rope}: heard, {0.fundamental_frequency:.2f} Hz",
    events.TakenBack: "rope {0.rope}: taken back; the recording keeps it, left out",
    events.Left: "rope {0.rope}: left for now",
    events.RopeDone: "rope {0.rope}: done",
}
_WHY_ZEROS = {
    "darwin": "Allow the microphone: System Settings, Privacy & Security, Microphone, "
    "switch on the terminal program, then close and open it again.",
    "win32": "Allow it: Settings, Privacy & security, Microphone, let desktop apps "
    "use it; and see the mute key.",
}
_WHY_ZEROS_ELSEWHERE = (
    "See that the microphone is not muted (pavucontrol or alsamixer, input) and that "
    "the right one is chosen: tension devices."
)
_REASONS = {
    Reason.NO_PLUCK: "a sound, but no pluck",
    Reason.INPUT_LOST: "input was lost in it",
    Reason.UNDONE: "taken back",
    Reason.REPEATED: "the rope is begun anew",
}
_BUSY = "the computer was too busy; close other programs"
_LOST = {
    LossKind.CLOCK: _BUSY,
    LossKind.ZEROS: "exact silence within the sound: the cable, or noise suppression "
    "that closes; switch voice processing off",
    LossKind.OVERFLOW: _BUSY,
}
_BAR = 20
_FLOOR = -70.0


class Screen:
    """Shows a visit by ear on a terminal, or a line for each event where there is none.

    `told` is the last result that was shown as text, so that it is not shown again.
    """

    def __init__(self, keys: Keys, form: Form) -> None:
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
            case events.Began():
                for caution in ON_THE_CAR_TOP:
                    self._line(say(caution, self._form.terms))
                keys = KEYS if self.has_keys else HANDS_FREE
                self._line(f"{event_line(event)} {keys}")
            case _:
                self._line(say(event_line(event), self._form.terms))
                if isinstance(event, events.RopeDone | events.Left):
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
        self._line(f"again, the most useful first: rope {ropes} (q ends)")

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
    match event:
        case events.Answer(is_good=False, reason=reason):
            why = _REASONS[reason] if isinstance(reason, Reason) else reason
            line = f"rope {event.rope}: not counted: {why} {event.next_act}".rstrip()
        case events.Began(order=order):
            line = _LINES[type(event)].format(event, " ".join(map(str, order)))
        case events.Prompt(n_good=n_good):
            line = _LINES[type(event)].format(event, n_good + 1)
        case events.Lost(seconds=seconds, kind=kind):
            line = lost_line(seconds, kind)
        case events.SilentInput():
            line = why_silent()
        case events.Paused(is_paused=is_paused, by_itself=by_itself):
            line = _PAUSED[is_paused, by_itself]
        case events.TakenBack(rope=None):
            line = "nothing to take back"
        case events.Left(by_itself=True):
            line = f"rope {event.rope}: too many were not heard well; left for now"
        case _:
            line = _LINES[type(event)].format(event)
    return line


def why_silent() -> str:
    """Say what an input that is exactly zero usually is."""
    how = _WHY_ZEROS.get(sys.platform, _WHY_ZEROS_ELSEWHERE)
    return f"the input is exactly zero: no permission, muted, or the wrong one. {how}"


def lost_line(seconds: float, kind: LossKind) -> str:
    """Say that input was lost [s]."""
    much = f"{seconds:.2f} s of input were lost" if seconds else "input was lost"
    return f"{much}: {_LOST[kind]}"


def level_bar(peak: float) -> str:
    """Draw a level below full scale [dB]."""
    share = min(max((peak - _FLOOR) / -_FLOOR, 0.0), 1.0)
    n = round(_BAR * share)
    shown = "silent" if peak == float("-inf") else f"{peak:.0f} dB"
    loud = " too loud" if peak >= LOUD else ""
    return f"[{'#' * n}{'.' * (_BAR - n)}] {shown}{loud}"


def hum_words(hum: Hum | None) -> str:
    """Say that hum is strong."""
    return f"hum {hum.mains:.0f} Hz strong" if hum and hum.is_strong else ""


def devices_text(
    devices: Sequence[Device], chosen: Device, check: MicrophoneCheck | None
) -> str:
    """Write the list and what was seen."""
    rows = [
        (
            "->" if one == chosen else "",
            str(one.number),
            one.name,
            one.interface,
            f"{one.sampling_rate:.0f} Hz",
        )
        for one in devices
    ]
    headers = ("", "No.", "Microphone", "Through", "Rate")
    lines = [table(headers, rows, left=(0, 2, 3))]
    if check is not None:
        lines += ["", *(wrapped(line, "", "  ") for line in _seen(chosen, check))]
    return "\n".join(lines) + "\n"


def _seen(chosen: Device, check: MicrophoneCheck) -> list[str]:
    """What was seen, a line each."""
    if check.is_silent:
        said = why_silent()
        return [said[0].upper() + said[1:]]
    lines = [f"Loudest: {level_bar(check.peak)}"]
    if check.peak >= LOUD:
        lines.append("Too loud: turn the input down, or go further from the sound.")
    elif check.peak < FAINT:
        lines.append("Hardly anything comes in: turn the input up, see cable and plug.")
    if hum_words(check.hum):
        lines.append(f"{hum_words(check.hum)}: see the cable; go nearer to the rope.")
    lines += [lost_line(one.seconds, one.kind) for one in check.losses]
    if chosen.may_change_sound:
        lines.append("Its name tells of voice processing, which eats rope sound.")
    return lines if len(lines) > 1 else [*lines, "Nothing was lost."]
