"""What is written where a person says: figures, plans, documents; whole or not at all.

Nothing is ever written over a file that is read.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal

from tension.errors import ExistingFileError, InvalidValueError
from tension.files.atomic import write_atomically
from tension.files.evidence import find_recordings
from tension.files.visit import named_files
from tension.version import __version__
from tension.wording import Terms, say
from tension.workflow.inputs import find_record, is_record, require

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from matplotlib.figure import Figure

    from tension.adjustment.comparison import Comparison
    from tension.adjustment.outcome import Plan
    from tension.adjustment.springs import SpringCheck
    from tension.assessment.outcome import Assessment
    from tension.diagnosis.outcome import Diagnosis
    from tension.figures.sheet import Paper
    from tension.history import History
    from tension.quantity.units import UnitSystem
    from tension.telling.page import Document
    from tension.workflow.adjustment import Planned
    from tension.workflow.listening import HeardFile

_MOST_TRACKS = 6
_SIDES = (
    "Triangles: the way the car came; black car side, white counterweight side; bars "
    "95 %."
)
_SETTINGS = (
    "White: as found; black: as left; grey: no nut turned. Lines join one setting; "
    "bars 95 %."
)
_TITLE: dict[str, Any] = {"fontsize": "small", "x": 0.01, "ha": "left"}


def require_no_input(output: Path, paths: Sequence[Path]) -> None:
    """Refuse to write over what records, folders or sound files are read for."""
    if not output.exists():
        return
    for read in (read for path in paths for read in _read_for(path)):
        require(
            not read.exists() or not output.samefile(read),
            f"{output}: this file is read here and is never written over; give "
            "another name",
            ExistingFileError,
        )


def _read_for(path: Path) -> Iterator[Path]:
    """Every file that is read where a path is given."""
    from tension.files.record import read_visit

    if is_record(path):
        record = find_record(path)
        yield record
        yield from record.parent.glob("*.toml")
        for name in named_files(read_visit(record)):
            yield record.parent / name
    elif path.is_dir():
        yield from find_recordings(path)
    else:
        yield path


_ENDINGS = {
    "figure": (".svg, .png or .pdf", {"svg", "png", "pdf"}),
    "plan": (".pdf", {"pdf"}),
    "report": (".pdf or .html", {"pdf", "html", "htm"}),
}


def require_output(
    path: Path,
    what: Literal["figure", "plan", "report"],
    inputs: Sequence[Path] = (),
    *,
    overwrite: bool,
) -> str:
    """Tell the kind by the ending of a name, before any work is done."""
    kind = path.suffix.lower().lstrip(".")
    told, endings = _ENDINGS[what]
    other = f"{path}: a {what} ends in {told}; give it such a name"
    require(kind in endings, other, InvalidValueError)
    nowhere = f"{path}: there is no folder {path.parent}; make it"
    require(path.parent.is_dir(), nowhere, InvalidValueError)
    there = f"{path}: this file exists; give another name or add --overwrite"
    require(overwrite or not path.exists(), there, ExistingFileError)
    require_no_input(path, inputs)
    return kind


@contextmanager
def _figure(
    path: Path,
    *size: float,
    overwrite: bool,
    layout: Literal["constrained"] | None = "constrained",
) -> Iterator[Figure]:
    """A figure to draw on, of a size [inch]; it is written when it is drawn."""
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes

    kind = require_output(path, "figure", overwrite=overwrite)
    figure = Figure(figsize=size if len(size) == 2 else None, layout=layout)
    yield figure
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)


def write_shares_figure(assessment: Assessment, path: Path, *, overwrite: bool) -> None:
    """Draw the shares with their intervals and the limit."""
    from tension.figures.shares import draw_shares

    with _figure(path, 7.0, 4.2, overwrite=overwrite) as figure:
        draw_shares(assessment, figure.add_subplot())


def write_hearing_figure(heard: HeardFile, path: Path, *, overwrite: bool) -> None:
    """Draw the wave with its plucks and the spectrum with the comb."""
    from tension.figures.hearing import draw_decay, draw_spectrum, draw_wave

    with _figure(path, 8.0, 8.0, overwrite=overwrite) as figure:
        wave, spectrum, decay = figure.subplots(3, 1)
        draw_wave(heard.recording, heard.hearing, wave)
        draw_spectrum(heard.recording, heard.hearing, spectrum)
        draw_decay(heard.hearing, decay)


def write_plan_figure(
    plan: Plan, path: Path, *, units: UnitSystem, overwrite: bool
) -> None:
    """Draw the nuts in their rows, a drawing for each stage."""
    from tension.figures.adjustment import draw_plan

    n_stages = len(plan.stages)
    with _figure(path, 7.5, 4.5 * n_stages, overwrite=overwrite) as figure:
        for stage in range(1, n_stages + 1):
            draw_plan(plan, figure.add_subplot(n_stages, 1, stage), units, stage)


def write_comparison_figure(
    comparison: Comparison, path: Path, *, overwrite: bool
) -> None:
    """Draw both series with their intervals and the limit."""
    from tension.figures.adjustment import draw_as_found_as_left

    with _figure(path, 7.5, 4.5, overwrite=overwrite) as figure:
        draw_as_found_as_left(comparison, figure.add_subplot())


def write_springs_figure(
    check: SpringCheck, path: Path, *, units: UnitSystem, overwrite: bool
) -> None:
    """Draw tension against compression."""
    from tension.figures.adjustment import draw_spring_loads

    with _figure(path, 7.0, 4.5, overwrite=overwrite) as figure:
        draw_spring_loads(check, figure.add_subplot(), units)


def write_causes_figure(
    diagnosis: Diagnosis,
    path: Path,
    *,
    units: UnitSystem,
    terms: Terms,
    overwrite: bool,
) -> None:
    """Draw each rope's deviation against the place of the car."""
    from tension.figures.deviations import draw_pattern, label_pattern
    from tension.telling.causes import conclusion_line, hypothesis_text, weight_text

    numbers = diagnosis.pattern.numbers
    n_rows = (len(numbers) + 2) // 3
    suspects = [curve.suspect for curve in diagnosis.curves]
    names = [say(f"{hypothesis_text(s)} ({weight_text(s)})", terms) for s in suspects]
    with _figure(path, 9.0, 1.2 + 2.6 * n_rows, overwrite=overwrite) as figure:
        grid = figure.subplots(
            n_rows, min(len(numbers), 3), sharex=True, sharey=True, squeeze=False
        ).ravel()
        for rope, axes in zip(numbers, grid, strict=False):
            draw_pattern(diagnosis, rope, axes, names=names, units=units)
        for axes in grid[len(numbers) :]:
            axes.set_axis_off()
        label_pattern(diagnosis, figure, units=units)
        title = say(conclusion_line(diagnosis), terms)
        figure.suptitle(f"{title}\n{_SIDES}", **_TITLE, wrap=True)
        handles, labels = grid[0].get_legend_handles_labels()
        if handles:
            look: dict[str, Any] = {"frameon": False, "fontsize": "small"}
            figure.legend(handles, labels, loc="outside lower left", **look)


