"""Deviation of each rope against the place of the car, and over time."""

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from tension.diagnosis.outcome import Diagnosis
from tension.figures.canvas import LINE_STYLES, draw_bar, frame
from tension.history import Role, Track
from tension.installation import Side
from tension.quantity.showing import FOOT
from tension.quantity.units import UnitSystem
from tension.telling.causes import deviation_unit
from tension.telling.numbers import COVERAGE_FACTOR

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_MARKERS = {"up": "^", "down": "v", "": "o"}


def draw_pattern(
    diagnosis: Diagnosis,
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
    pattern = diagnosis.pattern
    column = pattern.numbers.index(rope)
    force, _ = deviation_unit(pattern, units)
    length = FOOT if units is UnitSystem.US else 1.0
    for i, condition in enumerate(pattern.conditions):
        is_car = condition.side is Side.CAR
        draw_bar(
            axes,
            condition.rope_passed / length,
            pattern.deviations[i, column] / force,
            COVERAGE_FACTOR * pattern.uncertainties[i, column] / force,
            _MARKERS.get(condition.arrived, "o"),
            color="black" if is_car else "0.45",
            markerfacecolor="black" if is_car else "white",
            markersize=6,
        )
    for place, curve in enumerate(diagnosis.curves):
        for i, deviations in enumerate(curve.deviations[:, :, column]):
            axes.plot(
                curve.rope_passed / length,
                deviations / force,
                color="0.3" if place == 0 else "0.55",
                linestyle=LINE_STYLES[place % len(LINE_STYLES)],
                linewidth=1.6 if place == 0 else 1.1,
                label=names[place] if i == 0 and place < len(names) else None,
            )
    axes.axhline(0.0, color="0.7", linewidth=0.8, zorder=0)
    frame(axes, title=f"Rope {rope}")


def label_pattern(
    diagnosis: Diagnosis, figure: "Figure", *, units: UnitSystem = UnitSystem.SI
) -> None:
    """Write what the axes of all drawings of a figure are."""
    far = "ft" if units is UnitSystem.US else "m"
    figure.supxlabel(f"Car below its highest place / {far}", fontsize="medium")
    unit = deviation_unit(diagnosis.pattern, units)[1]
    named = "% of mean" if unit == "%" else unit
    figure.supylabel(f"Deviation / {named}", fontsize="medium")


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
    frame(axes, x="Date", y="Deviation / % of the mean", title=title)


def _draw_rope(track: Track, rope: int, aside: float, axes: "Axes") -> None:
    """One rope, a little aside so that bars of several can be told apart."""
    color, style = _SHADES[rope % 3], LINE_STYLES[rope % 4]
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
        draw_bar(
            axes,
            point.day.toordinal() + aside,
            deviation,
            100.0 * COVERAGE_FACTOR * uncertainty,
            "o",
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
