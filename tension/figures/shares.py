"""Shares of the ropes with what the rule allows, and what the sign of a runby means."""

from typing import TYPE_CHECKING, Any

from tension.assessment.outcome import Assessment, RopeShare
from tension.catalogue.rules import Metric
from tension.condition.acceptance import Acceptance, FigureKind
from tension.figures.canvas import COVERAGE_FACTOR, draw_bar, drawn_svg, frame
from tension.measurement.outcome import LengthKnowledge
from tension.quantity.units import Dimension, show_quantity
from tension.telling.page import Picture
from tension.telling.results import share_of
from tension.wording import limit_text, percent_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def draw_shares(assessment: Assessment, axes: "Axes") -> None:
    """Draw each rope's share with its 95 % interval, the even share and the limit.

    Parameters
    ----------
    assessment : Assessment
        The result.
    axes : Axes
        Where to draw.

    Examples
    --------
    On the Axes of a figure of your own::

        figure, axes = matplotlib.pyplot.subplots()
        draw_shares(assessment, axes)
    """
    are_lengths_known = assessment.measurement.lengths is not LengthKnowledge.UNKNOWN
    known = [s.share for s in assessment.shares if s.share is not None]
    if len(known) >= 2:
        draw_band(assessment, min(known), max(known), axes)
    axes.axhline(100.0, color="0.4", linewidth=0.8)
    for share in assessment.shares:
        if share.share is not None:
            _draw_share(share, axes, has_interval=are_lengths_known)
    missing = [s.number for s in assessment.shares if s.share is None]
    for number in missing:
        axes.annotate(
            "no number",
            (number, 0.02),
            xycoords=("data", "axes fraction"),
            rotation=90,
            ha="center",
            va="bottom",
        )
    axes.set_xticks([s.number for s in assessment.shares])
    axes.set_xlim(0.4, len(assessment.shares) + 0.6)
    intervals = "bars: 95 %" if are_lengths_known else "no bars: lengths not known"
    frame(
        axes,
        x="Rope",
        y=f"Share / {share_of(assessment.shares)}",
        title=f"{assessment.verdict.banner}: {assessment.rule.metric.value}, limit "
        f"{limit_text(assessment.rule.limit)} (grey band); {intervals}",
    )
    axes.yaxis.label.set_fontsize("small")
    axes.margins(y=0.3)


def _draw_share(share: RopeShare, axes: "Axes", *, has_interval: bool) -> None:
    """Draw one share with its interval, and write its value beside it."""
    from matplotlib.patheffects import withStroke

    value = 100.0 * (share.share or 0.0)
    width = 100.0 * COVERAGE_FACTOR * (share.share_uncertainty or 0.0)
    marker, fill = ("o", "black") if has_interval else ("D", "white")
    half = width if has_interval else None
    size: dict[str, Any] = {"capsize": 4, "markersize": 5, "markerfacecolor": fill}
    draw_bar(axes, share.number, value, half, marker, **size)
    axes.annotate(
        f"{value:.1f}",
        (share.number, value),
        xytext=(6, 3),  # beside the marker, clear of the line of an even share
        textcoords="offset points",
        va="bottom",
        fontsize="small",
        # else the edge of what the rule allows strikes it through
        path_effects=[withStroke(linewidth=2.5, foreground="white")],
    )


def draw_band(
    assessment: Assessment, lowest: float, highest: float, axes: "Axes"
) -> None:
    """Shade the band that the rule allows around the middle of two shares [1]."""
    low, high = allowed_band(assessment, lowest, highest)
    axes.axhspan(100 * low, 100 * high, color="0.9", zorder=0)
    for edge in (low, high):
        axes.axhline(100 * edge, color="0.5", linestyle="--", linewidth=0.8)


def allowed_band(
    assessment: Assessment, lowest: float, highest: float
) -> tuple[float, float]:
    """Give lower and upper edge of the shares [1] allowed, about the middle of two."""
    metric, limit = assessment.rule.metric, assessment.rule.limit
    if metric is Metric.OFF_MEAN:
        return 1.0 - limit, 1.0 + limit
    middle = 0.5 * (lowest + highest)
    if metric is Metric.RANGE_OF_MEAN:
        return middle - limit / 2, middle + limit / 2
    ratio = 1.0 - limit if metric is Metric.BELOW_HIGHEST else 1.0 / (1.0 + limit)
    high = 2.0 * middle / (1.0 + ratio)
    return ratio * high, high


