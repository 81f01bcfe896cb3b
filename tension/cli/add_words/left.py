"""``tension add left``: the set as left."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import (
    with_condition_options,
    with_order_options,
    with_record_options,
)


@click.command("left")
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path), metavar="[PATH]...")
@click.option(
    "--name", default="as left", show_default=True, help="Name of the new series."
)
@with_order_options
@with_condition_options
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, paths: tuple[Path, ...], **options: Any) -> None:
    """Add the round taken after the turns and the run, on the same span.

    \b
    tension add left as-left --same
    """
    from tension.cli.adding import conditions_of, place_of, run_add
    from tension.cli.assessing import rope_order
    from tension.workflow.adding_recordings import new_series

    place = place_of(ctx, options)
    make = new_series(
        options["name"],
        paths,
        conditions_of(place, options),
        order=rope_order(options["order"]),
        plucks_each=options["plucks_each"],
    )
    run_add(place, make)
