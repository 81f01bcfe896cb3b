"""What is written where a person says: figures, plans, documents; whole or not at all.

Nothing is ever written over a file that is read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from tension import __version__
from tension.errors import ExistingFileError, InvalidValueError
from tension.files.atomic import write_atomically
from tension.files.evidence import find_recordings
from tension.files.visit import named_files
from tension.workflow.inputs import find_record, is_record, require

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from matplotlib.figure import Figure

    from tension.quantity.units import UnitSystem
    from tension.telling.page import Document, Paper
    from tension.wording import Terms
    from tension.workflow.adjustment import Planned

_ENDINGS = {
    "figure": (".svg, .png or .pdf", {"svg", "png", "pdf"}),
    "plan": (".pdf", {"pdf"}),
    "report": (".pdf or .html", {"pdf", "html", "htm"}),
}


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


def write_figure(
    path: Path,
    draw: Callable[[Figure], object],
    size: tuple[float, float] | None = None,
    *,
    overwrite: bool,
) -> None:
    """Draw a figure, of a size [inch] if the drawing gives it none, and write it."""
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes

    kind = require_output(path, "figure", overwrite=overwrite)
    figure = Figure(figsize=size, layout="constrained")
    draw(figure)
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)


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


def write_sheet(
    path: Path, *, n_ropes: int, paper: Paper, lift: str, terms: Terms
) -> None:
    """Write the blank page for the car top, to be filled in by hand."""
    from tension.report.layouts import blank_sheet

    kind = require_output(path, "figure", overwrite=False)
    content = blank_sheet(kind, n_ropes=n_ropes, paper=paper, lift=lift, terms=terms)
    write_atomically(path, content, overwrite=False)


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
