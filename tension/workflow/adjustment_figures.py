"""Figures and pages of adjustment to files, written whole or not at all."""

from pathlib import Path

from tension.adjustment.comparison import Comparison
from tension.adjustment.outcome import Plan
from tension.adjustment.spring_check import SpringCheck
from tension.errors import InvalidValueError
from tension.figures.sheet import Paper
from tension.files.atomic import write_atomically
from tension.quantity.units import UnitSystem
from tension.version import __version__
from tension.wording import Terms
from tension.workflow.adjustment import Planned
from tension.workflow.figures import require_drawable


def write_plan_figure(
    plan: Plan, path: Path, *, units: UnitSystem, overwrite: bool
) -> None:
    """Draw the nuts in their rows.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : Path
        Where to.
    units : UnitSystem
        Units of the travel.
    overwrite : bool
        Whether a file there may be replaced.
    """
    from tension.figures.adjustment import draw_plan
    from tension.figures.canvas import figure_bytes, new_figure

    kind = require_drawable(path, overwrite=overwrite)
    n_stages = len(plan.stages)
    figure = new_figure(width=7.5, height=4.5 * n_stages)
    for stage in range(1, n_stages + 1):
        axes = figure.add_subplot(n_stages, 1, stage)
        draw_plan(plan, axes, units, stage)
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)


def write_comparison_figure(
    comparison: Comparison, path: Path, *, overwrite: bool
) -> None:
    """Draw both series with their intervals and the limit.

    Parameters
    ----------
    comparison : Comparison
        The two series.
    path : Path
        Where to.
    overwrite : bool
        Whether a file there may be replaced.
    """
    from tension.figures.adjustment import draw_as_found_as_left
    from tension.figures.canvas import figure_bytes, new_figure

    kind = require_drawable(path, overwrite=overwrite)
    figure = new_figure(width=7.5, height=4.5)
    draw_as_found_as_left(comparison, figure.add_subplot())
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)


def write_springs_figure(
    check: SpringCheck, path: Path, *, units: UnitSystem, overwrite: bool
) -> None:
    """Draw tension against compression.

    Parameters
    ----------
    check : SpringCheck
        The check.
    path : Path
        Where to.
    units : UnitSystem
        Units of the axes.
    overwrite : bool
        Whether a file there may be replaced.
    """
    from tension.figures.adjustment import draw_spring_loads
    from tension.figures.canvas import figure_bytes, new_figure

    kind = require_drawable(path, overwrite=overwrite)
    figure = new_figure(width=7.0, height=4.5)
    draw_spring_loads(check, figure.add_subplot(), units)
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)


def require_plan_name(path: Path, *, overwrite: bool) -> None:
    """Check that a plan can be laid out to a path, before any work is done.

    Parameters
    ----------
    path : Path
        Where to.
    overwrite : bool
        Whether a file there may be replaced.

    Raises
    ------
    InvalidValueError
        If the name does not end in .pdf.
    """
    if path.suffix.lower() != ".pdf":
        raise InvalidValueError(f"{path}: a plan ends in .pdf; give it such a name")
    require_drawable(path, overwrite=overwrite)


def write_plan_page(
    planned: Planned,
    path: Path,
    *,
    units: UnitSystem,
    terms: Terms,
    paper: Paper,
    overwrite: bool,
) -> None:
    """Lay a plan out for the car top.

    Parameters
    ----------
    planned : Planned
        The plan with its series.
    path : Path
        Where to.
    units : UnitSystem
        Units of the travel.
    terms : Terms
        Words of the trade.
    paper : Paper
        Size of the paper.
    overwrite : bool
        Whether a file there may be replaced.

    Raises
    ------
    InvalidValueError
        If there is no plan.
    """
    from tension.report.layouts import plan_pdf

    if not isinstance(planned.outcome, Plan):
        raise InvalidValueError("there is no plan to lay out")
    visit = planned.assessed.visit
    day = dict(visit.particulars).get("date", "")
    parts = (visit.lift.name, day, f'from the series "{planned.assessed.series.name}"')
    content = plan_pdf(
        planned.outcome,
        subject=", ".join(part for part in parts if part),
        footer=f"{visit.lift.name or 'Plan of turns'}; tension {__version__}",
        units=units,
        terms=terms,
        paper=paper,
    )
    write_atomically(path, content, overwrite=overwrite)
