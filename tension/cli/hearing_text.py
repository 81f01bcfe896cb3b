"""What was heard in one file, in words."""

import math
from collections.abc import Sequence

from tension.cli.result_text import notes_lines
from tension.cli.text import output_width, printable, table, wrapped
from tension.sound.hearing import Check, Pluck, RopeHearing
from tension.wording import Terms, say
from tension.workflow.pluck import HeardFile

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
