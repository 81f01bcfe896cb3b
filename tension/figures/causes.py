"""Deviation of each rope against the place of the car, models drawn through it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from tension.diagnosis.outcome import Curve, Diagnosis
from tension.installation import Side
from tension.quantity.units import UnitSystem

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_COVERAGE_FACTOR = 1.96
_POUND_FORCE = 4.4482216152605  # [N]
_FOOT = 0.3048  # [m]
_STYLES = ("-", "--", ":", "-.")
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
    counterweight side. Models are drawn for the car side, up and down.

    Parameters
    ----------
    diagnosis : Diagnosis
        The outcome.
    rope : int
        Rope number.
    axes : Axes
        Where to draw.
    names : sequence of str, optional
        What to call the models, in the order of the curves' suspects.
    units : UnitSystem, optional
        Units of the axes.
    """
    pattern = diagnosis.pattern
    column = pattern.numbers.index(rope)
    force, length = _scales(diagnosis, units)
    for i, condition in enumerate(pattern.conditions):
        is_car = condition.side is Side.CAR
        axes.errorbar(
            [condition.rope_passed / length],
            [pattern.deviations[i, column] / force],
            yerr=[_COVERAGE_FACTOR * pattern.uncertainties[i, column] / force],
            fmt=_MARKERS.get(condition.arrived, "o"),
            color="black" if is_car else "0.45",
            markerfacecolor="black" if is_car else "white",
            capsize=3,
            markersize=6,
        )
    for place, (name, curves) in enumerate(_by_suspect(diagnosis.curves, names)):
        for i, curve in enumerate(curves):
            axes.plot(
                curve.rope_passed / length,
                curve.deviations[:, column] / force,
                color="0.3" if place == 0 else "0.55",
                linestyle=_STYLES[place % len(_STYLES)],
                linewidth=1.6 if place == 0 else 1.1,
                label=name if i == 0 and name else None,
            )
    axes.axhline(0.0, color="0.7", linewidth=0.8, zorder=0)
    axes.set_title(f"Rope {rope}", loc="left", fontsize="medium")


def label_pattern(
    diagnosis: Diagnosis, figure: "Figure", *, units: UnitSystem = UnitSystem.SI
) -> None:
    """Write what the axes of all drawings of a figure are."""
    is_us = units is UnitSystem.US
    figure.supxlabel(
        f"Car below its highest place / {'ft' if is_us else 'm'}", fontsize="medium"
    )
    unit = ("lbf" if is_us else "N") if diagnosis.pattern.is_absolute else "% of mean"
    figure.supylabel(f"Deviation / {unit}", fontsize="medium")


def _scales(diagnosis: Diagnosis, units: UnitSystem) -> tuple[float, float]:
    """Units of force and length drawn."""
    is_us = units is UnitSystem.US
    force = _POUND_FORCE if is_us else 1.0
    if not diagnosis.pattern.is_absolute:
        force = diagnosis.pattern.mean_tension / 100.0
    return force, _FOOT if is_us else 1.0


def _by_suspect(
    curves: Sequence[Curve], names: Sequence[str]
) -> list[tuple[str, list[Curve]]]:
    """Curves of one hypothesis together."""
    groups: dict[object, list[Curve]] = {}
    for curve in curves:
        groups.setdefault(curve.suspect.causes, []).append(curve)
    found = list(groups.values())
    return [(names[i] if i < len(names) else "", own) for i, own in enumerate(found)]
