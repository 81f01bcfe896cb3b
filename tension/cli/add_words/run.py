"""``tension add run``: round trips of the car."""

from typing import Any

import click

from tension.cli.options import with_record_options, with_series_option


@click.command("run")
@click.argument("trips", type=click.IntRange(1, 1000))
@with_series_option
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, trips: int, **options: Any) -> None:
    """Add round trips that the car ran after the turns; several runs add up.

    \b
    tension add run 6
    """
    from tension.cli.adding import place_of, run_add
    from tension.workflow.adding import run

    run_add(place_of(ctx, options), run(trips, options["series"] or ""))
