"""Shares of the ropes with what the rule allows."""

from typing import TYPE_CHECKING, Any

from tension.assessment.decide import Assessment, RopeShare
from tension.catalogue.rules import Metric
from tension.figures.canvas import draw_bar, drawn_svg, frame
from tension.measurement.rope_figures import LengthKnowledge
from tension.telling.numbers import COVERAGE_FACTOR
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
