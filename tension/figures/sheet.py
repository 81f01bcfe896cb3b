"""One blank page for the car top, to be filled in by hand and typed in later."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from tension.errors import InvalidValueError
from tension.telling.cautions import TURNING_NUTS, WHAT_THE_RESULT_IS
from tension.wording import Terms, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_ROPES = 12
_MARGIN = 10.0
_HEADING = 10.5
_ROW_HEIGHTS = (5.6, 11.0)  # ruled paper for handwriting has 7 to 8 mm


class Paper(StrEnum):
    """Size of the page."""

    A4 = "a4"
    LETTER = "letter"


# ISO 216 and ANSI/ASME Y14.1 sizes, upright
_SIZES = {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}

MILLIMETRES_PER_INCH = 25.4
_THIN, _THICK = 0.5, 1.2


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A column of a table: heading, share of the width [1], start of a group or not."""

    heading: str
    width: float
    has_thick_edge: bool = False


class Page:
    """One black-and-white page of a size [mm], counted from its upper left corner.

    The figure is given that size and one invisible pair of axes over all of it.
    """

    def __init__(self, figure: "Figure", width: float, height: float) -> None:
        figure.set_size_inches(
            width / MILLIMETRES_PER_INCH, height / MILLIMETRES_PER_INCH
        )
        self.width, self.height = width, height
        self._axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self._axes.set_axis_off()
        self._axes.set_xlim(0, width)
        self._axes.set_ylim(height, 0)

    def write(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = 8.0,
        is_bold: bool = False,
        align: str = "left",
    ) -> None:
        """Write words, x and y in mm; y is the middle of a line, the top of several.

        Letters have a size [pt] and stand "left", "center" or "right" of x.
        """
        self._axes.text(
            x,
            y,
            text,
            fontsize=size,
            fontweight="bold" if is_bold else "normal",
            ha=align,
            va="top" if "\n" in text else "center",
            linespacing=1.25,
            parse_math=False,
            color="black",
        )

    def rule(
        self, x0: float, y0: float, x1: float, y1: float, *, is_thick: bool = False
    ) -> None:
        """Draw a straight line between two ends [mm]."""
        self._axes.plot(
            [x0, x1],
            [y0, y1],
            color="black",
            linewidth=_THICK if is_thick else _THIN,
            solid_capstyle="butt",
        )

    def circle(self, x: float, y: float, diameter: float) -> None:
        """Draw an empty circle of a diameter [mm] to write a number in."""
        from matplotlib.patches import Circle

        self._axes.add_patch(
            Circle((x, y), diameter / 2, fill=False, edgecolor="black", linewidth=0.8)
        )

    def field(self, x: float, y: float, width: float, label: str) -> None:
        """Draw a label and a line [mm] to write on; y is the line."""
        self.write(x, y - 6.2, label, size=6.5)
        self.rule(x, y, x + width, y)

    def fields(
        self, x: float, y: float, width: float, labels: Sequence[tuple[str, float]]
    ) -> None:
        """Draw fields side by side: labels with their shares of the width [mm]."""
        total = sum(share for _, share in labels)
        gap = 3.0
        for label, share in labels:
            own = width * share / total
            self.field(x, y, own - gap, label)
            x += own

    def table(
        self,
        x: float,
        y: float,
        width: float,
        columns: Sequence[Column],
        rows: Sequence[str],
        *,
        row_height: float,
    ) -> float:
        """Draw a table [mm] to write in, and give its lower edge.

        The first column holds the names of the rows.
        """
        bottom = y + _HEADING + row_height * len(rows)
        total = sum(column.width for column in columns)
        left = x
        for column in columns:
            own = width * column.width / total
            self.rule(left, y, left, bottom, is_thick=column.has_thick_edge)
            lines = column.heading.split("\n")
            for k, line in enumerate(lines):
                place = y + _HEADING / 2 + 3.2 * (k - (len(lines) - 1) / 2)
                self.write(left + own / 2, place, line, size=6.5, align="center")
            left += own
        self.rule(x + width, y, x + width, bottom)
        first = width * columns[0].width / total
        for k, row in enumerate(rows):
            top = y + _HEADING + k * row_height
            self.rule(x, top, x + width, top)
            middle = top + row_height / 2
            self.write(x + first / 2, middle, row, size=9, is_bold=True, align="center")
        self.rule(x, y, x + width, y, is_thick=True)
        self.rule(x, bottom, x + width, bottom, is_thick=True)
        return bottom


