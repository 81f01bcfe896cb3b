"""``tension add looked``: what was seen where a note asked to look."""

from typing import Any

import click

from tension.cli.options import with_record_options


@click.command("looked")
@click.argument("note", metavar="NOTE")
@click.argument("answer", metavar="TEXT")
@click.option("--ropes", default="", metavar="NUMBERS", help="Which ropes; all.")
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, note: str, answer: str, **options: Any) -> None:
    """Answer a note by its number: what was looked at, and what was seen.

    \b
    tension add looked 322 "rope 2 is free of the guard" --ropes 2 --by "R. Example"
    """
    import datetime as dt

    from tension.cli.adding import place_of, run_add
    from tension.cli.assessing import rope_order
    from tension.workflow.adding import looked

    make = looked(
        note,
        answer,
        rope_order(options["ropes"]),
        by=options["by"],
        date=dt.datetime.now().astimezone().date().isoformat(),
    )
    run_add(place_of(ctx, options), make)
