"""``tension springs``: rate, margin and load of the shackle springs."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import (
    QuantityText,
    record_argument,
    with_form_options,
    with_rule_options,
)
from tension.quantity.units import Dimension


@click.command("springs")
@record_argument
@click.option("--series", metavar="NAME", help="Which series; the last if left out.")
@click.option(
    "--hitch",
    type=click.Choice(
        ["car", "counterweight", "dead-end-car", "dead-end-counterweight"]
    ),
    help="Where the springs are; next to the span measured if left out.",
)
@click.option(
    "--rated-load",
    type=QuantityText(Dimension.MASS, "kg or lb"),
    help='Rated load, "1000 kg", for the margin at 125 % of it.',
)
@with_rule_options
@with_form_options
@click.option(
    "--plot",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draw tension against compression as svg, png or pdf.",
)
@click.option("--overwrite", is_flag=True, help="Let --plot replace a file.")
@click.pass_context
def command(ctx: click.Context, /, path: Path, **options: Any) -> None:
    """Check the shackle springs: load by length beside load by sound or side pull.

    The record needs readings of kind "spring" in the series. Level springs do not mean
    level tension.

    Exit code 14 if springs contradict each other, their own figures or the readings.

    \b
    tension springs visit-2026-11-20 --rated-load "1000 kg"
    """
    from tension.cli.adjusting import run_springs

    run_springs(ctx, path, options)
