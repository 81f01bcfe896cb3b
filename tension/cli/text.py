"""Plain text for terminals and pipes: width, wrapping, aligned tables, large words."""

import os
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Sequence

from tension.report.visible import bound, unbound

WIDTH_WITHOUT_TERMINAL = 80
NARROWEST = 30

# Letters and signs of the four results and of rope numbers, five lines high, drawn
# here.
_LETTERS = {
    "A": (" ### ", "#   #", "#####", "#   #", "#   #"),
    "C": (" ####", "#    ", "#    ", "#    ", " ####"),
    "E": ("#####", "#    ", "#### ", "#    ", "#####"),
    "L": ("#    ", "#    ", "#    ", "#    ", "#####"),
    "N": ("#   #", "##  #", "# # #", "#  ##", "#   #"),
    "O": (" ### ", "#   #", "#   #", "#   #", " ### "),
    "P": ("#### ", "#   #", "#### ", "#    ", "#    "),
    "Q": (" ### ", "#   #", "# # #", "#  # ", " ## #"),
    "R": ("#### ", "#   #", "#### ", "#  # ", "#   #"),
    "S": (" ####", "#    ", " ### ", "    #", "#### "),
    "T": ("#####", "  #  ", "  #  ", "  #  ", "  #  "),
    "U": ("#   #", "#   #", "#   #", "#   #", " ### "),
    "0": (" ### ", "#  ##", "# # #", "##  #", " ### "),
    "1": ("  #  ", " ##  ", "  #  ", "  #  ", " ### "),
    "2": (" ### ", "#   #", "  ## ", " #   ", "#####"),
    "3": ("#### ", "    #", " ### ", "    #", "#### "),
    "4": ("#  # ", "#  # ", "#####", "   # ", "   # "),
    "5": ("#####", "#    ", "#### ", "    #", "#### "),
    "6": (" ### ", "#    ", "#### ", "#   #", " ### "),
    "7": ("#####", "    #", "   # ", "  #  ", "  #  "),
    "8": (" ### ", "#   #", " ### ", "#   #", " ### "),
    "9": (" ### ", "#   #", " ####", "    #", " ### "),
    " ": ("  ", "  ", "  ", "  ", "  "),
    "=": ("     ", "#####", "     ", "#####", "     "),
    "≠": ("   # ", "#####", "  #  ", "#####", " #   "),
    "?": (" ### ", "#   #", "  ## ", "     ", "  #  "),
    "-": ("     ", "     ", "#####", "     ", "     "),
}


def output_width() -> int:
    """Columns of the terminal or of COLUMNS, 80 for a pipe or a file."""
    if os.environ.get("COLUMNS", "").isdigit() or sys.stdout.isatty():
        return max(shutil.get_terminal_size((WIDTH_WITHOUT_TERMINAL, 24)).columns, 20)
    return WIDTH_WITHOUT_TERMINAL


def display_width(text: str) -> int:
    """Columns that a text takes: wide characters two, combining ones none."""
    return sum(
        0
        if unicodedata.combining(character)
        else 2
        if unicodedata.east_asian_width(character) in "WF"
        else 1
        for character in text
    )


def large(words: str, width: int, sign: str = "") -> str:
    """Write words large with a sign, or plainly if they do not fit or nobody looks."""
    if not sys.stdout.isatty():
        return words
    signed = f"{words} {sign}".rstrip()
    for lines in ([signed], signed.split(), [words], words.split()):
        drawn = [row for line in lines for row in (*_drawn(line), "")]
        if max(map(len, drawn)) <= width:
            return "\n".join(drawn)
    return words


def _drawn(words: str) -> list[str]:
    """Draw one line of large letters."""
    return [
        " ".join(_LETTERS[letter][row] for letter in words).rstrip() for row in range(5)
    ]


def wrapped(text: str, width: int, indent: str = "", hanging: str = "") -> str:
    """Wrap a sentence; what stands before its first and before its other lines."""
    filled = textwrap.fill(
        bound(text),
        max(width, NARROWEST),
        initial_indent=indent,
        subsequent_indent=hanging or indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return unbound(filled)


def printable(text: str) -> str:
    """Replace what would move the cursor or break a line, such as in a file name.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The same with every control character written as an escape.

    Examples
    --------
    >>> printable("new\\nline.m4a")
    'new\\\\nline.m4a'
    """
    return "".join(
        character
        if character.isprintable()
        else character.encode("unicode_escape").decode("ascii")
        for character in text
    )


def table(
    headers: Sequence[str],
    rows: Sequence[Sequence[str]],
    width: int,
    left: Sequence[int] = (),
    spare: Sequence[int] = (),
) -> str:
    """Align columns; where they do not fit, write one block per row.

    Parameters
    ----------
    headers : sequence of str, shape (n_columns,)
        Column headings.
    rows : sequence of sequence of str, shape (n_rows, n_columns)
        Cells.
    width : int
        Columns there are.
    left : sequence of int
        Columns set left; the others are set right.
    spare : sequence of int
        Columns that say nothing new; they go first where it is narrow.
    """
    widths = [
        max(display_width(row[i]) for row in (headers, *rows))
        for i in range(len(headers))
    ]
    if sum(widths) + 2 * (len(widths) - 1) > width:
        if spare:
            kept = [i for i in range(len(headers)) if i not in spare]
            return table(
                [headers[i] for i in kept],
                [[row[i] for i in kept] for row in rows],
                width,
                [new for new, old in enumerate(kept) if old in left],
            )
        return "\n".join(_block(headers, row, width) for row in rows)
    return "\n".join(
        "  ".join(
            _padded(cell, widths[i], is_left=i in left) for i, cell in enumerate(row)
        ).rstrip()
        for row in (headers, *rows)
    )


def _padded(cell: str, width: int, *, is_left: bool) -> str:
    """Pad a cell to the width of its column."""
    space = " " * (width - display_width(cell))
    return cell + space if is_left else space + cell


def _block(headers: Sequence[str], row: Sequence[str], width: int) -> str:
    """Write one row as heading and lines, for a narrow screen."""
    first = f"{headers[0]} {row[0]}".strip()
    rest = [
        wrapped(f"{header}: {cell}" if header else cell, width, "  ", "    ")
        for header, cell in zip(headers[1:], row[1:], strict=True)
        if cell.strip()
    ]
    return "\n".join([first, *rest])
