"""``tension add turns``: turns of the nuts."""

from typing import Any

import click

from tension.cli.options import (
    with_hitch_option,
    with_record_options,
    with_series_option,
)


@click.command("turns")
@click.argument("text", nargs=-1, required=True, metavar="TURNS")
@click.option(
    "--run", "trips", type=click.IntRange(0, 1000), help="Round trips run since."
)
@click.option("--again", is_flag=True, help="The same turns were made once more.")
@with_hitch_option
@with_series_option
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, text: tuple[str, ...], **options: Any) -> None:
    """Add turns as the plan prints them; "in" is towards the plate.

    Round trips of the car are told afterwards, by tension add run.

    \b
    tension add turns "2 in 4 1/2, 5 out 4"
    """
    from tension.adjustment.turns import read_turns
    from tension.cli.adding import place_of, run_add, typed, where_of
    from tension.workflow.adding_work import turns

    make = turns(
        typed(read_turns, " ".join(text)),
        where_of(options),
        round_trips=options["trips"],
        is_again=options["again"],
    )
    run_add(place_of(ctx, options), make)
