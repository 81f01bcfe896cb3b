"""Figures of causes and histories to files: drawn once, written whole or not at all."""

from pathlib import Path

from tension.diagnosis.outcome import Diagnosis
from tension.files.atomic import write_atomically
from tension.history.outcome import History
from tension.quantity.units import UnitSystem
from tension.telling.causes import conclusion_line, hypothesis_text, weight_text
from tension.telling.histories import track_title
from tension.wording import Terms, say
from tension.workflow.figures import require_drawable

_MOST_TRACKS = 6


def write_causes_figure(
    diagnosis: Diagnosis,
    path: Path,
    *,
    units: UnitSystem,
    terms: Terms,
    overwrite: bool,
) -> None:
    """Draw each rope's deviation against the place of the car.

    Parameters
    ----------
    diagnosis : Diagnosis
        The outcome.
    path : Path
        Where to.
    units : UnitSystem
        Units of the axes.
    terms : Terms
        Words of the trade.
    overwrite : bool
        Whether a file there may be replaced.
    """
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes
    from tension.figures.deviations import draw_pattern, label_pattern

    kind = require_drawable(path, overwrite=overwrite)
    numbers = diagnosis.pattern.numbers
    n_rows = (len(numbers) + 2) // 3
    figure = Figure(figsize=(9.0, 1.2 + 2.6 * n_rows), layout="constrained")
    suspects = dict.fromkeys(curve.suspect for curve in diagnosis.curves)
    names = [say(f"{hypothesis_text(s)} ({weight_text(s)})", terms) for s in suspects]
    grid = figure.subplots(
        n_rows, min(len(numbers), 3), sharex=True, sharey=True, squeeze=False
    ).ravel()
    for rope, axes in zip(numbers, grid, strict=False):
        draw_pattern(diagnosis, rope, axes, names=names, units=units)
    for axes in grid[len(numbers) :]:
        axes.set_axis_off()
    label_pattern(diagnosis, figure, units=units)
    figure.suptitle(
        say(conclusion_line(diagnosis), terms)
        + "\nTriangles: the way the car came; black car side, white counterweight "
        "side; bars 95 %.",
        fontsize="small",
        x=0.01,
        ha="left",
        wrap=True,
    )
    handles, labels = grid[0].get_legend_handles_labels()
    if handles:
        figure.legend(
            handles, labels, loc="outside lower left", frameon=False, fontsize="small"
        )
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)


def write_history_figure(
    history: History, path: Path, *, terms: Terms, overwrite: bool
) -> None:
    """Draw deviations over time, a drawing for each life, side and position.

    Parameters
    ----------
    history : History
        The history.
    path : Path
        Where to.
    terms : Terms
        Words of the trade.
    overwrite : bool
        Whether a file there may be replaced.
    """
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes
    from tension.figures.deviations import draw_track

    kind = require_drawable(path, overwrite=overwrite)
    tracks = history.tracks[:_MOST_TRACKS]
    figure = Figure(figsize=(8.0, 0.6 + 3.2 * len(tracks)), layout="constrained")
    grid = figure.subplots(len(tracks), 1, squeeze=False).ravel()
    for track, axes in zip(tracks, grid, strict=True):
        draw_track(track, say(track_title(track), terms), axes)
    figure.suptitle(
        "White: as found; black: as left; grey: no nut turned. Lines join one setting; "
        "bars 95 %.",
        fontsize="small",
        x=0.01,
        ha="left",
    )
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)
