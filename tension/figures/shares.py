"""Shares of the ropes: with what the rule allows, along the travel, and over time."""

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from tension.assessment.decide import Assessment, RopeShare
from tension.catalogue.rules import Metric
from tension.figures.canvas import LINE_STYLES, draw_bar, drawn_svg, frame
from tension.history import History, Role, Track
from tension.installation import Side
from tension.measurement.rope_figures import LengthKnowledge
from tension.quantity.showing import FOOT
from tension.quantity.units import UnitSystem
from tension.telling import lines
from tension.telling.numbers import COVERAGE_FACTOR
from tension.telling.page import Picture
from tension.telling.results import share_of
from tension.wording import Terms, limit_text, percent_text, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from tension.diagnosis.outcome import Diagnosis


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
    for share in sorted(assessment.shares, key=lambda one: one.share is None):
        _draw_share(share, axes, has_interval=are_lengths_known)
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

    if share.share is None:
        foot: dict[str, Any] = {"transform": axes.get_xaxis_transform()}
        foot |= {"rotation": 90, "ha": "center", "va": "bottom"}
        axes.text(share.number, 0.02, "no number", **foot)
        return
    value = 100.0 * share.share
    half = 100.0 * COVERAGE_FACTOR * (share.share_uncertainty or 0.0)
    size: dict[str, Any] = {"capsize": 4, "markersize": 5}
    if has_interval:
        draw_bar(axes, share.number, value, half, "o", **size)
    else:
        draw_bar(axes, share.number, value, None, "D", markerfacecolor="white", **size)
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
    metric, limit = assessment.rule.metric, assessment.rule.limit
    middle = 0.5 * (lowest + highest)
    low, high = 1.0 - limit, 1.0 + limit
    if metric is Metric.RANGE_OF_MEAN:
        low, high = middle - limit / 2, middle + limit / 2
    elif metric is not Metric.OFF_MEAN:
        ratio = 1.0 - limit if metric is Metric.BELOW_HIGHEST else 1.0 / (1.0 + limit)
        high = 2.0 * middle / (1.0 + ratio)
        low = ratio * high
    axes.axhspan(100 * low, 100 * high, color="0.9", zorder=0)
    for edge in (low, high):
        axes.axhline(100 * edge, color="0.5", linestyle="--", linewidth=0.8)


def shares_picture(assessment: Assessment, height: float = 43.0) -> Picture | None:
    """Draw the shares with intervals and limit, so tall [mm]; None without a share."""
    if all(share.share is None for share in assessment.shares):
        return None
    told = [f"rope {one.number} {percent_text(one.share)}" for one in assessment.shares]
    alt = (
        f"Shares of the mean with 95 % intervals and the band that the rule allows. "
        f"{assessment.verdict.banner}. {', '.join(told)}."
    )
    size = (6.8, 1.75 * height / 43.0)
    svg = drawn_svg(lambda axes: draw_shares(assessment, axes), size)
    return Picture(svg=svg, alt=alt, height=height)


_MARKERS = {"up": "^", "down": "v"}
_TITLE: dict[str, Any] = {"fontsize": "small", "x": 0.01, "ha": "left"}
"""How a figure is headed: its place in widths of the figure. [1]"""

_SHADES = ("0.0", "0.35", "0.6")
_FILLS = {Role.FOUND: "white", Role.LEFT: "black"}
_MOST_TRACKS = 6  # lines that are drawn


def draw_pattern(
    diagnosis: "Diagnosis",
    rope: int,
    axes: "Axes",
    *,
    names: Sequence[str] = (),
    units: UnitSystem = UnitSystem.SI,
) -> None:
    """Draw one rope's deviation against the place of the car, with models through it.

    Triangles point the way the car came; black is the car side, white the
    counterweight side. Models are drawn for the car side, up and down; `names` are what
    to call them, in the order of the curves.
    """
    from tension.telling.causes import deviation_unit

    pattern = diagnosis.pattern
    column = pattern.numbers.index(rope)
    force, _ = deviation_unit(pattern, units)
    length = FOOT if units is UnitSystem.US else 1.0
    deviations = pattern.deviations[:, column] / force
    widths = COVERAGE_FACTOR * pattern.uncertainties[:, column] / force
    for c, deviation, width in zip(pattern.conditions, deviations, widths, strict=True):
        color, fill = ("black", "black") if c.side is Side.CAR else ("0.45", "white")
        look = {"color": color, "markerfacecolor": fill, "markersize": 6}
        place, marker = c.rope_passed / length, _MARKERS.get(c.arrived, "o")
        draw_bar(axes, place, deviation, width, marker, **look)
    for i, curve in enumerate(diagnosis.curves):
        axes.plot(
            curve.rope_passed / length,
            curve.deviations[:, :, column].T / force,
            color="0.55" if i else "0.3",
            linestyle=LINE_STYLES[i],
            linewidth=1.1 if i else 1.6,
            label=[names[i], None] if i < len(names) else None,
        )
    axes.axhline(0.0, color="0.7", linewidth=0.8, zorder=0)
    frame(axes, title=f"Rope {rope}")


