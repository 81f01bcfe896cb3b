"""A printed page in millimetres: lines, words, fields and tables to write in."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MILLIMETRES_PER_INCH = 25.4
_THIN, _THICK = 0.5, 1.2


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A column of a table.

    Attributes
    ----------
    heading : str
        May hold line ends.
    width : float
        Share of the width of the table. [1]
    has_thick_edge : bool
        Whether a group of columns starts with it.
    """

    heading: str
    width: float
    has_thick_edge: bool = False


class Page:
    """One black-and-white page; places count in mm from its upper left corner.

    Parameters
    ----------
    figure : Figure
        Is given the size of the page and one invisible pair of axes over all of it.
    width, height : float
        Size of the paper. [mm]
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
        heading_height: float,
    ) -> float:
        """Draw a table [mm] to write in, and give its lower edge.

        The first column holds the names of the rows.
        """
        bottom = y + heading_height + row_height * len(rows)
        total = sum(column.width for column in columns)
        left = x
        for column in columns:
            own = width * column.width / total
            self.rule(left, y, left, bottom, is_thick=column.has_thick_edge)
            lines = column.heading.split("\n")
            for k, line in enumerate(lines):
                place = y + heading_height / 2 + 3.2 * (k - (len(lines) - 1) / 2)
                self.write(left + own / 2, place, line, size=6.5, align="center")
            left += own
        self.rule(x + width, y, x + width, bottom)
        first = width * columns[0].width / total
        for k, row in enumerate(rows):
            top = y + heading_height + k * row_height
            self.rule(x, top, x + width, top)
            middle = top + row_height / 2
            self.write(x + first / 2, middle, row, size=9, is_bold=True, align="center")
        self.rule(x, y, x + width, y, is_thick=True)
        self.rule(x, bottom, x + width, bottom, is_thick=True)
        return bottom