def write_history_figure(
    history: History, path: Path, *, terms: Terms, overwrite: bool
) -> None:
    """Draw deviations over time, a drawing for each life, side and position."""
    from tension.figures.deviations import draw_track
    from tension.telling.causes import track_title

    tracks = history.tracks[:_MOST_TRACKS]
    with _figure(path, 8.0, 0.6 + 3.2 * len(tracks), overwrite=overwrite) as figure:
        grid = figure.subplots(len(tracks), 1, squeeze=False).ravel()
        for track, axes in zip(tracks, grid, strict=True):
            draw_track(track, say(track_title(track), terms), axes)
        figure.suptitle(_SETTINGS, **_TITLE)


def write_sheet(
    path: Path,
    *,
    n_ropes: int,
    paper: str,
    lift: str,
    terms: Terms = Terms.EUROPE,
) -> None:
    """Write one blank page for the car top; an old one is never touched.

    For 1 to 12 ropes [1] on "a4" or "letter"; without a name of the lift there is a
    line to write on.
    """
    from tension.figures.sheet import Paper, draw_sheet

    with _figure(path, overwrite=False, layout=None) as figure:
        draw_sheet(figure, n_ropes=n_ropes, paper=Paper(paper), lift=lift, terms=terms)


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

    Raises
    ------
    InvalidValueError
        If there is no plan.
    """
    from tension.adjustment.outcome import Plan
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


def write_document(
    document: Document, path: Path, *, paper: Paper, overwrite: bool
) -> None:
    """Write a document as PDF or HTML, by the ending of its name.

    Parameters
    ----------
    document, path : Document, Path
        What, and where to.
    paper : Paper
        Size of the paper.
    overwrite : bool
        Whether a file there may be replaced.

    Examples
    --------
    As a page for a browser, or as PDF::

        write_document(document, Path("report.html"))
    """
    from tension.report.layouts import report_html, report_pdf

    kind = require_output(path, "report", overwrite=overwrite)
    make = report_pdf if kind == "pdf" else report_html
    write_atomically(path, make(document, paper), overwrite=overwrite)
