"""``tension add round``: every rope once more."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import (
    with_order_options,
    with_record_options,
    with_series_option,
)


@click.command("round")
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path), metavar="[PATH]...")
@with_order_options
@with_series_option
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, paths: tuple[Path, ...], **options: Any) -> None:
    """Add one more round of a series that is there: a folder, files, or one memo.

    As many files as ropes are ropes 1 and up in the order of their numbers; of more
    files, or of one memo, --order says which rope each is of.

    \b
    tension add round round-b
    tension add round all.m4a --order "6 5 4 3 2 1" --plucks-each 3
    """
    from tension.cli.adding import place_of, run_add
    from tension.cli.assessing import rope_order
    from tension.workflow.adding_recordings import round_of_ropes

    make = round_of_ropes(
        paths,
        order=rope_order(options["order"]),
        plucks_each=options["plucks_each"],
        series=options["series"] or "",
    )
    run_add(place_of(ctx, options), make)