def draw_sheet(
    figure: "Figure",
    *,
    n_ropes: int,
    paper: Paper = Paper.A4,
    lift: str = "",
    terms: Terms = Terms.EUROPE,
) -> None:
    """Draw the blank page: rows and map, lengths, two rounds, springs, turns.

    The figure is given the size of the paper; a lift without a name has a line to
    write it on.

    Raises
    ------
    InvalidValueError
        If the number of ropes does not fit on one page.
    """
    if not 1 <= n_ropes <= MOST_ROPES:
        message = f"a sheet holds 1 to {MOST_ROPES} ropes, not {n_ropes}"
        raise InvalidValueError(message)
    page = Page(figure, *_SIZES[paper])
    y = _draw_head(page, lift, terms)
    y = _draw_cautions(page, y, terms)
    y = _draw_set(page, y, terms)
    # what stands below takes a fixed height; the rows of the two tables share the rest
    below = 2 * _HEADING + 4 + _HEADING + 15 + 9 + 11 + 1
    shortest, tallest = _ROW_HEIGHTS
    row = (page.height - _MARGIN - y - below) / (2 * n_ropes)
    row = min(tallest, max(shortest, row))
    y = _draw_ropes(page, y, n_ropes, row, terms)
    y = _draw_conditions(page, y + 4)
    y = _draw_readings(page, y, n_ropes, row)
    _draw_foot(page, y)


def _width(page: Page) -> float:
    """The width between the margins."""
    return page.width - 2 * _MARGIN


def _draw_head(page: Page, lift: str, terms: Terms) -> float:
    """Draw title and particulars."""
    page.write(_MARGIN, 11.0, "ROPE TENSION", size=14, is_bold=True)
    right = page.width - _MARGIN
    page.write(right, 11.0, "sheet ____ of ____", size=8, align="right")
    labels = [
        (say("[[lift]], address", terms), 3.0),
        ("date (year-month-day)", 1.4),
        ("measured by, qualification", 2.2),
    ]
    y = 24.0
    page.fields(_MARGIN, y, _width(page) + 3, labels)
    if lift:
        shown = textwrap.shorten(lift, 44, placeholder=" ...")
        page.write(_MARGIN + 1, y - 2.4, shown, size=8)
    return y + 3


def _draw_cautions(page: Page, y: float, terms: Terms) -> float:
    """Draw the cautions in small print."""
    text = say(" ".join((*TURNING_NUTS, *WHAT_THE_RESULT_IS)), terms)
    lines = textwrap.wrap(text, 160)
    page.write(_MARGIN, y, "\n".join(lines), size=6.2)
    return y + 2.85 * len(lines) + 1.5


def _draw_set(page: Page, y: float, terms: Terms) -> float:
    """Draw what the ropes and the hitch are."""
    first = [
        ("drive, roping", 1.3),
        ("rope diameter, construction", 2.0),
        ("mass per length (tag, data sheet)", 2.0),
        ("length " + say("[[hitch]] to [[hitch]]", terms), 1.6),
    ]
    second = [
        (say("[[hitch]] (car, counterweight, dead end)", terms), 2.5),
        ("thread, right or left", 1.3),
        ("spring, rubber, none, beam", 1.6),
        ("spring rate, or wire and coil", 1.8),
        ("free, solid length", 1.2),
    ]
    page.fields(_MARGIN, y + 9, _width(page) + 3, first)
    page.fields(_MARGIN, y + 19, _width(page) + 3, second)
    return y + 22


