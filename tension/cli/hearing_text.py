"""What was heard, in words: in a file, live, through a microphone."""

import math
import sys
from collections.abc import Sequence

from tension.capture.blocks import FAINT, LOUD, Hum, LossKind, MicrophoneCheck
from tension.capture.microphone import Device
from tension.cli.result_text import notes_lines
from tension.cli.text import output_width, printable, table, wrapped
from tension.sound.hearing import Check, Pluck, RopeHearing
from tension.wording import Terms, say
from tension.workflow.listening import HeardFile
from tension.workflow.live.events import Answer, Prompt, Reason

MOST_PARTIALS = 12
MOST_PLUCKS = 48


def hearing_text(heard: HeardFile, *, terms: Terms) -> str:
    """Write what was heard in one file."""
    width = output_width()
    recording, hearing = heard.recording, heard.hearing
    lines = [printable(recording.name)]
    if recording.sampling_rate:
        seconds = len(recording.samples) / recording.sampling_rate
        lines.append(f"  {seconds:.1f} s of sound, {recording.codec or 'log'}")
    for rope in hearing.ropes:
        lines += _rope_lines(rope, width=width, terms=terms)
    lines += notes_lines((*recording.notes, *hearing.notes), width=width, terms=terms)
    return "\n".join(lines) + "\n\n"


def _rope_lines(rope: RopeHearing, *, width: int, terms: Terms) -> list[str]:
    """One rope: the number or the refusal, then what it rests on."""
    lines = []
    if rope.refusal:
        sentence = say(f"{rope.refusal.text} {rope.refusal.next_act}", terms)
        lines.append(wrapped(f"Rope {rope.number}: no number. {sentence}", width))
    else:
        uncertainty = rope.fundamental_frequency * rope.relative_uncertainty
        lines.append(
            f"Rope {rope.number}: fundamental {rope.fundamental_frequency:.3f} Hz "
            f"± {uncertainty:.3f} Hz"
        )
    lines += [
        f"  rival {rival.fundamental_frequency:.2f} Hz, "
        f"probability {_chance(rival.probability)}"
        for rival in rope.rivals[:3]
    ]
    lines += [_check_line(check) for check in rope.checks]
    if rope.hum:
        tones = ", ".join(f"{line.frequency:.0f}" for line in rope.hum[:8])
        lines.append(wrapped(f"hum taken out at {tones} Hz", width, "  "))
    if rope.plucks:
        rows = [_pluck_row(pluck) for pluck in rope.plucks[:MOST_PLUCKS]]
        lines.append(
            table(("Pluck", "from", "to", "over noise", ""), rows, width, left=(4,))
        )
        lines += _more(len(rope.plucks) - MOST_PLUCKS, "plucks")
        lines += _left_out(rope.plucks[:MOST_PLUCKS], width)
    if rope.partials:
        rows = [
            (
                str(p.mode_number),
                f"{p.frequency:.2f} Hz",
                f"{p.level:.0f} dB",
                "" if math.isnan(p.decay_time) else f"{p.decay_time:.2f} s",
                "" if p.is_used else "not used",
            )
            for p in rope.partials[:MOST_PARTIALS]
        ]
        headers = ("Partial", "at", "level", "decay", "")
        lines.append(table(headers, rows, width, left=(4,)))
        lines += _more(len(rope.partials) - MOST_PARTIALS, "partials")
    lines += notes_lines(rope.notes, width=width, terms=terms)
    return lines


def _check_line(check: Check) -> str:
    """What a string was held against, with its figure and what it needs."""
    outcome = "passed" if check.passed else "NOT PASSED"
    if check.name == "count":
        figures = f"{_chance(check.value)}, needs {_chance(check.least)}"
        return f"  check, partials counted right: {figures}: {outcome}"
    figures = f"log-odds {check.value:+.1f}, needs {check.least:+.1f}"
    return f"  check, one rope rings: {figures}: {outcome}"


def _chance(probability: float) -> str:
    """Probability in percent; a small one is not written as none."""
    return f"{100 * probability:.1f} %" if probability >= 0.0005 else "under 0.1 %"


def _left_out(plucks: Sequence[Pluck], width: int) -> list[str]:
    """Why plucks were not used, each reason once."""
    reasons: dict[str, list[str]] = {}
    for pluck in plucks:
        if not pluck.is_used:
            reasons.setdefault(pluck.reason, []).append(str(pluck.index))
    return [
        wrapped(f"not used, {', '.join(numbers)}: {reason}", width, "  ", "    ")
        for reason, numbers in reasons.items()
    ]


def _more(n_more: int, what: str) -> list[str]:
    """Say what is left out of a table."""
    return [f"  and {n_more} more {what}; --json lists them all"] if n_more > 0 else []


def _pluck_row(pluck: Pluck) -> tuple[str, ...]:
    """One pluck, used or why not."""
    level = pluck.signal_to_noise
    return (
        str(pluck.index),
        f"{pluck.start:.2f} s",
        f"{pluck.end:.2f} s",
        "" if math.isnan(level) else f"{level:.0f} dB",
        "used" if pluck.is_used else "not used",
    )


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
    width = output_width()
    headers = ("", "No.", "Microphone", "Through", "Rate")
    lines = [table(headers, rows, width, left=(0, 2, 3))]
    if check is not None:
        lines += [
            "",
            *(wrapped(line, width, "", "  ") for line in _seen(chosen, check)),
        ]
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
