"""What all figures share: frame, bars, and the bytes of a file, the same each time."""

import io
import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_METADATA: dict[str, dict[str, str | None]] = {
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    "png": {"Software": None},
}
"""Kinds of file a figure can be written to, and what they say of themselves."""

LINE_STYLES = ("-", "--", ":", "-.")


def figure_bytes(figure: "Figure", kind: str) -> bytes:
    """Return what a file with this figure holds, svg, png or pdf.

    No time, machine or program version goes into it.
    """
    import matplotlib as mpl

    content = io.BytesIO()
    with mpl.rc_context():
        # names inside the file no longer come from chance; shapes instead of letters
        # look alike on machines without the font
        mpl.rc("svg", hashsalt="tension", fonttype="path")
        mpl.rc("pdf", fonttype=42)
        mpl.rc("savefig", dpi=200)
        figure.savefig(content, format=kind, metadata=_METADATA[kind])
    return content.getvalue()


def drawn_svg(draw: Callable[["Axes"], None], size: tuple[float, float]) -> str:
    """Draw on paper of a size [inch], and give the svg element without metadata."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, layout="constrained")
    draw(figure.add_subplot())
    text = figure_bytes(figure, "svg").decode("utf-8")
    element = text[text.index("<svg") :]
    return re.sub("<metadata>.*?</metadata>", "", element, flags=re.DOTALL)


def frame(
    axes: "Axes", *, title: str, x: str = "", y: str = "", size: str = "medium"
) -> None:
    """Write what the axes are, and a title of a size at the left."""
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    axes.set_title(title, loc="left", fontsize=size)


def draw_bar(
    axes: "Axes",
    x: float,
    y: float,
    half: float | None,
    marker: str,
    **more: Any,  # noqa: ANN401 - as errorbar takes it
) -> None:
    """Draw a marker with a bar of half a width to each side, in the units of the axes.

    Black, and filled so, if nothing else is asked.
    """
    style: dict[str, Any] = {"color": "black", "capsize": 3} | more
    bars = None if half is None else [half]
    axes.errorbar([x], [y], yerr=bars, fmt=marker, **style)
