"""What the sign of a runby means: a small drawing."""

from typing import TYPE_CHECKING

from tension.quantity.units import Dimension, show_quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_GREY = "0.8"


def draw_runby(runby: float, axes: "Axes") -> None:
    """Draw counterweight and buffer with the car level at the top, not to scale.

    Parameters
    ----------
    runby : float
        Space between striker and buffer; negative when the counterweight would land
        before the car is level. [m]
    axes : Axes
        Where to draw.
    """
    axes.set_axis_off()
    axes.set_xlim(0.0, 10.0)
    axes.set_ylim(0.0, 5.0)
    _draw_lift(axes)
    shown = show_quantity(runby, Dimension.LENGTH)
    axes.text(
        4.1,
        1.3,
        f"runby {shown}",
        fontsize=9,
        fontweight="bold",
        va="center",
    )
    below = (
        "the counterweight lands before the car is level"
        if runby < 0
        else "space left with the car level at the top"
    )
    axes.text(4.1, 0.75, below, fontsize=8, va="center")
    axes.text(4.1, 4.5, "shortening the ropes: runby +", fontsize=8, va="center")
    axes.text(4.1, 4.0, "stretch of the ropes: runby −", fontsize=8, va="center")
    axes.text(4.1, 3.3, "rope to take out of each rope", fontsize=8, va="center")
    axes.text(4.1, 2.8, "= falls × (runby wanted − runby now)", fontsize=8, va="center")


def _draw_lift(axes: "Axes") -> None:
    """Draw sheave, car, counterweight, buffer and the arrow of the runby."""
    from matplotlib.patches import Circle, Rectangle

    axes.add_patch(Circle((1.9, 4.5), 0.35, fill=False, linewidth=1.2))
    axes.plot([1.55, 1.0], [4.5, 3.9], color="black", linewidth=1)
    axes.plot([2.25, 2.8], [4.5, 2.9], color="black", linewidth=1)
    axes.add_patch(Rectangle((0.4, 2.8), 1.2, 1.1, facecolor=_GREY, edgecolor="black"))
    axes.text(1.0, 3.35, "car", ha="center", va="center", fontsize=8)
    axes.plot([0.0, 0.4], [2.8, 2.8], color="black", linewidth=2)
    axes.text(0.0, 2.5, "top landing", fontsize=7, va="center")
    axes.add_patch(Rectangle((2.4, 1.7), 0.8, 1.2, facecolor=_GREY, edgecolor="black"))
    axes.text(2.8, 2.3, "cwt", ha="center", va="center", fontsize=8)
    axes.add_patch(Rectangle((2.6, 0.1), 0.4, 0.8, fill=False, hatch="---"))
    axes.text(2.45, 0.5, "buffer", ha="right", va="center", fontsize=7)
    axes.annotate(
        "",
        xy=(3.6, 1.7),
        xytext=(3.6, 0.9),
        arrowprops={"arrowstyle": "<->", "linewidth": 1.0},
    )
    for height in (0.9, 1.7):
        axes.plot([3.0, 3.8], [height, height], color="0.5", linewidth=0.6)
