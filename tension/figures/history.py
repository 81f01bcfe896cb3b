"""Deviation of each rope over time, as found and as left told apart."""

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from tension.history.outcome import Role, Track

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_COVERAGE_FACTOR = 1.96
_STYLES = ("-", "--", ":", "-.")
_SHADES = ("0.0", "0.35", "0.6")
_FILLS = {Role.FOUND: "white", Role.LEFT: "black"}


def draw_track(track: Track, title: str, axes: "Axes") -> None:
    """Draw deviations with 95 % intervals over time.

    White markers are as found, black as left, grey where no nut was turned; a line
    joins what was measured of one setting. Each rope has its number beside its last
    marker.
    """
    n = len(track.points[0].shares)
    first, last = track.points[0].day.toordinal(), track.points[-1].day.toordinal()
    for rope in range(n):
        aside = 0.006 * max(last - first, 1) * (rope - 0.5 * (n - 1))
        _draw_rope(track, rope, aside, axes)
    _number_ropes(track, axes)
    axes.axhline(0.0, color="0.7", linewidth=0.8, zorder=0)
    marked = _marked_days([point.day for point in track.points])
    axes.set_xticks([day.toordinal() for day in marked])
    axes.set_xticklabels([day.isoformat() for day in marked], fontsize="small")
    axes.set_ylabel("Deviation / % of the mean")
    axes.set_xlabel("Date")
    axes.set_title(title, loc="left", fontsize="medium")


def _draw_rope(track: Track, rope: int, aside: float, axes: "Axes") -> None:
    """One rope, a little aside so that bars of several can be told apart."""
    color, style = _SHADES[rope % 3], _STYLES[rope % 4]
    given = [
        (point, 100.0 * share.share - 100.0, share.share_uncertainty or 0.0)
        for point in track.points
        if (share := point.shares[rope]).share is not None
    ]
    for epoch in dict.fromkeys(point.epoch for point, _, _ in given):
        own = [g for g in given if g[0].epoch == epoch]
        axes.plot(
            [point.day.toordinal() + aside for point, _, _ in own],
            [deviation for _, deviation, _ in own],
            color=color,
            linestyle=style,
        )
    for point, deviation, uncertainty in given:
        axes.errorbar(
            [point.day.toordinal() + aside],
            [deviation],
            yerr=[100.0 * _COVERAGE_FACTOR * uncertainty],
            fmt="o",
            color=color,
            markerfacecolor=_FILLS.get(point.role, "0.7"),
            capsize=2,
            markersize=5,
        )


def _number_ropes(track: Track, axes: "Axes") -> None:
    """Write the numbers of the ropes at the right, clear of each other."""
    low, high = axes.get_ylim()
    gap = 0.055 * (high - low)
    last = sorted(
        (100.0 * s.share - 100.0, s.number)
        for s in track.points[-1].shares
        if s.share is not None
    )
    place = low - gap
    for deviation, number in last:
        place = max(deviation, place + gap)
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
