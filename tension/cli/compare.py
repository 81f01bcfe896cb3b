"""``tension compare``: as found against as left."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import record_argument, with_form_options, with_rule_options


@click.command("compare")
@record_argument
@click.option(
    "--before", metavar="NAME", help="Series as found; the first if left out."
)
@click.option("--after", metavar="NAME", help="Series as left; the last if left out.")
@click.option(
    "--hitch",
    type=click.Choice(
        ["car", "counterweight", "dead-end-car", "dead-end-counterweight"]
    ),
    help="Where the nuts were turned; next to the span measured if left out.",
)
@with_rule_options
@with_form_options
@click.option(
    "--plot",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draw both series with intervals and limit as svg, png or pdf.",
)
@click.option("--overwrite", is_flag=True, help="Let --plot replace a file.")
@click.pass_context
def command(ctx: click.Context, /, path: Path, **options: Any) -> None:
    """Hold as found against as left, and learn from the turns between them.

    Both series must be of one span, side and load. The change of every rope stands
    beside what its turns should have brought; a rope that answers little is named.
    Something is learned only if the record says that the car ran.

    \b
    tension compare visit-2026-11-20
    tension compare visit-2026-11-20 --before "as found" --after "second round"
    """
    from tension.cli.adjusting import run_compare

    run_compare(ctx, path, options)