_GREY = "0.8"
_LANDING = 3.0
_BUFFER_TOP = 1.0
_GAP = 0.7


def draw_runby(runby: float, axes: "Axes") -> None:
    """Draw what a runby is, not to scale.

    Not negative: car level at the top landing, counterweight above its buffer.
    Negative: counterweight on its buffer, car still below the landing by so much.

    The runby [m] is the space between striker and buffer; it is negative when the
    counterweight would land before the car is level.
    """
    is_early = runby < 0
    axes.set_axis_off()
    axes.set_xlim(0.0, 10.0)
    axes.set_ylim(0.0, 5.0)
    floor = _LANDING - _GAP if is_early else _LANDING
    striker = _BUFFER_TOP if is_early else _BUFFER_TOP + _GAP
    _draw_lift(axes, floor=floor, striker=striker)
    _draw_gap(axes, is_early=is_early)
    below = (
        "the counterweight lands with the car so far below the landing"
        if is_early
        else "space above the buffer with the car level at the landing"
    )
    lines = (
        ("shortening the ropes: runby +", "normal"),
        ("stretch of the ropes: runby −", "normal"),
        ("rope to take out of each rope", "normal"),
        ("= falls × (runby wanted − runby now)", "normal"),
        (f"runby now {show_quantity(runby, Dimension.LENGTH)}", "bold"),
        (below, "normal"),
    )
    for place, (text, weight) in enumerate(lines):
        height = 4.5 - 0.55 * place - 0.35 * (place // 2)
        axes.text(4.3, height, text, fontsize=8, fontweight=weight, va="center")


def _draw_lift(axes: "Axes", *, floor: float, striker: float) -> None:
    """Draw sheave, car, landing, counterweight and buffer."""
    from matplotlib.patches import Circle, Rectangle

    axes.add_patch(Circle((1.9, 4.55), 0.3, fill=False, linewidth=1.2))
    axes.plot([1.62, 1.0], [4.45, floor + 1.0], color="black", linewidth=1)
    axes.plot([2.18, 2.8], [4.45, striker + 1.1], color="black", linewidth=1)
    for corner, width, height in (((0.5, floor), 1.0, 1.0), ((2.4, striker), 0.8, 1.1)):
        axes.add_patch(Rectangle(corner, width, height, fc=_GREY, ec="black"))
    buffer = Rectangle((2.6, 0.1), 0.4, _BUFFER_TOP - 0.1, fill=False, hatch="---")
    axes.add_patch(buffer)
    axes.plot([0.0, 0.45], [_LANDING, _LANDING], color="black", linewidth=2.5)
    centred: dict[str, Any] = {"ha": "center", "va": "center"}
    axes.text(1.0, floor + 0.5, "car", fontsize=8, **centred)
    axes.text(0.0, _LANDING + 0.25, "landing", fontsize=7, va="center")
    axes.text(2.8, striker + 0.55, "counter-\nweight", fontsize=6, **centred)
    axes.text(2.5, 0.5, "buffer", ha="right", va="center", fontsize=7)


def _draw_gap(axes: "Axes", *, is_early: bool) -> None:
    """Draw the arrow of the runby: at the buffer, or at the landing if it is early."""
    place, low = (1.75, _LANDING - _GAP) if is_early else (3.6, _BUFFER_TOP)
    for height in (low, low + _GAP):
        axes.plot([place - 0.35, place + 0.2], [height] * 2, color="0.5", linewidth=0.6)
    axes.annotate(
        "",
        xy=(place, low + _GAP),
        xytext=(place, low),
        arrowprops={"arrowstyle": "<->", "linewidth": 1.0},
    )
    axes.text(
        place + 0.15,
        low + _GAP / 2,
        "−" if is_early else "+",
        fontsize=9,
        fontweight="bold",
        va="center",
    )


def shares_picture(assessment: Assessment, height: float = 43.0) -> Picture | None:
    """Draw the shares with intervals and limit, so tall [mm]; None without a share."""
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
