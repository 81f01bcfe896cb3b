"""What the sign of a runby means: a small drawing."""

from typing import TYPE_CHECKING

from tension.quantity.units import Dimension, show_quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_GREY = "0.8"
_LANDING = 3.0
_BUFFER_TOP = 1.0
_GAP = 0.7


def draw_runby(runby: float, axes: "Axes") -> None:
    """Draw what a runby is, not to scale.

    Not negative: car level at the top landing, counterweight above its buffer.
    Negative: counterweight on its buffer, car still below the landing by so much.

    Parameters
    ----------
    runby : float
        Space between striker and buffer; negative when the counterweight would land
        before the car is level. [m]
    axes : Axes
        Where to draw.
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
    axes.add_patch(
        Rectangle((0.5, floor), 1.0, 1.0, facecolor=_GREY, edgecolor="black")
    )
    axes.text(1.0, floor + 0.5, "car", ha="center", va="center", fontsize=8)
    axes.plot([0.0, 0.45], [_LANDING, _LANDING], color="black", linewidth=2.5)
    axes.text(0.0, _LANDING + 0.25, "landing", fontsize=7, va="center")
    axes.add_patch(
        Rectangle((2.4, striker), 0.8, 1.1, facecolor=_GREY, edgecolor="black")
    )
    axes.text(
        2.8, striker + 0.55, "counter-\nweight", ha="center", va="center", fontsize=6
    )
    axes.add_patch(
        Rectangle((2.6, 0.1), 0.4, _BUFFER_TOP - 0.1, fill=False, hatch="---")
    )
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
