"""``tension add side``: a round at another place."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import (
    with_condition_options,
    with_order_options,
    with_record_options,
)
from tension.installation import Side


@click.command("side")
@click.argument(
    "side", type=click.Choice([s.value for s in Side], case_sensitive=False)
)
@click.argument(
    "paths", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PATH..."
)
@click.option("--position", default="", metavar="TEXT", help="Where the car stands.")
@click.option("--name", default="", help="Name of the new series.")
@click.option(
    "--lengths",
    default="",
    metavar="TEXT",
    help='Free lengths there, "12.1 12.3 12.1 12.3 m"; one if all are alike.',
)
@with_order_options
@with_condition_options
@with_record_options
@click.pass_context
def command(
    ctx: click.Context, /, side: str, paths: tuple[Path, ...], **options: Any
) -> None:
    """Add a round on the other side of the sheave, or with the car elsewhere.

    \b
    tension add side counterweight cwt --position "mid travel"
        --lengths "12.1 12.3 12.1 12.3 m"
    """
    from tension.cli.adding import conditions_of, place_of, read_lines, run_add
    from tension.cli.assessing import rope_order
    from tension.quantity.units import Dimension
    from tension.workflow.adding_recordings import NewSpan, new_series

    place = place_of(ctx, options)
    lengths: tuple[str, ...] = ()
    if options["lengths"]:
        sheet = read_lines([options["lengths"]], Dimension.LENGTH)
        lengths = tuple(length.text for length in sheet.in_order)
    name = ", ".join(part for part in (options["position"], f"{side} side") if part)
    make = new_series(
        options["name"] or name,
        paths,
        conditions_of(place, options),
        order=rope_order(options["order"]),
        plucks_each=options["plucks_each"],
        span=NewSpan(
            name=name,
            side=Side(side),
            position=options["position"],
            free_lengths=lengths,
        ),
    )
    run_add(place, make)
