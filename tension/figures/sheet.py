"""One blank page for the car top, to be filled in by hand and typed in later."""

import textwrap
from collections.abc import Callable
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from tension.errors import InvalidValueError
from tension.installation import MOST_ROPES
from tension.quantity.unit_table import INCH
from tension.telling.lines import TURNING_NUTS, WHAT_THE_RESULT_IS, told
from tension.wording import Terms, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_MARGIN = 10.0  # of the page [mm]
_HEADING = 10.5  # height of the head of a table [mm]
_ROW_HEIGHTS = (5.6, 11.0)  # ruled paper for handwriting has 7 to 8 mm
_MAP_WIDTH = 58.0  # of the map of ropes [mm]
_THIN, _THICK = 0.5, 1.2
_GROUP = "‖"
"""Begins the heading of a column that has a thick edge."""


class Paper(StrEnum):
    """Size of the page."""

    A4 = "a4"
    LETTER = "letter"


# ISO 216 and ANSI/ASME Y14.1 sizes, upright
_SIZES = {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}

Columns = list[tuple[str, float]]
"""Headings or labels, each with its share of the width."""


class Page:
    """One black-and-white page of a size [mm], counted from its upper left corner.

    The figure is given that size and one invisible pair of axes over all of it.
    """

    def __init__(self, figure: "Figure", paper: Paper) -> None:
        self.width, self.height = _SIZES[paper]
        figure.set_layout_engine("none")
        figure.set_size_inches(self.width / (1000 * INCH), self.height / (1000 * INCH))
        self.inner = self.width - 2 * _MARGIN
        self.axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()
        self.axes.set_xlim(0, self.width)
        self.axes.set_ylim(self.height, 0)

    def write(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = 8.0,
        **how: Any,  # noqa: ANN401 - as text takes it
    ) -> None:
        """Write words of a size [pt]; y is the middle of a line, the top of several.

        Letters stand left of x [mm] if nothing else is asked.
        """
        self.axes.text(
            x,
            y,
            text,
            fontsize=size,
            va="top" if "\n" in text else "center",
            linespacing=1.25,
            parse_math=False,
            color="black",
            **how,
        )

    def rule(
        self, x0: float, y0: float, x1: float, y1: float, *, is_thick: bool = False
    ) -> None:
        """Draw a straight line between two ends [mm]."""
        self.axes.plot(
            [x0, x1],
            [y0, y1],
            color="black",
            linewidth=_THICK if is_thick else _THIN,
            solid_capstyle="butt",
        )

    def field(self, x: float, y: float, width: float, label: str) -> None:
        """Draw a label and a line [mm] to write on; y is the line."""
        self.write(x, y - 6.2, label, size=6.5)
        self.rule(x, y, x + width, y)

    def fields(self, y: float, labels: Columns) -> None:
        """Draw fields side by side over the page; y is their line [mm]."""
        x, total = _MARGIN, sum(share for _, share in labels)
        for label, share in labels:
            own = (self.inner + 3) * share / total
            self.field(x, y, own - 3.0, label)
            x += own

    def table(
        self, y: float, width: float, columns: Columns, rows: list[str], height: float
    ) -> float:
        """Draw a table [mm] to write in, and give its lower edge.

        The first column holds the names of the rows, which have a height [mm].
        """
        x, bottom = _MARGIN, y + _HEADING + height * len(rows)
        total = sum(share for _, share in columns)
        left = x
        for heading, share in columns:
            own = width * share / total
            self.rule(left, y, left, bottom, is_thick=heading.startswith(_GROUP))
            lines = heading.removeprefix(_GROUP).split("\n")
            for k, line in enumerate(lines):
                place = y + _HEADING / 2 + 3.2 * (k - (len(lines) - 1) / 2)
                self.write(left + own / 2, place, line, size=6.5, ha="center")
            left += own
        self.rule(x + width, y, x + width, bottom)
        middle = x + width * columns[0][1] / total / 2
        bold: dict[str, Any] = {"fontweight": "bold", "ha": "center"}
        for k, row in enumerate(rows):
            top = y + _HEADING + k * height
            self.rule(x, top, x + width, top)
            self.write(middle, top + height / 2, row, size=9, **bold)
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
        raise InvalidValueError(told("sheet.too-many", most=MOST_ROPES, n=n_ropes))

    def words(key: str) -> str:
        return say(told(f"sheet.{key}", n=n_ropes), terms)

    page = Page(figure, paper)
    ropes = [str(number) for number in range(1, n_ropes + 1)]
    cautions = say(" ".join((*TURNING_NUTS, *WHAT_THE_RESULT_IS)), terms)
    y = _draw_head(page, lift, words, textwrap.wrap(cautions, 160))
    page.fields(y + 9, _columns(words("set")))
    page.fields(y + 19, _columns(words("hitch")))
    y += 22
    # what stands below takes a fixed height; the rows of the two tables share the rest
    below = 2 * _HEADING + 4 + _HEADING + 15 + 9 + 11 + 1
    shortest, tallest = _ROW_HEIGHTS
    row = (page.height - _MARGIN - y - below) / (2 * n_ropes)
    row = min(tallest, max(shortest, row))
    width = page.inner - _MAP_WIDTH - 4
    bottom = page.table(y, width, _columns(words("ropes")), ropes, row)
    _draw_map(page, y, n_ropes, words)
    y = max(bottom, y + 53) + 4
    conditions, series = _columns(words("conditions")), words("series").split(" | ")
    y = page.table(y, page.inner, conditions, series, 7.5)
    page.write(_MARGIN, y + 5, words("kinds"), size=7)
    y = page.table(y + 9, page.inner, _columns(words("readings")), ropes, row)
    page.fields(y + 11, _columns(words("foot")))
    y += 11
    while y + 9 < page.height - _MARGIN:
        y += 9
        page.rule(_MARGIN, y, page.width - _MARGIN, y)


