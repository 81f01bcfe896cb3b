"""``tension add returns``: timed wave returns."""

from typing import Any

import click

from tension.cli.options import with_record_options, with_series_option


@click.command("returns")
@click.argument("rope", type=int)
@click.argument("count", type=click.IntRange(1, 1000))
@click.argument("elapsed", metavar="TIMES")
@with_series_option
@with_record_options
@click.pass_context
def command(
    ctx: click.Context, /, rope: int, count: int, elapsed: str, **options: Any
) -> None:
    """Add timed wave returns of one rope: COUNT round trips of the wave, each time.

    \b
    tension add returns 3 5 "6.46 6.41 6.50 s"
    """
    from tension.cli.adding import place_of, read_lines, run_add
    from tension.quantity.units import Dimension
    from tension.workflow.adding_numbers import returns

    times = read_lines([elapsed], Dimension.TIME).in_order
    make = returns(rope, count, times, options["series"] or "")
    run_add(place_of(ctx, options), make)
