"""Figures to files: drawn once, written whole or not at all."""

from pathlib import Path

from tension.assessment.outcome import Assessment
from tension.errors import ExistingFileError, InvalidValueError
from tension.files.atomic import write_atomically
from tension.wording import Terms
from tension.workflow.pluck import HeardFile

KINDS = ("svg", "png", "pdf")


def require_drawable(path: Path, *, overwrite: bool) -> str:
    """Check that a figure can be written to a path, before any work is done.

    Parameters
    ----------
    path : Path
        Where to.
    overwrite : bool
        Whether a file there may be replaced.

    Raises
    ------
    InvalidValueError
        If the ending names no such kind, or the folder does not exist.
    ExistingFileError
        If the file exists and may not be replaced.
    """
    kind = path.suffix.lower().lstrip(".")
    if kind not in KINDS:
        raise InvalidValueError(
            f"{path}: a figure ends in .svg, .png or .pdf; give it such a name"
        )
    if not path.parent.is_dir():
        raise InvalidValueError(f"{path}: there is no folder {path.parent}; make it")
    if path.exists() and not overwrite:
        raise ExistingFileError(
            f"{path}: this file exists; give another name or add --overwrite"
        )
    return kind


def write_shares_figure(assessment: Assessment, path: Path, *, overwrite: bool) -> None:
    """Draw the shares with their intervals and the limit.

    Parameters
    ----------
    assessment : Assessment
        The result.
    path : Path
        Where to.
    overwrite : bool
        Whether a file there may be replaced.
    """
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes
    from tension.figures.shares import draw_shares

    kind = require_drawable(path, overwrite=overwrite)
    figure = Figure(figsize=(7.0, 4.2), layout="constrained")
    draw_shares(assessment, figure.add_subplot())
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)


def write_hearing_figure(heard: HeardFile, path: Path, *, overwrite: bool) -> None:
    """Draw the wave with its plucks and the spectrum with the comb.

    Parameters
    ----------
    heard : HeardFile
        One file and what was heard in it.
    path : Path
        Where to.
    overwrite : bool
        Whether a file there may be replaced.
    """
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes
    from tension.figures.hearing import draw_decay, draw_spectrum, draw_wave

    kind = require_drawable(path, overwrite=overwrite)
    figure = Figure(figsize=(8.0, 8.0), layout="constrained")
    wave, spectrum, decay = figure.subplots(3, 1)
    draw_wave(heard.recording, heard.hearing, wave)
    draw_spectrum(heard.recording, heard.hearing, spectrum)
    draw_decay(heard.hearing, decay)
    write_atomically(path, figure_bytes(figure, kind), overwrite=overwrite)


def write_sheet(
    path: Path,
    *,
    n_ropes: int,
    paper: str,
    lift: str,
    terms: Terms = Terms.EUROPE,
) -> None:
    """Write one blank page for the car top; an old one is never touched.

    Parameters
    ----------
    path : Path
        Where to.
    n_ropes : int
        Number of ropes, 1 to 12. [1]
    paper : str
        Size of the page, "a4" or "letter".
    lift : str
        Name printed on it; a line to write on if empty.
    terms : Terms
        Words of the trade.
    """
    from matplotlib.figure import Figure

    from tension.figures.canvas import figure_bytes
    from tension.figures.sheet import Paper, draw_sheet

    kind = require_drawable(path, overwrite=False)
    figure = Figure()
    draw_sheet(figure, n_ropes=n_ropes, paper=Paper(paper), lift=lift, terms=terms)
    write_atomically(path, figure_bytes(figure, kind), overwrite=False)
