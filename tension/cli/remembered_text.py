"""Causes and histories as plain text."""

from collections.abc import Callable, Sequence

from tension.cli.text import table, wrapped
from tension.diagnosis.outcome import Diagnosis
from tension.history.outcome import History
from tension.quantity.units import UnitSystem
from tension.telling.causes import (
    deviation_text,
    diagnosis_lines,
    hypothesis_text,
    weight_text,
)
from tension.telling.cautions import SHORT
from tension.telling.histories import (
    history_heading,
    history_notes,
    point_cells,
    track_lines,
    track_title,
)
from tension.telling.lines import TextKind, TextLine
from tension.wording import Terms, say


def lines_text(lines: Sequence[TextLine], *, width: int, terms: Terms) -> str:
    """Set lines of text as each is to be set."""
    setters: dict[TextKind, Callable[[str], str]] = {
        TextKind.HEADING: lambda text: "\n" + wrapped(text, width),
        TextKind.SENTENCE: lambda text: wrapped(text, width),
        TextKind.ITEM: lambda text: wrapped(text, width, "", "  "),
        TextKind.PICTURE: lambda text: text,
    }
    return "\n".join(setters[line.kind](say(line.text, terms)) for line in lines)


def diagnosis_text(
    diagnosis: Diagnosis, *, units: UnitSystem, terms: Terms, width: int
) -> str:
    """Write what a pattern suggests, with weights and deviations."""
    lines = diagnosis_lines(diagnosis, units)
    pattern = diagnosis.pattern
    weights = [
        wrapped(
            f"{weight_text(s):>9}  {say(hypothesis_text(s), terms)}",
            width,
            "",
            " " * 11,
        )
        for s in diagnosis.named
    ]
    names = [
        wrapped(f"{i}  {condition.name}", width, "", "   ")
        for i, condition in enumerate(pattern.conditions, start=1)
    ]
    rows = [
        [str(i), *(deviation_text(d, diagnosis, units).split(" ")[0] for d in own)]
        for i, own in enumerate(pattern.deviations, start=1)
    ]
    unit = deviation_text(0.0, diagnosis, units).split(" ", 1)[1]
    return "\n".join(
        [
            lines_text(lines[:1], width=width, terms=terms),
            "",
            *weights,
            lines_text(lines[1:], width=width, terms=terms),
            "",
            wrapped(f"DEVIATIONS from the mean of each series, {unit}, by rope", width),
            table(["series", *map(str, pattern.numbers)], rows, width),
            *names,
            "",
            *(wrapped(say(caution, terms), width, "! ", "  ") for caution in SHORT),
        ]
    )


def history_text(history: History, *, terms: Terms, width: int) -> str:
    """Write the history of a lift, a table for each life, side and position."""
    parts = [wrapped(say(history_heading(history), terms), width)]
    for track in history.tracks:
        numbers = [share.number for share in track.points[0].shares]
        headers = ["day", "", "verdict", "spread", "±", *map(str, numbers)]
        rows = [point_cells(point) for point in track.points]
        parts += [
            "",
            wrapped(say(track_title(track), terms), width),
            table(headers, rows, width, left=[0, 1, 2]),
            lines_text(track_lines(track), width=width, terms=terms),
        ]
    parts.append(
        "\n"
        + wrapped(
            "By rope: deviation in percent of the mean; ±: 95 % interval of the rope "
            "known worst.",
            width,
        )
    )
    parts.append(lines_text(history_notes(history), width=width, terms=terms))
    return "\n".join(parts)