def _draw_ropes(page: Page, y: float, n_ropes: int, row: float, terms: Terms) -> float:
    """Draw the table of lengths and thread, and beside it the rows at the hitch."""
    columns = [
        Column(heading="rope", width=0.8),
        Column(heading="groove", width=1.0),
        Column(heading=say("place at\nfar [[hitch]]", terms), width=1.5),
        Column(heading="free length,\nor stagger ±", width=2.1),
        Column(heading="thread left\nto take up", width=1.6),
        Column(heading="thread left\nto ease", width=1.6),
        Column(heading="look first:\nbinding, twist,\nspring, rouge", width=2.2),
    ]
    map_width = 58.0
    table_width = _width(page) - map_width - 4
    rows = [str(number) for number in range(1, n_ropes + 1)]
    bottom = page.table(_MARGIN, y, table_width, columns, rows, row_height=row)
    left = _MARGIN + table_width + 4
    _draw_rows(page, left, y, map_width, n_ropes, terms)
    page.field(left, y + 42, map_width, "phone or scale, its last check")
    page.field(left, y + 52, map_width, "lengths from socket or clip; how measured")
    return max(bottom, y + 53)


def _draw_rows(
    page: Page,
    x: float,
    y: float,
    width: float,
    n_ropes: int,
    terms: Terms,
) -> None:
    """Draw two staggered rows of circles for the numbers of the ropes."""
    heading = "Rows at the [[hitch]], facing the nuts:\nwrite each rope's number"
    page.write(x, y + 0.5, say(heading, terms), size=6.5)
    n_front = (n_ropes + 1) // 2
    step = min(14.0, width / (n_front + 0.5))
    diameter = min(9.0, 0.85 * step)
    for k in range(n_ropes):
        place, is_second = divmod(k, 2)
        centre = x + (place + 0.5 + (0.5 if is_second else 0.0)) * step
        page.circle(centre, y + 13 + (10.5 if is_second else 0), diameter)


def _draw_conditions(page: Page, y: float) -> float:
    """Draw the condition of both rounds."""
    columns = [
        Column(heading="condition", width=1.6),
        Column(heading="side", width=1.5),
        Column(heading="car position", width=2.2),
        Column(heading="arrived\nup / down", width=1.3),
        Column(heading="load in car", width=1.5),
        Column(heading="people on car,\nwhere", width=2.2),
        Column(heading="time", width=1.3),
        Column(heading="round trips\nrun before", width=1.5),
    ]
    rows = ["as found", "as left"]
    y = page.table(_MARGIN, y, _width(page), columns, rows, row_height=7.5)
    kinds = (
        "Readings (circle one): pluck, note the file    side pull    wave returns"
        "       unit ________     pull held: force / deflection ________  at ________"
    )
    page.write(_MARGIN, y + 5, kinds, size=7)
    return y + 9


def _draw_readings(page: Page, y: float, n_ropes: int, row: float) -> float:
    """Draw the table of two rounds, as found and as left, and the turns."""
    there, back = f"round A\n1 to {n_ropes}", f"round B\n{n_ropes} to 1"
    columns = [
        Column(heading="rope", width=0.9),
        Column(heading="AS FOUND\nspring", width=1.7, has_thick_edge=True),
        Column(heading=there, width=2.6),
        Column(heading=back, width=2.6),
        Column(heading="TURNS\n+ to the plate", width=2.0, has_thick_edge=True),
        Column(heading="AS LEFT\nspring", width=1.7, has_thick_edge=True),
        Column(heading=there, width=2.6),
        Column(heading=back, width=2.6),
        Column(heading="pin,\nlock nut", width=1.2, has_thick_edge=True),
    ]
    rows = [str(number) for number in range(1, n_ropes + 1)]
    return page.table(_MARGIN, y, _width(page), columns, rows, row_height=row)


def _draw_foot(page: Page, y: float) -> None:
    """Draw remarks and signatures."""
    labels = [
        ("remarks; what was not done", 3.0),
        ("signature", 1.6),
        ("witness", 1.6),
    ]
    y += 11
    page.fields(_MARGIN, y, _width(page) + 3, labels)
    while y + 9 < page.height - _MARGIN:
        y += 9
        page.rule(_MARGIN, y, page.width - _MARGIN, y)
