"""``tension start``: a record to fill in, or a blank sheet for the car top."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import (
    one_of_words,
    with_rope_options,
    with_rule_options,
    with_terms_option,
)
from tension.installation import Buffer, Drive, HitchPlace, Roping, Side


@click.command("start")
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path), metavar="[PATH...]")
@click.option("--ropes", type=click.IntRange(1, 12), help="How many ropes.")
@click.option("--name", metavar="TEXT", help="Name of the lift.")
@click.option("--drive", type=one_of_words(Drive))
@click.option("--roping", type=one_of_words(Roping))
@click.option(
    "--hitch",
    type=one_of_words(HitchPlace),
    help="Where the nuts are.",
)
@click.option(
    "--side",
    type=one_of_words(Side),
    help="Side that is plucked or pulled.",
)
@click.option("--position", metavar="TEXT", help='Car position, "top landing".')
@click.option("--people", metavar="TEXT", help="Who stands on the car.")
@click.option(
    "--buffer",
    type=one_of_words(Buffer),
    help="What sits between plate and nut.",
)
@with_terms_option
@with_rope_options
@with_rule_options
@click.option(
    "--to",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Where the record goes; the folder of the recordings if left out.",
)
@click.option(
    "--sheet",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write one blank page (pdf, svg or png) for the car top instead.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Size of the page.",
)
def command(paths: tuple[Path, ...], **options: Any) -> None:
    """Make a record (visit.toml) by a conversation; it overwrites nothing.

    PATH is a folder of recordings, or the recordings in rope order; this folder if left
    out. What is not given is asked for; answers may come by a pipe. Enter skips,
    "back" goes to the last answer, "done" or the end of the input ends the questions:
    what was answered is written, what is missing is told.

    \b
    tension start memos --ropes 6 --same-height --free-length "3.4 m"
    tension start --sheet sheet.pdf --ropes 6
    """
    from tension.cli.starting import run_start

    run_start(paths, options)
