"""``tension add springs``: spring lengths."""

from typing import Any

import click

from tension.cli.options import (
    with_hitch_option,
    with_record_options,
    with_series_option,
)


@click.command("springs")
@click.argument("lines", nargs=-1, metavar="[LINE]...")
@with_hitch_option
@with_series_option
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, lines: tuple[str, ...], **options: Any) -> None:
    """Add spring lengths: one LINE for all ropes in order, or "2: 139.5 mm" a rope.

    \b
    tension add springs "139 142 139 139.5 137 139.5 mm"
    """
    from tension.cli.adding import (
        lines_or_asked,
        place_of,
        read_lines,
        run_add,
        where_of,
    )
    from tension.quantity.units import Dimension
    from tension.workflow.adding_numbers import springs

    sheet = read_lines(
        lines_or_asked(lines, "Spring lengths in rope order (Enter ends)"),
        Dimension.LENGTH,
    )
    make = springs(sheet.by_rope or sheet.in_order, where_of(options))
    run_add(place_of(ctx, options), make)
