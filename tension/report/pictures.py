"""Figures of a report: small, readable in grey, the same bytes each time."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from tension.assessment.outcome import Assessment
from tension.condition.acceptance import Acceptance, FigureKind
from tension.telling.page import Picture
from tension.wording import percent_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def shares_picture(assessment: Assessment, height: float = 43.0) -> Picture | None:
    """Draw the shares with intervals and limit, so tall [mm]; None without a share."""
    from tension.figures.shares import draw_shares

    if all(share.share is None for share in assessment.shares):
        return None
    words = ", ".join(
        f"rope {share.number} {percent_text(share.share)}"
        for share in assessment.shares
    )
    return Picture(
        svg=drawn_svg(
            lambda axes: draw_shares(assessment, axes), (6.8, 1.75 * height / 43.0)
        ),
        alt=(
            f"Shares of the mean with 95 % intervals and the band that the rule "
            f"allows. {assessment.verdict.banner}. {words}."
        ),
        height=height,
    )


def runby_picture(acceptance: Acceptance) -> Picture | None:
    """Draw what the sign of a runby means; None if none was measured."""
    from tension.figures.shares import draw_runby

    figures = (figure for result in acceptance.items for figure in result.figures)
    runby = next((float(f.value) for f in figures if f.kind is FigureKind.RUNBY), None)
    if runby is None:
        return None
    return Picture(
        svg=drawn_svg(lambda axes: draw_runby(runby, axes), (6.8, 2.4)),
        alt=(
            "Counterweight above its buffer with the car level at the top landing. "
            "The space between them is the runby; it is negative when the "
            "counterweight lands before the car is level. Shortening the ropes adds "
            "to it, stretch takes from it."
        ),
        height=60.0,
    )


def drawn_svg(draw: Callable[["Axes"], None], size: tuple[float, float]) -> str:
    """Draw on paper of a size [inch], and give the svg element without metadata."""
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes

    figure = Figure(figsize=size, layout="constrained")
    draw(figure.add_subplot())
    text = figure_bytes(figure, "svg").decode("utf-8")
    text = text[text.index("<svg") :]
    before, _, rest = text.partition("<metadata>")
    return before + rest.partition("</metadata>")[2] if rest else text
