"""Shares of the ropes with their intervals and what the rule allows."""

from typing import TYPE_CHECKING

from tension.assessment.outcome import Assessment, RopeShare
from tension.catalogue.rules import Metric
from tension.measurement.outcome import LengthKnowledge
from tension.telling.results import share_of
from tension.wording import limit_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

COVERAGE_FACTOR = 1.96  # 95 % of a normal distribution


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
    _draw_limit(assessment, axes)
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
    axes.set_xlabel("Rope")
    axes.set_ylabel(f"Share / {share_of(assessment.shares)}", fontsize="small")
    axes.margins(y=0.2)
    verdict = assessment.verdict.value.upper().replace("-", " ")
    intervals = "bars: 95 %" if are_lengths_known else "no bars: lengths not known"
    axes.set_title(
        f"{verdict}: {assessment.rule.metric.value}, limit "
        f"{limit_text(assessment.rule.limit)} (grey band); {intervals}",
        loc="left",
        fontsize="medium",
    )


def _draw_share(share: RopeShare, axes: "Axes", *, has_interval: bool) -> None:
    """Draw one share with its interval, and write its value beside it."""
    value = 100.0 * (share.share or 0.0)
    width = 100.0 * COVERAGE_FACTOR * (share.share_uncertainty or 0.0)
    axes.errorbar(
        [share.number],
        [value],
        yerr=[width] if has_interval else None,
        fmt="o" if has_interval else "D",
        color="black",
        markerfacecolor="black" if has_interval else "white",
        capsize=4,
        markersize=5,
    )
    axes.annotate(
        f"{value:.1f}",
        (share.number, value),
        xytext=(6, 3),  # beside the marker, clear of the line of an even share
        textcoords="offset points",
        va="bottom",
        fontsize="small",
    )


def _draw_limit(assessment: Assessment, axes: "Axes") -> None:
    """Shade the band that the rule allows, laid around what was measured."""
    shares = [s.share for s in assessment.shares if s.share is not None]
    if len(shares) < 2:
        return
    low, high = allowed_band(assessment, min(shares), max(shares))
    axes.axhspan(100 * low, 100 * high, color="0.9", zorder=0)
    for edge in (low, high):
        axes.axhline(100 * edge, color="0.5", linestyle="--", linewidth=0.8)


def allowed_band(
    assessment: Assessment, lowest: float, highest: float
) -> tuple[float, float]:
    """Give the band of shares that the rule allows, in the middle of the set.

    Parameters
    ----------
    assessment : Assessment
        The result, for its rule.
    lowest, highest : float
        Shares about whose middle the band is laid. [1]

    Returns
    -------
    tuple of float
        Lower and upper edge. [1]
    """
    metric, limit = assessment.rule.metric, assessment.rule.limit
    if metric is Metric.OFF_MEAN:
        return 1.0 - limit, 1.0 + limit
    middle = 0.5 * (lowest + highest)
    if metric is Metric.RANGE_OF_MEAN:
        return middle - limit / 2, middle + limit / 2
    ratio = 1.0 - limit if metric is Metric.BELOW_HIGHEST else 1.0 / (1.0 + limit)
    high = 2.0 * middle / (1.0 + ratio)
    return ratio * high, high
