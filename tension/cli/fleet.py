"""``tension fleet``: one line a lift from a tree of records."""

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from tension.cli.options import with_rule_options, with_terms_option


@click.command("fleet")
@click.argument("top", metavar="FOLDER")
@click.option(
    "-o",
    "--output",
    "outputs",
    multiple=True,
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the whole list as .csv, .jsonl, .parquet or .html; may be repeated.",
)
@click.option(
    "--sort",
    "order",
    type=click.Choice(["spread", "cannot-tell", "days-since", "record"]),
    default="spread",
    show_default=True,
    help="What comes first.",
)
@click.option(
    "--as-of",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="The day from which days are counted; today if left out.",
)
@click.option(
    "--every-record",
    is_flag=True,
    help="A line for older records of a lift too, not for its newest alone.",
)
@click.option(
    "--first",
    type=click.IntRange(min=0),
    default=50,
    show_default=True,
    help="So many lines are printed; files hold them all.",
)
@with_rule_options
@click.option(
    "--workers",
    type=click.IntRange(1, 512),
    metavar="N",
    help="Processes of this machine; one a core if left out.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Work on a Dask cluster instead, tcp://10.0.0.5:8786.",
)
@click.option(
    "--cache",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Where lines are kept for the next run; safe to delete.",
)
@click.option("--no-cache", is_flag=True, help="Compute all anew and keep nothing.")
@click.option(
    "--read-all",
    is_flag=True,
    help="Read every byte, also of records that bear the same marks as before.",
)
@with_terms_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")
@click.option("--overwrite", is_flag=True, help="Let --output replace files.")
@click.pass_context
def command(
    ctx: click.Context, /, top: str, as_of: datetime | None, **options: Any
) -> None:
    """List every lift of a folder tree, the worst first.

    FOLDER holds records (visit.toml) at any depth, or is an address that fsspec reads,
    s3://bucket/lifts. The newest record of each lift answers, in the numbers of
    'tension assess'. What cannot be used is named with its reason and stops nothing.
    Unchanged records are not computed again; interrupted, run it again and it goes on.

    Exit code 0, with the count of what could not be used; 1 if the program failed over
    a record, which is a bug.

    \b
    tension fleet lifts -o lifts.html -o lifts.csv
    tension fleet lifts --sort days-since --limit "8 %"
    tension fleet /mnt/lifts --scheduler tcp://10.0.0.5:8786 --cache /mnt/kept
    """
    from tension.cli.fleet_listing import run_fleet

    run_fleet(ctx, top, as_of.date() if as_of else None, options)
