"""``tension adjust``: which nut, which way, how far, in what order."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import record_argument, with_form_options, with_rule_options


@click.command("adjust")
@record_argument
@click.option("--series", metavar="NAME", help="Which series; the last if left out.")
@click.option(
    "--hitch",
    type=click.Choice(
        ["car", "counterweight", "dead-end-car", "dead-end-counterweight"]
    ),
    help="Where the nuts are turned; next to the span measured if left out.",
)
@click.option(
    "--strategy",
    type=click.Choice(["keep-height", "take-up-only", "ease-only", "fewest-nuts"]),
    default="keep-height",
    show_default=True,
    help="What to aim at besides equal ropes.",
)
@with_rule_options
@with_form_options
@click.option(
    "--plot",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draw the nuts in their rows as svg, png or pdf.",
)
@click.option("--overwrite", is_flag=True, help="Let --plot replace a file.")
@click.pass_context
def command(ctx: click.Context, /, path: Path, **options: Any) -> None:
    """Plan the turns of all nuts at once, for a record or the folder that holds one.

    The plan tells every nut in the order of the hitch: towards the plate or away, how
    many turns, how much thread; then what to do at each nut, the run, and what every
    number rests on. Turns in the record with round_trips_after are learned from.

    Exit code 12: no feasible plan, or no nut is to be turned now; 0 if the set is equal
    and is left alone.

    \b
    tension adjust visit-2026-11-20
    tension adjust visit-2026-11-20 --strategy fewest-nuts --units us
    """
    from tension.cli.adjusting import run_adjust

    run_adjust(ctx, path, options)