def draw_causes(
    diagnosis: "Diagnosis", figure: "Figure", *, units: UnitSystem, terms: Terms
) -> None:
    """Draw each rope's deviation against the place of the car."""
    from tension.telling import causes

    numbers, suspects = diagnosis.pattern.numbers, [c.suspect for c in diagnosis.curves]
    n_rows = (len(numbers) + 2) // 3
    text, weight = causes.hypothesis_text, causes.weight_text
    names = [say(f"{text(s)} ({weight(s)})", terms) for s in suspects]
    figure.set_size_inches(9.0, 1.2 + 2.6 * n_rows)
    grid = figure.subplots(
        n_rows, min(len(numbers), 3), sharex=True, sharey=True, squeeze=False
    ).ravel()
    for rope, axes in zip(numbers, grid, strict=False):
        draw_pattern(diagnosis, rope, axes, names=names, units=units)
    for axes in grid[len(numbers) :]:
        axes.set_axis_off()
    far = "ft" if units is UnitSystem.US else "m"
    unit = causes.deviation_unit(diagnosis.pattern, units)[1].replace("%", "% of mean")
    figure.supxlabel(f"Car below its highest place / {far}", fontsize="medium")
    figure.supylabel(f"Deviation / {unit}", fontsize="medium")
    title = say(causes.conclusion_line(diagnosis), terms)
    figure.suptitle(f"{title}\n{lines.told('causes.sides')}", **_TITLE, wrap=True)
    handles, labels = grid[0].get_legend_handles_labels()
    if handles:
        look: dict[str, Any] = {"frameon": False, "fontsize": "small"}
        figure.legend(handles, labels, loc="outside lower left", **look)


def draw_track(track: Track, title: str, axes: "Axes") -> None:
    """Draw deviations with 95 % intervals over time.

    White markers are as found, black as left, grey where no nut was turned; a line
    joins what was measured of one setting. Each rope has its number beside its last
    marker.
    """
    every = track.points
    days = [point.day for point in every]
    passed = np.array([day.toordinal() for day in days])
    epochs = np.array([point.epoch for point in every])
    aside = 0.006 * max(np.ptp(passed), 1)
    for rope, shares in enumerate(zip(*(point.shares for point in every), strict=True)):
        # a little aside so that bars of several can be told apart
        x = passed + aside * (rope - 0.5 * (len(every[0].shares) - 1))
        y = 100.0 * np.array([s.share for s in shares], dtype=float) - 100.0
        color, style = _SHADES[rope % 3], LINE_STYLES[rope % 4]
        for epoch in dict.fromkeys(epochs[np.isfinite(y)].tolist()):
            own = (epochs == epoch) & np.isfinite(y)
            axes.plot(x[own], y[own], color=color, linestyle=style)
        for i in np.flatnonzero(np.isfinite(y)):
            half = 100.0 * COVERAGE_FACTOR * (shares[i].share_uncertainty or 0.0)
            fill = _FILLS.get(every[i].role, "0.7")
            look = {"color": color, "markerfacecolor": fill, "markersize": 5}
            draw_bar(axes, x[i], y[i], half, "o", capsize=2, **look)
    _number_ropes(every[-1].shares, axes)
    axes.axhline(0.0, color="0.7", linewidth=0.8, zorder=0)
    marked = _marked_days(days)
    axes.set_xticks([day.toordinal() for day in marked])
    axes.set_xticklabels([day.isoformat() for day in marked], fontsize="small")
    frame(axes, x="Date", y="Deviation / % of the mean", title=title)


def _number_ropes(shares: Sequence[RopeShare], axes: "Axes") -> None:
    """Write the numbers of the ropes at the right, clear of each other."""
    low, high = axes.get_ylim()
    gap = 0.055 * (high - low)
    place = low - gap
    for share, number in sorted((s.share, s.number) for s in shares if s.share):
        place = max(100.0 * share - 100.0, place + gap)
        axes.annotate(
            str(number),
            (1.0, place),
            xycoords=("axes fraction", "data"),
            xytext=(4, 0),
            textcoords="offset points",
            va="center",
            fontsize="small",
            annotation_clip=False,
        )


def _marked_days(days: Sequence[dt.date]) -> list[dt.date]:
    """Days of visits that have room for their dates."""
    kept: list[dt.date] = []
    room = max((days[-1] - days[0]).days / 7.0, 1.0)
    for day in sorted(set(days)):
        if not kept or (day - kept[-1]).days >= room:
            kept.append(day)
    return kept


def draw_history(history: History, figure: "Figure", *, terms: Terms) -> None:
    """Draw deviations over time, a drawing for each life, side and position."""
    from tension.telling.causes import track_title

    tracks = history.tracks[:_MOST_TRACKS]
    figure.set_size_inches(8.0, 0.6 + 3.2 * len(tracks))
    grid = figure.subplots(len(tracks), 1, squeeze=False).ravel()
    for track, axes in zip(tracks, grid, strict=True):
        draw_track(track, say(track_title(track), terms), axes)
    figure.suptitle(lines.told("causes.settings"), **_TITLE)
