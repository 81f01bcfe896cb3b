"""Figures of adjustment: as found and as left, the nuts in their rows, the springs.

All are drawn in black and grey; what differs differs by shape and words as well.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from tension.adjustment.comparison import Comparison
from tension.adjustment.outcome import Direction, NutTurn, Plan
from tension.adjustment.springs import SpringCheck
from tension.figures.canvas import draw_bar, frame
from tension.figures.shares import draw_band
from tension.quantity.showing import INCH, POUND_FORCE, small_length
from tension.quantity.units import UnitSystem
from tension.telling.numbers import COVERAGE_FACTOR
from tension.telling.plans import hitch_order, signed_turns, turns_of_stage, way_text
from tension.wording import limit_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def draw_as_found_as_left(comparison: Comparison, axes: "Axes") -> None:
    """Draw each rope's share as found and as left with 95 % intervals and the limit.

    Parameters
    ----------
    comparison : Comparison
        The two series.
    axes : Axes
        Where to draw.

    Examples
    --------
    On the Axes of a figure of your own::

        draw_as_found_as_left(compared.outcome, axes)
    """
    changes = comparison.changes
    ways = (
        ("as found", "o", "white", -0.14, "before"),
        ("as left", "s", "black", 0.14, "after"),
    )
    for name, marker, fill, aside, when in ways:
        shares = [getattr(c, f"share_{when}") for c in changes]
        widths = [getattr(c, f"uncertainty_{when}") for c in changes]
        axes.errorbar(
            [c.number + aside for c in changes],
            [100.0 * share for share in shares],
            yerr=[100.0 * COVERAGE_FACTOR * width for width in widths],
            fmt=marker,
            color="black",
            markerfacecolor=fill,
            capsize=3,
            markersize=6,
            label=name,
        )
    after = [c.share_after for c in changes]
    draw_band(comparison.as_left, min(after), max(after), axes)
    axes.axhline(100.0, color="0.4", linewidth=0.8)
    names = [
        f"{c.number}\n{signed_turns(c.turns) if c.turns else '-'}" for c in changes
    ]
    axes.set_xticks([c.number for c in changes], names)
    axes.set_xlim(0.4, len(changes) + 0.6)
    rule = comparison.as_left.rule
    frame(
        axes,
        x="Rope, and turns made",
        y="Share / % of the mean",
        title=f"as found: {comparison.as_found.verdict.banner}, as left: "
        f"{comparison.as_left.verdict.banner} ({rule.metric.value}, limit "
        f"{limit_text(rule.limit)})",
        size="large",
    )
    axes.legend(loc="best", frameon=False)


def draw_stages(plan: Plan, figure: "Figure", units: UnitSystem) -> None:
    """Draw the nuts in their rows, a drawing for each stage."""
    n_stages = len(plan.stages)
    for stage in range(1, n_stages + 1):
        draw_plan(plan, figure.add_subplot(n_stages, 1, stage), units, stage)


def draw_plan(
    plan: Plan, axes: "Axes", units: UnitSystem = UnitSystem.SI, stage: int = 1
) -> None:
    """Draw the nuts in their rows, as seen facing them, with what one stage asks.

    Parameters
    ----------
    plan : Plan
        The plan.
    axes : Axes
        Where to draw.
    stage : int, optional
        Which stage, from 1.
    units : UnitSystem
        Units of the travel.

    Examples
    --------
    On the Axes of a figure of your own::

        draw_plan(planned.outcome, axes)
    """
    rows = hitch_order(plan.hitch, len(plan.turns))
    turn_of = turns_of_stage(plan, stage)
    order = [step.turn.rope for step in plan.stages[stage - 1].steps]
    widest = max(len(row) for row in rows)
    for line, row in enumerate(rows):
        for column, rope in enumerate(row):
            x = column + 0.5 * (widest - len(row))
            place = order.index(rope) + 1 if rope in order else None
            _draw_nut(axes, x, -1.5 * line, turn_of[rope], place, units)
    axes.set_xlim(-0.7, widest - 0.3)
    axes.set_ylim(-1.5 * (len(rows) - 1) - 0.95, 0.7)
    axes.set_aspect("equal", adjustable="box")
    axes.set_axis_off()
    frame(
        axes,
        title=f"Stage {stage} of {len(plan.stages)}. Nuts as seen facing them. Black, "
        "IN: towards the plate; white, OUT: away; dashed:\nleave. Small figure: order "
        "of work.",
        size="small",
    )


def _draw_nut(
    axes: "Axes",
    x: float,
    y: float,
    turn: NutTurn,
    place: int | None,
    units: UnitSystem,
) -> None:
    """Draw one nut: number inside, what is done below, order of work beside it."""
    from matplotlib.patches import RegularPolygon

    is_in = turn.direction is Direction.TAKE_UP
    is_left = turn.direction is Direction.LEAVE
    axes.add_patch(
        RegularPolygon(
            (x, y),
            numVertices=6,
            radius=0.36,
            facecolor="black" if is_in else "white",
            edgecolor="black",
            linestyle="--" if is_left else "-",
            linewidth=1.2,
        )
    )
    axes.text(
        x,
        y,
        str(turn.rope),
        ha="center",
        va="center",
        fontweight="bold",
        color="white" if is_in else "black",
    )
    words = way_text(turn)
    if not is_left:
        words += f"\n{small_length(abs(turn.travel), units)}"
    axes.text(x, y - 0.42, words, ha="center", va="top", fontsize="small")
    if place is not None:
        axes.text(x + 0.34, y + 0.3, str(place), fontsize="x-small", ha="left")


def draw_spring_loads(
    check: SpringCheck, axes: "Axes", units: UnitSystem = UnitSystem.SI
) -> None:
    """Draw tension measured against compression, or length without a free length.

    Parameters
    ----------
    check : SpringCheck
        The check of the springs.
    axes : Axes
        Where to draw.
    units : UnitSystem
        Millimetres and newtons, or inches and pounds.

    Examples
    --------
    On the Axes of a figure of your own::

        draw_spring_loads(checked.outcome, axes)
    """
    is_us = units is UnitSystem.US
    force, small = (POUND_FORCE, INCH) if is_us else (1.0, 1e-3)
    free = None if check.free_length is None else check.free_length.value

    def across(length: float) -> float:
        return (length if free is None else free - length) / small

    shown = [s for s in check.springs if s.by_reading is not None]
    for spring in shown:
        at = (across(spring.length), (spring.by_reading or 0.0) / force)
        half = COVERAGE_FACTOR * (spring.by_reading_uncertainty or 0.0) / force
        marker, fill = ("D", "white") if spring.stands_out else ("o", "black")
        draw_bar(axes, *at, half, marker, markerfacecolor=fill)
        axes.annotate(
            f"{spring.rope}, stands out" if spring.stands_out else str(spring.rope),
            at,
            xytext=(6, 4),
            textcoords="offset points",
        )
    _draw_lines(check, axes, across, force)
    name = "Spring length" if free is None else "Compression"
    axes.set_xlabel(f"{name} / {'in' if is_us else 'mm'}")
    axes.set_ylabel(f"Tension / {'lbf' if is_us else 'N'}")


def _draw_lines(
    check: SpringCheck, axes: "Axes", across: Callable[[float], float], force: float
) -> None:
    """Draw the slope of the set, and what the rate as recorded lets expect."""
    lengths = [spring.length for spring in check.springs]
    ends = np.array([min(lengths), max(lengths)])
    places = [across(length) for length in ends]
    if check.slope is not None:
        line = check.slope.tension_at(ends) / force
        axes.plot(places, line, color="black", label="slope of the set")
    rate, free = check.rate, check.free_length
    if rate is not None and free is not None:
        preload = 0.0 if check.preload is None else check.preload.value
        told = (preload + rate.value * (free.value - ends)) / force
        label = f"rate, {rate.known_from.value}"
        axes.plot(places, told, color="0.5", linestyle="--", label=label)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(loc="best", frameon=False)
