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
    default="fewest-nuts",
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
@click.option(
    "--pdf",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the plan for the car top: a page a stage, with boxes to tick.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Size of the paper.",
)
@click.option("--overwrite", is_flag=True, help="Let --plot or --pdf replace a file.")
@click.pass_context
def command(ctx: click.Context, /, path: Path, **options: Any) -> None:
    """Plan the turns of all nuts at once, for a record or the folder that holds one.

    The plan promises an upper bound of the spread first, then tells stage by stage in
    working order: nut towards the plate or away, how many turns, how much thread, and
    how many round trips to run. No plan is made from a set that has not run since its
    nuts were turned. Turns whose round trips are in the record are learned from.

    Exit code 12: no feasible plan, or no nut is to be turned now; 0 if the set is equal
    and is left alone.

    \b
    tension adjust visit-2026-11-20
    tension adjust visit-2026-11-20 --pdf plan.pdf
    tension adjust visit-2026-11-20 --strategy keep-height --units us
    """
    from tension.cli.adjusting import run_adjust

    run_adjust(ctx, path, options)
