"""``tension pluck``: what was heard in each sound file."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

import click

from tension.cli import options
from tension.cli.output import ExitCode, echo_document, tell_progress
from tension.errors import FileFormatError


@options.command("pluck")
def command(
    *,
    paths: options.Paths,
    free_length: options.Length = options.opt('Free length, "3.4 m", if known.'),
    order: options.Order = options.opt(
        'Ropes in the order plucked in one memo, "1 2 3 3 2 1".'
    ),
    plucks_each: int | None = options.opt(
        "Plucks per rope.", type=options.WholeNumber(1, 20)
    ),
    form: options.Form,
    drawing: options.Plot = options.opt(
        "Draw the wave with its plucks and the spectrum with the comb (one file)."
    ),
) -> ExitCode:
    """Tell what was heard: plucks used and not, hum, partials, fundamental, rivals.

    Each file is heard by itself, as one rope, numbered as they come, unless --order
    names several. PATH is a sound file or a folder of sound files.
    """
    from tension.cli.record_text import echo_next_command
    from tension.cli.result_text import hearing_text, tell_unheard
    from tension.documents.commands import document
    from tension.figures.hearing import draw_hearing
    from tension.workflow.listening import hear_file
    from tension.workflow.standing import NextKind, NextStep

    files = [file for path in paths for file in _files(path)]
    options.require(
        not drawing.plot or len(files) == 1, "--plot draws one sound file; give one."
    )
    drawing.require_drawable(files)
    length = free_length.value if free_length else None
    hear = partial(hear_file, free_length=length, plucks_each=plucks_each)
    heard = [
        hear(file, order=order or (number,), progress=tell_progress)
        for number, file in enumerate(files, 1)
    ]
    pairs = [(one.recording, one.hearing) for one in heard]
    drawing.draw(lambda figure: draw_hearing(*pairs[0], figure), (8.0, 8.0))
    if form.json:
        evidence = [file for one in heard for file in one.evidence]
        echo_document(document("pluck", pairs, evidence))
    else:
        for one in heard:
            click.echo(hearing_text(one, form.terms), nl=False)
        if len(files) > 1 and all(one.hearing.given for one in heard):
            echo_next_command(NextStep(kind=NextKind.ASSESS), *paths)
    if any(one.hearing.given for one in heard):
        return ExitCode.DONE
    if form.json:  # the text has said it
        tell_unheard(heard, form.terms)
    return ExitCode.UNUSABLE_INPUT


def _files(path: Path) -> Sequence[Path]:
    """The sound files that a path means."""
    from tension.files.evidence import find_recordings

    if not path.is_dir():
        return (path,)
    found = find_recordings(path)
    if not found:
        raise FileFormatError(
            f"{path}: this folder holds no sound file; name the folder the recordings "
            "are in, or the files"
        )
    return found
