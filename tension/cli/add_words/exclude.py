"""``tension add exclude``: what does not count, and why."""

from typing import Any

import click

from tension.cli.options import with_record_options, with_series_option


@click.command("exclude")
@click.argument("what", metavar="ROPE|RECORDING")
@click.argument("why", metavar="REASON")
@click.option("--pluck", type=click.IntRange(1, 100), help="Only that pluck of it.")
@with_series_option
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, what: str, why: str, **options: Any) -> None:
    """Leave out a rope of a series, or a recording, and say why; nothing is deleted.

    \b
    tension add exclude rope-4.m4a "door slammed"
    """
    from tension.cli.adding import place_of, run_add
    from tension.workflow.adding import exclusion

    make = exclusion(
        what,
        why,
        pluck=options["pluck"],
        by=options["by"],
        series=options["series"] or "",
    )
    run_add(place_of(ctx, {**options, "reason": options["reason"] or why}), make)
