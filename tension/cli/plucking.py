"""From the paths and options of `pluck` to what was heard."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from tension.cli.assessing import rope_order, tell_progress
from tension.errors import FileFormatError
from tension.files.natural_order import find_recordings
from tension.workflow.figures import require_drawable, write_hearing_figure
from tension.workflow.pluck import HeardFile, hear_file


def run_pluck(paths: Sequence[Path], options: Mapping[str, Any]) -> list[HeardFile]:
    """Hear every file by itself, and draw one if asked.

    Parameters
    ----------
    paths : sequence of Path
        Sound files and folders of them.
    options : mapping
        The options of the command.

    Returns
    -------
    list of HeardFile
        What was heard, in the order given.

    Raises
    ------
    FileFormatError
        If a folder holds no sound file.
    click.UsageError
        If a figure is asked for several files.
    """
    files = [file for path in paths for file in _files(path)]
    plot = options["plot"]
    if plot:
        if len(files) != 1:
            raise click.UsageError("--plot draws one sound file; give one.")
        require_drawable(plot, overwrite=options["overwrite"])
    length = options["free_length"]
    heard = [
        hear_file(
            file,
            free_length=length.value if length else None,
            order=rope_order(options["order"]) or (1,),
            plucks_each=options["plucks_each"],
            progress=tell_progress,
        )
        for file in files
    ]
    if plot:
        write_hearing_figure(heard[0], plot, overwrite=options["overwrite"])
    return heard


def _files(path: Path) -> tuple[Path, ...]:
    """The sound files that a path means."""
    if not path.is_dir():
        return (path,)
    found = find_recordings(path)
    if not found:
        raise FileFormatError(f"{path}: this folder holds no sound file")
    return found
