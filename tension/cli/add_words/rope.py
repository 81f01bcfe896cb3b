"""``tension add rope``: a recording of one rope."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import with_record_options, with_series_option


@click.command("rope")
@click.argument("rope", type=int)
@click.argument("files", nargs=-1, type=click.Path(path_type=Path), metavar="[FILE]...")
@with_series_option
@with_record_options
@click.pass_context
def command(
    ctx: click.Context, /, rope: int, files: tuple[Path, ...], **options: Any
) -> None:
    """Add a recording of one rope; without FILE the only new one is taken.

    \b
    tension add rope 2 "New Recording 16.m4a"
    """
    from tension.cli.adding import place_of, run_add
    from tension.workflow.adding_recordings import repeat_of_rope

    make = repeat_of_rope(rope, files, options["series"] or "")
    run_add(place_of(ctx, options), make)
