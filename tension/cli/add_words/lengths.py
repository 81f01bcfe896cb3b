"""``tension add lengths``: free lengths that the record lacks."""

from typing import Any

import click

from tension.cli.options import with_record_options


@click.command("lengths")
@click.argument("lines", nargs=-1, metavar="[LINE]...")
@click.option("--span", default="", metavar="NAME", help="Which span; the last's.")
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, lines: tuple[str, ...], **options: Any) -> None:
    """Add free lengths: one LINE for all ropes in order, or "2: 3.55 m" a rope.

    \b
    tension add lengths "3.40 3.55 3.40 3.555 3.402 3.55 m"
    """
    from tension.cli.adding import lines_or_asked, place_of, read_lines, run_add
    from tension.quantity.units import Dimension
    from tension.workflow.adding_numbers import free_lengths

    sheet = read_lines(
        lines_or_asked(lines, "Free lengths in rope order (Enter ends)"),
        Dimension.LENGTH,
    )
    make = free_lengths(sheet.by_rope or sheet.in_order, options["span"])
    run_add(place_of(ctx, options), make)
