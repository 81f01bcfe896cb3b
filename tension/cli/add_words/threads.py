"""``tension add threads``: thread left on the rods."""

from typing import Any

import click

from tension.cli.options import with_record_options


@click.command("threads")
@click.argument("text", metavar="PAIRS")
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, text: str, **options: Any) -> None:
    """Add the thread left, towards the plate / away from it, in rope order.

    \b
    tension add threads "22/14 26/11 21/15 24/13 25/12 22/14 mm"
    """
    from tension.cli.adding import place_of, run_add, typed
    from tension.workflow.adding_numbers import read_pairs, thread_left

    pairs = typed(read_pairs, text)
    run_add(place_of(ctx, options), thread_left(dict(enumerate(pairs, start=1))))
