"""Plans, comparisons, springs, causes, histories and forms as plain text."""

from collections.abc import Callable, Sequence

from tension.adjustment.outcome import Plan, PlanOutcome, Strategy
from tension.adjustment.springs import SpringCheck
from tension.cli.text import output_width, table, wrapped
from tension.condition.acceptance import Acceptance
from tension.condition.acceptance_figures import FigureKind
from tension.diagnosis.outcome import Diagnosis
from tension.history import History
from tension.quantity.units import UnitSystem
from tension.report.visible import visible
from tension.telling.acceptance import acceptance_blocks
from tension.telling.causes import (
    deviation_text,
    diagnosis_lines,
    hypothesis_text,
    weight_text,
)
from tension.telling.cautions import SHORT, WHAT_THE_RESULT_IS
from tension.telling.comparisons import (
    SPRING_HEADERS,
    spring_heading,
    spring_lines,
    spring_rows,
)
from tension.telling.histories import (
    history_heading,
    history_notes,
    point_cells,
    track_lines,
    track_title,
)
from tension.telling.lines import TextKind, TextLine
from tension.telling.numbers import turns_text
from tension.telling.page import Block, Bullets, Grid, Manner, Paragraph
from tension.wording import Terms, percent_text, say

RUNBY_SKETCH = """\
  car level at the landing:        counterweight
                                   |  striker
                                   v
                                 ----- <- runby, + while there is space
                                 buffer
  Shortening the ropes adds to the runby, stretch takes from it. It is negative when the
  counterweight lands before the car is level: 4 in early is -4 in; for 18 in the
  ropes are shortened by 18 - (-4) = 22 in at 1:1, by 44 in at 2:1."""


def lines_text(lines: Sequence[TextLine], *, width: int, terms: Terms) -> str:
    """Set lines of text as each is to be set."""
    setters: dict[TextKind, Callable[[str], str]] = {
        TextKind.HEADING: lambda text: "\n" + wrapped(text, width),
        TextKind.SENTENCE: lambda text: wrapped(text, width),
        TextKind.ITEM: lambda text: wrapped(text, width, "", "  "),
        TextKind.BOX: lambda text: wrapped(text, width, "[ ] ", "    "),
        TextKind.CAUTION: lambda text: wrapped(text, width, "! ", "  "),
        TextKind.PICTURE: lambda text: text,
    }
    return "\n".join(setters[line.kind](say(line.text, terms)) for line in lines)


def strategies_text(every: Sequence[tuple[Strategy, PlanOutcome]], width: int) -> str:
    """Write one line for each strategy."""
    rows = []
    for strategy, outcome in every:
        if isinstance(outcome, Plan):
            rows.append(
                [
                    strategy.value,
                    str(outcome.n_nuts),
                    turns_text(outcome.turns_in_all).rsplit(" ", 1)[0],
                    str(len(outcome.stages)),
                    percent_text(outcome.forecast.upper),
                    f"{100 * outcome.forecast.chance_equal:.0f} %",
                ]
            )
        else:
            rows.append([strategy.value, "", "", "", "", "none"])
    headers = ["--strategy", "nuts", "turns", "stages", "spread under", "chance equal"]
    return table(headers, rows, width, left=[0])


def springs_text(check: SpringCheck, units: UnitSystem, terms: Terms) -> str:
    """Write the table of the springs and what it rests on."""
    width = output_width()
    heading = lines_text([spring_heading(check)], width=width, terms=terms)
    below = lines_text(spring_lines(check, units), width=width, terms=terms)
    rows = spring_rows(check, units)
    readings = table(SPRING_HEADERS, rows, width, left=[5])
    return "\n".join([heading.lstrip("\n"), readings, below.lstrip("\n")])


def diagnosis_text(diagnosis: Diagnosis, *, units: UnitSystem, terms: Terms) -> str:
    """Write what a pattern suggests, with weights and deviations."""
    width = output_width()
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


def history_text(history: History, *, terms: Terms) -> str:
    """Write the history of a lift, a table for each life, side and position."""
    width = output_width()
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


def acceptance_text(acceptance: Acceptance, manner: Manner) -> str:
    """Write the form of a record, with the sketch of the runby where it is needed."""
    width = output_width()
    lines = _block_lines(acceptance_blocks(acceptance, manner), width)
    lines += ["", *(wrapped(manner.say(t), width) for t in WHAT_THE_RESULT_IS)]
    figures = [figure for item in acceptance.items for figure in item.figures]
    if any(figure.kind is FigureKind.RUNBY for figure in figures):
        lines += ["", RUNBY_SKETCH]
    return "\n".join(lines)


def _block_lines(blocks: Sequence[Block], width: int) -> list[str]:
    """The blocks of a form as plain lines."""
    lines: list[str] = []
    for block in blocks:
        match block:
            case Paragraph(text=text):
                lines.append(wrapped(visible(text), width))
            case Bullets(items=items):
                lines += [wrapped(visible(i), width, "  - ", "    ") for i in items]
            case Grid(caption=caption, headers=headers, rows=rows):
                lines += ["", caption]
                lines += [_row(headers, row, width) for row in rows]
            case _:
                pass
    return lines


def _row(headers: Sequence[str], row: Sequence[str], width: int) -> str:
    """One row of a table as a heading and lines."""
    first = wrapped(visible(f"{row[0]} {row[1]}"), width, "", "  ")
    rest = [
        wrapped(visible(f"{header}: {part}".strip(": ")), width, "  ", "    ")
        for header, cell in zip(headers[2:], row[2:], strict=True)
        for part in cell.split("\n")
        if part not in {"", "–"}
    ]
    return "\n".join([first, *rest])
