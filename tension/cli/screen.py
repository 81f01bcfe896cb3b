"""Screens: what is told in lines or by a template, set on the terminal."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from tension.cli.output import printable, table, wrapped
from tension.report.visible import visible
from tension.telling.page import Block, Bullets, Grid, Paragraph, written_lines
from tension.wording import Terms, say

_MARGINS = {
    ".": ("", ""),
    "-": ("", "  "),
    "~": ("  ", "  "),
    ">": ("  ", "    "),
    "!": ("! ", "  "),
    "_": ("[ ] ", "    "),
}
"""What stands before the first and the other lines of a text, by its sign."""


def screen(name: str, terms: Terms = Terms.EUROPE, **words: object) -> str:
    """Set a template: each line is wrapped by its sign, or stands as it is after `=`.

    Rows after `|` become a table under the headings after `^`, columns whose heading
    ends with `<` set left, those with `~` left out where it is narrow. The template may
    say and set what the program tells, and show what people typed.
    """
    own: dict[str, Any] = {
        "say": lambda said: say(said, terms),
        "visible": visible,
        "printable": printable,
        "wrapped": wrapped,
    }
    return signed_lines(written_lines(name, terms, own | words))


def signed_lines(told: Sequence[tuple[str, tuple[str, ...]]]) -> str:
    """Set lines by their signs; a heading after `#` stands apart."""
    set_lines: list[str] = []
    heads: tuple[str, ...] = ()
    for sign, lines in groupby(told, lambda one: one[0]):
        rows = [cells for _, cells in lines]
        if sign == "|":
            left = [i for i, cell in enumerate(heads) if cell.endswith("<")]
            spare = [i for i, cell in enumerate(heads) if "~" in cell]
            names = [cell.rstrip(" ~<") for cell in heads]
            set_lines.append(table(names, rows, left, spare))
        elif sign == "^":
            heads = rows[0]
        elif sign == "=":
            set_lines += [row[0] for row in rows]
        elif sign == "#":
            set_lines += ["\n" + wrapped(row[0]) for row in rows]
        else:
            set_lines += [wrapped(row[0], *_MARGINS[sign]) for row in rows]
    return "\n".join(set_lines)


def block_lines(blocks: Sequence[Block]) -> list[str]:
    """Set the blocks of a form; a row of a table is a heading and lines."""
    lines: list[str] = []
    for block in blocks:
        match block:
            case Paragraph(text=text):
                lines.append(wrapped(visible(text)))
            case Bullets(items=items):
                lines += [wrapped(visible(item), "  - ", "    ") for item in items]
            case Grid(caption=caption, headers=headers, rows=rows):
                lines += ["", caption, *(_row(headers, row) for row in rows)]
    return lines


def _row(headers: Sequence[str], row: Sequence[str]) -> str:
    """One row of a table as a heading and lines."""
    rest = [
        wrapped(visible(f"{header}: {part}".strip(": ")), "  ", "    ")
        for header, cell in zip(headers[2:], row[2:], strict=True)
        for part in cell.split("\n")
        if part not in {"", "–"}
    ]
    return "\n".join([wrapped(visible(f"{row[0]} {row[1]}"), "", "  "), *rest])
