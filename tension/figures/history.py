"""Deviation of each rope over time, as found and as left told apart."""

from typing import TYPE_CHECKING

from tension.history.outcome import Role, Track

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_COVERAGE_FACTOR = 1.96
_STYLES = ("-", "--", ":", "-.")
_SHADES = ("0.0", "0.35", "0.6")


def draw_track(track: Track, title: str, axes: "Axes") -> None:
    """Draw deviations with 95 % intervals over time.

    White markers are as found, black as left, grey where no nut was turned; a line
    joins what was measured of one setting. Each rope has its number beside its last
    marker.

    Parameters
    ----------
    track : Track
        One life, side and position.
    title : str
        What it is.
    axes : Axes
        Where to draw.
    """
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num

    n = len(track.points[0].shares)
    days = [float(date2num(point.day)) for point in track.points]
    wide = max(days) - min(days) or 1.0
    for rope in range(n):
        color, style = _SHADES[rope % 3], _STYLES[rope % 4]
        aside = 0.006 * wide * (rope - 0.5 * (n - 1))
        for epoch in dict.fromkeys(p.epoch for p in track.points):
            own = [
                (day + aside, 100.0 * (p.shares[rope].share or 0.0) - 100.0)
                for day, p in zip(days, track.points, strict=True)
                if p.epoch == epoch and p.shares[rope].share is not None
            ]
            axes.plot(
                *zip(*own, strict=True), color=color, linestyle=style
            ) if own else None
        for day, point in zip(days, track.points, strict=True):
            share = point.shares[rope]
            if share.share is None:
                continue
            fill = {Role.FOUND: "white", Role.LEFT: "black"}.get(point.role, "0.7")
            axes.errorbar(
                [day + aside],
                [100.0 * share.share - 100.0],
                yerr=[100.0 * _COVERAGE_FACTOR * (share.share_uncertainty or 0.0)],
                fmt="o",
                color=color,
                markerfacecolor=fill,
                capsize=2,
                markersize=5,
            )
        last = track.points[-1].shares[rope]
        if last.share is not None:
            axes.annotate(
                str(last.number),
                (days[-1] + aside, 100.0 * last.share - 100.0),
                xytext=(7, 0),
                textcoords="offset points",
                va="center",
                fontsize="small",
            )
    axes.axhline(0.0, color="0.7", linewidth=0.8, zorder=0)
    locator = AutoDateLocator()
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))
    axes.set_ylabel("Deviation / % of the mean")
    axes.set_xlabel("Date")
    axes.set_title(title, loc="left", fontsize="medium")
