"""``tension history``: the visits to one lift over time."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import paths_argument, with_form_options, with_rule_options
from tension.cli.remembering import with_lift_options


@click.command("history")
@paths_argument
@with_lift_options
@with_rule_options
@with_form_options
@click.option(
    "--plot",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draw deviations over time as svg, png or pdf.",
)
@click.option("--overwrite", is_flag=True, help="Let --plot replace a file.")
@click.pass_context
def command(ctx: click.Context, /, paths: tuple[Path, ...], **options: Any) -> None:
    """Show how each rope's deviation went over the visits to one lift.

    PATH is a folder of records of one lift, or of folders that hold one each. The same
    side, position and load stand together, others apart; as found and as left are told
    apart by the turns in the record; a re-roping begins a new life. The next check is
    suggested from the trend.

    \b
    tension history lift-2
    tension history lift-2 --re-roped 2025-03-14 --plot history.svg
    """
    from tension.cli.remembering import run_history

    run_history(ctx, paths, options)
