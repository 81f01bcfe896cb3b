"""``tension causes``: what a pattern of deviations suggests."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import paths_argument, with_form_options
from tension.cli.remembering import with_lift_options


@click.command("causes")
@paths_argument
@with_lift_options
@with_form_options
@click.option(
    "--plot",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draw each rope's deviation against the place of the car, models through it.",
)
@click.option("--overwrite", is_flag=True, help="Let --plot replace a file.")
@click.pass_context
def command(ctx: click.Context, /, paths: tuple[Path, ...], **options: Any) -> None:
    """Say what makes ropes unequal, as far as the measurements suggest it.

    PATH is a record, a folder that holds one, or a folder of such folders: all series
    of one lift, in the last life of its ropes. Series at several places, sides,
    directions, loads or days are held against mechanical models of ten causes, alone
    and two at once. It suggests, tells the number that tells, and names the one
    further measurement that would settle most.

    \b
    tension causes visit-2026-11-20
    tension causes lift-2 --plot causes.svg
    """
    from tension.cli.remembering import run_causes

    run_causes(ctx, paths, options)