def _columns(text: str) -> Columns:
    """Headings or labels from a line of them, each with its share after a colon."""
    parts = (part.rsplit(" :", 1) for part in text.split(" | "))
    return [(heading, float(share)) for heading, share in parts]


def _draw_head(
    page: Page, lift: str, words: Callable[[str], str], cautions: list[str]
) -> float:
    """Draw title, particulars, and the cautions in small print."""
    page.write(_MARGIN, 11.0, words("title"), size=14, fontweight="bold")
    page.write(page.width - _MARGIN, 11.0, words("number"), ha="right")
    page.fields(24.0, _columns(words("head")))
    if lift:
        page.write(_MARGIN + 1, 21.6, textwrap.shorten(lift, 44, placeholder=" ..."))
    page.write(_MARGIN, 27.0, "\n".join(cautions), size=6.2)
    return 28.5 + 2.85 * len(cautions)


def _draw_map(page: Page, y: float, n_ropes: int, words: Callable[[str], str]) -> None:
    """Draw two staggered rows of circles for the numbers of the ropes, and fields."""
    from matplotlib.patches import Circle

    x = page.width - _MARGIN - _MAP_WIDTH
    page.write(x, y + 0.5, words("rows"), size=6.5)
    step = min(14.0, _MAP_WIDTH / ((n_ropes + 1) // 2 + 0.5))
    radius = min(9.0, 0.85 * step) / 2
    for k in range(n_ropes):
        place, is_second = divmod(k, 2)
        centre = x + (place + 0.5 + (0.5 if is_second else 0.0)) * step
        at = (centre, y + 13 + (10.5 if is_second else 0))
        circle = Circle(at, radius, fill=False, edgecolor="black", linewidth=0.8)
        page.axes.add_patch(circle)
    page.field(x, y + 42, _MAP_WIDTH, words("scale"))
    page.field(x, y + 52, _MAP_WIDTH, words("lengths"))
