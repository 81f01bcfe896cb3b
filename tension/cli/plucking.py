"""From the paths and options of `pluck` to what was heard."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from tension.cli.assessing import rope_order, tell_progress
from tension.cli.text import printable
from tension.errors import FileFormatError
from tension.files.natural_order import find_recordings
from tension.wording import Terms, say
from tension.workflow.outputs import (
    require_drawable,
    require_no_input,
    write_hearing_figure,
)
from tension.workflow.pluck import HeardFile, hear_file


def run_pluck(paths: Sequence[Path], options: Mapping[str, Any]) -> list[HeardFile]:
    """Hear every file by itself, and draw one if asked.

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
        require_no_input(plot, files)
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


def tell_unheard(heard: Sequence[HeardFile], terms: Terms) -> None:
    """Say on stderr why no file gave a number, a line for each rope."""
    for one in heard:
        for rope in one.hearing.ropes:
            if rope.refusal is not None:
                said = f"{rope.refusal.text} {rope.refusal.next_act}".strip()
                line = f"{one.recording.name}: {say(said, terms)}"
                click.echo(f"tension: {printable(line)}", err=True)


def _files(path: Path) -> tuple[Path, ...]:
    """The sound files that a path means."""
    if not path.is_dir():
        return (path,)
    found = find_recordings(path)
    if not found:
        raise FileFormatError(
            f"{path}: this folder holds no sound file; name the folder the recordings "
            "are in, or the files"
        )
    return found
