"""``tension add pulls``: side pulls off a paper sheet."""

from typing import Any

import click

from tension.cli.options import (
    FORCE,
    LENGTH,
    with_record_options,
    with_series_option,
)


@click.command("pulls")
@click.argument("lines", nargs=-1, metavar="[LINE]...")
@click.option("--deflection", type=LENGTH, help="Held the same on all ropes.")
@click.option("--force", type=FORCE, help="Held the same, where deflections are read.")
@click.option("--at", type=LENGTH, help="From the lower node; mid-span if left out.")
@with_series_option
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, lines: tuple[str, ...], **options: Any) -> None:
    """Add side pulls, a LINE a rope: "2: 38, 37.5, 38 lbf"; none asks for them.

    What was held the same on all ropes is --deflection or --force.

    \b
    tension add pulls --deflection "1 in" "1: 38 37.5 lbf" "2: 35 35.5 lbf"
    """
    from tension.cli.adding import place_of, run_add, side_pulls_typed
    from tension.workflow.adding_numbers import side_pulls

    make = side_pulls(side_pulls_typed(lines, options), options["series"] or "")
    run_add(place_of(ctx, options), make)
