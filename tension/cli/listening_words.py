"""Sentences of `listen` and `devices`: each phrase to a person once."""

import sys

from tension.capture.blocks import LossKind
from tension.capture.levels import LOUD, Hum
from tension.workflow.live.events import Answer, Prompt, Reason

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
KEYS = "Keys: u undo the last pluck, r rope anew, s skip, p pause, q end."
HANDS_FREE = "No keyboard here: it goes on by itself; Ctrl-C stops and keeps all."
_REASONS = {
    Reason.NO_PLUCK: "a sound, but no pluck",
    Reason.INPUT_LOST: "input was lost in it",
    Reason.UNDONE: "taken back",
    Reason.REPEATED: "the rope is begun anew",
}
_LOST = {
    LossKind.CLOCK: "the computer was too busy; close other programs",
    LossKind.ZEROS: "exact silence within the sound: the cable, or noise suppression "
    "that closes; switch voice processing off",
    LossKind.OVERFLOW: "the computer was too busy; close other programs",
}
_BAR = 20
_FLOOR = -70.0


def why_silent() -> str:
    """Say what an input that is exactly zero usually is."""
    how = _WHY_ZEROS.get(sys.platform, _WHY_ZEROS_ELSEWHERE)
    return f"the input is exactly zero: no permission, muted, or the wrong one. {how}"


def prompt_line(prompt: Prompt) -> str:
    """Ask for a pluck."""
    left = f"{prompt.n_good + 1} of {prompt.n_wanted}"
    return f"rope {prompt.rope}: pluck ({left})"


def answer_line(answer: Answer) -> str:
    """Say what was heard of a pluck."""
    if answer.is_good:
        return f"rope {answer.rope}: heard, {answer.fundamental_frequency:.2f} Hz"
    reason = answer.reason
    said = _REASONS[reason] if isinstance(reason, Reason) else reason
    return f"rope {answer.rope}: not counted: {said} {answer.next_act}".rstrip()


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
    if hum is None or not hum.is_strong:
        return ""
    return f"hum {hum.mains:.0f} Hz strong"


def go_on_with(folder: str, series: str | None) -> str:
    """Say how to go on after a break."""
    named = f' --series "{series}"' if series else ""
    return f"what was heard is kept; go on with: tension listen {folder}{named}"
