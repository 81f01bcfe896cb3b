"""Figures of a report: small, readable in grey, the same bytes each time."""

from tension.assessment.outcome import Assessment
from tension.condition.acceptance import Acceptance
from tension.report.document import Picture
from tension.wording import percent_text


def shares_picture(assessment: Assessment) -> Picture | None:
    """Draw the shares with intervals and limit.

    None if no rope has a share.
    """
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes
    from tension.figures.shares import draw_shares

    if all(share.share is None for share in assessment.shares):
        return None
    figure = Figure(figsize=(6.8, 1.75), layout="constrained")
    draw_shares(assessment, figure.add_subplot())
    words = ", ".join(
        f"rope {share.number} {percent_text(share.share)}"
        for share in assessment.shares
    )
    return Picture(
        svg=inner_svg(figure_bytes(figure, "svg")),
        alt=(
            f"Shares of the mean with 95 % intervals and the band that the rule "
            f"allows. {assessment.verdict.banner}. {words}."
        ),
        height=43.0,
    )


def runby_picture(acceptance: Acceptance) -> Picture | None:
    """Draw what the sign of a runby means, if one was measured.

    None without a runby.
    """
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes
    from tension.figures.shares import draw_runby

    runby = next(
        (
            float(figure.value)
            for result in acceptance.items
            for figure in result.figures
            if figure.label == "runby now"
        ),
        None,
    )
    if runby is None:
        return None
    figure = Figure(figsize=(6.8, 2.4), layout="constrained")
    draw_runby(runby, figure.add_subplot())
    return Picture(
        svg=inner_svg(figure_bytes(figure, "svg")),
        alt=(
            "Counterweight above its buffer with the car level at the top landing. "
            "The space between them is the runby; it is negative when the "
            "counterweight lands before the car is level. Shortening the ropes adds "
            "to it, stretch takes from it."
        ),
        height=60.0,
    )


def inner_svg(drawing: bytes) -> str:
    """Take the svg element alone, without the lines before it and without metadata."""
    text = drawing.decode("utf-8")
    text = text[text.index("<svg") :]
    before, _, rest = text.partition("<metadata>")
    return before + rest.partition("</metadata>")[2] if rest else text
